package imaging

import (
	"image"
	"image/color"
)

// scaled gives the size that fits into a square of the given edge, keeping
// the ratio and never enlarging.
func scaled(w, h, edge int) (int, int) {
	long := max(w, h)
	if long <= edge {
		return w, h
	}
	fit := func(v int) int { return max(1, (v*edge+long/2)/long) }
	return fit(w), fit(h)
}

// picture is what a decoder made of a photo. Its planes may have fewer samples
// than the photo has pixels.
type picture struct {
	planes image.Image // *image.YCbCr or *image.Gray
	w, h   int         // pixels of the photo
	// Samples of Y that the photo covers, across and down. The last one may be
	// covered in part.
	across, down float64
}

// whole is a picture with one sample of Y for each pixel.
func whole(img image.Image) picture {
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	return picture{planes: img, w: w, h: h, across: float64(w), down: float64(h)}
}

// fit resamples planes so that the long edge is at most edge. Chroma comes
// out at half resolution, as the encoder stores it.
func fit(p picture, edge int) image.Image {
	dw, dh := scaled(p.w, p.h, edge)
	switch m := p.planes.(type) {
	case *image.Gray:
		w, h := m.Rect.Dx(), m.Rect.Dy()
		if dw == w && dh == h {
			return m
		}
		out := image.NewGray(image.Rect(0, 0, dw, dh))
		resample(plane{m.Pix, m.Stride, w, h}, plane{out.Pix, out.Stride, dw, dh}, p.across/float64(w), p.down/float64(h))
		return out
	case *image.YCbCr:
		if dw == m.Rect.Dx() && dh == m.Rect.Dy() && m.SubsampleRatio == image.YCbCrSubsampleRatio420 {
			return m
		}
		return fitYCbCr(m, p.across, p.down, dw, dh)
	}
	return p.planes
}

func fitYCbCr(m *image.YCbCr, across, down float64, dw, dh int) *image.YCbCr {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := image.NewYCbCr(image.Rect(0, 0, dw, dh), image.YCbCrSubsampleRatio420)
	yp := plane{m.Y, m.YStride, w, h}
	resample(yp, plane{out.Y, out.YStride, dw, dh}, across/float64(w), down/float64(h))
	hs, vs := subsampling(m.SubsampleRatio)
	cw, ch := (w+hs-1)/hs, (h+vs-1)/vs
	ow, oh := (dw+1)/2, (dh+1)/2
	// A chroma plane of an odd-sized picture sticks out over its edge by a
	// fraction of a sample; these are the parts that lie on the picture.
	fx := (across / float64(hs*cw)) / (float64(dw) / float64(2*ow))
	fy := (down / float64(vs*ch)) / (float64(dh) / float64(2*oh))
	resample(plane{m.Cb, m.CStride, cw, ch}, plane{out.Cb, out.CStride, ow, oh}, fx, fy)
	resample(plane{m.Cr, m.CStride, cw, ch}, plane{out.Cr, out.CStride, ow, oh}, fx, fy)
	return out
}

func subsampling(r image.YCbCrSubsampleRatio) (h, v int) {
	switch r {
	case image.YCbCrSubsampleRatio422:
		return 2, 1
	case image.YCbCrSubsampleRatio420:
		return 2, 2
	case image.YCbCrSubsampleRatio440:
		return 1, 2
	case image.YCbCrSubsampleRatio411:
		return 4, 1
	case image.YCbCrSubsampleRatio410:
		return 4, 2
	}
	return 1, 1
}

// orient turns planes upright, by Exif orientation 1–8.
func orient(img image.Image, orientation int) image.Image {
	if orientation < 2 || orientation > 8 {
		return img
	}
	switch m := img.(type) {
	case *image.Gray:
		w, h := turnedSize(m.Rect.Dx(), m.Rect.Dy(), orientation)
		out := image.NewGray(image.Rect(0, 0, w, h))
		turn(plane{m.Pix, m.Stride, m.Rect.Dx(), m.Rect.Dy()}, out.Pix, out.Stride, orientation)
		return out
	case *image.YCbCr: // fit made it 4:2:0, which stays 4:2:0 when turned
		w, h := turnedSize(m.Rect.Dx(), m.Rect.Dy(), orientation)
		out := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
		cw, ch := (m.Rect.Dx()+1)/2, (m.Rect.Dy()+1)/2
		turn(plane{m.Y, m.YStride, m.Rect.Dx(), m.Rect.Dy()}, out.Y, out.YStride, orientation)
		turn(plane{m.Cb, m.CStride, cw, ch}, out.Cb, out.CStride, orientation)
		turn(plane{m.Cr, m.CStride, cw, ch}, out.Cr, out.CStride, orientation)
		return out
	}
	return img
}

func turnedSize(w, h, orientation int) (int, int) {
	if orientation >= 5 {
		return h, w
	}
	return w, h
}

// turn copies a plane into dst so that the stored row 0 and column 0 end up
// on the visual sides that Exif 2.32 (tag 0x0112) names.
func turn(src plane, dst []byte, stride, orientation int) {
	for y := range src.h {
		row := src.pix[y*src.stride : y*src.stride+src.w]
		my := src.h - 1 - y
		at, step := 0, 1
		switch orientation {
		case 2: // top, right
			at, step = y*stride+src.w-1, -1
		case 3: // bottom, right
			at, step = my*stride+src.w-1, -1
		case 4: // bottom, left
			at, step = my*stride, 1
		case 5: // left, top
			at, step = y, stride
		case 6: // right, top
			at, step = my, stride
		case 7: // right, bottom
			at, step = (src.w-1)*stride+my, -stride
		case 8: // left, bottom
			at, step = (src.w-1)*stride+y, -stride
		}
		for _, v := range row {
			dst[at] = v
			at += step
		}
	}
}

// splitRow turns opaque RGBA pixels into planes.
func splitRow(rgba, y, cb, cr []byte) {
	for i := 0; i+3 < len(rgba); i += 4 {
		y[i/4], cb[i/4], cr[i/4] = color.RGBToYCbCr(rgba[i], rgba[i+1], rgba[i+2])
	}
}
