package imaging_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	stdjpeg "image/jpeg"
	"os/exec"
	"testing"

	dimaging "github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// kindsPicture has flat areas, edges and every size of detail, with colours
// soft enough for halved chroma.
func kindsPicture() *image.NRGBA { return dimaging.Blur(painted(160, 120), 2) }

// pnm writes a picture as cjpeg takes it.
func pnm(img image.Image, grey bool) []byte {
	b := img.Bounds()
	out := fmt.Appendf(nil, "P6\n%d %d\n255\n", b.Dx(), b.Dy())
	if grey {
		out = fmt.Appendf(nil, "P5\n%d %d\n255\n", b.Dx(), b.Dy())
	}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if grey {
				out = append(out, color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y)
				continue
			}
			c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
			out = append(out, c.R, c.G, c.B)
		}
	}
	return out
}

// cjpeg codes a picture with libjpeg-turbo.
func cjpeg(t *testing.T, img image.Image, args ...string) []byte {
	t.Helper()
	_, grey := img.(*image.Gray)
	cmd := exec.Command(tool(t, "cjpeg"), append([]string{"-quality", "95"}, args...)...)
	cmd.Stdin = bytes.NewReader(pnm(img, grey))
	out, err := cmd.Output()
	require.NoError(t, err)
	return out
}

// djpegPixels decodes with libjpeg-turbo.
func djpegPixels(t *testing.T, b []byte) image.Image {
	t.Helper()
	cmd := exec.Command(tool(t, "djpeg"), "-rgb", "-pnm")
	cmd.Stdin = bytes.NewReader(b)
	out, err := cmd.Output()
	require.NoError(t, err)
	var w, h, most int
	_, err = fmt.Sscanf(string(out[:20]), "P6\n%d %d\n%d", &w, &h, &most)
	require.NoError(t, err)
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	rgb := out[len(out)-3*w*h:]
	for i := range w * h {
		copy(img.Pix[4*i:], rgb[3*i:3*i+3])
		img.Pix[4*i+3] = 255
	}
	return img
}

// patched changes the bytes behind a marker's code.
func patched(b []byte, from, to byte) []byte {
	out := bytes.Clone(b)
	at := bytes.Index(out, []byte{0xFF, from, 0})
	out[at+1] = to
	return out
}

// Each kind is made by libjpeg-turbo and held to what that reads from it: at
// least 38 dB in brightness, 30 in the worst of red, green and blue, as copies
// keep colour at half resolution.
func TestEveryKindOfJPEGShowsTheRightPixels(t *testing.T) {
	t.Parallel()
	img := kindsPicture()
	grey := image.NewGray(img.Rect)
	draw.Draw(grey, grey.Rect, img, image.Point{}, draw.Src)
	plain := cjpeg(t, img)
	second := cjpeg(t, dimaging.Invert(img))
	for name, b := range map[string][]byte{
		"4:2:0": plain, "4:2:2": cjpeg(t, img, "-sample", "2x1"), "4:4:0": cjpeg(t, img, "-sample", "1x2"),
		"4:1:1": cjpeg(t, img, "-sample", "4x1"), "4:4:4": cjpeg(t, img, "-sample", "1x1"),
		"grey": cjpeg(t, grey), "grey progressive": cjpeg(t, grey, "-progressive"),
		"progressive": cjpeg(t, img, "-progressive"), "progressive 4:4:4": cjpeg(t, img, "-progressive", "-sample", "1x1"),
		"extended sequential": patched(plain, 0xC0, 0xC1),
		"restart markers":     cjpeg(t, img, "-restart", "1"), "a restart each block": cjpeg(t, img, "-restart", "1B"),
		"RGB by component names": cjpeg(t, img, "-rgb", "-sample", "1x1"),
		"optimised":              cjpeg(t, img, "-optimize"), "fine tables": cjpeg(t, img, "-quality", "100"),
		"coarse 16-bit tables":    cjpeg(t, img, "-quality", "96", "-sample", "1x1"),
		"trailing bytes":          append(bytes.Clone(plain), bytes.Repeat([]byte("video"), 2000)...),
		"two pictures":            append(bytes.Clone(plain), second...),
		"two pictures with index": append(withSegment(plain, 0xE2, []byte("MPF\x00II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00")), second...),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := derive(t, b, 1, imaging.DeriveOptions{PreviewQuality: 100})
			require.NoError(t, err)
			have, want := djpegPixels(t, got.Preview.JPEG), djpegPixels(t, b)
			require.Greater(t, psnr(want, have), 38.0)
			require.Greater(t, colourPSNR(t, want, have), 30.0)
			require.Greater(t, colourPSNR(t, widened(img, grey, name), have), 28.0, "the picture coded")
		})
	}
}

