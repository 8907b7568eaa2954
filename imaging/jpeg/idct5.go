package jpeg

const (
	cos1of10 = 22036
	cos2of10 = 18745
	cos3of10 = 13619
	cos4of10 = 7160
)

func idct5(f0, f1, f2, f3, f4 int64) (g0, g1, g2, g3, g4 int64) {
	f0 <<= fixBits
	e0 := f0 + cos2of10*f2 + cos4of10*f4
	e1 := f0 - cos4of10*f2 - cos2of10*f4
	e2 := f0 - sqrt2*(f2-f4)
	o0 := cos1of10*f1 + cos3of10*f3
	o1 := cos3of10*f1 - cos1of10*f3
	return e0 + o0, e1 + o1, e2, e1 - o1, e0 - o0
}

// inverse5 makes 5 × 5 samples, columns first.
func inverse5(b *block, dst []byte, stride int) {
	var t [5 * 5]int64
	for c := range 5 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[5+c], t[10+c], t[15+c], t[20+c] = dc, dc, dc, dc, dc
			continue
		}
		t[c], t[5+c], t[10+c], t[15+c], t[20+c] = idct5(
			b.at(c), b.at(8+c), b.at(16+c), b.at(24+c), b.at(32+c))
	}
	for r := range 5 {
		x := (*[5]int64)(t[5*r:])
		g0, g1, g2, g3, g4 := idct5(x[0], x[1], x[2], x[3], x[4])
		o := (*[5]byte)(dst[r*stride:])
		o[0], o[1], o[2], o[3], o[4] =
			sample(g0), sample(g1), sample(g2), sample(g3), sample(g4)
	}
}
