package jpeg

// √2 cos(π/12) is 1 + √2 cos(5π/12), which saves idct6 most of its products.
const (
	cos5of12 = 5997
	cos2of12 = cos1of6
	cos4of12 = cos2of6
)

func idct6(f0, f1, f2, f3, f4, f5 int64) (g0, g1, g2, g3, g4, g5 int64) {
	f0 <<= fixBits
	e0 := f0 + cos2of12*f2 + cos4of12*f4
	e1 := f0 - sqrt2*f4
	e2 := f0 - cos2of12*f2 + cos4of12*f4
	both := cos5of12 * (f1 + f5)
	o0 := both + (f1+f3)<<fixBits
	o1 := (f1 - f3 - f5) << fixBits
	o2 := both + (f5-f3)<<fixBits
	return e0 + o0, e1 + o1, e2 + o2, e2 - o2, e1 - o1, e0 - o0
}

// inverse6 makes 6 × 6 samples, columns first.
func inverse6(b *block, dst []byte, stride int) {
	var t [6 * 6]int64
	for c := range 6 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[6+c], t[12+c], t[18+c], t[24+c], t[30+c] = dc, dc, dc, dc, dc, dc
			continue
		}
		t[c], t[6+c], t[12+c], t[18+c], t[24+c], t[30+c] = idct6(
			b.at(c), b.at(8+c), b.at(16+c), b.at(24+c), b.at(32+c), b.at(40+c))
	}
	for r := range 6 {
		x := (*[6]int64)(t[6*r:])
		g0, g1, g2, g3, g4, g5 := idct6(x[0], x[1], x[2], x[3], x[4], x[5])
		o := (*[6]byte)(dst[r*stride:])
		o[0], o[1], o[2], o[3], o[4], o[5] =
			sample(g0), sample(g1), sample(g2), sample(g3), sample(g4), sample(g5)
	}
}
