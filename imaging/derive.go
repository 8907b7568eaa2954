package imaging

import (
	"context"
	"fmt"
	"image"
	"io"

	"storeyrod/defects"
	"storeyrod/imaging/jpeg"
)

// DeriveOptions sets sizes and qualities; the zero value means the defaults.
// Without HEVC, HEIC photos are refused.
type DeriveOptions struct {
	Limits         Limits // zero MaxPixels means DefaultLimits
	HEVC           OpenHEVC
	PreviewEdge    int // long edge in pixels, default 2048
	ThumbEdge      int // long edge in pixels, default 320
	PreviewQuality int // JPEG quality 1–100, default 85
	ThumbQuality   int // default 80
}

func (o DeriveOptions) filled() DeriveOptions {
	if o.Limits.MaxPixels == 0 {
		o.Limits = DefaultLimits()
	}
	set := func(v *int, standard int) {
		if *v == 0 {
			*v = standard
		}
	}
	set(&o.PreviewEdge, 2048)
	set(&o.ThumbEdge, 320)
	set(&o.PreviewQuality, 85)
	set(&o.ThumbQuality, 80)
	return o
}

// Picture is a finished JPEG with its size in pixels.
type Picture struct {
	JPEG          []byte
	Width, Height int
}

// Copies are the view copies of one photo: upright, without metadata other
// than the colour profile.
type Copies struct {
	Preview, Thumb Picture
	Likeness       uint64 // of the upright picture, to find the same one again
}

// Derive makes the view copies of a photo. Only the orientation is taken from
// the capture. Copies are never larger than the photo. Refusals: those of
// CheckHeader; "damaged_file" when pixels are missing or broken, as a cut off
// file must not pass for a picture; "no_decoder" (UnsupportedType) for rare
// codings, whose originals are kept all the same.
func Derive(ctx context.Context, r io.ReadSeeker, c defects.Capture, o DeriveOptions) (copies Copies, err error) {
	o = o.filled()
	s, err := surveyFile(r, o.Limits)
	if err != nil {
		return Copies{}, err
	}
	// Decoders are other people's code fed with strangers' bytes.
	defer func() {
		if p := recover(); p != nil {
			copies, err = Copies{}, damaged("its pixels cannot be decoded", fmt.Errorf("decoder panic: %v", p))
		}
	}()
	preview, err := upright(ctx, &s, o, c.Orientation)
	if err != nil {
		return Copies{}, err
	}
	profile := s.profile(preview, o.Limits)
	if err := ctx.Err(); err != nil {
		return Copies{}, fmt.Errorf("derive copies: %w", err)
	}
	thumb := reduce(preview, o.ThumbEdge, 1)
	copies.Likeness = Likeness(thumb)
	if copies.Preview, err = encode(preview, o.PreviewQuality, profile); err != nil {
		return Copies{}, err
	}
	if copies.Thumb, err = encode(thumb, o.ThumbQuality, profile); err != nil {
		return Copies{}, err
	}
	return copies, nil
}

// encode writes a JPEG and puts the colour profile behind its first marker.
func encode(img image.Image, quality int, profile []byte) (Picture, error) {
	b, err := jpeg.Encode(img, quality)
	if err != nil {
		return Picture{}, fmt.Errorf("encode copy: %w", err)
	}
	return Picture{JPEG: withProfile(b, profile), Width: img.Bounds().Dx(), Height: img.Bounds().Dy()}, nil
}

// maxICCPart is what one APP2 segment holds of a profile (ICC.1 annex B.4).
const maxICCPart = 65533 - 2 - 14

// withProfile inserts the colour profile, cut into segments.
func withProfile(b, profile []byte) []byte {
	if len(profile) == 0 {
		return b
	}
	parts := (len(profile) + maxICCPart - 1) / maxICCPart
	if parts > 255 {
		return b
	}
	out := append([]byte{}, b[:2]...)
	for i := range parts {
		piece := profile[i*maxICCPart : min((i+1)*maxICCPart, len(profile))]
		n := 2 + 14 + len(piece)
		out = append(out, 0xFF, mAPP2, byte(n>>8), byte(n))
		out = append(out, iccPrefix...)
		out = append(out, byte(i+1), byte(parts))
		out = append(out, piece...)
	}
	return append(out, b[2:]...)
}

// profile gives the source's colour profile if it fits the copy: a profile
// for CMYK must not be stuck to a picture turned into RGB. A broken profile
// is left out; the picture then shows as sRGB.
func (s *survey) profile(img image.Image, lim Limits) []byte {
	b, err := s.iccMade, error(nil)
	if len(s.icc) > 0 {
		b, err = s.load(s.icc, lim.MaxMetadata)
	}
	if err == nil && s.iccDeep {
		b, err = unpackICCP(b, lim.MaxMetadata)
	}
	// ICC.1 §7.2: size, then at 16 the colour space, at 36 the signature.
	if err != nil || len(b) < 128 || string(b[36:40]) != "acsp" || be32(b) < 128 || int64(be32(b)) > int64(len(b)) {
		return nil
	}
	b = b[:be32(b)] // some writers pad
	space := "RGB "
	if _, grey := img.(*image.Gray); grey {
		space = "GRAY"
	}
	if string(b[16:20]) != space {
		return nil
	}
	return b
}
