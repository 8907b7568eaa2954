package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"storeyrod/defects"
)

// Spread is a set of readings of one quantity for a strip plot.
type Spread struct {
	Values       []defects.Decimal // in any order
	Unit         string
	Lower, Upper *defects.Decimal // the limit that all were held against; nil = none
	Mean         float64
	Places       int // of the figures worked out from them
	Interval     *SpreadInterval
	Flagged      *defects.Decimal // value that may be an outlier
	FlagWord     string           // "outlier" or "straggler"
}

// SpreadInterval is the tolerance interval of a strip plot; an end at infinity
// is open.
type SpreadInterval struct {
	Lower, Upper float64
	Words        string // what it covers: "90 %, with 95 % confidence"
}

// figure prints a figure worked out from the readings.
func (d Spread) figure(v float64) string { return strconv.FormatFloat(v, 'f', d.Places, 64) }

// Sizes of a strip plot in its own units; a phone shows it at about nine tenths.
const (
	stripWidth  = 420.0
	stripHeight = 214.0
	stripMargin = 22.0
	stripTop    = 46.0  // below the words on limits and mean
	stripFoot   = 138.0 // the axis
	stripMarks  = 400   // readings up to which each has its mark
	stripColumn = 7.0   // width of a column of marks
	stripDot    = 2.5   // radius of a mark
	stripBins   = 63
	stripLetter = 7.5 // a letter's width, at most
)

// stripPlot is the sketch of a strip plot with its scale.
type stripPlot struct {
	sketch
	lo, hi float64
}

func (p *stripPlot) at(v float64) float64 {
	return stripMargin + (v-p.lo)/(p.hi-p.lo)*(stripWidth-2*stripMargin)
}

// StripPlotSVG draws every reading as a mark over its value, equal ones on top of
// each other; more than 400 as the outline of their density. Limits are gauge
// marks, the mean is a needle, the tolerance interval a bar below the axis. What
// lies beyond a limit is a cross, not a dot. No readings give no drawing.
func StripPlotSVG(d Spread) string {
	if len(d.Values) == 0 {
		return ""
	}
	p := &stripPlot{}
	p.lo, p.hi = d.span()
	p.f(`<svg class="strip" viewBox="0 0 %g %g" role="img" aria-label="%s">`, stripWidth, stripHeight, esc(d.label()))
	p.limits(d)
	p.axis()
	if len(d.Values) > stripMarks {
		p.density(d)
	} else {
		p.marks(d)
	}
	p.mean(d)
	p.interval(d)
	p.b.WriteString("</svg>")
	return p.b.String()
}

