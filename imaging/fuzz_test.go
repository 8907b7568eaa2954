package imaging_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"testing"

	"storeyrod/defects"
	"storeyrod/imaging"
	"storeyrod/imaging/hevc"
)

// seed adds the smaller samples and the made-up bombs.
func seed(f *testing.F) {
	f.Helper()
	for _, name := range samples(f) {
		if b := sample(f, name); len(b) < 40_000 {
			f.Add(b)
		}
	}
	f.Add(pngClaiming(30000, 30000))
	f.Add(jpegClaiming(0xC2, 8000, 5000))
	f.Add(webpClaiming(1<<24, 1<<24))
	f.Add(heicClaiming(20000, 20000))
}

// tightLimits keep each single run of a fuzzer small.
func tightLimits() imaging.Limits {
	lim := imaging.DefaultLimits()
	lim.MaxPixels, lim.MaxPNGPixels, lim.MaxProgressivePixels = 300_000, 300_000, 300_000
	return lim
}

// coded fails when an error is not a coded refusal: all a file can cause is one.
func coded(t *testing.T, err error) {
	t.Helper()
	var refusal *defects.Error
	if err != nil && !errors.As(err, &refusal) {
		t.Fatalf("error without a code: %v", err)
	}
}

func FuzzSniff(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		kind, err := imaging.Sniff(b)
		coded(t, err)
		if (err == nil) == (kind == "") {
			t.Fatalf("type %q with error %v", kind, err)
		}
	})
}

func FuzzCheckHeader(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		lim := imaging.DefaultLimits()
		h, err := imaging.CheckHeader(bytes.NewReader(b), lim)
		coded(t, err)
		if err == nil && (h.Width < 1 || h.Height < 1 || h.Pixels() > lim.MaxPixels || max(h.Width, h.Height) > lim.MaxEdge) {
			t.Fatalf("passed with %+v", h)
		}
	})
}

func FuzzReadCapture(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		c, _, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
		coded(t, err)
		if err != nil {
			return
		}
		if c.Orientation < 1 || c.Orientation > 8 || (c.Lat == nil) != (c.Lon == nil) {
			t.Fatalf("impossible capture %+v", c)
		}
		if c.Lat != nil && !(*c.Lat >= -90 && *c.Lat <= 90 && *c.Lon >= -180 && *c.Lon <= 180) {
			t.Fatalf("impossible place %v %v", *c.Lat, *c.Lon)
		}
		if c.Direction != nil && !(*c.Direction >= 0 && *c.Direction < 360) {
			t.Fatalf("impossible direction %v", *c.Direction)
		}
		if c.TiltDeg != nil && !(*c.TiltDeg >= -180 && *c.TiltDeg < 180) {
			t.Fatalf("impossible tilt %v", *c.TiltDeg)
		}
	})
}

// still answers every tile with a flat picture, so that what is fuzzed is our
// part of HEIC and not the decoder, which imaging/hevc fuzzes.
type still struct{}

func (still) Picture(_ context.Context, file []byte) (image.Image, error) {
	at := bytes.Index(file, []byte("ispe"))
	if at < 0 || at+16 > len(file) {
		return nil, hevc.ErrPicture
	}
	w, h := binary.BigEndian.Uint32(file[at+8:]), binary.BigEndian.Uint32(file[at+12:])
	if w == 0 || h == 0 || uint64(w)*uint64(h) > hevc.MaxPixels {
		return nil, hevc.ErrPicture
	}
	return image.NewYCbCr(image.Rect(0, 0, int(w), int(h)), image.YCbCrSubsampleRatio420), nil
}

func (still) Close() error { return nil }

// FuzzHEIC fuzzes how tiles are found and put together: any answer but a
// panic, an uncoded error or a picture over its edge is right.
func FuzzHEIC(f *testing.F) {
	for _, name := range []string{"test.heic", "test8.heic", "gray.heic"} {
		b := sample(f, "gen2brain/"+name)
		f.Add(b[:min(len(b), 6000)])
		f.Add(b)
	}
	f.Add(sample(f, "bep/iphone-head.heic"))
	f.Add(heicClaiming(512, 512))
	open := func(context.Context, int64) (imaging.HEVC, error) { return still{}, nil }
	f.Fuzz(func(t *testing.T, b []byte) {
		lim := tightLimits()
		lim.MaxPixels = 4_000_000
		got, err := imaging.Derive(t.Context(), bytes.NewReader(b), defects.Capture{}, imaging.DeriveOptions{Limits: lim, HEVC: open, PreviewEdge: 200, ThumbEdge: 50})
		coded(t, err)
		if err == nil && max(got.Preview.Width, got.Preview.Height) > 200 {
			t.Fatalf("copies of %d × %d", got.Preview.Width, got.Preview.Height)
		}
	})
}

func FuzzDerive(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, orientation := range []int{1, 6} {
			got, err := imaging.Derive(t.Context(), bytes.NewReader(b), defects.Capture{Orientation: orientation},
				imaging.DeriveOptions{Limits: tightLimits(), PreviewEdge: 200, ThumbEdge: 50})
			coded(t, err)
			if err == nil && (max(got.Preview.Width, got.Preview.Height) > 200 || len(got.Thumb.JPEG) == 0) {
				t.Fatalf("copies of %d × %d", got.Preview.Width, got.Preview.Height)
			}
		}
	})
}
