package imaging_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"testing"

	dimaging "github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// requireLikeFullDecoding compares a preview with the standard decoder at full
// size followed by another library's Lanczos.
func requireLikeFullDecoding(t *testing.T, b []byte, edge int, least float64) {
	t.Helper()
	got, err := derive(t, b, 1, imaging.DeriveOptions{PreviewEdge: edge, PreviewQuality: 100})
	require.NoError(t, err)
	src, err := jpeg.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	want := dimaging.Resize(src, got.Preview.Width, got.Preview.Height, dimaging.Lanczos)
	require.Greater(t, psnr(want, decoded(t, got.Preview)), least, "%v to %d", src.Bounds().Size(), edge)
}

// At every scale of decoding, and with sizes that leave a part of a sample at
// the edges, the picture stays what and where it is. Edges are chosen for the
// least reserve there can be; the walls are so small that all is fine grain.
func TestScaledDecodingLooksLikeFullDecoding(t *testing.T) {
	t.Parallel()
	for _, size := range []image.Point{{1603, 1201}, {800, 1207}} {
		b := wall(t, size.X, size.Y, defects.Capture{})
		for _, eighths := range []int{1, 2, 3, 4, 5, 6, 7, 8} {
			requireLikeFullDecoding(t, b, max(size.X, size.Y)*eighths*5/48, 38)
		}
	}
}

func TestGreyAndThinPicturesAreReducedToo(t *testing.T) {
	t.Parallel()
	grey := image.NewGray(image.Rect(0, 0, 1003, 7))
	for i := range grey.Pix {
		grey.Pix[i] = byte(i % 1003 / 4)
	}
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, grey, &jpeg.Options{Quality: 95}))
	for _, edge := range []int{90, 250, 640, 1003} {
		requireLikeFullDecoding(t, buf.Bytes(), edge, 45)
	}
}

// What the scaled decoder leaves to the standard one still gets its copies.
func TestRareCodingsFallBackToTheStandardDecoder(t *testing.T) {
	t.Parallel()
	plain := wall(t, 320, 240, defects.Capture{})
	adobe := append([]byte{0xFF, 0xD8, 0xFF, 0xEE, 0, 14, 'A', 'd', 'o', 'b', 'e', 0, 100, 0, 0, 0, 0, 0}, plain[2:]...)
	strayed := append(append(append([]byte{}, plain[:len(plain)-2]...), 7, 7), 0xFF, 0xD9)
	for name, b := range map[string][]byte{
		"Adobe RGB":   adobe,
		"stray bytes": strayed,
		"progressive": sample(t, "bep/mushroom.jpg"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			requireLikeFullDecoding(t, b, 2048, 44)
			requireLikeFullDecoding(t, b, 150, 44)
		})
	}
}

// A file of several pictures (CIPA DC-007, MPO: a second eye's view or a larger
// preview behind the first picture's end marker) gives copies of the first.
func TestOfAFileOfSeveralPicturesTheFirstIsTaken(t *testing.T) {
	t.Parallel()
	first, second := wall(t, 640, 480, defects.Capture{}), wall(t, 320, 200, defects.Capture{})
	index := append([]byte{0xFF, 0xE2, 0, 8}, "MPF\x00II"...)
	several := append(append(append([]byte{}, first[:2]...), index...), first[2:]...)
	several = append(several, second...)
	want, err := derive(t, first, 6, imaging.DeriveOptions{})
	require.NoError(t, err)
	got, err := derive(t, several, 6, imaging.DeriveOptions{})
	require.NoError(t, err)
	require.Equal(t, want, got)
}

// All eight orientations, at odd sizes and while being reduced, are those of the
// upright copy: turned after decoding, it is the same picture but for the coding.
func TestPhotosAreTurnedWhileTheyAreReduced(t *testing.T) {
	t.Parallel()
	for orientation := 1; orientation <= 8; orientation++ {
		upright := wall(t, 901, 677, defects.Capture{})
		src, err := jpeg.Decode(bytes.NewReader(upright))
		require.NoError(t, err)
		var stored bytes.Buffer
		require.NoError(t, jpeg.Encode(&stored, turnedBy(src, orientation), &jpeg.Options{Quality: 98}))
		got, err := derive(t, stored.Bytes(), orientation, imaging.DeriveOptions{PreviewEdge: 401, PreviewQuality: 98})
		require.NoError(t, err)
		want := dimaging.Resize(src, got.Preview.Width, got.Preview.Height, dimaging.Lanczos)
		require.Equal(t, 401, got.Preview.Width)
		require.Greater(t, psnr(want, decoded(t, got.Preview)), 36.0, "orientation %d", orientation)
	}
}
