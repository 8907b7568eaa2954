package imaging_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"
	"testing/iotest"

	dimaging "github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

func derive(t testing.TB, b []byte, orientation int, o imaging.DeriveOptions) (imaging.Copies, error) {
	t.Helper()
	return imaging.Derive(t.Context(), bytes.NewReader(b), defects.Capture{Orientation: orientation}, o)
}

func decoded(t testing.TB, p imaging.Picture) image.Image {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(p.JPEG))
	require.NoError(t, err)
	require.Equal(t, image.Pt(p.Width, p.Height), img.Bounds().Size())
	return img
}

// wall draws a photo of a given size.
func wall(t testing.TB, w, h int, c defects.Capture) []byte {
	t.Helper()
	b, err := imaging.RenderJPEG(imaging.SceneSpec{Width: w, Height: h, Seed: 5, Tape: true, Label: "12"}, c)
	require.NoError(t, err)
	return b
}

func TestCopiesFitTheirEdgesAndAreNeverEnlarged(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		w, h, orientation int
		preview, thumb    image.Point
	}{
		"wide":            {2600, 1300, 1, image.Pt(2048, 1024), image.Pt(320, 160)},
		"turned":          {2600, 1300, 6, image.Pt(1024, 2048), image.Pt(160, 320)},
		"small":           {640, 480, 1, image.Pt(640, 480), image.Pt(320, 240)},
		"tiny and turned": {33, 17, 8, image.Pt(17, 33), image.Pt(17, 33)},
		"one row":         {4096, 1, 1, image.Pt(2048, 1), image.Pt(320, 1)},
		"unknown turn":    {40, 20, 99, image.Pt(40, 20), image.Pt(40, 20)},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var buf bytes.Buffer
			require.NoError(t, jpeg.Encode(&buf, image.NewYCbCr(image.Rect(0, 0, tc.w, tc.h), image.YCbCrSubsampleRatio420), nil))
			got, err := derive(t, buf.Bytes(), tc.orientation, imaging.DeriveOptions{})
			require.NoError(t, err)
			require.Equal(t, tc.preview, decoded(t, got.Preview).Bounds().Size())
			require.Equal(t, tc.thumb, decoded(t, got.Thumb).Bounds().Size())
		})
	}
}

