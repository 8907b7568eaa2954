package imaging_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"math/bits"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// alike is the likeness of a picture saved at a quality, as its thumbnail shows.
func alike(t *testing.T, img image.Image, quality int) uint64 {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}))
	copies, err := imaging.Derive(t.Context(), bytes.NewReader(b.Bytes()), defects.Capture{}, imaging.DeriveOptions{})
	require.NoError(t, err)
	later, err := imaging.LikenessOfCopy(bytes.NewReader(copies.Thumb.JPEG))
	require.NoError(t, err)
	require.LessOrEqual(t, bits.OnesCount64(later^copies.Likeness), 2, "from the thumbnail as from its planes")
	return copies.Likeness
}

// walls are ten drawn brick walls.
func walls() (out []*image.YCbCr) {
	for seed := range uint64(10) {
		spec := imaging.SceneSpec{
			Width: 960, Height: 720, Seed: 100 + seed, ViewMM: 1500 + 130*float64(seed),
			Tone: []string{"red", "buff", "brown", "grey"}[seed%4],
		}
		out = append(out, imaging.Render(spec).(*image.YCbCr))
	}
	return out
}

// brighter adds to the brightness of every pixel.
func brighter(img *image.YCbCr, by int) *image.YCbCr {
	out := *img
	out.Y = make([]byte, len(img.Y))
	for i, v := range img.Y {
		out.Y[i] = byte(min(255, int(v)+by))
	}
	return &out
}

// The bounds are those measured when the hash was chosen (DCT hash of 64 bits).
func TestTheSamePictureStaysAlikeAndOtherWallsDoNot(t *testing.T) {
	t.Parallel()
	var all []uint64
	for i, img := range walls() {
		b := img.Bounds()
		x, y := b.Dx()/100, b.Dy()/100 // one hundredth off each side
		h := alike(t, img, 90)
		require.LessOrEqual(t, bits.OnesCount64(h^alike(t, img, 60)), 4, "wall %d saved again", i)
		require.LessOrEqual(t, bits.OnesCount64(h^alike(t, brighter(img, 25), 90)), 8, "wall %d brighter", i)
		cropped := img.SubImage(image.Rect(x, y, b.Dx()-x, b.Dy()-y))
		require.LessOrEqual(t, bits.OnesCount64(h^alike(t, cropped, 90)), 10, "wall %d cropped", i)
		for j, other := range all {
			require.GreaterOrEqual(t, bits.OnesCount64(h^other), 20, "walls %d and %d", i, j)
		}
		all = append(all, h)
	}
}

func TestLikenessIsOfTheUprightPicture(t *testing.T) {
	t.Parallel()
	spec := imaging.SceneSpec{Width: 640, Height: 480, Seed: 5}
	var got []uint64
	for _, orientation := range []int{1, 3, 6, 8} {
		data, err := imaging.RenderJPEG(spec, defects.Capture{Orientation: orientation})
		require.NoError(t, err)
		copies, err := imaging.Derive(t.Context(), bytes.NewReader(data), defects.Capture{Orientation: orientation}, imaging.DeriveOptions{})
		require.NoError(t, err)
		got = append(got, copies.Likeness)
	}
	for _, h := range got {
		require.LessOrEqual(t, bits.OnesCount64(got[0]^h), 4)
	}
}

func TestLikenessOfOddPicturesIsNoHarm(t *testing.T) {
	t.Parallel()
	for _, img := range []image.Image{
		image.NewGray(image.Rect(0, 0, 0, 0)), image.NewGray(image.Rect(0, 0, 1, 1)),
		image.NewYCbCr(image.Rect(3, 5, 10, 900), image.YCbCrSubsampleRatio420), image.NewRGBA(image.Rect(2, 2, 40, 30)),
	} {
		require.NotPanics(t, func() { imaging.Likeness(img) })
	}
	_, err := imaging.LikenessOfCopy(bytes.NewReader([]byte("no picture")))
	require.Error(t, err)
}

func BenchmarkLikeness(b *testing.B) {
	img := imaging.Render(imaging.SceneSpec{Width: 320, Height: 240, Seed: 1})
	for b.Loop() {
		imaging.Likeness(img)
	}
}
