package jpeg

import (
	"bytes"
	"image"
	stdjpeg "image/jpeg"
	"testing"

	"github.com/stretchr/testify/require"
)

// channels gives the planes of a picture, cut to their sizes.
func channels(img image.Image) [][][]byte {
	cut := func(pix []byte, stride, w, h int) [][]byte {
		rows := make([][]byte, h)
		for y := range rows {
			rows[y] = pix[y*stride : y*stride+w]
		}
		return rows
	}
	switch m := img.(type) {
	case *image.Gray:
		return [][][]byte{cut(m.Pix, m.Stride, m.Rect.Dx(), m.Rect.Dy())}
	case *image.YCbCr:
		w, h := m.Rect.Dx(), m.Rect.Dy()
		cw, ch := chromaSize(m.SubsampleRatio, w, h)
		return [][][]byte{cut(m.Y, m.YStride, w, h), cut(m.Cb, m.CStride, cw, ch), cut(m.Cr, m.CStride, cw, ch)}
	}
	return nil
}

func chromaSize(r image.YCbCrSubsampleRatio, w, h int) (int, int) {
	m := image.NewYCbCr(image.Rect(0, 0, w, h), r)
	return m.CStride, len(m.Cb) / m.CStride
}

// apart is the largest difference of two pictures of one shape.
func apart(t testing.TB, a, b image.Image) int {
	t.Helper()
	require.Equal(t, a.Bounds(), b.Bounds())
	ca, cb := channels(a), channels(b)
	require.Equal(t, len(ca), len(cb))
	most := 0
	for i := range ca {
		require.Equal(t, len(ca[i]), len(cb[i]))
		for y := range ca[i] {
			require.Equal(t, len(ca[i][y]), len(cb[i][y]))
			for x := range ca[i][y] {
				most = max(most, int(ca[i][y][x])-int(cb[i][y][x]), int(cb[i][y][x])-int(ca[i][y][x]))
			}
		}
	}
	return most
}

func decodeAt(t testing.TB, b []byte, n int) *Picture {
	t.Helper()
	p, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: n})
	require.NoError(t, err)
	return p
}

func standard(t testing.TB, b []byte) image.Image {
	t.Helper()
	img, err := stdjpeg.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	return img
}