// corners paints a picture whose four quarters differ, so that any wrong turn shows.
func corners(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.NRGBA{40, 40, 40, 255}
			switch {
			case x < w/2 && y < h/2:
				c = color.NRGBA{220, 30, 30, 255}
			case x >= w/2 && y < h/2:
				c = color.NRGBA{30, 200, 30, 255}
			case x < w/2:
				c = color.NRGBA{30, 30, 220, 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

// turnedBy stores a picture the way a camera held in that orientation would,
// with the transformations of another library.
func turnedBy(img image.Image, orientation int) image.Image {
	switch orientation {
	case 2:
		return dimaging.FlipH(img)
	case 3:
		return dimaging.Rotate180(img)
	case 4:
		return dimaging.FlipV(img)
	case 5:
		return dimaging.Transpose(img)
	case 6:
		return dimaging.Rotate90(img)
	case 7:
		return dimaging.Transverse(img)
	case 8:
		return dimaging.Rotate270(img)
	}
	return img
}

func requireClose(t *testing.T, want color.Color, have color.Color, room float64) {
	t.Helper()
	r1, g1, b1, _ := want.RGBA()
	r2, g2, b2, _ := have.RGBA()
	require.InDelta(t, r1>>8, r2>>8, room)
	require.InDelta(t, g1>>8, g2>>8, room)
	require.InDelta(t, b1>>8, b2>>8, room)
}

func TestEveryOrientationComesOutUpright(t *testing.T) {
	t.Parallel()
	upright := corners(96, 64)
	for orientation := 1; orientation <= 8; orientation++ {
		var buf bytes.Buffer
		require.NoError(t, jpeg.Encode(&buf, turnedBy(upright, orientation), &jpeg.Options{Quality: 95}))
		got, err := derive(t, buf.Bytes(), orientation, imaging.DeriveOptions{})
		require.NoError(t, err)
		img := decoded(t, got.Preview)
		require.Equal(t, image.Pt(96, 64), img.Bounds().Size(), "orientation %d", orientation)
		for _, at := range []image.Point{{12, 12}, {84, 12}, {12, 52}, {84, 52}} {
			requireClose(t, upright.At(at.X, at.Y), img.At(at.X, at.Y), 24)
		}
	}
}

func TestTheEightOrientationSamplesShowTheSamePicture(t *testing.T) {
	t.Parallel()
	first := decoded(t, deriveSample(t, "disintegration/orientation_1.jpg").Preview)
	for _, n := range []string{"2", "3", "4", "5", "6", "7", "8"} {
		img := decoded(t, deriveSample(t, "disintegration/orientation_"+n+".jpg").Preview)
		require.Equal(t, first.Bounds(), img.Bounds())
		require.Greater(t, psnr(first, img), 24.0, "orientation %s", n)
	}
}

func deriveSample(t *testing.T, name string) imaging.Copies {
	t.Helper()
	b := sample(t, name)
	c, _, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
	require.NoError(t, err)
	got, err := imaging.Derive(t.Context(), bytes.NewReader(b), c, imaging.DeriveOptions{})
	require.NoError(t, err)
	return got
}

// psnr is the peak signal-to-noise ratio of brightness in decibels.
func psnr(a, b image.Image) float64 {
	sum, n := 0.0, 0
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			d := float64(color.GrayModel.Convert(a.At(x, y)).(color.Gray).Y) - float64(color.GrayModel.Convert(b.At(x, y)).(color.Gray).Y)
			sum, n = sum+d*d, n+1
		}
	}
	return 10 * math.Log10(255*255*float64(n)/max(sum, 1e-9))
}

func TestResamplingIsAsGoodAsLanczosOnColours(t *testing.T) {
	t.Parallel()
	b := wall(t, 1600, 1200, defects.Capture{})
	src, err := jpeg.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	want := dimaging.Resize(src, 500, 375, dimaging.Lanczos)
	got, err := derive(t, b, 1, imaging.DeriveOptions{PreviewEdge: 500, PreviewQuality: 100})
	require.NoError(t, err)
	require.Greater(t, psnr(want, decoded(t, got.Preview)), 40.0)
}

// segments lists the markers before the first scan, APP2 told apart by name.
func segments(t *testing.T, b []byte) []byte {
	t.Helper()
	var list []byte
	for at := 2; at+4 <= len(b); {
		require.Equal(t, byte(0xFF), b[at])
		list = append(list, b[at+1])
		if b[at+1] == 0xDA {
			return list
		}
		at += 2 + int(b[at+2])<<8 + int(b[at+3])
	}
	t.Fatal("no scan")
	return nil
}

func TestCopiesCarryNoMetadataButTheColourProfile(t *testing.T) {
	t.Parallel()
	for name, profile := range map[string]bool{
		"bep/mushroom.jpg": true, "bep/sunrise.jpg": true, "metadata-extractor/issue-590.png": true, "bep/sunrise.webp": true, "bep/sunrise.png": false,
		"goexif/has-lens-info.jpg": false, "metadata-extractor/withIptc.jpg": false,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got := deriveSample(t, name)
			for _, p := range []imaging.Picture{got.Preview, got.Thumb} {
				for i, marker := range segments(t, p.JPEG) {
					isProfile := marker == 0xE2 && profile
					require.True(t, isProfile || marker < 0xE0, "segment %d is %#x", i, marker)
				}
				require.Equal(t, profile, bytes.Contains(p.JPEG, []byte("ICC_PROFILE\x00")))
				for _, word := range []string{"Exif", "http://ns.adobe.com", "Photoshop 3.0"} {
					require.NotContains(t, string(p.JPEG[:400]), word)
				}
			}
		})
	}
}

func TestTheColourProfileIsTheSourcesOwn(t *testing.T) {
	t.Parallel()
	exiftool := tool(t, "exiftool")
	for _, name := range []string{"bep/mushroom.jpg", "metadata-extractor/issue-590.png", "bep/sunrise.webp"} {
		path := filepath.Join(t.TempDir(), "copy.jpg")
		require.NoError(t, os.WriteFile(path, deriveSample(t, name).Preview.JPEG, 0o600))
		require.Equal(t, extractICC(t, exiftool, filepath.Join(photosDir, name)), extractICC(t, exiftool, path), name)
	}
}

func TestACutOffFileIsNeverASuccess(t *testing.T) {
	t.Parallel()
	var grey, interlaced bytes.Buffer
	require.NoError(t, jpeg.Encode(&grey, image.NewGray(image.Rect(0, 0, 300, 200)), nil))
	require.NoError(t, png.Encode(&interlaced, corners(200, 100)))
	for name, b := range map[string][]byte{
		"drawn jpeg": wall(t, 640, 480, defects.Capture{}), "grey jpeg": grey.Bytes(),
		"jpeg": sample(t, "bep/mushroom.jpg"), "png": sample(t, "metadata-extractor/issue-590.png"), "flat png": interlaced.Bytes(),
		"lossy webp": sample(t, "bep/sunrise_lossy.webp"), "lossless webp": sample(t, "ximage/tux.lossless.webp"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := derive(t, b, 1, imaging.DeriveOptions{})
			require.NoError(t, err)
			for _, share := range []float64{0.2, 0.5, 0.9, 0.99} {
				_, err := derive(t, b[:int(share*float64(len(b)))], 1, imaging.DeriveOptions{})
				requireRefusal(t, err, defects.Invalid, "damaged_file")
			}
			_, err = derive(t, b[:len(b)-3], 1, imaging.DeriveOptions{})
			requireRefusal(t, err, defects.Invalid, "damaged_file")
		})
	}
}

