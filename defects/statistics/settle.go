package statistics

import (
	"fmt"
	"math"
	"strings"
)

// Doubt is a reading that lies closer to a limit than its guard band.
type Doubt struct {
	Y         float64
	Tolerance Interval
	R         float64 // guard band w = R·k·u; 1 is usual
	K         float64 // coverage factor of U; 2 is usual
	Repeat    float64 // s of single repeats about their mean; 0 = not known
	N         int     // repeats behind Y, at least 1
	Rest      float64 // standard uncertainty that repeating does not lessen
	Unit      string  // of all of these, for the words; "" leaves it out
}

// Settlement says what would take a reading out of the conditional zone, if its
// mean stays where it is.
type Settlement struct {
	Settled  bool    // it is outside the zone already
	Standard float64 // largest combined standard uncertainty that would settle it
	Expanded float64 // the same times k
	Repeats  int     // repeats in all that reach it; 0 = repeating alone cannot
	Possible bool    // false: the value lies on the limit
	Text     string
}

// maxRepeats is where asking for more repeats stops being an answer.
const maxRepeats = 200

// Settle works out the number of repeats, or the uncertainty of a better
// instrument, that would give a pass or a fail without condition.
func Settle(d Doubt) (Settlement, error) {
	switch {
	case !finite(d.Y, d.R, d.K, d.Repeat, d.Rest) || d.R <= 0 || d.K <= 0 || d.Repeat < 0 || d.Rest < 0 || d.N < 1:
		return Settlement{}, bad("doubt", CodeBadValue, "guard factor, coverage factor and uncertainties must be numbers above 0")
	case d.Tolerance.Lower == nil && d.Tolerance.Upper == nil:
		return Settlement{}, bad("limits", CodeBadValue, "there is no limit to settle against")
	}
	margin := math.Inf(1)
	for _, end := range []*float64{d.Tolerance.Lower, d.Tolerance.Upper} {
		if end != nil {
			margin = min(margin, math.Abs(d.Y-*end))
		}
	}
	s := Settlement{Standard: margin / (d.R * d.K), Expanded: margin / d.R, Possible: margin > 0}
	now := math.Hypot(d.Repeat/math.Sqrt(float64(d.N)), d.Rest)
	switch {
	case !s.Possible:
		s.Text = "cannot be settled by measuring: the value lies on the limit"
	case now <= s.Standard:
		s.Settled, s.Repeats = true, d.N
		s.Text = "settled: the value lies clear of the limit by its guard band"
	default:
		s.Repeats = repeatsFor(d, s.Standard)
		s.Text = s.words(d)
	}
	return s, nil
}

func repeatsFor(d Doubt, standard float64) int {
	if d.Repeat == 0 || d.Rest >= standard {
		return 0
	}
	need := d.Repeat * d.Repeat / (standard*standard - d.Rest*d.Rest)
	if need > maxRepeats {
		return 0
	}
	n := max(int(math.Ceil(need*(1-1e-12))), 1)
	return n
}

func (s Settlement) words(d Doubt) string {
	instrument := "an instrument with U of at most " + cutTwo(s.Expanded, d.Unit) + " would settle it"
	switch {
	case s.Repeats > 0:
		return fmt.Sprintf("%d repeats in all would settle it if their mean stays; or %s", s.Repeats, instrument)
	case d.Repeat == 0:
		return instrument
	}
	return "repeating alone cannot settle it; " + instrument
}

// cutTwo prints a figure that must not be exceeded with two significant digits,
// rounded down, and its unit.
func cutTwo(v float64, unit string) string {
	if v > 0 && finite(v) {
		step := math.Pow(10, math.Floor(math.Log10(v))-1)
		v = math.Floor(v/step*(1+1e-12)) * step
	}
	return strings.TrimSpace(fmt.Sprintf("%.2g %s", v, unit))
}