// widened is what a kind was made of.
func widened(img, grey image.Image, name string) image.Image {
	if name[:4] == "grey" {
		return grey
	}
	return img
}

func withSegment(b []byte, marker byte, body []byte) []byte {
	n := len(body) + 2
	return bytes.Join([][]byte{b[:2], {0xFF, marker, byte(n >> 8), byte(n)}, body, b[2:]}, nil)
}

// inks puts four grey JPEGs of one size and one set of tables together as the
// components of one, each with a scan of its own (ITU-T T.81 A.2.2).
func inks(t *testing.T, adobe int, planes [4]*image.Gray) []byte {
	t.Helper()
	out := []byte{0xFF, 0xD8}
	if adobe >= 0 {
		out = append(out, "\xFF\xEE\x00\x0EAdobe\x00\x64\x00\x00\x00\x00"...)
		out = append(out, byte(adobe))
	}
	for i, p := range planes {
		var buf bytes.Buffer
		require.NoError(t, stdjpeg.Encode(&buf, p, &stdjpeg.Options{Quality: 95}))
		b := buf.Bytes()
		sof, sos := bytes.Index(b, []byte{0xFF, 0xC0, 0}), bytes.Index(b, []byte{0xFF, 0xDA, 0})
		after := sof + 2 + int(binary.BigEndian.Uint16(b[sof+2:]))
		if i == 0 {
			out = append(out, b[2:sof]...) // quantisation
			out = append(out, 0xFF, 0xC0, 0, 20, 8)
			out = append(out, b[sof+5:sof+9]...)
			out = append(out, 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0)
			out = append(out, b[after:sos]...) // Huffman tables
		}
		out = append(out, 0xFF, 0xDA, 0, 8, 1, byte(i+1), 0, 0, 63, 0)
		out = append(out, b[sos+10:len(b)-2]...)
	}
	return append(out, 0xFF, 0xD9)
}

// Inks are held to the arithmetic of their definition (Adobe Technical Note
// 5116 for the inverted ones): red = (1 − cyan)(1 − black). At most 8 of 255.
func TestPrintInksComeOutInTheirColours(t *testing.T) {
	t.Parallel()
	values := [][4]uint8{{0, 200, 180, 20}, {180, 0, 170, 40}, {190, 160, 0, 10}, {0, 0, 0, 120}, {0, 0, 0, 0}}
	for _, ink := range values {
		var stored, inverted, ycck [4]*image.Gray
		// YCCK is made of red = 1 − cyan and so on; the inversion cancels that.
		y, cb, cr := color.RGBToYCbCr(ink[0], ink[1], ink[2])
		for i := range 4 {
			stored[i], inverted[i] = flat(ink[i]), flat(255-ink[i])
		}
		ycck = [4]*image.Gray{flat(y), flat(cb), flat(cr), flat(255 - ink[3])}
		want := color.NRGBA{through(ink[0], ink[3]), through(ink[1], ink[3]), through(ink[2], ink[3]), 255}
		for name, b := range map[string][]byte{
			"Adobe, inverted": inks(t, 0, inverted), "Adobe, YCCK": inks(t, 2, ycck), "plain, as they are": inks(t, -1, stored),
		} {
			profiled := withSegment(b, 0xE2, append([]byte("ICC_PROFILE\x00\x01\x01"), cmykProfile()...))
			got, err := derive(t, profiled, 1, imaging.DeriveOptions{PreviewQuality: 100})
			require.NoError(t, err, name)
			requireClose(t, want, decoded(t, got.Preview).At(20, 20), 8)
			require.NotContains(t, string(got.Preview.JPEG), "ICC_PROFILE", "a profile for inks fits no view copy")
		}
	}
}

