package jpeg

import (
	"bytes"
	"errors"
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// gathered puts the bands of a picture together again.
func gathered(t *testing.T, b []byte, n int) (whole image.Image, bands int) {
	t.Helper()
	next := 0
	var planes [3][]byte
	var last *Picture
	err := DecodeBands(t.Context(), bytes.NewReader(b), Options{Scale: n}, func(p *Picture) error {
		r := p.Image.Bounds()
		require.Equal(t, image.Rect(0, next, p.Bounds.Dx(), r.Max.Y), r, "bands follow each other")
		for i, rows := range channels(p.Image) {
			for _, row := range rows {
				planes[i] = append(planes[i], row...)
			}
		}
		next, last = r.Max.Y, p
		bands++
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, last.Bounds.Dy(), next, "all rows came")
	m, colour := last.Image.(*image.YCbCr)
	if !colour {
		return &image.Gray{Pix: planes[0], Stride: last.Bounds.Dx(), Rect: last.Bounds}, bands
	}
	cw, _ := chromaSize(m.SubsampleRatio, last.Bounds.Dx(), last.Bounds.Dy())
	return &image.YCbCr{
		Y: planes[0], Cb: planes[1], Cr: planes[2], YStride: last.Bounds.Dx(), CStride: cw,
		SubsampleRatio: m.SubsampleRatio, Rect: last.Bounds,
	}, bands
}

func TestBandsAreThePictureInPieces(t *testing.T) {
	t.Parallel()
	for name, sampling := range layouts() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, size := range sizes() {
				r := recipe{width: size[0], height: size[1], sampling: sampling, coarse: 4, restart: size[0] % 4}
				for n := 1; n <= Full; n++ {
					got, bands := gathered(t, r.encode(), n)
					require.Zero(t, apart(t, decodeAt(t, r.encode(), n).Image, got), "%v at %d", r, n)
					require.Equal(t, r.frame().rows(), bands)
				}
				r.separate, r.restart = true, 0
				got, bands := gathered(t, r.encode(), 5)
				require.Zero(t, apart(t, decodeAt(t, r.encode(), 5).Image, got), r)
				if len(sampling) > 1 {
					require.Equal(t, 1, bands, "components apart come as one band")
				}
			}
		})
	}
}

func TestEverySampleComesInBandsToo(t *testing.T) {
	t.Parallel()
	for name, b := range samples(t) {
		p, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: 5})
		if err != nil {
			require.ErrorIs(t, DecodeBands(t.Context(), bytes.NewReader(b), Options{Scale: 5}, func(*Picture) error { return nil }), errors.Unwrap(err), name)
			continue
		}
		got, _ := gathered(t, b, 5)
		require.Zero(t, apart(t, p.Image, got), name)
	}
}

func TestWhoTakesBandsMayStop(t *testing.T) {
	t.Parallel()
	enough := errors.New("enough")
	taken := 0
	b := recipe{width: 64, height: 64, sampling: [][2]int{{2, 2}, {1, 1}, {1, 1}}}.encode()
	err := DecodeBands(t.Context(), bytes.NewReader(b), Options{}, func(*Picture) error {
		taken++
		return enough
	})
	require.ErrorIs(t, err, enough)
	require.Equal(t, 1, taken)
}
