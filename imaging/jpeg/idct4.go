package jpeg

const (
	cos1of8 = 21407
	cos3of8 = 8867
)

func idct4(f0, f1, f2, f3 int64) (g0, g1, g2, g3 int64) {
	e0, e1 := (f0+f2)<<fixBits, (f0-f2)<<fixBits
	o0 := cos1of8*f1 + cos3of8*f3
	o1 := cos3of8*f1 - cos1of8*f3
	return e0 + o0, e1 + o1, e1 - o1, e0 - o0
}

// inverse4 makes 4 × 4 samples, columns first.
func inverse4(b *block, dst []byte, stride int) {
	var t [4 * 4]int64
	for c := range 4 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[4+c], t[8+c], t[12+c] = dc, dc, dc, dc
			continue
		}
		t[c], t[4+c], t[8+c], t[12+c] = idct4(
			b.at(c), b.at(8+c), b.at(16+c), b.at(24+c))
	}
	for r := range 4 {
		x := (*[4]int64)(t[4*r:])
		g0, g1, g2, g3 := idct4(x[0], x[1], x[2], x[3])
		o := (*[4]byte)(dst[r*stride:])
		o[0], o[1], o[2], o[3] =
			sample(g0), sample(g1), sample(g2), sample(g3)
	}
}
