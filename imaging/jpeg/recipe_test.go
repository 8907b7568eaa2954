package jpeg

import (
	"fmt"
	"math"
	"slices"
)

// recipe says how a test picture is coded. The encoder is a plain one, written
// from T.81 for these tests: it writes what cameras write and the standard
// encoder does not.
type recipe struct {
	width, height int
	sampling      [][2]int // of each component, across and down
	coarse        int      // step of all coefficients but the first ones
	restart       int      // MCUs between restart markers
	separate      bool     // one scan for each component
	extended      bool     // SOF1 instead of SOF0
	deep          bool     // 16-bit quantisation tables
	fill          int      // fill bytes before each marker ahead of the scans
	fillAfter     int      // fill bytes before each marker that follows coded data
}

func (r recipe) String() string {
	return fmt.Sprintf("%dx%d %v step %d restart %d separate %t extended %t deep %t fill %d",
		r.width, r.height, r.sampling, r.coarse, r.restart, r.separate, r.extended, r.deep, r.fill)
}

// scene is the test picture: slopes, hard edges into black and white, a grain.
func scene(c, x, y int) float64 {
	v := 128 + 90*math.Sin(float64(x)/9+float64(c))*math.Cos(float64(y)/13)
	if (x/11+y/7)%5 == c {
		v = 255 * float64((x+y)/3%2)
	}
	grain := uint32(x*73856093 ^ y*19349663 ^ c*83492791)
	grain = (grain ^ grain>>13) * 0x5bd1e995
	v += float64(grain>>24)/8 - 16
	return min(max(math.Round(v), 0), 255)
}

func (r recipe) frame() *frame {
	f := &frame{width: r.width, height: r.height}
	for i, s := range r.sampling {
		f.comps = append(f.comps, component{id: byte(i + 1), h: s[0], v: s[1], quant: min(i, 1)})
	}
	if len(f.comps) == 1 {
		f.comps[0].h, f.comps[0].v = 1, 1
	}
	f.measure()
	return f
}

func (r recipe) quant(of int) [64]int {
	var q [64]int
	for k := range q {
		q[k] = 1 + r.coarse*(k+2)*(of+1)/12
		if !r.deep {
			q[k] = min(q[k], 255)
		}
	}
	return q
}

// encode writes the whole file.
func (r recipe) encode() []byte {
	f := r.frame()
	w := &writer{recipe: r, frame: f, dc: assign(dcCode()), ac: assign(acCode())}
	w.out = []byte{0xFF, 0xD8}
	for i := range min(len(f.comps), 2) {
		w.quantTable(i)
	}
	w.header()
	w.codeTables()
	if r.restart > 0 {
		w.marker(0xDD, []byte{byte(r.restart >> 8), byte(r.restart)})
	}
	if r.separate {
		for i := range f.comps {
			w.scan([]int{i})
		}
	} else {
		w.scan([]int{0, 1, 2}[:len(f.comps)])
	}
	w.marker(0xD9, nil)
	return w.out
}

type writer struct {
	recipe
	frame    *frame
	out      []byte
	acc      uint32
	n        int
	pred     [3]int
	scanning bool // coded data has begun
	dc, ac   [256]code
}

// code is what is written for a symbol.
type code struct {
	bits   uint32
	length int
}

func (w *writer) marker(m byte, p []byte) {
	fill := w.fill
	if w.scanning {
		fill = w.fillAfter
	}
	w.out = append(w.out, slices.Repeat([]byte{0xFF}, 1+fill)...)
	w.out = append(w.out, m)
	if m != 0xD9 && m&0xF8 != 0xD0 {
		w.out = append(w.out, byte((len(p)+2)>>8), byte(len(p)+2))
	}
	w.out = append(w.out, p...)
}

func (w *writer) quantTable(i int) {
	p := []byte{byte(i)}
	if w.deep {
		p[0] |= 0x10
	}
	for _, v := range w.recipe.quant(i) {
		if w.deep {
			p = append(p, byte(v>>8))
		}
		p = append(p, byte(v))
	}
	w.marker(0xDB, p)
}

func (w *writer) header() {
	p := []byte{8, byte(w.height >> 8), byte(w.height), byte(w.width >> 8), byte(w.width), byte(len(w.sampling))}
	for i, s := range w.sampling {
		p = append(p, byte(i+1), byte(s[0]<<4|s[1]), byte(min(i, 1)))
	}
	if w.extended {
		w.marker(0xC1, p)
		return
	}
	w.marker(0xC0, p)
}

// The codes of the tests have all lengths, so that long codes occur too.
func dcCode() (counts [17]int, symbols []byte) {
	counts = [17]int{2: 1, 3: 3, 4: 2, 5: 2, 6: 1, 7: 1, 8: 1, 12: 1}
	return counts, []byte{3, 2, 4, 5, 0, 1, 6, 7, 8, 9, 10, 11}
}

