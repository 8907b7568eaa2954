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
			if len(ca[i][y]) != len(cb[i][y]) {
				t.Fatalf("row %d has %d and %d samples", y, len(ca[i][y]), len(cb[i][y]))
			}
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

// layouts are the subsamplings of the files phones and cameras write, and
// equal ones written with other factors.
func layouts() map[string][][2]int {
	return map[string][][2]int{
		"grey":               {{1, 1}},
		"grey with factors":  {{2, 2}},
		"4:4:4":              {{1, 1}, {1, 1}, {1, 1}},
		"4:2:2":              {{2, 1}, {1, 1}, {1, 1}},
		"4:2:0":              {{2, 2}, {1, 1}, {1, 1}},
		"4:4:0":              {{1, 2}, {1, 1}, {1, 1}},
		"4:1:1":              {{4, 1}, {1, 1}, {1, 1}},
		"4:1:0":              {{4, 2}, {1, 1}, {1, 1}},
		"4:2:2 of two lines": {{2, 2}, {1, 2}, {1, 2}},
		"4:4:0 of two":       {{2, 2}, {2, 1}, {2, 1}},
		"4:4:4 of two":       {{2, 1}, {2, 1}, {2, 1}},
	}
}

func sizes() [][2]int {
	return [][2]int{
		{1, 1}, {1, 9}, {9, 1}, {7, 8}, {8, 8}, {15, 17}, {16, 16}, {17, 33}, {31, 3}, {64, 48}, {101, 75}, {257, 129},
	}
}

// recipes gives every size with every coarseness, restart interval and order of
// scans for one subsampling.
func recipes(sampling [][2]int) []recipe {
	var all []recipe
	for _, size := range sizes() {
		for i, coarse := range []int{0, 1, 6, 30} {
			for j, restart := range []int{0, 1, 3, 16} {
				if size[0]*size[1] > 10_000 && i != j {
					continue // the large ones once each
				}
				r := recipe{width: size[0], height: size[1], sampling: sampling, coarse: coarse, restart: restart}
				r.separate, r.extended, r.deep, r.fill = (i+j)%4 == 1, (i+j)%3 == 2, i%2 == 1, (i+j)%2
				if r.separate {
					r.restart = 0 // the standard decoder counts another way; see the test of orders
				}
				all = append(all, r)
			}
		}
	}
	return all
}

func TestFullSizeIsWithinOneLevelOfTheStandardDecoder(t *testing.T) {
	t.Parallel()
	for name, sampling := range layouts() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, r := range recipes(sampling) {
				b := append(r.encode(), "bytes behind the picture"...)
				p := decodeAt(t, b, Full)
				require.Equal(t, [2]int{r.width, r.height}, [2]int{p.Width, p.Height}, r)
				require.LessOrEqual(t, apart(t, p.Image, standard(t, b)), 1, r)
			}
		})
	}
}

func TestScansRestartsAndFillBytesDoNotChangeASample(t *testing.T) {
	t.Parallel()
	for name, sampling := range layouts() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, size := range sizes() {
				plain := recipe{width: size[0], height: size[1], sampling: sampling, coarse: 4}
				for _, n := range []int{1, 3, 5, 8} {
					want := decodeAt(t, plain.encode(), n)
					for _, restart := range []int{1, 2, 9} {
						r := plain
						r.restart, r.separate, r.fill, r.fillAfter = restart, restart != 2, 2, restart
						require.Zero(t, apart(t, want.Image, decodeAt(t, r.encode(), n).Image), "%v at %d", r, n)
					}
				}
			}
		})
	}
}