// span chooses the ends of the axis so that readings, limits and interval fit.
func (d Spread) span() (lo, hi float64) {
	lo, hi = d.Values[0].Float(), d.Values[0].Float()
	take := func(v float64) {
		if !math.IsInf(v, 0) && !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	for _, v := range d.Values {
		take(v.Float())
	}
	for _, limit := range []*defects.Decimal{d.Lower, d.Upper} {
		if limit != nil {
			take(limit.Float())
		}
	}
	if d.Interval != nil {
		take(d.Interval.Lower)
		take(d.Interval.Upper)
	}
	pad := (hi - lo) * 0.06
	if pad == 0 {
		pad = math.Max(math.Abs(hi)*0.2, 1)
	}
	return lo - pad, hi + pad
}

func (d Spread) label() string {
	text := fmt.Sprintf("%d readings from %s to %s %s, mean %s", len(d.Values),
		slices.MinFunc(d.Values, defects.Decimal.Cmp), slices.MaxFunc(d.Values, defects.Decimal.Cmp), d.Unit, d.figure(d.Mean))
	if words := defects.LimitWords(defects.Verdict{Lower: d.Lower, Upper: d.Upper}, d.Unit); words != "" {
		text += ", limit " + words + ", " + strconv.Itoa(d.beyond()) + " beyond it"
	}
	if d.Interval != nil {
		text += ", " + d.intervalWords()
	}
	return text
}

// intervalWords says the tolerance interval with what it covers.
func (d Spread) intervalWords() string {
	i := d.Interval
	switch {
	case math.IsInf(i.Lower, 0):
		return i.Words + ": up to " + d.figure(i.Upper) + " " + d.Unit
	case math.IsInf(i.Upper, 0):
		return i.Words + ": from " + d.figure(i.Lower) + " " + d.Unit
	}
	return i.Words + ": " + d.figure(i.Lower) + " to " + d.figure(i.Upper) + " " + d.Unit
}

func (d Spread) out(v defects.Decimal) bool {
	return d.Lower != nil && v.Less(*d.Lower) || d.Upper != nil && d.Upper.Less(v)
}

func (d Spread) beyond() (n int) {
	for _, v := range d.Values {
		if d.out(v) {
			n++
		}
	}
	return n
}

func (p *stripPlot) limits(d Spread) {
	from, to := stripMargin/2, stripWidth-stripMargin/2
	if d.Lower != nil {
		from = p.at(d.Lower.Float())
	}
	if d.Upper != nil {
		to = p.at(d.Upper.Float())
	}
	if (d.Lower != nil || d.Upper != nil) && to > from {
		p.f(`<rect class="line-within" x="%.1f" y="%g" width="%.1f" height="10"/>`, from, stripFoot-5, to-from)
	}
	for i, limit := range []*defects.Decimal{d.Lower, d.Upper} {
		if limit == nil {
			continue
		}
		x, words := p.at(limit.Float()), "limit "+limit.String()
		p.f(`<path class="strip-limit" d="M%.1f %gV%gM%.1f %gh-6"/>`, x, stripTop-26, stripFoot+7, x+3, stripFoot+7)
		anchor, at := "start", x-2
		if i == 1 { // the upper one is written to the left of its mark
			anchor, at = "end", x+2
		}
		p.f(`<text class="strip-word" x="%.1f" y="14" text-anchor="%s">%s</text>`, at, anchor, esc(words))
	}
}

// axis draws the line with four to eight round figures below it.
func (p *stripPlot) axis() {
	p.f(`<path class="line-axis" d="M%g %gH%g"/>`, stripMargin/2, stripFoot, stripWidth-stripMargin/2)
	step := roundStep(p.hi-p.lo, 6)
	first := math.Ceil(p.lo/step) * step
	for n := range 12 { // a count, as adding a step to a large figure may change nothing
		v := first + float64(n)*step
		if v > p.hi {
			break
		}
		x := p.at(v)
		p.f(`<path class="strip-tick" d="M%.1f %gv6"/><text class="strip-figure" x="%.1f" y="%g" text-anchor="middle">%s</text>`,
			x, stripFoot, x, stripFoot+22, trimmed(v, step))
	}
}

// roundStep is 1, 2 or 5 times a power of ten, so that about n steps fit.
func roundStep(span float64, n int) float64 {
	raw := span / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*power {
			return m * power
		}
	}
	return 10 * power
}

// trimmed prints a figure of a scale with as many places as its step has.
func trimmed(v, step float64) string {
	places := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	if math.Abs(v) < step/2 {
		v = 0
	}
	return strconv.FormatFloat(v, 'f', places, 64)
}

