package imaging

import "encoding/binary"

// box is one box of an ISO base media file held in memory.
type box struct {
	kind string
	at   int64 // of the body, from the start of the memory split
	body []byte
}

// boxes splits memory into boxes (ISO/IEC 14496-12 §4.2), at most n of them.
// What does not fit ends the list: the rest is not trusted.
func boxes(b []byte, n int) []box {
	var list []box
	at := uint64(0)
	for len(b) >= 8 && len(list) < n {
		size, head := uint64(be32(b)), uint64(8)
		switch {
		case size == 1 && len(b) >= 16:
			size, head = binary.BigEndian.Uint64(b[8:]), 16
		case size == 0:
			size = uint64(len(b))
		}
		if size < head || size > uint64(len(b)) {
			return list
		}
		list = append(list, box{kind: string(b[4:8]), at: int64(at + head), body: b[head:size]})
		b, at = b[size:], at+size
	}
	return list
}

// walkHEIF finds the meta box and reads from it the size of the primary item
// and where the Exif item lies (ISO/IEC 23008-12).
func (s *survey) walkHEIF(lim Limits) error {
	at := int64(0)
	for range lim.MaxSegments {
		head, err := s.src.upTo(at, 16)
		if err != nil || len(head) < 8 {
			return damaged("the box of descriptions is missing", err)
		}
		size, skip := int64(be32(head)), int64(8)
		if size == 1 && len(head) == 16 {
			size, skip = int64(binary.BigEndian.Uint64(head[8:])), 16
		}
		if size == 0 {
			size = s.src.size - at
		}
		if size < skip || size > s.src.size-at {
			return errShort
		}
		if string(head[4:8]) == "meta" {
			return s.heifMeta(span{at + skip, size - skip}, lim)
		}
		at += size
	}
	return damaged("too many boxes", nil)
}

// heifItems gathers what the meta box says.
type heifItems struct {
	primary uint32
	exif    uint32
	sizes   map[int][2]int   // property index (from 1) → width, height
	uses    map[uint32][]int // item → property indices
	places  map[uint32]span  // item → where
	inline  map[uint32]span  // item → where inside idat
	idat    int64            // file offset of idat's body, 0 = none
	largest [2]int
}

func (s *survey) heifMeta(where span, lim Limits) error {
	if where.n > int64(lim.MaxMetadata) {
		return damaged("the box of descriptions is too large", nil)
	}
	meta, err := s.src.read(where.at, int(where.n))
	if err != nil {
		return err
	}
	if len(meta) < 4 {
		return errShort
	}
	items := heifItems{sizes: map[int][2]int{}, uses: map[uint32][]int{}, places: map[uint32]span{}, inline: map[uint32]span{}}
	for _, b := range boxes(meta[4:], lim.MaxSegments) {
		items.take(b, lim)
		if b.kind == "idat" {
			items.idat = where.at + 4 + b.at
		}
	}
	return s.heifResult(items)
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
		h.takePlaces(&c, lim)
	case "iprp":
		for _, inner := range boxes(b.body, lim.MaxSegments) {
			switch inner.kind {
			case "ipco":
				h.takeProperties(inner.body, lim)
			case "ipma":
				h.takeUses(&cursor{b: inner.body}, lim)
			}
		}
	}
}

// takeInfo looks for the item of type Exif.
func (h *heifItems) takeInfo(c *cursor, lim Limits) {
	if version := c.u(4) >> 24; version == 0 {
		c.u(2)
	} else {
		c.u(4)
	}
	for _, b := range boxes(c.b, lim.MaxSegments) {
		e := cursor{b: b.body}
		version := e.u(4) >> 24
		if b.kind != "infe" || version < 2 {
			continue
		}
		id := e.id(version > 2)
		e.u(2)
		if kind := e.bytes(4); string(kind) == "Exif" && h.exif == 0 {
			h.exif = id
		}
	}
}

