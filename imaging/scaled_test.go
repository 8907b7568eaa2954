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
