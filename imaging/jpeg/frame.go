package jpeg

// component is one channel of the picture.
type component struct {
	id    byte
	h, v  int // sampling factors: blocks in an interleaved MCU, across and down
	quant int // which quantisation table

	width, height int // samples at full size (A.1.1)
	plane         plane
	done          bool // its scan has been read
}

// frame is what the frame header says (B.2.2).
type frame struct {
	width, height int
	hMax, vMax    int
	comps         []component
}

// parseFrame reads the parameters of SOF0 or SOF1.
func parseFrame(p []byte) (*frame, error) {
	if len(p) < 6 {
		return nil, corrupt("the frame header is too short")
	}
	if p[0] != 8 {
		return nil, unsupported("not 8 bits a sample")
	}
	f := &frame{height: int(p[1])<<8 | int(p[2]), width: int(p[3])<<8 | int(p[4])}
	n := int(p[5])
	if len(p) != 6+3*n {
		return nil, corrupt("the frame header has a wrong length")
	}
	switch {
	case f.height == 0:
		return nil, unsupported("the number of lines follows the scan (DNL)")
	case f.width == 0:
		return nil, corrupt("no width")
	case n != 1 && n != 3:
		return nil, unsupported("neither grey nor three components")
	}
	for i := range n {
		q := p[6+3*i : 9+3*i]
		f.comps = append(f.comps, component{id: q[0], h: int(q[1] >> 4), v: int(q[1] & 15), quant: int(q[2])})
	}
	return f, f.check()
}

// check applies B.2.2's ranges and what this package adds to them.
func (f *frame) check() error {
	for i, c := range f.comps {
		if c.h < 1 || c.h > 4 || c.v < 1 || c.v > 4 {
			return corrupt("a sampling factor out of range")
		}
		if c.quant > 3 {
			return corrupt("no such quantisation table")
		}
		for _, other := range f.comps[:i] {
			if c.id == other.id {
				return corrupt("two components of one name")
			}
		}
	}
	if len(f.comps) == 1 {
		// A.2.2: a component alone in its scan has one block in an MCU,
		// whatever its factors say.
		f.comps[0].h, f.comps[0].v = 1, 1
	} else if err := f.checkColour(); err != nil {
		return err
	}
	f.measure()
	return nil
}

// checkColour takes what cameras write: Cb and Cr alike, and whole-number
// ratios to Y that image.YCbCr can express.
func (f *frame) checkColour() error {
	y, cb, cr := f.comps[0], f.comps[1], f.comps[2]
	if y.id == 'R' && cb.id == 'G' && cr.id == 'B' {
		return unsupported("components named R, G and B")
	}
	if cb.h != cr.h || cb.v != cr.v || y.h%cb.h != 0 || y.v%cb.v != 0 {
		return unsupported("a rare subsampling")
	}
	if _, known := ratio(y.h/cb.h, y.v/cb.v); !known {
		return unsupported("a rare subsampling")
	}
	return nil
}

// measure computes the sizes of the components (A.1.1).
func (f *frame) measure() {
	f.hMax, f.vMax = f.comps[0].h, f.comps[0].v // checkColour: Y has the most
	for i := range f.comps {
		c := &f.comps[i]
		c.width = ceilDiv(f.width*c.h, f.hMax)
		c.height = ceilDiv(f.height*c.v, f.vMax)
	}
}

func ceilDiv(a, b int) int { return (a + b - 1) / b }
