package imaging_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/imaging"
	ourjpeg "storeyrod/imaging/jpeg"
)

// grey is the brightness of a picture as numbers.
func grey(img image.Image) (v []float64, w, h int) {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			v = append(v, float64(color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y))
		}
	}
	return v, b.Dx(), b.Dy()
}

// smooth applies the window of 11 × 11 with a deviation of 1.5, where it fits.
func smooth(v []float64, w, h int) []float64 {
	var window [11]float64
	sum := 0.0
	for i := range window {
		window[i] = math.Exp(-float64((i-5)*(i-5)) / (2 * 1.5 * 1.5))
		sum += window[i]
	}
	across := make([]float64, (w-10)*h)
	for i := range across {
		for j, g := range window {
			across[i] += g / sum * v[i/(w-10)*w+i%(w-10)+j]
		}
	}
	out := make([]float64, (w-10)*(h-10))
	for i := range out {
		for j, g := range window {
			out[i] += g / sum * across[i+j*(w-10)]
		}
	}
	return out
}

// ssim is the mean structural similarity of brightness: Wang, Bovik, Sheikh and
// Simoncelli, Image Quality Assessment: From Error Visibility to Structural
// Similarity, IEEE Transactions on Image Processing 13 (4), 2004, with its
// window and its constants K1 = 0.01, K2 = 0.03.
func ssim(a, b image.Image) float64 {
	const c1, c2 = 0.01 * 255 * 0.01 * 255, 0.03 * 255 * 0.03 * 255
	va, w, h := grey(a)
	vb, _, _ := grey(b)
	product := func(x, y []float64) []float64 {
		p := make([]float64, len(x))
		for i := range p {
			p[i] = x[i] * y[i]
		}
		return smooth(p, w, h)
	}
	ma, mb := smooth(va, w, h), smooth(vb, w, h)
	aa, bb, ab := product(va, va), product(vb, vb), product(va, vb)
	sum := 0.0
	for i := range ma {
		sa, sb, sab := aa[i]-ma[i]*ma[i], bb[i]-mb[i]*mb[i], ab[i]-ma[i]*mb[i]
		sum += (2*ma[i]*mb[i] + c1) * (2*sab + c2) / ((ma[i]*ma[i] + mb[i]*mb[i] + c1) * (sa + sb + c2))
	}
	return sum / float64(len(ma))
}

func TestSimilarityIsOneForTheSameAndLessForOthers(t *testing.T) {
	t.Parallel()
	a := corners(64, 48)
	require.InDelta(t, 1, ssim(a, a), 1e-9)
	// Of two flat pictures only the first factor is left.
	flat := func(v uint8) image.Image {
		m := image.NewGray(image.Rect(0, 0, 20, 20))
		for i := range m.Pix {
			m.Pix[i] = v
		}
		return m
	}
	require.InDelta(t, (2*100*150+6.5025)/(100*100+150*150+6.5025), ssim(flat(100), flat(150)), 1e-9)
}

// vips runs one of libvips's programs.
func vips(t *testing.T, program string, args ...string) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), tool(t, program), args...).CombinedOutput()
	require.NoError(t, err, "%s: %s", program, out)
}

func read(t *testing.T, path string) image.Image {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	img, _, err := image.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	return img
}

// A preview is as like the photo as one by libvips of the same size and quality,
// measured against Lanczos on the picture as it was before it was coded.
func TestPreviewsAreAsGoodAsThoseOfLibvips(t *testing.T) {
	t.Parallel()
	tool(t, "vipsthumbnail")
	for _, layer := range []imaging.SceneLayer{imaging.SceneSlips, imaging.SceneRender} {
		dir := t.TempDir()
		at := func(name string) string { return filepath.Join(dir, name) }
		scene := imaging.Render(imaging.SceneSpec{Width: 2000, Height: 1500, Seed: 5, Layer: layer, Tape: true, Label: "12"})
		photo, err := ourjpeg.Encode(scene, 90)
		require.NoError(t, err)
		var lossless bytes.Buffer
		require.NoError(t, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&lossless, scene))
		require.NoError(t, os.WriteFile(at("photo.jpg"), photo, 0o600))
		require.NoError(t, os.WriteFile(at("photo.png"), lossless.Bytes(), 0o600))
		vips(t, "vips", "resize", at("photo.png"), at("want.png"), "0.512", "--kernel", "lanczos3")
		vips(t, "vipsthumbnail", "--size", "1024x1024", "-o", at("theirs.jpg[Q=85]"), at("photo.jpg"))
		got, err := derive(t, photo, 1, imaging.DeriveOptions{PreviewEdge: 1024})
		require.NoError(t, err)
		want := read(t, at("want.png"))
		ours, theirs := ssim(want, decoded(t, got.Preview)), ssim(want, read(t, at("theirs.jpg")))
		t.Logf("%s: similarity %.4f, libvips %.4f", layer, ours, theirs)
		require.Greater(t, ours, theirs-0.002, layer)
	}
}
