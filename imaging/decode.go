package imaging

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/draw"
	stdjpeg "image/jpeg"
	"image/png"
	"io"

	"github.com/disintegration/imaging"
	"golang.org/x/image/webp"

	"storeyrod/defects"
	"storeyrod/imaging/jpeg"
)

// decode gives the pixels. want is the long edge in pixels the caller needs; a
// decoder may stop at any size not below it. Pictures without planes of their
// own are reduced to it at once.
func decode(ctx context.Context, s *survey, want int) (picture, error) {
	if !s.Decodable {
		return picture{}, defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
			fmt.Sprintf("no view copy can be made yet of this kind of %s; the original is kept", s.Type))
	}
	r := &watchedReader{ctx: ctx, r: s.src.r}
	p, err := s.pixels(r, want)
	if r.err == nil {
		r.err = ctx.Err()
	}
	if r.err != nil {
		return picture{}, fmt.Errorf("read the photo: %w", r.err)
	}
	if err != nil {
		return picture{}, damaged("its pixels cannot be decoded", err)
	}
	if p.w != s.Width || p.h != s.Height {
		return picture{}, damaged("the picture has another size than its header says", nil)
	}
	return p, nil
}

func (s *survey) pixels(r *watchedReader, want int) (picture, error) {
	if err := r.rewind(); err != nil {
		return picture{}, err
	}
	var img image.Image
	var err error
	switch s.Type {
	case PNG:
		img, err = png.Decode(r)
	case WebP:
		img, err = webp.Decode(r)
	default:
		p, scaledErr := s.scaledJPEG(r, want)
		if !errors.Is(scaledErr, jpeg.ErrUnsupported) {
			return p, scaledErr
		}
		if err := r.rewind(); err != nil {
			return picture{}, err
		}
		img, err = stdjpeg.Decode(r)
	}
	if err != nil {
		return picture{}, err
	}
	return planar(img, want), nil
}

// scaledJPEG turns little more of each block into samples than the copy needs.
// What it calls unsupported, the standard decoder may still take.
func (s *survey) scaledJPEG(r *watchedReader, want int) (picture, error) {
	n := eighths(s.Width, s.Height, want)
	p, err := jpeg.Decode(r.ctx, r, jpeg.Options{Scale: n, MaxPixels: s.Pixels()})
	if err != nil {
		return picture{}, err
	}
	share := float64(n) / jpeg.Full
	return picture{
		planes: p.Image, w: p.Width, h: p.Height,
		across: float64(p.Width) * share, down: float64(p.Height) * share,
	}, nil
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

// planar turns what a decoder gave into planes.
func planar(img image.Image, want int) picture {
	switch m := img.(type) {
	case *image.YCbCr, *image.Gray:
		return whole(m)
	case *image.NYCbCrA:
		if m.Opaque() {
			return whole(&m.YCbCr)
		}
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	small := img
	if dw, dh := scaled(w, h, want); dw != w || dh != h {
		small = imaging.Resize(img, dw, dh, imaging.Lanczos)
	}
	p := whole(flatten(small))
	p.w, p.h = w, h
	return p
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