func through(ink, black uint8) uint8 { return uint8((255 - int(ink)) * (255 - int(black)) / 255) }

func flat(v uint8) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, 40, 40))
	for i := range g.Pix {
		g.Pix[i] = v
	}
	return g
}

func cmykProfile() []byte {
	b := make([]byte, 200)
	b[3] = 200
	copy(b[16:], "CMYK")
	copy(b[36:], "acsp")
	return b
}

// What is taken as an original and can't be shown says so; nothing is guessed.
func TestRareJPEGCodingsAreKeptAndRefusedByName(t *testing.T) {
	t.Parallel()
	plain := cjpeg(t, kindsPicture())
	deep := bytes.Clone(plain)
	deep[bytes.Index(deep, []byte{0xFF, 0xC0, 0})+4] = 12
	for name, b := range map[string][]byte{
		"arithmetic":             cjpeg(t, kindsPicture(), "-arithmetic"),
		"arithmetic progressive": cjpeg(t, kindsPicture(), "-arithmetic", "-progressive"),
		"12 bits":                deep, "lossless": patched(plain, 0xC0, 0xC3), "hierarchical": patched(plain, 0xC0, 0xC5),
	} {
		_, err := header(t, b)
		require.NoError(t, err, name)
		_, err = derive(t, b, 1, imaging.DeriveOptions{})
		requireRefusal(t, err, defects.UnsupportedType, "no_decoder")
	}
}

func TestADisplayP3OrAdobeProfileIsKeptByteForByte(t *testing.T) {
	t.Parallel()
	for _, coding := range [][]string{nil, {"-progressive"}, {"-sample", "1x1"}} {
		profile := make([]byte, 548)
		binary.BigEndian.PutUint32(profile, 548)
		copy(profile[16:], "RGB ")
		copy(profile[36:], "acsp")
		for i := 128; i < len(profile); i++ {
			profile[i] = byte(i * 7)
		}
		b := withSegment(cjpeg(t, kindsPicture(), coding...), 0xE2, append([]byte("ICC_PROFILE\x00\x01\x01"), profile...))
		got, err := derive(t, b, 1, imaging.DeriveOptions{})
		require.NoError(t, err)
		for _, p := range []imaging.Picture{got.Preview, got.Thumb} {
			require.Equal(t, 1, bytes.Count(p.JPEG, append([]byte("ICC_PROFILE\x00\x01\x01"), profile...)))
		}
	}
}

// A scan costs a pass over the picture, however few bytes it has.
func TestAJPEGOfTooManyScansIsRefusedBeforeDecoding(t *testing.T) {
	t.Parallel()
	b := cjpeg(t, kindsPicture(), "-progressive")
	last := bytes.LastIndex(b, []byte{0xFF, 0xDA})
	scan := b[last : len(b)-2]
	got, err := derive(t, b, 1, imaging.DeriveOptions{})
	require.NoError(t, err)
	require.NotEmpty(t, got.Preview.JPEG)
	many := append(append(bytes.Clone(b[:len(b)-2]), bytes.Repeat(scan, 500)...), 0xFF, 0xD9)
	_, err = derive(t, many, 1, imaging.DeriveOptions{})
	requireRefusal(t, err, defects.TooLarge, "too_many_scans")
}