func TestTypesWithoutADecoderAreSaidSo(t *testing.T) {
	t.Parallel()
	for name, b := range map[string][]byte{
		"heif": sample(t, "bep/sony-head.heif"), "arithmetic jpeg": jpegClaiming(0xC9, 40, 30),
	} {
		_, err := derive(t, b, 1, imaging.DeriveOptions{})
		requireRefusal(t, err, defects.UnsupportedType, "no_decoder")
		require.NotEmpty(t, name)
	}
	_, err := derive(t, []byte("%PDF-1.7"), 1, imaging.DeriveOptions{})
	requireRefusal(t, err, defects.UnsupportedType, "unsupported_type")
}

func TestTransparencyComesOutWhite(t *testing.T) {
	t.Parallel()
	for _, edge := range []int{40, 20} { // as it is, and reduced
		img := image.NewNRGBA(image.Rect(0, 0, 40, 40))
		for x := range 20 {
			for y := range 40 {
				img.SetNRGBA(x, y, color.NRGBA{200, 0, 0, 255})
			}
		}
		var buf bytes.Buffer
		require.NoError(t, png.Encode(&buf, img))
		got, err := derive(t, buf.Bytes(), 1, imaging.DeriveOptions{PreviewEdge: edge})
		require.NoError(t, err)
		out := decoded(t, got.Preview)
		requireClose(t, color.White, out.At(edge*3/4, edge/2), 4)
		requireClose(t, color.NRGBA{200, 0, 0, 255}, out.At(edge/4, edge/2), 12)
	}
}

func TestEverySampleIsDerivedOrRefusedWithACode(t *testing.T) {
	t.Parallel()
	done := 0
	for _, name := range samples(t) {
		got, err := derive(t, sample(t, name), 1, imaging.DeriveOptions{})
		if err != nil {
			var refusal *defects.Error
			require.ErrorAs(t, err, &refusal, name)
			require.Contains(t, []string{"damaged_file", "no_decoder", "unsupported_type"}, refusal.Code, name)
			continue
		}
		require.LessOrEqual(t, max(got.Preview.Width, got.Preview.Height), 2048)
		decoded(t, got.Thumb)
		done++
	}
	require.Greater(t, done, 60)
}

func TestACancelledDerivationStops(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := imaging.Derive(ctx, bytes.NewReader(wall(t, 640, 480, defects.Capture{})), defects.Capture{}, imaging.DeriveOptions{})
	require.ErrorIs(t, err, context.Canceled)
}

// brokenDisk fails after the header has been read.
type brokenDisk struct {
	*bytes.Reader
	r io.Reader
}

var errDisk = errors.New("disk failed")

func (b *brokenDisk) Read(p []byte) (int, error) {
	if len(p) > 2048 { // decoders read in large pieces, headers in small ones
		return 0, errDisk
	}
	return b.r.Read(p)
}

func TestAFailingDiskIsNotTheUsersFault(t *testing.T) {
	t.Parallel()
	inner := bytes.NewReader(wall(t, 640, 480, defects.Capture{}))
	_, err := imaging.Derive(t.Context(), &brokenDisk{inner, inner}, defects.Capture{}, imaging.DeriveOptions{})
	require.ErrorIs(t, err, errDisk)
	_, err = imaging.Derive(t.Context(), struct {
		io.Reader
		io.Seeker
	}{iotest.ErrReader(errDisk), inner}, defects.Capture{}, imaging.DeriveOptions{})
	require.ErrorIs(t, err, errDisk)
}

func BenchmarkReadCapture(b *testing.B) {
	photo := wall(b, 4000, 3000, fullCapture())
	b.ReportAllocs()
	for b.Loop() {
		_, _, err := imaging.ReadCapture(bytes.NewReader(photo), imaging.DefaultLimits())
		require.NoError(b, err)
	}
}

func BenchmarkRenderTwelveMegapixels(b *testing.B) {
	for b.Loop() {
		wall(b, 4000, 3000, fullCapture())
	}
}

func BenchmarkRenderSmall(b *testing.B) {
	for b.Loop() {
		wall(b, 800, 600, fullCapture())
	}
}
