package jpeg

// lookBits is how many bits of the stream are looked up at once. Eleven hold
// nearly all codes that are frequent together with their magnitudes; more only
// push other data out of the cache.
const lookBits = 11

// step is what the next bits of the stream mean.
type step struct {
	drop  uint8 // bits to take off the stream; 0: the code is longer than looked at, or is none
	size  uint8 // magnitude bits that follow those; 0 when value is known
	run   uint8 // coefficients of zero before this one
	value int16 // the coefficient; 0 with size 0: end of block (run 0) or sixteen zeros (run 15)
}

// huffman is a table of codes ready for decoding.
type huffman struct {
	look [1 << lookBits]step
	// For codes of more than lookBits bits (figure F.16): the first code, on
	// 16 bits, that is longer than i bits, and the place of the symbol of code
	// c of i bits, at symbols[c+shift[i]].
	limit   [17]uint32
	shift   [17]int
	symbols []byte
	most    uint8 // bits a magnitude may have
	dc      bool
}

// newHuffman builds the table from the number of codes of each length and the
// symbols in order of their codes (annex C).
func newHuffman(counts [17]int, symbols []byte, dc bool) (*huffman, error) {
	h := &huffman{symbols: symbols, dc: dc, most: 10} // F.1.2.2.1: AC of 8-bit samples
	if dc {
		h.most = 11 // F.1.2.1.1
	}
	code, at := 0, 0
	for length := 1; length <= 16; length++ {
		h.shift[length] = at - code
		for range counts[length] {
			if length <= lookBits && code < 1<<length {
				h.enter(code, length, symbols[at])
			}
			code++
			at++
		}
		if code > 1<<length {
			return nil, corrupt("a Huffman table with more codes than there are")
		}
		h.limit[length] = uint32(code) << (16 - length)
		code <<= 1
	}
	return h, nil
}

// enter notes a short code under every look-up value that begins with it. When
// the magnitude bits that follow are within the look-up too, the coefficient
// is known at once.
func (h *huffman) enter(code, length int, symbol byte) {
	s := h.meaning(symbol, length)
	if s.drop == 0 {
		return
	}
	rest := lookBits - length
	for tail := range 1 << rest {
		known := s
		if n := int(s.size); n > 0 && n <= rest {
			known.value = int16(extend(uint64(tail)<<(64-rest), s.size))
			known.drop += s.size
			known.size = 0
		}
		h.look[code<<rest|tail] = known
	}
}

// meaning splits a symbol. The zero step says that no such symbol exists in
// sequential coding (F.1.2.1.1, F.1.2.2.1).
func (h *huffman) meaning(symbol byte, length int) step {
	run, size := symbol>>4, symbol&15
	if h.dc {
		run, size = 0, symbol
	}
	if size > h.most || (!h.dc && size == 0 && run != 0 && run != 15) {
		return step{}
	}
	return step{drop: uint8(length), size: size, run: run}
}

// long decodes a code of more than lookBits bits: procedure DECODE, figure
// F.16, begun behind the lengths already looked up.
func (h *huffman) long(acc uint64) step {
	next := uint32(acc >> 48)
	if next < h.limit[lookBits] {
		return step{} // a short code after all, of a symbol that does not exist
	}
	for length := lookBits + 1; length <= 16; length++ {
		if next < h.limit[length] {
			return h.meaning(h.symbols[int(next>>(16-length))+h.shift[length]], length)
		}
	}
	return step{}
}

// extend is procedure EXTEND (figure F.12) on the first size bits of acc: a
// leading 1 begins a positive magnitude, a leading 0 a negative one, stored
// one too small in ones' complement.
func extend(acc uint64, size uint8) int32 {
	v := int32(acc >> (64 - size&63))
	negative := int32(acc>>63) - 1 // all ones or none: no branch that can't be foreseen
	return v + negative&(1-1<<(size&31))
}
