package jpeg

const (
	cos1of16 = 22725
	cos3of16 = 19266
	cos5of16 = 12873
	cos7of16 = 4520
)

// idct8 has idct4 for its even half: (2x+1)2uπ/16 is (2x+1)uπ/8.
func idct8(f0, f1, f2, f3, f4, f5, f6, f7 int64) (g0, g1, g2, g3, g4, g5, g6, g7 int64) {
	e0, e1, e2, e3 := idct4(f0, f2, f4, f6)
	o0 := cos1of16*f1 + cos3of16*f3 + cos5of16*f5 + cos7of16*f7
	o1 := cos3of16*f1 - cos7of16*f3 - cos1of16*f5 - cos5of16*f7
	o2 := cos5of16*f1 - cos1of16*f3 + cos7of16*f5 + cos3of16*f7
	o3 := cos7of16*f1 - cos5of16*f3 + cos3of16*f5 - cos1of16*f7
	return e0 + o0, e1 + o1, e2 + o2, e3 + o3, e3 - o3, e2 - o2, e1 - o1, e0 - o0
}

// inverse8 makes 8 × 8 samples, columns first.
func inverse8(b *block, dst []byte, stride int) {
	var t [8 * 8]int64
	for c := range 8 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[8+c], t[16+c], t[24+c], t[32+c], t[40+c], t[48+c], t[56+c] = dc, dc, dc, dc, dc, dc, dc, dc
			continue
		}
		t[c], t[8+c], t[16+c], t[24+c], t[32+c], t[40+c], t[48+c], t[56+c] = idct8(
			b.at(c), b.at(8+c), b.at(16+c), b.at(24+c), b.at(32+c), b.at(40+c), b.at(48+c), b.at(56+c))
	}
	for r := range 8 {
		x := (*[8]int64)(t[8*r:])
		g0, g1, g2, g3, g4, g5, g6, g7 := idct8(x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7])
		o := (*[8]byte)(dst[r*stride:])
		o[0], o[1], o[2], o[3], o[4], o[5], o[6], o[7] =
			sample(g0), sample(g1), sample(g2), sample(g3), sample(g4), sample(g5), sample(g6), sample(g7)
	}
}
