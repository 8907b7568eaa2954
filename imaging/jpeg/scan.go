package jpeg

import "context"

// part is one component in a scan.
type part struct {
	comp   *component
	h, v   int // blocks of an MCU, across and down
	quant  *quantisation
	dc, ac *huffman
	pred   int32 // DC prediction
}

// scan reads the entropy-coded data of one scan.
type scan struct {
	in         bits
	parts      []part
	cols, rows int // MCUs
	interval   int // MCUs between restarts, 0 = none
	left       int // MCUs until the next restart
	restarts   int // restarts seen
	block      block
	// put takes each decoded block: its component, column and row of blocks.
	put func(c *component, col, row int, b *block)
}

// newScan reads the scan header (B.2.3). Start and end of the spectrum and the
// bit positions mean nothing in sequential coding and are passed over.
func newScan(p []byte, f *frame, t *tables) (*scan, error) {
	if len(p) < 1 || int(p[0]) < 1 || int(p[0]) > len(f.comps) || len(p) != 4+2*int(p[0]) {
		return nil, corrupt("the scan header makes no sense")
	}
	s := &scan{interval: t.restart, left: t.restart}
	blocks := 0
	for i := range int(p[0]) {
		c := f.find(p[1+2*i])
		dc, ac := p[2+2*i]>>4, p[2+2*i]&15
		if c == nil || c.done || dc > 3 || ac > 3 {
			return nil, corrupt("the scan header makes no sense")
		}
		c.done = true
		one := part{comp: c, h: c.h, v: c.v, quant: t.quant[c.quant], dc: t.dc[dc], ac: t.ac[ac]}
		if one.quant == nil || one.dc == nil || one.ac == nil {
			return nil, corrupt("a table is missing")
		}
		s.parts = append(s.parts, one)
		blocks += c.h * c.v
	}
	if len(s.parts) > 1 && blocks > 10 { // B.2.3
		return nil, corrupt("too many blocks in a minimum coded unit")
	}
	s.arrange(f)
	return s, nil
}

func (f *frame) find(id byte) *component {
	for i := range f.comps {
		if f.comps[i].id == id {
			return &f.comps[i]
		}
	}
	return nil
}

// arrange lays out the MCUs: of a component alone in its scan each block is
// one (A.2.2), else they cover the whole frame (A.2.3).
func (s *scan) arrange(f *frame) {
	if len(s.parts) == 1 {
		p := &s.parts[0]
		p.h, p.v = 1, 1
		s.cols, s.rows = ceilDiv(p.comp.width, 8), ceilDiv(p.comp.height, 8)
		return
	}
	s.cols, s.rows = ceilDiv(f.width, 8*f.hMax), ceilDiv(f.height, 8*f.vMax)
}

// run reads all MCUs. After each row of them endRow is called and the context
// asked.
func (s *scan) run(ctx context.Context, endRow func(row int) error) error {
	for row := range s.rows {
		if err := ctx.Err(); err != nil {
			return err
		}
		for col := range s.cols {
			if err := s.unit(col, row); err != nil {
				return err
			}
		}
		if err := endRow(row); err != nil {
			return err
		}
	}
	return s.in.finish()
}

// unit reads one MCU.
func (s *scan) unit(col, row int) error {
	if s.interval > 0 {
		if s.left == 0 {
			if err := s.restart(); err != nil {
				return err
			}
		}
		s.left--
	}
	for i := range s.parts {
		p := &s.parts[i]
		for y := range p.v {
			for x := range p.h {
				if err := p.read(&s.in, &s.block); err != nil {
					return err
				}
				s.put(p.comp, col*p.h+x, row*p.v+y, &s.block)
			}
		}
	}
	return nil
}

// restart reads the restart marker that is due and begins anew (F.2.1.3.1).
// The markers count modulo 8, so that a lost stretch is noticed.
func (s *scan) restart() error {
	if err := s.in.finish(); err != nil {
		return err
	}
	m, err := s.in.src.marker()
	if err != nil {
		return err
	}
	if m != markerRST0+byte(s.restarts%8) {
		return corrupt("a restart marker is missing")
	}
	s.restarts++
	s.left = s.interval
	for i := range s.parts {
		s.parts[i].pred = 0
	}
	return nil
}
