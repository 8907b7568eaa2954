package jpeg

import "image"

// ratio names a subsampling by how many samples of Y there are for one of Cb,
// across and down.
func ratio(h, v int) (r image.YCbCrSubsampleRatio, known bool) {
	switch [2]int{h, v} {
	case [2]int{1, 1}:
		return image.YCbCrSubsampleRatio444, true
	case [2]int{2, 1}:
		return image.YCbCrSubsampleRatio422, true
	case [2]int{2, 2}:
		return image.YCbCrSubsampleRatio420, true
	case [2]int{1, 2}:
		return image.YCbCrSubsampleRatio440, true
	case [2]int{4, 1}:
		return image.YCbCrSubsampleRatio411, true
	case [2]int{4, 2}:
		return image.YCbCrSubsampleRatio410, true
	}
	return 0, false
}

// plane holds the samples of one component in whole blocks of n × n, so that a
// block at the edge is written like any other.
type plane struct {
	pix    []byte
	stride int
}

// rows is how many rows of MCUs there are when all components share a scan.
func (f *frame) rows() int { return ceilDiv(f.height, 8*f.vMax) }

// makePlanes gives each component room for all its blocks in some rows of MCUs.
func (f *frame) makePlanes(n, rows int) {
	cols := ceilDiv(f.width, 8*f.hMax)
	for i := range f.comps {
		c := &f.comps[i]
		c.plane.stride = cols * c.h * n
		c.plane.pix = make([]byte, c.plane.stride*rows*c.v*n)
	}
}

// image hands the planes out, cut to the samples of Y that they hold.
func (f *frame) image(held image.Rectangle) image.Image {
	y := f.comps[0].plane
	if len(f.comps) == 1 {
		return &image.Gray{Pix: y.pix, Stride: y.stride, Rect: held}
	}
	cb, cr := f.comps[1], f.comps[2]
	subsampling, _ := ratio(f.hMax/cb.h, f.vMax/cb.v) // checkColour let known ones pass
	return &image.YCbCr{
		Y: y.pix, Cb: cb.plane.pix, Cr: cr.plane.pix,
		YStride: y.stride, CStride: cb.plane.stride,
		SubsampleRatio: subsampling,
		Rect:           held,
	}
}
