package imaging

import (
	"context"
	"errors"
	"fmt"
	"image"

	"storeyrod/defects"
	"storeyrod/imaging/hevc"
)

// HEVC decodes single coded pictures: the tiles of a HEIC photo, each a file
// of its own. hevc.Sandbox and hevc.Client are one. An error that wraps
// hevc.ErrPicture means the tile is at fault, a *defects.Error is passed on.
type HEVC interface {
	Picture(ctx context.Context, file []byte) (image.Image, error)
	Close() error
}

// OpenHEVC gives a decoder for one photo of so many pixels, from which it can
// tell how much work is honest.
type OpenHEVC func(ctx context.Context, pixels int64) (HEVC, error)

// reducedHEIC decodes the tiles one after another, puts each, reduced, into its
// place and makes the upright copy of the whole. One broken tile is an error.
func (s *survey) reducedHEIC(ctx context.Context, open OpenHEVC, edge int) (copied image.Image, err error) {
	if open == nil {
		return nil, defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
			"no view copy can be made of HEIC photos here; the original is kept")
	}
	plan := s.heic
	decoder, err := open(ctx, int64(len(plan.tiles))*int64(plan.tileW)*int64(plan.tileH))
	if err != nil {
		return nil, fmt.Errorf("open the HEIC decoder: %w", err)
	}
	defer func() { err = errors.Join(err, decoder.Close()) }()
	m := newMosaic(plan, plan.reduction(edge))
	for i, t := range plan.tiles {
		file, err := s.tileFile(plan, t)
		if err != nil {
			return nil, err
		}
		img, err := decoder.Picture(ctx, file)
		switch {
		case errors.Is(err, hevc.ErrPicture):
			return nil, damaged(fmt.Sprintf("tile %d cannot be decoded", i+1), err)
		case err != nil:
			return nil, fmt.Errorf("decode tile %d: %w", i+1, err)
		}
		if err := m.paste(img, i); err != nil {
			return nil, err
		}
	}
	img := m.image()
	plan.colour.toJPEG(img)
	e := extent{w: plan.cut.w, h: plan.cut.h}
	e.across, e.down = float64(e.w)/float64(m.k), float64(e.h)/float64(m.k)
	r := newReducer(img, img.Bounds(), e, edge, plan.turn)
	r.take(img)
	return r.copy, nil
}

// reduction is by how much tiles are reduced when put into place: halves of
// halves, as long as that leaves a fifth more than the copy needs, as in
// eighths, and tiles stay whole.
func (p *heicPlan) reduction(want int) int {
	k := 1
	for max(p.cut.w, p.cut.h)/(2*k)*5 >= want*6 && p.tileW%(4*k) == 0 && p.tileH%(4*k) == 0 {
		k *= 2
	}
	return k
}

// plane is one channel of a picture.
type plane struct {
	pix    []byte
	stride int
	w, h   int
}

// mosaic is a picture being put together.
type mosaic struct {
	plan    *heicPlan
	k       int
	x, y    int // of the cutting, rounded down to where chroma has a sample
	planes  [3]plane
	ratio   image.YCbCrSubsampleRatio
	grey    bool
	started bool
}

func newMosaic(p *heicPlan, k int) *mosaic {
	return &mosaic{plan: p, k: k, x: p.cut.x / (2 * k) * 2 * k, y: p.cut.y / (2 * k) * 2 * k}
}

// start makes the planes, of the kind the first tile has.
func (m *mosaic) start(img image.Image) {
	w, h := m.size()
	m.started = true
	m.planes[0] = plane{make([]byte, w*h), w, w, h}
	c, ok := img.(*image.YCbCr)
	if m.grey = !ok; m.grey {
		return
	}
	m.ratio = c.SubsampleRatio
	hs, vs := subsampling(m.ratio)
	cw, ch := (w+hs-1)/hs, (h+vs-1)/vs
	m.planes[1], m.planes[2] = plane{make([]byte, cw*ch), cw, cw, ch}, plane{make([]byte, cw*ch), cw, cw, ch}
}

func (m *mosaic) size() (w, h int) {
	return (m.plan.cut.w + m.k - 1) / m.k, (m.plan.cut.h + m.k - 1) / m.k
}

// paste puts the tile of a number into its place.
func (m *mosaic) paste(img image.Image, i int) error {
	p := m.plan
	if !m.started {
		m.start(img)
	}
	if img.Bounds().Size() != image.Pt(p.tileW, p.tileH) {
		return damaged("a tile has another size than is said", nil)
	}
	x, y := i%p.cols*p.tileW-m.x, i/p.cols*p.tileH-m.y
	switch t := img.(type) {
	case *image.Gray:
		if m.grey {
			m.planes[0].reduced(plane{t.Pix, t.Stride, p.tileW, p.tileH}, x, y, m.k)
			return nil
		}
	case *image.YCbCr:
		if !m.grey && t.SubsampleRatio == m.ratio {
			hs, vs := subsampling(m.ratio)
			cw, ch := (p.tileW+hs-1)/hs, (p.tileH+vs-1)/vs
			m.planes[0].reduced(plane{t.Y, t.YStride, p.tileW, p.tileH}, x, y, m.k)
			m.planes[1].reduced(plane{t.Cb, t.CStride, cw, ch}, x/hs, y/vs, m.k)
			m.planes[2].reduced(plane{t.Cr, t.CStride, cw, ch}, x/hs, y/vs, m.k)
			return nil
		}
	}
	return damaged("tiles differ in kind", nil)
}

// reduced puts the means of k × k samples of src into p, where (x, y), both
// multiples of k, is the place of src on p enlarged k times. What lies outside
// is left out.
func (p plane) reduced(src plane, x, y, k int) {
	if k == 1 {
		p.pasted(src, x, y)
		return
	}
	for dy := max(y/k, 0); dy < p.h && dy*k-y < src.h; dy++ {
		top := dy*k - y
		rows := min(k, src.h-top)
		for dx := max(x/k, 0); dx < p.w && dx*k-x < src.w; dx++ {
			left := dx*k - x
			cols := min(k, src.w-left)
			sum, n := 0, rows*cols
			for r := range rows {
				for _, v := range src.pix[(top+r)*src.stride+left:][:cols] {
					sum += int(v)
				}
			}
			p.pix[dy*p.stride+dx] = byte((sum + n/2) / n)
		}
	}
}

// pasted puts src into p at (x, y), without what lies outside.
func (p plane) pasted(src plane, x, y int) {
	left, right := max(x, 0), min(x+src.w, p.w)
	for row := max(y, 0); row < p.h && row-y < src.h && left < right; row++ {
		copy(p.pix[row*p.stride+left:row*p.stride+right], src.pix[(row-y)*src.stride+left-x:])
	}
}

func (m *mosaic) image() image.Image {
	w, h := m.size()
	r := image.Rect(0, 0, w, h)
	if m.grey {
		return &image.Gray{Pix: m.planes[0].pix, Stride: m.planes[0].stride, Rect: r}
	}
	return &image.YCbCr{
		Y: m.planes[0].pix, Cb: m.planes[1].pix, Cr: m.planes[2].pix,
		YStride: m.planes[0].stride, CStride: m.planes[1].stride, SubsampleRatio: m.ratio, Rect: r,
	}
}
