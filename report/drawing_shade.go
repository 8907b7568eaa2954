package report

import (
	"fmt"
	"math"
	"strings"

	"storeyrod/defects"
)

// Shading is the deviation of a surveyed wall, laid over its drawing in bands of
// equal steps. Offsets are those of the grid, from whatever plane its maker chose.
type Shading struct {
	Survey defects.Survey
	Grid   defects.Grid
}

// ShadeBand is one step of a shading: offsets from From to To mm, of which + is in
// front, towards the viewer. Points counts those within.
type ShadeBand struct {
	Words  string
	Points int
	Sample string // a small SVG with the same hatching as on the drawing
	band   int
}

const (
	mostBands  = 4     // each side of the middle one
	shadeCells = 10000 // more are drawn by blocks
	shadeTexts = 600   // more offsets are not written one by one
	leastBand  = 1.0   // mm
)

// step is the height of a band in mm: the smallest of 1, 2, 5, 10 … with which the
// largest offset lies within the outermost band.
func (h Shading) step() float64 {
	most := 0.0
	for _, v := range h.Grid.Offsets {
		if !math.IsNaN(v) {
			most = max(most, math.Abs(v))
		}
	}
	for step := leastBand; ; step *= 10 {
		for _, times := range []float64{1, 2, 5} {
			if most < step*times*(mostBands+1) {
				return step * times
			}
		}
	}
}

// bandOf is 0 for what lies within a step of the plane, then 1, 2 … in front and
// −1, −2 … behind.
func bandOf(v, step float64) int {
	n := min(int(math.Abs(v)/step), mostBands)
	if v < 0 {
		return -n
	}
	return n
}

// Bands lists the bands that occur, from the most in front to the most behind.
func (h Shading) Bands() []ShadeBand {
	step, count := h.step(), map[int]int{}
	for _, v := range h.Grid.Offsets {
		if !math.IsNaN(v) {
			count[bandOf(v, step)]++
		}
	}
	var out []ShadeBand
	for band := mostBands; band >= -mostBands; band-- {
		if count[band] > 0 {
			out = append(out, ShadeBand{Words: bandWords(band, step), Points: count[band], Sample: shadeSample(band), band: band})
		}
	}
	return out
}

func bandWords(band int, step float64) string {
	from, to := float64(band)*step, float64(band+1)*step
	switch {
	case band == 0:
		return fmt.Sprintf("less than %g mm either way", step)
	case band < 0:
		return levelWords(from) + " to " + levelWords(from-step) + " mm, behind"
	}
	return levelWords(from) + " to " + levelWords(to) + " mm, in front"
}

// shadeClass names the hatching of a band: slanting strokes in front, level ones
// behind, the closer the further.
func shadeClass(band int) string {
	if band < 0 {
		return fmt.Sprintf("shade-behind-%d", -band)
	}
	return fmt.Sprintf("shade-front-%d", band)
}

func shadeSample(band int) string {
	fill := ""
	if band != 0 {
		fill = fmt.Sprintf(` fill="url(#%s)"`, shadeClass(band))
	}
	return `<svg class="sample" viewBox="-20 -20 640 340" aria-hidden="true"><rect class="shade-sample" width="600" height="300"` + fill + `/></svg>`
}

// shade draws the bands beneath everything else, and the offsets in whole
// millimetres where there is room for them.
func (s *sketch) shade(e defects.Elevation, h *Shading) {
	if h == nil {
		return
	}
	step := h.step()
	s.b.WriteString("<defs>")
	for band := 1; band <= mostBands; band++ {
		s.shadePattern(band)
		s.shadePattern(-band)
	}
	s.b.WriteString(`</defs><g class="shades">`)
	for _, band := range h.Bands() {
		if band.band != 0 {
			s.f(`<path class="shade" fill="url(#%s)" d="%s"/>`, shadeClass(band.band), s.shadePath(e, h, band.band, step))
		}
	}
	s.shadeTexts(e, h)
	s.b.WriteString("</g>")
}

// shadePattern defines a band's hatching; the further off, the closer its strokes.
func (s *sketch) shadePattern(band int) {
	side, steps := "shade-front", max(band, -band)
	gap := int(s.size) * [mostBands]int{16, 12, 9, 6}[steps-1] / 10
	strokes := fmt.Sprintf("M0 %[1]dL%[1]d 0M-%[1]d %[1]dL%[1]d -%[1]dM0 %[2]dL%[2]d 0", gap, 2*gap)
	if band < 0 {
		side, strokes = "shade-behind", fmt.Sprintf("M0 %dh%d", gap/2, gap)
	}
	s.f(`<pattern id="%s" patternUnits="userSpaceOnUse" width="%d" height="%d"><rect class="%s-ground shade-%d" width="%d" height="%d"/>`,
		shadeClass(band), gap, gap, side, steps, gap, gap)
	s.f(`<path class="%s-stroke" stroke-width="%d" d="%s"/></pattern>`, side, s.size/13, strokes)
}

// shadePath is the outline of a band: each row's runs of cells, a cell reaching
// halfway to the points beside it. A finer grid than can be drawn is taken in
// blocks, each by the offset in it that is furthest out.
func (s *sketch) shadePath(e defects.Elevation, h *Shading, band int, step float64) string {
	var b strings.Builder
	g := h.Grid
	block := 1
	for (g.Columns/block+1)*(g.Rows/block+1) > shadeCells {
		block++
	}
	for row := 0; row < g.Rows; row += block {
		for from := 0; from < g.Columns; {
			to := from
			for to < g.Columns && inBand(g, to, row, block, band, step) {
				to += block
			}
			if to > from {
				x0, y1 := s.shadeCorner(e, h, from, row)
				x1, y0 := s.shadeCorner(e, h, min(to, g.Columns), min(row+block, g.Rows))
				fmt.Fprintf(&b, "M%d %dH%dV%dH%dz", x0, y0, x1, y1, x0)
			}
			from = max(to, from+block)
		}
	}
	return b.String()
}

func inBand(g defects.Grid, column, row, block, band int, step float64) bool {
	worst := math.NaN()
	for r := row; r < min(row+block, g.Rows); r++ {
		for c := column; c < min(column+block, g.Columns); c++ {
			if v := g.At(c, r); math.IsNaN(worst) || math.Abs(v) > math.Abs(worst) {
				worst = v
			}
		}
	}
	return !math.IsNaN(worst) && bandOf(worst, step) == band
}

// shadeCorner is the left foot of a point's cell on the drawing, within the wall.
func (s *sketch) shadeCorner(e defects.Elevation, h *Shading, column, row int) (x, y defects.MM) {
	x = h.Survey.X + h.Survey.DX*defects.MM(2*column-1)/2
	z := h.Survey.Z + h.Survey.DZ*defects.MM(2*row-1)/2
	return min(max(x, 0), e.Length), s.y(min(max(z, 0), e.Height))
}

func (s *sketch) shadeTexts(e defects.Elevation, h *Shading) {
	size := s.size * 7 / 10
	if len(h.Grid.Offsets) > shadeTexts || h.Survey.DX < size*3 || h.Survey.DZ < size*3/2 {
		return
	}
	for i, v := range h.Grid.Offsets {
		x := h.Survey.X + h.Survey.DX*defects.MM(i%h.Grid.Columns)
		z := h.Survey.Z + h.Survey.DZ*defects.MM(i/h.Grid.Columns)
		if !math.IsNaN(v) && x <= e.Length && z <= e.Height {
			s.textOf(size, "shade-text", x, s.y(z)+size*36/100, "middle", levelWords(math.Round(v)))
		}
	}
}
