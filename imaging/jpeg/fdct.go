package jpeg

import "math"

// The forward transform of T.81 A.3.3 turns 8 × 8 samples into frequencies. It
// is done here in the way of Arai, Agui and Nakajima (A Fast DCT-SQ Scheme for
// Images, Transactions of the IEICE E71, 1988): five multiplications for a
// direction of eight. They get there by leaving each frequency multiplied by a
// factor of its own, which costs nothing, as quantisation multiplies by a
// constant anyway.
//
// With s(x) = f(x) + f(7−x), d(x) = f(x) − f(7−x) and c(k) = cos(kπ/16):
//
//	even frequencies come from s as a transform of four,
//	odd ones from rotations of the sums d3+d2, d2+d1 and d1+d0.

const (
	// fdctBits is the precision of samples and sums: 9 bits of a sample with its
	// sign, 12 of fraction and two directions of three make 27.
	fdctBits = 12
	cosBits  = 14
)

// Constants of the scheme, times 2^cosBits, named after their angles in
// sixteenths of π.
const (
	fc4      = 11585 // c(4)
	fc6      = 6270  // c(6)
	fc2less6 = 8867  // c(2) − c(6)
	fc2and6  = 21407 // c(2) + c(6)
)

func times(v, c int) int { return v * c >> cosBits }

// fdct8 transforms one direction.
func fdct8(f0, f1, f2, f3, f4, f5, f6, f7 int) (g0, g1, g2, g3, g4, g5, g6, g7 int) {
	s0, s1, s2, s3 := f0+f7, f1+f6, f2+f5, f3+f4
	d0, d1, d2, d3 := f0-f7, f1-f6, f2-f5, f3-f4

	a, b := s0+s3, s1+s2
	e := s0 - s3
	r := times(s1-s2+e, fc4)
	g0, g4, g2, g6 = a+b, a-b, e+r, e-r

	p, q := d3+d2, d1+d0
	turn := times(p-q, fc6)
	low, high := times(p, fc2less6)+turn, times(q, fc2and6)+turn
	m := times(d2+d1, fc4)
	g1, g7 = d0+m+high, d0+m-high
	g5, g3 = d0-m+low, d0-m-low
	return g0, g1, g2, g3, g4, g5, g6, g7
}

// fdct transforms the 8 × 8 samples at pix, rows first, and leaves frequency
// (v, u) at 8v+u, times 2^fdctBits · 8 · factor(v) · factor(u).
func fdct(pix []byte, stride int, f *[64]int) {
	for y := range 8 {
		p := (*[8]byte)(pix[y*stride:])
		g := (*[8]int)(f[8*y:])
		g[0], g[1], g[2], g[3], g[4], g[5], g[6], g[7] = fdct8(
			shifted(p[0]), shifted(p[1]), shifted(p[2]), shifted(p[3]),
			shifted(p[4]), shifted(p[5]), shifted(p[6]), shifted(p[7]))
	}
	for x := range 8 {
		g := (*[57]int)(f[x:])
		g[0], g[8], g[16], g[24], g[32], g[40], g[48], g[56] = fdct8(g[0], g[8], g[16], g[24], g[32], g[40], g[48], g[56])
	}
}

// shifted is a sample after the level shift of A.3.1.
func shifted(v byte) int { return (int(v) - 128) << fdctBits }

// factor is what fdct8 leaves on frequency k: 1, else √2 c(k).
func factor(k int) float64 {
	if k == 0 {
		return 1
	}
	return math.Sqrt2 * math.Cos(float64(k)*math.Pi/16)
}

// recipBits is the precision of reciprocals. Divided by 8 · 2^fdctBits and at
// most 13 times enlarged, one has up to 29 bits, and a frequency 27.
const recipBits = 40

// reciprocals are what each frequency of fdct is multiplied by to be quantised
// (A.3.4), in zig-zag order.
type reciprocals [64]int

func newReciprocals(steps *[64]uint8) (r reciprocals) {
	for k, at := range zigzag {
		v, u := int(at)/8, int(at)%8
		scale := float64(steps[at]) * 8 * (1 << fdctBits) * factor(v) * factor(u)
		r[k] = int(math.Round((1 << recipBits) / scale))
	}
	return r
}

// quantise gives the levels in zig-zag order (A.3.6) and which of them are not
// zero: bit k for level k.
func (r *reciprocals) quantise(f *[64]int, levels *[64]int32) (used uint64) {
	for k, at := range zigzag {
		v := (f[at&63]*r[k] + 1<<(recipBits-1)) >> recipBits
		levels[k] = int32(v)
		// The sign of v or of -v is set where v is not zero.
		used |= uint64(v|-v) >> 63 << (k & 63)
	}
	return used
}
