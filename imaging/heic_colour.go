package imaging

import (
	"image"
	"math"
)

// colourCode is how samples stand for colours, by the numbers of ITU-T H.273.
type colourCode struct {
	primaries, transfer, matrix int
	full                        bool // samples from 0 to 255, else Y 16 to 235
}

// Code points of H.273.
const (
	codeUnsaid    = 2
	matrixRGB     = 0
	primariesP3   = 12 // SMPTE EG 432-1, the primaries of Display P3
	transferSRGB  = 13
	matrixBT709   = 1
	matrixFCC     = 4
	matrixSMPTE   = 7
	matrixBT2020  = 9
	matrixBT2020C = 10
)

// unsaidColour is what holds where nothing is said (H.265 §E.3.1).
func unsaidColour() colourCode {
	return colourCode{primaries: codeUnsaid, transfer: codeUnsaid, matrix: codeUnsaid}
}

// planColour holds the first tile to its stated size and reads the colours:
// the parameter set's word, over it that of the container (ISO/IEC 23008-12
// §6.5.5), and a colour profile.
func (s *survey) planColour(h *heifItems, p *heicPlan, first uint32) error {
	info, ok := spsOf(p.tiles[0].config)
	if !ok || info.w != p.tileW || info.h != p.tileH {
		return damaged("a tile has another size than is said", nil)
	}
	p.colour, p.grey = info.colour, info.chroma == 0
	list := h.propertiesOf(h.primary)
	if first != h.primary {
		list = append(h.propertiesOf(first), list...)
	}
	for _, prop := range list {
		if prop.kind != "colr" || len(prop.body) < 4 {
			continue
		}
		switch string(prop.body[:4]) {
		case "prof", "rICC":
			s.icc = []span{{prop.at + 4, int64(len(prop.body) - 4)}}
		case "nclx":
			p.colour.take(prop.body[4:])
		}
	}
	if p.colour.matrix == matrixRGB && info.chroma != 0 {
		return unreadableHEIC("coded as red, green and blue")
	}
	if len(s.icc) == 0 && p.colour.primaries == primariesP3 &&
		(p.colour.transfer == transferSRGB || p.colour.transfer == codeUnsaid) {
		s.iccMade = displayP3()
	}
	return nil
}

// take reads an nclx box; what it leaves open stays as it was.
func (c *colourCode) take(b []byte) {
	if len(b) < 7 {
		return
	}
	for i, to := range []*int{&c.primaries, &c.transfer, &c.matrix} {
		if v := int(be16(b[2*i:])); v != codeUnsaid {
			*to = v
		}
	}
	c.full = b[6]&0x80 != 0
}

// luma gives the shares of red and blue in Y.
func (c colourCode) luma() (kr, kb float64) {
	switch c.matrix {
	case matrixBT709:
		return 0.2126, 0.0722
	case matrixFCC:
		return 0.30, 0.11
	case matrixSMPTE:
		return 0.212, 0.087
	case matrixBT2020, matrixBT2020C:
		return 0.2627, 0.0593
	}
	return jpegKr, jpegKb
}

// JPEG codes colours as ITU-R BT.601 does, in full range (ITU-T T.871 §7).
const jpegKr, jpegKb = 0.299, 0.114

// toJPEG turns samples into those a JPEG has.
func (c colourCode) toJPEG(img image.Image) {
	if g, ok := img.(*image.Gray); ok {
		if !c.full {
			spread(g.Pix, 16, 219, 0)
		}
		return
	}
	m := img.(*image.YCbCr)
	if !c.full {
		spread(m.Y, 16, 219, 0)
		spread(m.Cb, 128, 224, 128)
		spread(m.Cr, 128, 224, 128)
	}
	if kr, kb := c.luma(); kr != jpegKr || kb != jpegKb {
		recode(m, kr, kb)
	}
}

// spread stretches samples that use a range of n around a point to all 255.
func spread(pix []byte, from, n float64, to float64) {
	var table [256]byte
	for i := range table {
		table[i] = byte(math.Round(min(max((float64(i)-from)*255/n+to, 0), 255)))
	}
	for i, v := range pix {
		pix[i] = table[v]
	}
}

// recode goes from other shares of red and blue to those of JPEG. Grey stays
// grey, so only the colour differences are mixed.
func recode(m *image.YCbCr, kr, kb float64) {
	const one = 1 << 14
	mix := func(pb, pr float64) (y, cb, cr int32) {
		r, b := 2*(1-kr)*pr, 2*(1-kb)*pb
		g := -(kr*r + kb*b) / (1 - kr - kb)
		l := jpegKr*r + (1-jpegKr-jpegKb)*g + jpegKb*b
		return int32(math.Round(l * one)), int32(math.Round((b - l) / (2 * (1 - jpegKb)) * one)), int32(math.Round((r - l) / (2 * (1 - jpegKr)) * one))
	}
	yb, bb, rb := mix(1, 0)
	yr, br, rr := mix(0, 1)
	hs, vs := subsampling(m.SubsampleRatio)
	w, h := m.Rect.Dx(), m.Rect.Dy()
	for y := range h {
		row := m.Y[y*m.YStride:][:w]
		cb, cr := m.Cb[y/vs*m.CStride:], m.Cr[y/vs*m.CStride:]
		for x := range row {
			b, r := int32(cb[x/hs])-128, int32(cr[x/hs])-128
			row[x] = clamp(int32(row[x]) + (yb*b+yr*r+one/2)>>14)
		}
	}
	for i := range m.Cb {
		b, r := int32(m.Cb[i])-128, int32(m.Cr[i])-128
		m.Cb[i] = clamp(128 + (bb*b+br*r+one/2)>>14)
		m.Cr[i] = clamp(128 + (rb*b+rr*r+one/2)>>14)
	}
}
