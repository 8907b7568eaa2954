package jpeg

import mathbits "math/bits"

// codeword is the Huffman code of a symbol.
type codeword struct {
	bits   uint32
	length uint8
}

// bitWriter gathers the coded data. The last n bits of acc are still to be
// written; n is below 32 between two calls.
type bitWriter struct {
	out []byte
	acc uint64
	n   uint
}

// put adds up to 32 bits.
func (w *bitWriter) put(bits uint32, length uint) {
	w.acc = w.acc<<(length&63) | uint64(bits)
	w.n += length
	if w.n >= 32 {
		w.n -= 32
		w.word(uint32(w.acc >> (w.n & 63)))
	}
}

// word writes four bytes. After 0xFF a zero is stuffed in (F.1.2.3).
func (w *bitWriter) word(v uint32) {
	if (^v-0x01010101)&v&0x80808080 == 0 { // none is 0xFF; see bits.refill
		w.out = append(w.out, byte(v>>24), byte(v>>16), byte(v>>8), byte(v))
		return
	}
	for shift := 24; shift >= 0; shift -= 8 {
		w.byte(byte(v >> shift))
	}
}

func (w *bitWriter) byte(b byte) {
	w.out = append(w.out, b)
	if b == 0xFF {
		w.out = append(w.out, 0)
	}
}

// flush pads the last byte with ones (F.1.2.3).
func (w *bitWriter) flush() {
	w.put(0x7F, 7)
	for ; w.n >= 8; w.n -= 8 {
		w.byte(byte(w.acc >> (w.n - 8)))
	}
	w.acc, w.n = 0, 0
}

// channelCoder codes the blocks of one component.
type channelCoder struct {
	recip  reciprocals
	dc, ac [256]codeword
	pred   int32 // DC level of the block before
	freq   [64]int
	levels [64]int32
}

// block transforms, quantises and codes 8 × 8 samples.
func (c *channelCoder) block(w *bitWriter, pix []byte, stride int) {
	fdct(pix, stride, &c.freq)
	used := c.recip.quantise(&c.freq, &c.levels)
	dc := c.levels[0]
	magnitudes(w, &c.dc, 0, dc-c.pred) // F.1.2.1
	c.pred = dc

	// F.1.2.2: for each level that is not zero, how many zeros came before.
	at := 0
	for rest := used &^ 1; rest != 0; rest &= rest - 1 {
		k := mathbits.TrailingZeros64(rest)
		run := k - at - 1
		for ; run > 15; run -= 16 {
			w.put(c.ac[0xF0].bits, uint(c.ac[0xF0].length))
		}
		magnitudes(w, &c.ac, run, c.levels[k&63])
		at = k
	}
	if at != 63 {
		w.put(c.ac[0].bits, uint(c.ac[0].length))
	}
}

// magnitudes writes the code for a run of zeros and the size of a level, and
// behind it the level's low bits, one less where it is negative (F.1.2.1.1).
func magnitudes(w *bitWriter, codes *[256]codeword, run int, level int32) {
	sign := level >> 31
	size := uint(mathbits.Len32(uint32((level ^ sign) - sign)))
	code := codes[run<<4|int(size)&15]
	low := uint32(level+sign) & (1<<size - 1)
	w.put(code.bits<<size|low, uint(code.length)+size)
}
