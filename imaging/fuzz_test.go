package imaging_test

import (
	"bytes"
	"errors"
	"testing"

	"storeyrod/defects"
	"storeyrod/imaging"
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
