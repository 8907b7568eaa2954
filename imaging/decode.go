package imaging

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"

	"github.com/disintegration/imaging"
	"golang.org/x/image/webp"

	"storeyrod/defects"
)

// decode gives the pixels as *image.YCbCr or *image.Gray. want is the long
// edge in pixels the caller needs; a decoder may stop at any size not below
// it. Pictures without planes of their own are reduced to it at once.
func decode(ctx context.Context, s *survey, want int) (image.Image, error) {
	if !s.Decodable {
		return nil, defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
			fmt.Sprintf("no view copy can be made yet of this kind of %s; the original is kept", s.Type))
	}
	if _, err := s.src.r.Seek(0, io.SeekStart); err != nil {
		return nil, fmt.Errorf("move in the photo: %w", err)
	}
	r := &watchedReader{ctx: ctx, r: s.src.r}
	var img image.Image
	var err error
	switch s.Type {
	case JPEG:
		img, err = jpeg.Decode(r)
	case PNG:
		img, err = png.Decode(r)
	default:
		img, err = webp.Decode(r)
	}
	if r.err != nil {
		return nil, fmt.Errorf("read the photo: %w", r.err)
	}
	if err != nil {
		return nil, damaged("its pixels cannot be decoded", err)
	}
	if img.Bounds().Dx() != s.Width || img.Bounds().Dy() != s.Height {
		return nil, damaged("the picture has another size than its header says", nil)
	}
	return planar(img, want), nil
}

// watchedReader ends a decoding whose context is done, and tells a failing
// reader from damaged content.
type watchedReader struct {
	ctx context.Context
	r   io.Reader
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

// planar turns what a decoder gave into planes.
func planar(img image.Image, want int) image.Image {
	switch m := img.(type) {
	case *image.YCbCr, *image.Gray:
		return m
	case *image.NYCbCrA:
		if m.Opaque() {
			return &m.YCbCr
		}
	}
	w, h := scaled(img.Bounds().Dx(), img.Bounds().Dy(), want)
	small := img
	if w != img.Bounds().Dx() || h != img.Bounds().Dy() {
		small = imaging.Resize(img, w, h, imaging.Lanczos)
	}
	return flatten(small)
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
