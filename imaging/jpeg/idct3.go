package jpeg

const (
	sqrt2   = 23170 // √2 · 2¹⁴
	cos1of6 = 20066
	cos2of6 = 11585
)

func idct3(f0, f1, f2 int64) (g0, g1, g2 int64) {
	f0 <<= fixBits
	even, odd := f0+cos2of6*f2, cos1of6*f1
	return even + odd, f0 - sqrt2*f2, even - odd
}

// inverse3 makes 3 × 3 samples, columns first.
func inverse3(b *block, dst []byte, stride int) {
	var t [3 * 3]int64
	for c := range 3 {
		if b.used&(column<<c) == 0 {
			dc := b.at(c) << fixBits
			t[c], t[3+c], t[6+c] = dc, dc, dc
			continue
		}
		t[c], t[3+c], t[6+c] = idct3(
			b.at(c), b.at(8+c), b.at(16+c))
	}
	for r := range 3 {
		x := (*[3]int64)(t[3*r:])
		g0, g1, g2 := idct3(x[0], x[1], x[2])
		o := (*[3]byte)(dst[r*stride:])
		o[0], o[1], o[2] =
			sample(g0), sample(g1), sample(g2)
	}
}
