package imaging

// maxHEIFEntries bounds what one box of descriptions may list in all: items,
// extents, uses and parts. A phone's picture of 48 megapixels lists some 2000.
const maxHEIFEntries = 1 << 16

// heifProperty is one box of the property container.
type heifProperty struct {
	kind string
	body []byte
	at   int64 // of the body in the file
}

// heifItems gathers what the meta box says.
type heifItems struct {
	base    int64 // file offset of the boxes inside meta
	primary uint32
	exif    uint32
	kinds   map[uint32]string
	props   []heifProperty      // used by number, from 1
	uses    map[uint32][]int    // item → numbers of its properties, in order
	places  map[uint32][]span   // item → where its parts lie
	inline  map[uint32]bool     // item → the places count from idat
	parts   map[uint32][]uint32 // derived item → what it is made of
	idat    span                // 0 = none
	largest [2]int
	left    int // entries that may still come
}

func newHEIFItems(base int64) *heifItems {
	return &heifItems{
		base: base, left: maxHEIFEntries,
		kinds: map[uint32]string{}, uses: map[uint32][]int{}, places: map[uint32][]span{},
		inline: map[uint32]bool{}, parts: map[uint32][]uint32{},
	}
}

// more says whether another entry of a list is taken.
func (h *heifItems) more(c *cursor) bool {
	if c.short || h.left < 0 {
		return false
	}
	h.left--
	return h.left >= 0
}

// take reads one box of the meta box. A broken one is passed over.
func (h *heifItems) take(b box, lim Limits) {
	c := cursor{b: b.body}
	switch b.kind {
	case "pitm":
		version := c.u(4) >> 24
		h.primary = c.id(version > 0)
	case "iinf":
		h.takeInfo(&c, lim)
	case "iloc":
		h.takePlaces(&c)
	case "iref":
		h.takeParts(&c, lim)
	case "idat":
		h.idat = span{h.base + b.at, int64(len(b.body))}
	case "iprp":
		for _, inner := range boxes(b.body, lim.MaxSegments) {
			switch inner.kind {
			case "ipco":
				h.takeProperties(inner.body, h.base+b.at+inner.at, lim)
			case "ipma":
				h.takeUses(&cursor{b: inner.body})
			}
		}
	}
}

// takeInfo notes the type of each item.
func (h *heifItems) takeInfo(c *cursor, lim Limits) {
	if version := c.u(4) >> 24; version == 0 {
		c.u(2)
	} else {
		c.u(4)
	}
	for _, b := range boxes(c.b, lim.MaxSegments) {
		e := cursor{b: b.body}
		version := e.u(4) >> 24
		if b.kind != "infe" || version < 2 || !h.more(&e) {
			continue
		}
		id := e.id(version > 2)
		e.u(2)
		kind := string(e.bytes(4))
		if e.short {
			continue
		}
		h.kinds[id] = kind
		if kind == "Exif" && h.exif == 0 {
			h.exif = id
		}
	}
}

// takePlaces reads iloc: the extents of each item, in the file (construction
// method 0) or inside idat (1).
func (h *heifItems) takePlaces(c *cursor) {
	version := c.u(4) >> 24
	sizes, bases := c.u(1), c.u(1)
	offLen, lenLen, baseLen, idxLen := int(sizes>>4), int(sizes&15), int(bases>>4), int(bases&15)
	if version == 0 {
		idxLen = 0
	}
	count := c.id(version > 1)
	for i := uint32(0); i < count && h.more(c); i++ {
		id := c.id(version > 1)
		method := uint64(0)
		if version > 0 {
			method = c.u(2) & 15
		}
		c.u(2)
		base := c.u(baseLen)
		extents := int(c.u(2))
		if idxLen+offLen+lenLen == 0 { // extents without bytes: no place, and no work
			extents = 0
		}
		var list []span
		for e := 0; e < extents && h.more(c); e++ {
			c.u(idxLen)
			off, n := c.u(offLen), c.u(lenLen)
			if base >= 1<<40 || off >= 1<<40 || n >= 1<<40 {
				list = nil
				break
			}
			list = append(list, span{int64(base + off), int64(n)})
		}
		if !c.short && method <= 1 {
			h.places[id], h.inline[id] = list, method == 1
		}
	}
}

// placesOf gives where in the file an item's bytes are, nil when not known.
func (h *heifItems) placesOf(id uint32) []span {
	list := h.places[id]
	if !h.inline[id] {
		return list
	}
	var moved []span
	for _, p := range list {
		if p.at+p.n > h.idat.n {
			return nil
		}
		moved = append(moved, span{h.idat.at + p.at, p.n})
	}
	return moved
}

// takeParts reads iref: what derived items are made of.
func (h *heifItems) takeParts(c *cursor, lim Limits) {
	wide := c.u(4)>>24 > 0
	for _, b := range boxes(c.b, lim.MaxSegments) {
		if b.kind != "dimg" {
			continue
		}
		e := cursor{b: b.body}
		from := e.id(wide)
		count := int(e.u(2))
		if len(h.parts[from]) > 0 { // one list an item; a second one is a lie
			continue
		}
		for n := 0; n < count && h.more(&e); n++ {
			h.parts[from] = append(h.parts[from], e.id(wide))
		}
	}
}

func (h *heifItems) takeProperties(b []byte, at int64, lim Limits) {
	for _, p := range boxes(b, lim.MaxSegments) {
		if h.left--; h.left < 0 {
			return
		}
		h.props = append(h.props, heifProperty{p.kind, p.body, at + p.at})
		if size, ok := sizeIn(h.props[len(h.props)-1]); ok &&
			int64(size[0])*int64(size[1]) > int64(h.largest[0])*int64(h.largest[1]) {
			h.largest = size
		}
	}
}

// sizeIn reads ispe, the picture's size.
func sizeIn(p heifProperty) ([2]int, bool) {
	if p.kind != "ispe" || len(p.body) < 12 {
		return [2]int{}, false
	}
	const most = 1<<31 - 1
	return [2]int{int(min(be32(p.body[4:]), most)), int(min(be32(p.body[8:]), most))}, true
}

// takeUses reads ipma: which properties belong to which item.
func (h *heifItems) takeUses(c *cursor) {
	flags := c.u(4)
	entries := c.u(4)
	for i := uint64(0); i < entries && h.more(c); i++ {
		id := c.id(flags>>24 > 0)
		n := int(c.u(1))
		for j := 0; j < n && h.more(c); j++ {
			index := 0
			if flags&1 != 0 {
				index = int(c.u(2) & 0x7FFF)
			} else {
				index = int(c.u(1) & 0x7F)
			}
			h.uses[id] = append(h.uses[id], index)
		}
	}
}

// propertiesOf lists an item's properties in the order they apply.
func (h *heifItems) propertiesOf(id uint32) []heifProperty {
	var list []heifProperty
	for _, index := range h.uses[id] {
		if index >= 1 && index <= len(h.props) {
			list = append(list, h.props[index-1])
		}
	}
	return list
}

// property gives an item's first property of a kind.
func (h *heifItems) property(id uint32, kind string) (heifProperty, bool) {
	for _, p := range h.propertiesOf(id) {
		if p.kind == kind {
			return p, true
		}
	}
	return heifProperty{}, false
}

func (h *heifItems) sizeOf(id uint32) ([2]int, bool) {
	p, _ := h.property(id, "ispe")
	return sizeIn(p)
}
