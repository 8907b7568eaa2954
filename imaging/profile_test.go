package imaging

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/require"
)

// madeProfile is a profile by its header only: size, colour space, signature.
func madeProfile(size int, space string) []byte {
	b := bytes.Repeat([]byte{7}, size)
	binary.BigEndian.PutUint32(b, uint32(size))
	copy(b[16:], space)
	copy(b[36:], "acsp")
	return b
}

// surveyWith puts a profile into a small JPEG and walks it.
func surveyWith(t *testing.T, profile []byte) survey {
	t.Helper()
	s, err := surveyFile(bytes.NewReader(withProfile(plainJPEG(t, 16, 8), profile)), DefaultLimits())
	require.NoError(t, err)
	return s
}

func TestAProfileOfManySegmentsComesBackWhole(t *testing.T) {
	t.Parallel()
	for _, size := range []int{200, maxICCPart, maxICCPart + 1, 200_000} {
		want := madeProfile(size, "RGB ")
		s := surveyWith(t, want)
		require.Len(t, s.icc, (size+maxICCPart-1)/maxICCPart)
		require.Equal(t, want, s.profile(image.NewYCbCr(image.Rect(0, 0, 1, 1), image.YCbCrSubsampleRatio420), DefaultLimits()))
	}
}

func TestAProfileIsKeptOnlyWhereItFits(t *testing.T) {
	t.Parallel()
	colours := image.NewYCbCr(image.Rect(0, 0, 1, 1), image.YCbCrSubsampleRatio420)
	grey := image.NewGray(image.Rect(0, 0, 1, 1))
	torn := madeProfile(300, "RGB ")
	binary.BigEndian.PutUint32(torn, 301)
	for name, tc := range map[string]struct {
		profile []byte
		img     image.Image
		kept    bool
	}{
		"colour on colour":  {madeProfile(300, "RGB "), colours, true},
		"grey on grey":      {madeProfile(300, "GRAY"), grey, true},
		"colour on grey":    {madeProfile(300, "RGB "), grey, false},
		"print inks":        {madeProfile(300, "CMYK"), colours, false},
		"size not as told":  {torn, colours, false},
		"shorter than head": {[]byte("too short"), colours, false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := surveyWith(t, tc.profile)
			require.Equal(t, tc.kept, s.profile(tc.img, DefaultLimits()) != nil)
		})
	}
}

func TestEveryKindOfPixelsBecomesPlanes(t *testing.T) {
	t.Parallel()
	red := color.NRGBA{200, 20, 20, 255}
	size := image.Rect(0, 0, 60, 40)
	type canvasImage interface {
		image.Image
		Set(x, y int, c color.Color)
	}
	for name, img := range map[string]canvasImage{
		"cmyk": image.NewCMYK(size), "rgba": image.NewRGBA(size), "nrgba": image.NewNRGBA(size),
		"rgba64": image.NewRGBA64(size), "nrgba64": image.NewNRGBA64(size),
		"palette": image.NewPaletted(size, color.Palette{color.Black, red}),
	} {
		for y := range 40 {
			for x := range 60 {
				img.Set(x, y, red)
			}
		}
		for _, want := range []int{60, 30} {
			out, ok := planar(img, want).(*image.YCbCr)
			require.True(t, ok, name)
			require.Equal(t, want, out.Bounds().Dx(), name)
			r, g, b, _ := out.At(want/2, want/3).RGBA()
			require.InDelta(t, 200, r>>8, 4, name)
			require.InDelta(t, 20, g>>8, 4, name)
			require.InDelta(t, 20, b>>8, 4, name)
		}
	}
}
