package jpeg

const (
	cos1of14 = 22590
	cos2of14 = 20876
	cos3of14 = 18115
	cos4of14 = 14447
	cos5of14 = 10053
	cos6of14 = 5156
)

func idct7(f0, f1, f2, f3, f4, f5, f6 int64) (g0, g1, g2, g3, g4, g5, g6 int64) {
	f0 <<= fixBits
	e0 := f0 + cos2of14*f2 + cos4of14*f4 + cos6of14*f6
	e1 := f0 + cos6of14*f2 - cos2of14*f4 - cos4of14*f6
	e2 := f0 - cos4of14*f2 - cos6of14*f4 + cos2of14*f6
	e3 := f0 - sqrt2*(f2-f4+f6)
	o0 := cos1of14*f1 + cos3of14*f3 + cos5of14*f5
	o1 := cos3of14*f1 - cos5of14*f3 - cos1of14*f5
	o2 := cos5of14*f1 - cos1of14*f3 + cos3of14*f5
	return e0 + o0, e1 + o1, e2 + o2, e3, e2 - o2, e1 - o1, e0 - o0
}

// inverse7 makes 7 × 7 samples, columns first.
func inverse7(b *block, dst []byte, stride int) {
	var t [7 * 7]int64
	for c := range 7 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[7+c], t[14+c], t[21+c], t[28+c], t[35+c], t[42+c] = dc, dc, dc, dc, dc, dc, dc
			continue
		}
		t[c], t[7+c], t[14+c], t[21+c], t[28+c], t[35+c], t[42+c] = idct7(
			b.at(c), b.at(8+c), b.at(16+c), b.at(24+c), b.at(32+c), b.at(40+c), b.at(48+c))
	}
	for r := range 7 {
		x := (*[7]int64)(t[7*r:])
		g0, g1, g2, g3, g4, g5, g6 := idct7(x[0], x[1], x[2], x[3], x[4], x[5], x[6])
		o := (*[7]byte)(dst[r*stride:])
		o[0], o[1], o[2], o[3], o[4], o[5], o[6] =
			sample(g0), sample(g1), sample(g2), sample(g3), sample(g4), sample(g5), sample(g6)
	}
}