func acCode() (counts [17]int, symbols []byte) {
	counts = [17]int{2: 1, 3: 1, 4: 2, 5: 2, 6: 3, 7: 4, 8: 6, 9: 8, 10: 12, 11: 16, 12: 20, 13: 24, 14: 24, 15: 24, 16: 15}
	symbols = []byte{0x00, 0xF0}
	for run := range 16 {
		for size := 1; size <= 10; size++ {
			symbols = append(symbols, byte(run<<4|size))
		}
	}
	slices.SortStableFunc(symbols, func(a, b byte) int { return int(a>>4+a&15) - int(b>>4+b&15) })
	return counts, symbols
}

func (w *writer) codeTables() {
	for class, code := range []func() ([17]int, []byte){dcCode, acCode} {
		counts, symbols := code()
		p := []byte{byte(class << 4)}
		for _, n := range counts[1:] {
			p = append(p, byte(n))
		}
		w.marker(0xC4, append(p, symbols...))
	}
}

// scan writes the scan header and the coded data of some components.
func (w *writer) scan(which []int) {
	p := []byte{byte(len(which))}
	for _, i := range which {
		p = append(p, byte(i+1), 0)
	}
	w.marker(0xDA, append(p, 0, 63, 0))
	w.scanning = true
	s := scan{}
	for _, i := range which {
		c := &w.frame.comps[i]
		s.parts = append(s.parts, part{comp: c, h: c.h, v: c.v})
	}
	s.arrange(w.frame)
	w.pred = [3]int{}
	for mcu := range s.cols * s.rows {
		if w.restart > 0 && mcu > 0 && mcu%w.restart == 0 {
			w.flush()
			w.marker(0xD0|byte(mcu/w.restart-1)&7, nil)
			w.pred = [3]int{}
		}
		for i, part := range s.parts {
			for b := range part.h * part.v {
				w.block(which[i], mcu%s.cols*part.h+b%part.h, mcu/s.cols*part.v+b/part.h)
			}
		}
	}
	w.flush()
}

func (w *writer) put(v uint32, n int) {
	for i := n - 1; i >= 0; i-- {
		w.acc = w.acc<<1 | v>>i&1
		if w.n++; w.n == 8 {
			w.out = append(w.out, byte(w.acc))
			if byte(w.acc) == 0xFF {
				w.out = append(w.out, 0)
			}
			w.n = 0
		}
	}
}

// flush pads with ones to a whole byte.
func (w *writer) flush() {
	for w.n != 0 {
		w.put(1, 1)
	}
}

// assign gives each symbol its code (annex C).
func assign(counts [17]int, symbols []byte) (codes [256]code) {
	next := uint32(0)
	for length := 1; length <= 16; length++ {
		for range counts[length] {
			codes[symbols[0]] = code{next, length}
			symbols = symbols[1:]
			next++
		}
		next <<= 1
	}
	return codes
}

func (w *writer) symbol(c code) {
	if c.length == 0 {
		panic("no code for symbol")
	}
	w.put(c.bits, c.length)
}

func magnitude(v int) (bits uint32, size int) {
	for a := max(v, -v); a > 0; a >>= 1 {
		size++
	}
	if v < 0 {
		v += 1<<size - 1
	}
	return uint32(v), size
}

// block transforms (A.3.3), quantises and codes one block.
func (w *writer) block(c, col, row int) {
	levels := w.levels(c, col, row)
	bits, size := magnitude(levels[0] - w.pred[c])
	w.pred[c] = levels[0]
	w.symbol(w.dc[size])
	w.put(bits, size)
	run := 0
	for _, v := range levels[1:] {
		if v == 0 {
			run++
			continue
		}
		for ; run > 15; run -= 16 {
			w.symbol(w.ac[0xF0])
		}
		bits, size := magnitude(v)
		w.symbol(w.ac[run<<4|size])
		w.put(bits, size)
		run = 0
	}
	if run > 0 {
		w.symbol(w.ac[0])
	}
}

// levels gives the quantised coefficients in zig-zag order.
func (w *writer) levels(c, col, row int) (levels [64]int) {
	var f [64]float64
	comp := w.frame.comps[c]
	for y := range 8 {
		for x := range 8 { // the last row and column go on past the edge
			f[8*y+x] = scene(c, min(8*col+x, comp.width-1), min(8*row+y, comp.height-1)) - 128
		}
	}
	q := w.recipe.quant(comp.quant)
	full := forward(f)
	for k, at := range zigzag {
		levels[k] = min(max(int(math.Round(full[at]/float64(q[k]))), -1023), 1023)
	}
	return levels
}

// forward is the forward transform of A.3.3, one direction after the other.
func forward(f [64]float64) [64]float64 {
	var basis [8][8]float64
	for u := range 8 {
		for x := range 8 {
			basis[u][x] = math.Cos(float64(2*x+1)*float64(u)*math.Pi/16) / 2
		}
	}
	for x := range 8 {
		basis[0][x] /= math.Sqrt2
	}
	for _, stride := range []int{1, 8} {
		var out [64]float64
		for line := range 8 {
			for u := range 8 {
				sum := 0.0
				for x := range 8 {
					sum += f[line*(9-stride)+x*stride] * basis[u][x]
				}
				out[line*(9-stride)+u*stride] = sum
			}
		}
		f = out
	}
	return f
}
