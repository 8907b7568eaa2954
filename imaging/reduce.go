package imaging

import "image"

// extent is how the samples of a picture lie on the pixels of the photo.
type extent struct {
	w, h int // pixels of the photo
	// Samples of Y that the photo covers, across and down. The last one may be
	// covered in part.
	across, down float64
}

// reducer makes an upright copy of a photo from bands of its rows. Y, Cb and Cr
// are resampled each for itself; no RGB pixel is ever made. Chroma comes out at
// half the resolution, as the encoder stores it.
type reducer struct {
	copy     image.Image
	channels []*scaler
}

// newReducer makes room for a copy whose long edge is at most edge. The planes
// are those of a picture like sample, with the bounds given; from orientation,
// by Exif, follows which way the copy is turned.
func newReducer(like image.Image, bounds image.Rectangle, e extent, edge, orientation int) *reducer {
	dw, dh := scaled(e.w, e.h, edge)
	tw, th := turnedSize(dw, dh, orientation)
	w, h := bounds.Dx(), bounds.Dy()
	across, down := newKernel(w, dw, e.across/float64(w)), newKernel(h, dh, e.down/float64(h))
	m, colour := like.(*image.YCbCr)
	if !colour {
		out := image.NewGray(image.Rect(0, 0, tw, th))
		return &reducer{out, []*scaler{newScaler(w, h, across, down, turned(out.Pix, out.Stride, dw, dh, orientation))}}
	}
	out := image.NewYCbCr(image.Rect(0, 0, tw, th), image.YCbCrSubsampleRatio420)
	r := &reducer{out, []*scaler{newScaler(w, h, across, down, turned(out.Y, out.YStride, dw, dh, orientation))}}
	hs, vs := subsampling(m.SubsampleRatio)
	cw, ch := (w+hs-1)/hs, (h+vs-1)/vs
	ow, oh := (dw+1)/2, (dh+1)/2
	// A chroma plane of an odd-sized picture sticks out over its edge by a
	// fraction of a sample; these are the parts that lie on the picture.
	across = newKernel(cw, ow, (e.across/float64(hs*cw))/(float64(dw)/float64(2*ow)))
	down = newKernel(ch, oh, (e.down/float64(vs*ch))/(float64(dh)/float64(2*oh)))
	for _, pix := range [][]byte{out.Cb, out.Cr} {
		r.channels = append(r.channels, newScaler(cw, ch, across, down, turned(pix, out.CStride, ow, oh, orientation)))
	}
	return r
}

// take adds the next rows: a picture with the same planes.
func (r *reducer) take(band image.Image) {
	rows := band.Bounds().Dy()
	switch m := band.(type) {
	case *image.Gray:
		r.channels[0].take(m.Pix, m.Stride, rows)
	case *image.YCbCr:
		r.channels[0].take(m.Y, m.YStride, rows)
		_, vs := subsampling(m.SubsampleRatio)
		r.channels[1].take(m.Cb, m.CStride, (rows+vs-1)/vs)
		r.channels[2].take(m.Cr, m.CStride, (rows+vs-1)/vs)
	}
}

// reduce copies a picture that is there as a whole, a sample of Y for each pixel
// of the photo.
func reduce(m image.Image, edge, orientation int) image.Image {
	e := extent{w: m.Bounds().Dx(), h: m.Bounds().Dy()}
	e.across, e.down = float64(e.w), float64(e.h)
	for max(m.Bounds().Dx(), m.Bounds().Dy()) >= 4*edge {
		m = halve(m)
		e.across, e.down = e.across/2, e.down/2
	}
	r := newReducer(m, m.Bounds(), e, edge, orientation)
	r.take(m)
	return r.copy
}
