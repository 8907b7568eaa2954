package imaging

import "encoding/binary"

// Resampling multiplies four samples at once: they lie in the four 16-bit lanes
// of one 64-bit word, and multiplying the word by a weight multiplies each.
// A negative weight makes lanes borrow from their neighbours, but what is
// borrowed is paid back: the sum over all taps is right in every lane as soon
// as each lane's own sum is between 0 and 65535.
//
// Weights have a precision of 7 bits. The sums of Lanczos weights below and
// above zero are at most -0.27 and 1.27, so a sum is between -70 and 324 times
// 128; a start of 96 levels keeps it in its lane, and below 512 levels.
const (
	oneBits = 7
	one     = 1 << oneBits // the weight 1
	lift    = 96           // levels

	lanes = 0x0001_0001_0001_0001 // one in each lane
	start = (lift<<oneBits + one/2) * lanes
	level = 0xFF * lanes // a sample in each lane
)

// settle takes start and precision off four finished sums and keeps each
// within 0 … 255.
func settle(v uint64) uint64 {
	v = v >> oneBits & (511 * lanes)
	v = (v | 1<<15*lanes) - lift*lanes
	if v&(0x8100*lanes) == 0x8000*lanes { // all four are
		return v & level
	}
	v &= (v >> 15 & lanes) * 511 // bit 15 was lent where the level is below zero
	return (v | (v>>8&lanes)*255) & level
}

// blend sums eight samples of each of the rows below each other that begin at
// pix, a stride apart: the even ones and the odd ones. The number of weights is a
// multiple of four.
func blend(pix []byte, stride int, weight []int16) (even, odd uint64) {
	even, odd = start, start
	at := 0
	for ; len(weight) >= 4; weight = weight[4:] {
		v := binary.LittleEndian.Uint64(pix[at:])
		w := binary.LittleEndian.Uint64(pix[at+stride:])
		x := binary.LittleEndian.Uint64(pix[at+2*stride:])
		y := binary.LittleEndian.Uint64(pix[at+3*stride:])
		a, b, c, d := uint64(weight[0]), uint64(weight[1]), uint64(weight[2]), uint64(weight[3]) // in two's complement
		even += a*(v&level) + b*(w&level) + c*(x&level) + d*(y&level)
		odd += a*(v>>8&level) + b*(w>>8&level) + c*(x>>8&level) + d*(y>>8&level)
		at += 4 * stride
	}
	return settle(even), settle(odd)
}

// cross turns four words with four samples of a row each into four words with
// one sample of each row.
func cross(a, b, c, d uint64) (w, x, y, z uint64) {
	const low, lows = 0xFFFF_FFFF, 0x0000_FFFF_0000_FFFF
	ab, cd := a&lows|b&lows<<16, c&lows|d&lows<<16
	w, y = ab&low|cd<<32, ab>>32|cd&^low
	ab, cd = a>>16&lows|b&^lows, c>>16&lows|d&^lows
	x, z = ab&low|cd<<32, ab>>32|cd&^low
	return w, x, y, z
}