// takePlaces reads iloc: the first extent of each item, in the file
// (construction method 0) or inside idat (1).
func (h *heifItems) takePlaces(c *cursor, lim Limits) {
	version := c.u(4) >> 24
	sizes, bases := c.u(1), c.u(1)
	offLen, lenLen, baseLen, idxLen := int(sizes>>4), int(sizes&15), int(bases>>4), int(bases&15)
	if version == 0 {
		idxLen = 0
	}
	count := c.id(version > 1)
	for i := uint32(0); i < count && !c.short && int(i) < lim.MaxSegments; i++ {
		id := c.id(version > 1)
		method := uint64(0)
		if version > 0 {
			method = c.u(2) & 15
		}
		c.u(2)
		base := c.u(baseLen)
		extents := int(c.u(2))
		var first span
		if idxLen+offLen+lenLen == 0 { // extents without bytes: no place, and no work
			extents = 0
		}
		for e := 0; e < extents && !c.short; e++ {
			c.u(idxLen)
			off, n := c.u(offLen), c.u(lenLen)
			if e == 0 && base < 1<<40 && off < 1<<40 && n < 1<<40 {
				first = span{int64(base + off), int64(n)}
			}
		}
		switch {
		case c.short || extents != 1:
		case method == 0:
			h.places[id] = first
		case method == 1:
			h.inline[id] = first
		}
	}
}

func (h *heifItems) takeProperties(b []byte, lim Limits) {
	for i, p := range boxes(b, lim.MaxSegments) {
		if p.kind != "ispe" || len(p.body) < 12 {
			continue
		}
		w, ht := be32(p.body[4:]), be32(p.body[8:])
		if w > 1<<31-1 || ht > 1<<31-1 {
			w, ht = 1<<31-1, 1<<31-1
		}
		size := [2]int{int(w), int(ht)}
		h.sizes[i+1] = size
		if int64(size[0])*int64(size[1]) > int64(h.largest[0])*int64(h.largest[1]) {
			h.largest = size
		}
	}
}

func (h *heifItems) takeUses(c *cursor, lim Limits) {
	flags := c.u(4)
	entries := c.u(4)
	for i := uint64(0); i < entries && !c.short && i < uint64(lim.MaxSegments); i++ {
		id := c.id(flags>>24 > 0)
		n := int(c.u(1))
		for range n {
			index := 0
			if flags&1 != 0 {
				index = int(c.u(2) & 0x7FFF)
			} else {
				index = int(c.u(1) & 0x7F)
			}
			if id == h.primary {
				h.uses[id] = append(h.uses[id], index)
			}
		}
	}
}

func (s *survey) heifResult(h heifItems) error {
	size := h.largest
	for _, index := range h.uses[h.primary] {
		if own, ok := h.sizes[index]; ok {
			size = own
			break
		}
	}
	if size[0] == 0 || size[1] == 0 {
		return damaged("the picture has no size", nil)
	}
	s.Width, s.Height = size[0], size[1]
	s.maxPixel = Header{Type: s.Type, Width: h.largest[0], Height: h.largest[1]}
	if p, ok := h.places[h.exif]; ok && h.exif != 0 {
		s.exif = p
	} else if p, ok := h.inline[h.exif]; ok && h.exif != 0 && h.idat > 0 {
		s.exif = span{h.idat + p.at, p.n}
	}
	return nil
}

// cursor reads big-endian numbers off memory; past the end it gives zeros and
// says so in short.
type cursor struct {
	b     []byte
	short bool
}

func (c *cursor) bytes(n int) []byte {
	if n > len(c.b) {
		c.b, c.short = nil, true
		return make([]byte, n)
	}
	out := c.b[:n]
	c.b = c.b[n:]
	return out
}

func (c *cursor) u(n int) uint64 {
	var v uint64
	for _, x := range c.bytes(n) {
		v = v<<8 | uint64(x)
	}
	return v
}

func (c *cursor) id(wide bool) uint32 {
	if wide {
		return uint32(c.u(4))
	}
	return uint32(c.u(2))
}
