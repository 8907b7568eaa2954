package jpeg

// The inverse transform of T.81 A.3.3 turns 8 × 8 frequencies into 8 × 8
// samples. In each direction it is
//
//	f(x) = ½ Σ C(u) F(u) cos((2x+1)uπ / 16),  u = 0 … 7,  C(0) = 1/√2, else 1
//
// The reduced transform keeps the frequencies below n and asks for the same sum
// at the middles of n samples instead of 8:
//
//	f(x) = ½ Σ C(u) F(u) cos((2x+1)uπ / 2n),  u = 0 … n−1,  x = 0 … n−1
//
// which is what A.3.3 gives for a block of n × n, scaled so that a flat block
// keeps its level. For n = 8 it is A.3.3 itself.
//
// Two directions of ½ and C(0) = 1/√2 make a common factor of 1/8; what is left
// for each direction is
//
//	g(x) = F(0) + Σ √2 cos((2x+1)uπ / 2n) F(u),  u = 1 … n−1
//
// Even u give the same in x and n−1−x, odd u the opposite: each function idctN
// sums the two halves once and adds or subtracts them. Its constants are named
// after their angle, and cosKofM is √2 cos(Kπ/M).

// fixBits is the precision of the constants. Sums are kept in 64 bits without
// any rounding between the two directions. They cannot overflow: an AC coefficient
// has up to 10 + 16 bits, the sum of a direction is less than 2^3.5 times the
// largest term, and the precision adds 14; twice that makes 61 bits. DC has up to
// 15 + 16 bits, but its factor is one: 59.
const fixBits = 14

const (
	// outShift takes off the precision of both directions and the factor 1/8.
	outShift = 2*fixBits + 3
	// outBias undoes the level shift of A.3.1 and makes the shift round.
	outBias = 128<<outShift + 1<<(outShift-1)
)

// sample rounds a sum and keeps it within 8 bits.
func sample(v int64) byte {
	v = (v + outBias) >> outShift
	if uint64(v) > 255 {
		return byte(^(v >> 63)) // below: all bits of the sign, turned: 0; above: 255
	}
	return byte(v)
}

// inverse turns a block into n × n samples at dst.
type inverse func(b *block, dst []byte, stride int)

// inverseFor chooses the transform for a scale.
func inverseFor(n int) inverse {
	// For n = 1 no other coefficient takes part, and every block is flat.
	full := [Full + 1]inverse{2: inverse2, inverse3, inverse4, inverse5, inverse6, inverse7, inverse8}[n]
	square := uint64(0) // the coefficients that take part
	for v := range n {
		for u := range n {
			square |= 1 << (8*v + u)
		}
	}
	return func(b *block, dst []byte, stride int) {
		if b.used&square == 0 {
			flat(n, b.coef[0], dst, stride)
			return
		}
		full(b, dst, stride)
	}
}

// flat fills the square of a block that is DC alone: every g is F(0).
func flat(n int, dc int32, dst []byte, stride int) {
	v := sample(int64(dc) << (2 * fixBits))
	for y := range n {
		row := dst[y*stride:][:n]
		for x := range row {
			row[x] = v
		}
	}
}

// column is the set of coefficients of horizontal frequency 0 but DC; shifted
// by u, those of horizontal frequency u. Without them, a column is flat.
const column = 0x0101010101010100

// at gives a coefficient with room for the sums.
func (b *block) at(i int) int64 { return int64(b.coef[i]) }
