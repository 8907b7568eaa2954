package imaging

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"

	"github.com/disintegration/imaging"
	"golang.org/x/image/webp"

	"storeyrod/defects"
	"storeyrod/imaging/jpeg"
)

// upright decodes a photo and makes the preview, turned by the Exif orientation
// or, where the container has its own, by that. The photo is reduced while it is
// decoded where the decoder can do that, else at once behind it.
func upright(ctx context.Context, s *survey, o DeriveOptions, orientation int) (image.Image, error) {
	switch {
	case s.heicWhy != nil:
		return nil, s.heicWhy
	case s.heic != nil:
		return s.reducedHEIC(ctx, o.HEVC, o.PreviewEdge)
	case !s.Decodable:
		return nil, defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
			fmt.Sprintf("no view copy can be made yet of this kind of %s; the original is kept", s.Type))
	}
	r := &watchedReader{ctx: ctx, r: s.src.r}
	m, err := s.reduced(r, o, orientation)
	if r.err == nil {
		r.err = ctx.Err()
	}
	if r.err != nil {
		return nil, fmt.Errorf("read the photo: %w", r.err)
	}
	var refusal *defects.Error
	if err != nil && !errors.As(err, &refusal) {
		err = damaged("its pixels cannot be decoded", err)
	}
	return m, err
}

func (s *survey) reduced(r *watchedReader, o DeriveOptions, orientation int) (image.Image, error) {
	edge := o.PreviewEdge
	if err := r.rewind(); err != nil {
		return nil, err
	}
	if s.Type == JPEG {
		m, err := s.reducedJPEG(r, edge, orientation)
		if !errors.Is(err, jpeg.ErrUnsupported) {
			return m, err
		}
	}
	img, err := s.pixels(r, o.Limits)
	if err != nil {
		return nil, err
	}
	if err := s.sameSize(img.Bounds().Dx(), img.Bounds().Dy()); err != nil {
		return nil, err
	}
	return reduce(planar(img, edge), edge, orientation), nil
}

// pixels decodes the photo in full.
func (s *survey) pixels(r *watchedReader, lim Limits) (image.Image, error) {
	switch s.Type {
	case PNG:
		return png.Decode(r)
	case WebP:
		return webp.Decode(r)
	}
	return s.fullJPEG(r, lim)
}

func (s *survey) sameSize(w, h int) error {
	if w != s.Width || h != s.Height {
		return errors.New("the picture has another size than its header says")
	}
	return nil
}

// reducedJPEG turns little more of each block into samples than the copy needs,
// and holds only a few rows of them. What it calls unsupported, the standard
// decoder may still take.
func (s *survey) reducedJPEG(r *watchedReader, edge, orientation int) (image.Image, error) {
	n := eighths(s.Width, s.Height, edge)
	var made *reducer
	err := jpeg.DecodeBands(r.ctx, r, jpeg.Options{Scale: n, MaxPixels: s.Pixels()}, func(p *jpeg.Picture) error {
		if made == nil {
			if err := s.sameSize(p.Width, p.Height); err != nil {
				return err
			}
			share := float64(n) / jpeg.Full
			e := extent{p.Width, p.Height, float64(p.Width) * share, float64(p.Height) * share}
			made = newReducer(p.Image, p.Bounds, e, edge, orientation)
		}
		made.take(p.Image)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return made.copy, nil
}

// eighths chooses the scale of decoding: the smallest that is a fifth larger
// than the copy, which leaves Lanczos something to do. Measured on drawn walls
// against Lanczos on the picture before it was coded, similarity (SSIM) is then
// 0.0014 lower than with full decoding for 4000 pixels reduced to 2048; it
// would be 0.006 lower for 4096 decoded at 4/8 to 2048 at once. Less than three
// eighths blur fine grain and save hardly any time, as all the coded data must
// be read anyway; seven save too little for what they lose.
func eighths(w, h, want int) int {
	cw, ch := scaled(w, h, want)
	if n := jpeg.ScaleFor(w, h, cw*6/5, ch*6/5); n < 7 {
		return max(n, 3)
	}
	return jpeg.Full
}

// watchedReader ends a decoding whose context is done, and tells a failing
// reader from damaged content.
type watchedReader struct {
	ctx context.Context
	r   io.ReadSeeker
	err error
}

// Read passes on until the context ends.
func (w *watchedReader) Read(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		w.err = err
		return 0, err
	}
	n, err := w.r.Read(p)
	if err != nil && err != io.EOF {
		w.err = err
	}
	return n, err
}

// rewind goes back to the beginning of the file.
func (w *watchedReader) rewind() error {
	_, err := w.r.Seek(0, io.SeekStart)
	if err != nil {
		w.err = err
	}
	return err
}

// planar turns what a decoder gave into planes. A picture without planes of its
// own is reduced first, as then fewer pixels are turned.
func planar(img image.Image, edge int) image.Image {
	switch m := img.(type) {
	case *image.YCbCr, *image.Gray:
		return m
	case *image.NYCbCrA:
		if m.Opaque() {
			return &m.YCbCr
		}
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	if dw, dh := scaled(w, h, edge); dw != w || dh != h {
		img = imaging.Resize(img, dw, dh, imaging.Lanczos)
	}
	return flatten(img)
}

// flatten puts a picture with possible transparency on white and splits it
// into planes of full resolution.
func flatten(img image.Image) *image.YCbCr {
	b := img.Bounds()
	out := image.NewYCbCr(image.Rect(0, 0, b.Dx(), b.Dy()), image.YCbCrSubsampleRatio444)
	row := image.NewRGBA(image.Rect(0, 0, b.Dx(), 1))
	for y := range b.Dy() {
		draw.Draw(row, row.Rect, image.White, image.Point{}, draw.Src)
		draw.Draw(row, row.Rect, img, image.Pt(b.Min.X, b.Min.Y+y), draw.Over)
		splitRow(row.Pix, out.Y[y*out.YStride:], out.Cb[y*out.CStride:], out.Cr[y*out.CStride:])
	}
	return out
}
