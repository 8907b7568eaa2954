package jpeg

import "image"

// Encode writes a baseline JPEG of a quality from 1 to 100. The picture is
// *image.Gray or an *image.YCbCr of 4:2:0 that begins at (0, 0); others are
// ErrUnsupported, as is a side of more than 65,535 samples. Quantisation and
// Huffman tables are those of annex K.
func Encode(img image.Image, quality int) ([]byte, error) {
	b := img.Bounds()
	if b.Empty() || b.Min != (image.Point{}) || max(b.Dx(), b.Dy()) > 0xFFFF {
		return nil, unsupported("no size a JPEG can have")
	}
	e := encoder{width: b.Dx(), height: b.Dy()}
	switch m := img.(type) {
	case *image.Gray:
		e.channels = []channel{{pix: m.Pix, stride: m.Stride, w: b.Dx(), h: b.Dy()}}
		e.unit = 1
	case *image.YCbCr:
		if m.SubsampleRatio != image.YCbCrSubsampleRatio420 {
			return nil, unsupported("only 4:2:0 is written")
		}
		cw, ch := ceilDiv(b.Dx(), 2), ceilDiv(b.Dy(), 2)
		e.channels = []channel{
			{pix: m.Y, stride: m.YStride, w: b.Dx(), h: b.Dy()},
			{pix: m.Cb, stride: m.CStride, w: cw, h: ch, table: 1},
			{pix: m.Cr, stride: m.CStride, w: cw, h: ch, table: 1},
		}
		e.unit = 2
	default:
		return nil, unsupported("neither grey nor planes")
	}
	// Most photos come out smaller than this.
	e.out = make([]byte, 0, 1024+b.Dx()*b.Dy()/4)
	e.headers(min(max(quality, 1), 100))
	e.scan()
	return append(e.out, markerFill, markerEOI), nil
}

// encoder writes one file.
type encoder struct {
	bitWriter
	width, height int
	unit          int // blocks of Y in an MCU, across and down
	channels      []channel
}

// channel is one component.
type channel struct {
	channelCoder
	pix    []byte
	stride int
	w, h   int // samples
	table  int // 0 luminance, 1 chrominance
}

// headers writes everything before the coded data (figure B.2).
func (e *encoder) headers(quality int) {
	e.out = append(e.out, markerFill, markerSOI)
	tables := min(len(e.channels), 2)
	frame := []byte{8, byte(e.height >> 8), byte(e.height), byte(e.width >> 8), byte(e.width), byte(len(e.channels))}
	scan := []byte{byte(len(e.channels))}
	for t := range tables {
		e.quantTable(t, quality)
	}
	for i := range e.channels {
		c, sampling := &e.channels[i], byte(0x11)
		if i == 0 {
			sampling *= byte(e.unit)
		}
		frame = append(frame, byte(i+1), sampling, byte(c.table))
		scan = append(scan, byte(i+1), byte(c.table<<4|c.table))
	}
	e.segment(markerSOF0, frame)
	for t := range tables {
		e.codeTables(t)
	}
	e.segment(markerSOS, append(scan, 0, 63, 0))
}

// segment writes a marker and its parameters (B.1.1.4).
func (e *encoder) segment(marker byte, p []byte) {
	n := len(p) + 2
	e.out = append(append(e.out, markerFill, marker, byte(n>>8), byte(n)), p...)
}

// quantTable writes DQT (B.2.4.1) and readies the components that use it.
func (e *encoder) quantTable(t, quality int) {
	steps := steps(stepsK[t], quality)
	p := []byte{byte(t)}
	for _, at := range zigzag {
		p = append(p, steps[at])
	}
	e.segment(markerDQT, p)
	for i := range e.channels {
		if c := &e.channels[i]; c.table == t {
			c.recip = newReciprocals(&steps)
		}
	}
}

// codeTables writes DHT (B.2.4.2) and readies the components that use it.
func (e *encoder) codeTables(t int) {
	dc, ac := codesK[t][0], codesK[t][1]
	for class, l := range []listing{dc, ac} {
		p := append([]byte{byte(class<<4 | t)}, l.counts[:]...)
		e.segment(markerDHT, append(p, l.symbols...))
	}
	for i := range e.channels {
		if c := &e.channels[i]; c.table == t {
			c.dc, c.ac = dc.codewords(), ac.codewords()
		}
	}
}

// scan writes all MCUs, interleaved (A.2.3).
func (e *encoder) scan() {
	side := 8 * e.unit
	for row := range ceilDiv(e.height, side) {
		for col := range ceilDiv(e.width, side) {
			y := &e.channels[0]
			for i := range e.unit * e.unit {
				y.code(&e.bitWriter, e.unit*col+i%e.unit, e.unit*row+i/e.unit)
			}
			for i := range e.channels[1:] {
				e.channels[1+i].code(&e.bitWriter, col, row)
			}
		}
	}
	e.flush()
}

// code writes the block in a column and row of blocks. Past the edge the last
// column and row go on (A.2.4 leaves it open).
func (c *channel) code(w *bitWriter, col, row int) {
	x0, y0 := 8*col, 8*row
	if x0+8 <= c.w && y0+8 <= c.h {
		c.block(w, c.pix[y0*c.stride+x0:], c.stride)
		return
	}
	var edge [64]byte
	for i := range edge {
		x, y := min(x0+i%8, c.w-1), min(y0+i/8, c.h-1)
		edge[i] = c.pix[y*c.stride+x]
	}
	c.block(w, edge[:], 8)
}
