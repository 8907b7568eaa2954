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

// view is where the samples of a plane are stored when it is turned: sample
// (x, y) at origin + x·dx + y·dy.
type view struct {
	pix            []byte
	origin, dx, dy int
}

func (v view) at(x, y int) int { return v.origin + x*v.dx + y*v.dy }

// turned stores a plane of w × h samples so that its row 0 and column 0 end up
// on the visual sides that Exif 2.32 (tag 0x0112) names.
func turned(pix []byte, stride, w, h, orientation int) view {
	right, bottom := w-1, h-1
	switch orientation {
	case 2: // top, right
		return view{pix, right, -1, stride}
	case 3: // bottom, right
		return view{pix, right + bottom*stride, -1, -stride}
	case 4: // bottom, left
		return view{pix, bottom * stride, 1, -stride}
	case 5: // left, top
		return view{pix, 0, stride, 1}
	case 6: // right, top
		return view{pix, bottom, stride, -1}
	case 7: // right, bottom
		return view{pix, right*stride + bottom, -stride, -1}
	case 8: // left, bottom
		return view{pix, right * stride, -stride, 1}
	}
	return view{pix, 0, 1, stride} // top, left
}

func turnedSize(w, h, orientation int) (int, int) {
	if orientation >= 5 && orientation <= 8 {
		return h, w
	}
	return w, h
}

// splitRow turns opaque RGBA pixels into planes.
func splitRow(rgba, y, cb, cr []byte) {
	for i := 0; i+3 < len(rgba); i += 4 {
		y[i/4], cb[i/4], cr[i/4] = color.RGBToYCbCr(rgba[i], rgba[i+1], rgba[i+2])
	}
}
