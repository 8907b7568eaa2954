package imaging_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

var captionWords = []string{
	"Larkrow Court (invented)", "Terrace A, North, bay 3, lift 2, x 6.5 m, z 3.2 m",
	"taken 2026-06-01 12:30:00 +01:00", "photo 0f3a5c7e9b1d · evidence grade B",
}

// preview is the view copy of a drawn photo.
func preview(t *testing.T, w, h int) []byte {
	t.Helper()
	data, err := imaging.RenderJPEG(imaging.SceneSpec{Width: w, Height: h, Seed: 3}, defects.Capture{Orientation: 1})
	require.NoError(t, err)
	copies, err := imaging.Derive(t.Context(), bytes.NewReader(data), defects.Capture{}, imaging.DeriveOptions{})
	require.NoError(t, err)
	return copies.Preview.JPEG
}

// ink counts dark samples in a part of a picture.
func ink(img image.Image, part image.Rectangle) (n int) {
	y := img.(*image.YCbCr)
	for py := part.Min.Y; py < part.Max.Y; py++ {
		for px := part.Min.X; px < part.Max.X; px++ {
			if y.Y[y.YOffset(px, py)] < 80 {
				n++
			}
		}
	}
	return n
}

func TestACaptionStandsBelowThePictureAndNotOverIt(t *testing.T) {
	t.Parallel()
	for _, size := range []image.Point{{2400, 1800}, {1500, 2000}, {800, 600}, {101, 77}} {
		plain := preview(t, size.X, size.Y)
		got, err := imaging.Caption(bytes.NewReader(plain), captionWords)
		require.NoError(t, err)
		before, err := jpeg.Decode(bytes.NewReader(plain))
		require.NoError(t, err)
		after, err := jpeg.Decode(bytes.NewReader(got.JPEG))
		require.NoError(t, err)
		require.Equal(t, image.Pt(got.Width, got.Height), after.Bounds().Size())
		require.NotContains(t, string(got.JPEG), "Exif")
		b, a := before.(*image.YCbCr), after.(*image.YCbCr)
		w, h := b.Rect.Dx(), b.Rect.Dy()
		off := 0
		for y := range h - 16 { // the last blocks share their frequencies with the strip
			for x := range w - 16 {
				d := int(b.Y[b.YOffset(x, y)]) - int(a.Y[a.YOffset(x, y)])
				off += max(d, -d)
			}
		}
		require.Less(t, float64(off)/float64((w-16)*max(h-16, 1)), 4.0, "the picture is as it was, but for being saved again")
		size := float64(got.Width) * 12 / 390
		require.Greater(t, ink(after, image.Rect(0, h+8, got.Width, got.Height)), int(8*size), "there is text")
		require.Zero(t, ink(after, image.Rect(got.Width-int(size*0.3), h+8, got.Width, got.Height)), "nothing runs off the edge")
		require.GreaterOrEqual(t, float64(got.Height-h), 4*size, "four lines of 12 pixels on a phone")
		if dir := os.Getenv("STOREYROD_SHOTS"); dir != "" && w > 1000 {
			require.NoError(t, os.WriteFile(dir+"/caption-"+strings.TrimSpace(strings.Repeat("i", w/500))+".jpg", got.JPEG, 0o600))
		}
	}
}

func TestLongWordsAreWrappedAndManyLinesCutOff(t *testing.T) {
	t.Parallel()
	plain := preview(t, 320, 240)
	long, err := imaging.Caption(bytes.NewReader(plain), []string{strings.Repeat("Ältestenhaus", 200), strings.Repeat("wall ", 500), "\xff\xfe"})
	require.NoError(t, err)
	require.Less(t, long.Height, 240+240)
	after, err := jpeg.Decode(bytes.NewReader(long.JPEG))
	require.NoError(t, err)
	require.Zero(t, ink(after, image.Rect(long.Width-2, 248, long.Width, long.Height)))
	_, err = imaging.Caption(bytes.NewReader(plain), nil)
	require.NoError(t, err)
	_, err = imaging.Caption(strings.NewReader("no picture"), captionWords)
	require.ErrorIs(t, err, defects.Invalid)
}

func BenchmarkCaption(b *testing.B) {
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, imaging.Render(imaging.SceneSpec{Width: 2048, Height: 1536}), nil); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := imaging.Caption(bytes.NewReader(buf.Bytes()), captionWords); err != nil {
			b.Fatal(err)
		}
	}
}
