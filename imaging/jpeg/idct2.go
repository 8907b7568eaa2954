package jpeg

// idct2 has √2 cos(π/4) = 1 for its one constant.
func idct2(f0, f1 int64) (g0, g1 int64) {
	return (f0 + f1) << fixBits, (f0 - f1) << fixBits
}

// inverse2 makes 2 × 2 samples, columns first.
func inverse2(b *block, dst []byte, stride int) {
	var t [2 * 2]int64
	for c := range 2 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[2+c] = dc, dc
			continue
		}
		t[c], t[2+c] = idct2(
			b.at(c), b.at(8+c))
	}
	for r := range 2 {
		x := (*[2]int64)(t[2*r:])
		g0, g1 := idct2(x[0], x[1])
		o := (*[2]byte)(dst[r*stride:])
		o[0], o[1] =
			sample(g0), sample(g1)
	}
}
