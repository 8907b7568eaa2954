package report

import (
	"fmt"
	"math"

	"storeyrod/defects"
)

const (
	lineWidth  = 420.0
	lineMargin = 40.0
	lineLetter = 9.5 // a letter's width, at most
)

// NumberLineSVG draws a verdict: the limits as gauge marks on a line, the
// reading as a needle with the bar of its uncertainty (k = 2). A verdict
// without limits gives no drawing.
func NumberLineSVG(value defects.Decimal, unit string, v defects.Verdict) string {
	lo, hi, ok := span(value, v)
	if !ok {
		return ""
	}
	at := func(f float64) float64 { return lineMargin + (f-lo)/(hi-lo)*(lineWidth-2*lineMargin) }
	s := &sketch{}
	s.f(`<svg class="line" viewBox="0 0 %g 104" role="img" aria-label="%s">`, lineWidth, esc(lineLabel(value, unit, v)))
	s.within(v, at)
	s.f(`<path class="line-axis" d="M%g 60H%g"/>`, lineMargin/2, lineWidth-lineMargin/2)
	for _, limit := range []*defects.Decimal{v.Lower, v.Upper} {
		if limit != nil {
			x := at(limit.Float())
			s.f(`<path class="line-limit" d="M%.1f 40V80M%.1f 40h-6M%.1f 80h-6"/>`, x, x+3, x+3)
			s.f(`<text class="line-figure" x="%.1f" y="99" text-anchor="middle">%s</text>`, lineInside(x, limit.String()), esc(limit.String()))
		}
	}
	x := at(value.Float())
	if v.Expanded != nil && v.Expanded.Sign() > 0 {
		s.f(`<path class="line-u" d="M%.1f 60H%.1f"/>`, at(value.Float()-v.Expanded.Float()), at(value.Float()+v.Expanded.Float()))
	}
	s.f(`<path class="line-needle" d="M%.1f 62L%.1f 26h12z"/>`, x, x-6)
	s.f(`<text class="line-value" x="%.1f" y="18" text-anchor="middle">%s</text></svg>`, lineInside(x, value.String()+" "+unit), esc(value.String()+" "+unit))
	return s.b.String()
}

// lineInside moves the middle of words so far that they stay within the drawing.
func lineInside(x float64, words string) float64 {
	half := lineLetter * float64(len([]rune(words))) / 2
	return math.Max(math.Min(x, lineWidth-half), half)
}

// within shades what the limit allows; an open side runs to the line's end.
func (s *sketch) within(v defects.Verdict, at func(float64) float64) {
	from, to := lineMargin/2, lineWidth-lineMargin/2
	if v.Lower != nil {
		from = at(v.Lower.Float())
	}
	if v.Upper != nil {
		to = at(v.Upper.Float())
	}
	if to > from {
		s.f(`<rect class="line-within" x="%.1f" y="52" width="%.1f" height="16"/>`, from, to-from)
	}
}

func lineLabel(value defects.Decimal, unit string, v defects.Verdict) string {
	limit := ""
	switch {
	case v.Lower != nil && v.Upper != nil:
		limit = fmt.Sprintf("limits %s to %s", v.Lower, v.Upper)
	case v.Lower != nil:
		limit = "not below " + v.Lower.String()
	default:
		limit = "not above " + v.Upper.String()
	}
	u := ""
	if v.Expanded != nil {
		u = ", uncertainty " + v.Expanded.String()
	}
	return fmt.Sprintf("reading %s %s%s, %s: %s", value, unit, u, limit, v.Outcome)
}

// span chooses the ends of the line so that limits, reading and its bar fit.
func span(value defects.Decimal, v defects.Verdict) (lo, hi float64, ok bool) {
	if v.Lower == nil && v.Upper == nil {
		return 0, 0, false
	}
	u := 0.0
	if v.Expanded != nil {
		u = v.Expanded.Float()
	}
	lo, hi = value.Float()-u, value.Float()+u
	for _, limit := range []*defects.Decimal{v.Lower, v.Upper} {
		if limit != nil {
			lo, hi = math.Min(lo, limit.Float()), math.Max(hi, limit.Float())
		}
	}
	pad := (hi - lo) * 0.15
	if pad == 0 {
		pad = math.Max(math.Abs(hi)*0.2, 1)
	}
	return lo - pad, hi + pad, true
}
