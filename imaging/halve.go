package imaging

import (
	"encoding/binary"
	"image"
)

// halve gives a picture of half the size, each sample the mean of four. Ahead
// of Lanczos, which still reduces at least to half, it saves three quarters of
// the work and is not seen.
func halve(m image.Image) image.Image {
	w, h := (m.Bounds().Dx()+1)/2, (m.Bounds().Dy()+1)/2
	switch m := m.(type) {
	case *image.Gray:
		out := image.NewGray(image.Rect(0, 0, w, h))
		halvePlane(out.Pix, out.Stride, m.Pix, m.Stride, m.Rect.Dx(), m.Rect.Dy())
		return out
	case *image.YCbCr:
		out := image.NewYCbCr(image.Rect(0, 0, w, h), m.SubsampleRatio)
		halvePlane(out.Y, out.YStride, m.Y, m.YStride, m.Rect.Dx(), m.Rect.Dy())
		hs, vs := subsampling(m.SubsampleRatio)
		cw, ch := (m.Rect.Dx()+hs-1)/hs, (m.Rect.Dy()+vs-1)/vs
		halvePlane(out.Cb, out.CStride, m.Cb, m.CStride, cw, ch)
		halvePlane(out.Cr, out.CStride, m.Cr, m.CStride, cw, ch)
		return out
	}
	return m
}

// halvePlane halves a plane of w × h samples. The last column and row of odd
// ones count twice.
func halvePlane(dst []byte, dstride int, src []byte, stride, w, h int) {
	for y := 0; y < h; y += 2 {
		a, b := src[y*stride:][:w], src[min(y+1, h-1)*stride:][:w]
		out := dst[y/2*dstride:][:(w+1)/2]
		x := 0
		for ; x+8 <= w; x += 8 {
			v, u := binary.LittleEndian.Uint64(a[x:]), binary.LittleEndian.Uint64(b[x:])
			sum := (v & level) + (v >> 8 & level) + (u & level) + (u >> 8 & level) + 2*lanes
			sum = sum >> 2 & level
			sum = (sum | sum>>8) & 0x0000_FFFF_0000_FFFF
			binary.LittleEndian.PutUint32(out[x/2:], uint32(sum|sum>>16))
		}
		for ; x < w; x += 2 {
			last := min(x+1, w-1)
			out[x/2] = byte((int(a[x]) + int(a[last]) + int(b[x]) + int(b[last]) + 2) / 4)
		}
	}
}
