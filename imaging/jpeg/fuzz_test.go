package jpeg

import (
	"bytes"
	"errors"
	stdjpeg "image/jpeg"
	"testing"
)

// FuzzDecode holds the decoder to the standard one wherever both succeed, to
// coded errors and to bounded memory everywhere.
func FuzzDecode(f *testing.F) {
	for _, b := range samples(f) {
		if len(b) < 20_000 {
			f.Add(b, uint8(0))
		}
	}
	for _, sampling := range layouts() {
		f.Add(recipe{width: 19, height: 13, sampling: sampling, coarse: 9, restart: 1, extended: true, deep: true}.encode(), uint8(4))
		f.Add(recipe{width: 19, height: 13, sampling: sampling, coarse: 9, separate: true, fill: 1}.encode(), uint8(5))
	}
	f.Fuzz(func(t *testing.T, b []byte, scale uint8) {
		n := 1 + int(scale%Full)
		p, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: n, MaxPixels: 300_000})
		if err != nil {
			if !errors.Is(err, ErrCorrupt) && !errors.Is(err, ErrUnsupported) && !errors.Is(err, ErrTooLarge) {
				t.Fatalf("error of no kind: %v", err)
			}
			return
		}
		if size := p.Image.Bounds().Size(); size.X != scaled(p.Width, n) || size.Y != scaled(p.Height, n) {
			t.Fatalf("%d × %d at %d/8 is %v", p.Width, p.Height, n, size)
		}
		honest := true
		watched(t, b, Full, func(_ *component, _, _ int, b *block) { honest = honest && b.honest() })
		if !honest {
			return
		}
		requireExact(t, b, n, "file")
		std, err := stdjpeg.Decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		full := decodeAt(t, b, Full)
		if d := apart(t, std, full.Image); d > 1 {
			t.Fatalf("%d levels apart", d)
		}
	})
}

// honest says that the coefficients could come from samples of 8 bits: the
// transform keeps the sum of squares, 64 × 128² at most; quantisation may have
// added some. Beyond, the standard decoder's 32 bits overflow.
func (b *block) honest() bool {
	sum := 0
	for _, v := range b.coef {
		sum += int(v) * int(v)
	}
	return sum <= 4*64*128*128
}
