package imaging

// spsInfo is what a sequence parameter set says of its pictures
// (ITU-T H.265 §7.3.2.2).
type spsInfo struct {
	w, h   int // after the conformance window
	chroma int // 0 grey, 1 4:2:0, 2 4:2:2, 3 4:4:4
	colour colourCode
}

// spsOf finds the sequence parameter set in an HEVC configuration record
// (ISO/IEC 14496-15 §8.3.3.1) and reads it.
func spsOf(config []byte) (spsInfo, bool) {
	if len(config) < 23 {
		return spsInfo{}, false
	}
	c := cursor{b: config[22:]}
	const kindSPS = 33
	for range int(c.u(1)) {
		kind := c.u(1) & 0x3F
		for range int(c.u(2)) {
			unit := c.bytes(int(c.u(2)))
			if c.short {
				return spsInfo{}, false
			}
			if kind == kindSPS && len(unit) > 2 {
				return readSPS(unit[2:])
			}
		}
	}
	return spsInfo{}, false
}

// bitCursor reads bits; past the end it gives zeros and says so in short.
type bitCursor struct {
	b     []byte
	at    int
	short bool
}

func (c *bitCursor) u(n int) uint32 {
	var v uint32
	for range n {
		if c.at>>3 >= len(c.b) {
			c.short = true
			return 0
		}
		v = v<<1 | uint32(c.b[c.at>>3]>>(7-c.at&7))&1
		c.at++
	}
	return v
}

// ue is an Exp-Golomb code (§9.2).
func (c *bitCursor) ue() uint32 {
	zeros := 0
	for c.u(1) == 0 {
		if zeros++; zeros > 31 || c.short {
			c.short = true
			return 0
		}
	}
	return 1<<zeros - 1 + c.u(zeros)
}

func (c *bitCursor) skip(n int) {
	for ; n > 0; n -= 16 {
		c.u(min(n, 16))
	}
}

// unescaped takes the emulation prevention bytes out (§7.4.2).
func unescaped(b []byte) []byte {
	out := make([]byte, 0, len(b))
	zeros := 0
	for _, v := range b {
		if zeros >= 2 && v == 3 {
			zeros = 0
			continue
		}
		if zeros++; v != 0 {
			zeros = 0
		}
		out = append(out, v)
	}
	return out
}

func readSPS(b []byte) (s spsInfo, ok bool) {
	c := &bitCursor{b: unescaped(b)}
	c.u(4)
	layers := int(c.u(3)) // beyond the first
	c.u(1)
	skipLevels(c, layers)
	c.ue()
	s.chroma = int(c.ue())
	if s.chroma > 3 {
		return s, false
	}
	if s.chroma == 3 {
		c.u(1)
	}
	s.w, s.h = int(c.ue()), int(c.ue())
	if c.u(1) == 1 {
		unitX, unitY := 1, 1
		if s.chroma == 1 || s.chroma == 2 {
			unitX = 2
		}
		if s.chroma == 1 {
			unitY = 2
		}
		s.w -= unitX * (int(c.ue()) + int(c.ue()))
		s.h -= unitY * (int(c.ue()) + int(c.ue()))
	}
	c.ue()
	c.ue()
	countBits := int(c.ue()) + 4
	first := layers
	if c.u(1) == 1 {
		first = 0
	}
	for range layers - first + 1 {
		c.ue()
		c.ue()
		c.ue()
	}
	s.colour = unsaidColour()
	if c.short || s.w <= 0 || s.h <= 0 {
		return s, false
	}
	skipCoding(c, countBits)
	if c.u(1) == 1 {
		s.colour = readVUI(c)
	}
	return s, !c.short
}

// skipLevels passes over profile_tier_level (§7.3.3).
func skipLevels(c *bitCursor, layers int) {
	c.skip(96)
	var profile, level [8]bool
	for i := range layers {
		profile[i], level[i] = c.u(1) == 1, c.u(1) == 1
	}
	if layers > 0 {
		c.skip(2 * (8 - layers))
	}
	for i := range layers {
		if profile[i] {
			c.skip(88)
		}
		if level[i] {
			c.skip(8)
		}
	}
}

// skipCoding passes over block sizes, scaling lists and reference pictures.
func skipCoding(c *bitCursor, countBits int) {
	for range 6 {
		c.ue()
	}
	if scaling := c.u(1) == 1; scaling {
		if listed := c.u(1) == 1; listed {
			skipScaling(c)
		}
	}
	c.u(2)
	if c.u(1) == 1 { // samples coded as they are
		c.u(8)
		c.ue()
		c.ue()
		c.u(1)
	}
	sets := int(c.ue())
	deltas := 0
	for i := 0; i < sets && !c.short; i++ {
		deltas = skipReferences(c, i, deltas)
	}
	if c.u(1) == 1 {
		for n := int(c.ue()); n > 0 && !c.short; n-- {
			c.skip(countBits + 1)
		}
	}
	c.u(2)
}

// skipScaling passes over scaling_list_data (§7.3.4).
func skipScaling(c *bitCursor) {
	for size := range 4 {
		step := 1
		if size == 3 {
			step = 3
		}
		for matrix := 0; matrix < 6; matrix += step {
			if c.u(1) == 0 {
				c.ue()
				continue
			}
			if size > 1 {
				c.ue()
			}
			for range min(64, 1<<(4+2*size)) {
				c.ue()
			}
		}
	}
}

// skipReferences passes over st_ref_pic_set (§7.3.7) and tells how many
// pictures it refers to; before is that of the set before.
func skipReferences(c *bitCursor, i, before int) int {
	if i > 0 && c.u(1) == 1 {
		c.u(1)
		c.ue()
		n := 0
		for j := 0; j <= before && !c.short; j++ {
			used := c.u(1) == 1
			if used || c.u(1) == 1 {
				n++
			}
		}
		return n
	}
	n := int(c.ue()) + int(c.ue())
	for j := 0; j < n && !c.short; j++ {
		c.ue()
		c.u(1)
	}
	return n
}

// readVUI reads how colours are coded (§E.2.1).
func readVUI(c *bitCursor) colourCode {
	colour := unsaidColour()
	const ownRatio = 255
	if c.u(1) == 1 && c.u(8) == ownRatio {
		c.skip(32)
	}
	if c.u(1) == 1 {
		c.u(1)
	}
	if c.u(1) == 0 {
		return colour
	}
	c.u(3)
	colour.full = c.u(1) == 1
	if c.u(1) == 1 {
		colour.primaries, colour.transfer, colour.matrix = int(c.u(8)), int(c.u(8)), int(c.u(8))
	}
	return colour
}