// marks stacks the readings: those of one value over each other, or, where values
// lie too close together for that, those of a narrow column.
func (p *stripPlot) marks(d Spread) {
	sorted := slices.SortedFunc(slices.Values(d.Values), defects.Decimal.Cmp)
	place := p.placing(sorted)
	heights := map[float64]int{}
	tallest := 0
	for _, v := range sorted {
		heights[place(v)]++
		tallest = max(tallest, heights[place(v)])
	}
	pitch := math.Min(8, (stripFoot-stripTop-6)/float64(tallest))
	clear(heights)
	flagged := false
	for _, v := range sorted {
		x := place(v)
		y := stripFoot - 5 - float64(heights[x])*pitch
		heights[x]++
		if d.out(v) {
			p.f(`<path class="strip-cross" d="M%.1f %.1fl6 6m0 -6l-6 6"/>`, x-3, y-3)
		} else {
			p.f(`<circle class="strip-dot" cx="%.1f" cy="%.1f" r="%g"/>`, x, y, stripDot)
		}
		if d.Flagged != nil && !flagged && v.Cmp(*d.Flagged) == 0 {
			flagged = true
			p.f(`<circle class="strip-ring" cx="%.1f" cy="%.1f" r="7"/>`, x, y)
			p.word(x, y-10, d.FlagWord)
		}
	}
}

// placing is where along the axis a mark lies: right over its value, unless two
// values are so close that their marks would cover each other.
func (p *stripPlot) placing(sorted []defects.Decimal) func(defects.Decimal) float64 {
	for i := 1; i < len(sorted); i++ {
		if gap := p.at(sorted[i].Float()) - p.at(sorted[i-1].Float()); gap > 0 && gap < 2*stripDot {
			return func(v defects.Decimal) float64 {
				return stripMargin + (math.Floor((p.at(v.Float())-stripMargin)/stripColumn)+0.5)*stripColumn
			}
		}
	}
	return func(v defects.Decimal) float64 { return p.at(v.Float()) }
}

// density draws how many readings lie in each of equal parts of the axis.
func (p *stripPlot) density(d Spread) {
	var counts [stripBins]int
	tallest := 0
	for _, v := range d.Values {
		i := min(max(int((v.Float()-p.lo)/(p.hi-p.lo)*stripBins), 0), stripBins-1)
		counts[i]++
		tallest = max(tallest, counts[i])
	}
	width := (stripWidth - 2*stripMargin) / stripBins
	p.f(`<path class="strip-density" d="M%g %g`, stripMargin, stripFoot)
	for i, n := range counts {
		p.f(`V%.1fH%.1f`, stripFoot-float64(n)/float64(tallest)*(stripFoot-stripTop-4), stripMargin+float64(i+1)*width)
	}
	p.f(`V%gZ"/>`, stripFoot)
	if d.Flagged != nil {
		x := p.at(d.Flagged.Float())
		p.f(`<circle class="strip-ring" cx="%.1f" cy="%g" r="6"/>`, x, stripFoot-5)
		p.word(x, stripFoot-15, d.FlagWord)
	}
}

// word writes a word over a place, moved so far that it stays in the drawing.
func (p *stripPlot) word(x, y float64, word string) {
	half := stripLetter * float64(len([]rune(word))) / 2
	p.f(`<text class="strip-word" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, math.Max(math.Min(x, stripWidth-half), half), y, esc(word))
}

func (p *stripPlot) mean(d Spread) {
	x := p.at(d.Mean)
	p.f(`<path class="line-needle" d="M%.1f %gl-4 -9h8z"/>`, x, stripTop)
	p.word(x, stripTop-13, "mean "+d.figure(d.Mean)+" "+d.Unit)
}

func (p *stripPlot) interval(d Spread) {
	i := d.Interval
	if i == nil {
		return
	}
	y := stripFoot + 34
	from, to := stripMargin/2, stripWidth-stripMargin/2
	if !math.IsInf(i.Lower, 0) {
		from = p.at(i.Lower)
		p.f(`<path class="strip-end" d="M%.1f %gv12"/>`, from, y-6)
	}
	if !math.IsInf(i.Upper, 0) {
		to = p.at(i.Upper)
		p.f(`<path class="strip-end" d="M%.1f %gv12"/>`, to, y-6)
	}
	p.f(`<path class="strip-interval" d="M%.1f %gH%.1f"/>`, from, y, to)
	p.word(stripWidth/2, y+26, d.intervalWords())
}
