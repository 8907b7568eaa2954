package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"storeyrod/defects/statistics"
)

// Sizes of a control chart in pixels of the screen; a long one scrolls.
const (
	chartLeft   = 58.0 // room for the figures
	chartRight  = 10.0
	chartTop    = 22.0
	levelHeight = 130.0
	chartGap    = 34.0
	partHeight  = 70.0
	leastStep   = 6.0
	mostStep    = 24.0
	usualLength = 560.0
)

// ControlChartSVG draws the two parts of a control chart: the level with its
// centre line and control limits, and below it the spread. A point beyond its
// limits is a diamond with the word "out" over it. Everything it shows stands in
// its table too. Figures are printed with the places given.
func ControlChartSVG(c statistics.Chart, unit string, places int) string {
	if len(c.Points) == 0 {
		return ""
	}
	s := &sketch{}
	step := math.Max(math.Min(usualLength/float64(len(c.Points)), mostStep), leastStep)
	width := chartLeft + step*float64(len(c.Points)) + chartRight
	s.f(`<svg class="chart" width="%.0f" height="%g" viewBox="0 0 %.0f %g" role="img" aria-label="%s">`, width,
		chartTop+levelHeight+chartGap+partHeight+8, width, chartTop+levelHeight+chartGap+partHeight+8, esc(chartLabel(c, unit, places)))
	level, spread := chartPart{top: chartTop, height: levelHeight, step: step, places: places, limits: c.Level}, chartPart{top: chartTop + levelHeight + chartGap, height: partHeight, step: step, places: places, limits: c.Spread}
	words := [2]string{"value, " + unit, "moving range"}
	if c.Kind != "individuals" {
		words = [2]string{"mean of a run, " + unit, "s of a run"}
	}
	for _, p := range c.Points {
		level.values, spread.values = append(level.values, p.Level), append(spread.values, p.Spread)
	}
	level.draw(s, words[0], width)
	spread.draw(s, words[1], width)
	s.b.WriteString("</svg>")
	return s.b.String()
}

func chartLabel(c statistics.Chart, unit string, places int) string {
	figure := func(v float64) string { return strconv.FormatFloat(v, 'f', places, 64) }
	out := 0
	for _, p := range c.Points {
		if p.Outside {
			out++
		}
	}
	return fmt.Sprintf("control chart of %d points, centre %s %s, control limits %s to %s, %d points beyond the limits; the table below says the same",
		len(c.Points), figure(c.Level.Centre), unit, figure(c.Level.Lower), figure(c.Level.Upper), out)
}

// chartPart is one of the two drawings of a control chart.
type chartPart struct {
	top, height, step float64
	places            int
	limits            statistics.ChartLimits
	values            []float64
	lo, hi            float64
}

func (p *chartPart) x(i int) float64 { return chartLeft + (float64(i)+0.5)*p.step }

func (p *chartPart) y(v float64) float64 { return p.top + p.height - (v-p.lo)/(p.hi-p.lo)*p.height }

func (p *chartPart) draw(s *sketch, words string, width float64) {
	p.span()
	s.f(`<text class="strip-word" x="2" y="%g">%s</text>`, p.top-8, esc(words))
	for _, line := range []struct {
		at    float64
		class string
	}{{p.limits.Upper, "chart-limit"}, {p.limits.Centre, "chart-centre"}, {p.limits.Lower, "chart-limit"}} {
		y := p.y(line.at)
		s.f(`<path class="%s" d="M%g %.1fH%.1f"/><text class="strip-figure" x="%g" y="%.1f" text-anchor="end">%s</text>`,
			line.class, chartLeft, y, width-chartRight, chartLeft-4, y+4, strconv.FormatFloat(line.at, 'f', p.places, 64))
	}
	var run strings.Builder
	pen := "M"
	for i, v := range p.values {
		if math.IsNaN(v) {
			continue
		}
		fmt.Fprintf(&run, "%s%.1f %.1f", pen, p.x(i), p.y(v))
		pen = "L"
	}
	s.f(`<path class="chart-run" d="%s"/>`, run.String())
	for i, v := range p.values {
		switch x := p.x(i); {
		case math.IsNaN(v):
		case p.limits.Out(v):
			y := p.y(v)
			s.f(`<path class="chart-out" d="M%.1f %.1fl5 5l-5 5l-5 -5z"/><text class="strip-word" x="%.1f" y="%.1f" text-anchor="middle">out</text>`, x, y-5, x, y-8)
		default:
			s.f(`<circle class="chart-point" cx="%.1f" cy="%.1f" r="2.5"/>`, x, p.y(v))
		}
	}
}

// span chooses the ends of the scale so that limits and points fit.
func (p *chartPart) span() {
	p.lo, p.hi = p.limits.Lower, p.limits.Upper
	for _, v := range p.values {
		if !math.IsNaN(v) {
			p.lo, p.hi = math.Min(p.lo, v), math.Max(p.hi, v)
		}
	}
	pad := (p.hi - p.lo) * 0.08
	if pad == 0 {
		pad = 1
	}
	p.lo, p.hi = p.lo-pad, p.hi+pad
}
