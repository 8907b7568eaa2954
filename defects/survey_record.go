package defects

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"
)

// Bounds of a survey that is stored, our own: they keep the search for gaps to a
// fraction of a second and the grid readable.
const (
	MaxSurveyBytes  = 1 << 20
	maxSurveyPoints = 40_000
	minSurveyStep   = MM(50)
	offsetPlaces    = 3 // a micrometre; no survey of a wall is finer
)

// Survey is a stored line and level survey of one elevation. Nobody edits it; a
// wrong one is withdrawn.
type Survey struct {
	ID          string
	SiteID      string
	ElevationID string
	Stage       string
	Columns     int
	Rows        int
	DX, DZ      MM       // steps along and up
	X, Z        MM       // of the bottom left point, as a place on the elevation
	Offsets     string   // as typed: rows from the top down, a line each, cells by commas; empty = not taken
	Longest     MM       // length of the straightedge
	Expanded    *Decimal // U (k = 2) of one offset in mm as entered; nil = from the instrument

	InstrumentID string
	Instrument   string // name, copied for lists
	MeasuredAt   time.Time
	ByID         string
	ByName       string
	Note         string // what the offsets are measured from
	EnteredBy    string
	EnteredName  string
	EnteredAt    time.Time
	Withdrawn    string // reason; "" = stands
	Judged       SurveyJudged
	Version      int
}

// SurveyJudged is what a survey came to, with all that repeats it: the verdict on
// every base length and column follows from the offsets and these.
type SurveyJudged struct {
	Schedules          []string // name@version, the governing one first
	Rule               Rule
	Guard              Decimal
	Expanded           *Decimal // U (k = 2) of one offset that was used; nil = not known
	CalibrationExpired bool
	Outcome            Outcome
	Flatness           SurveyWorst
	Plumb              SurveyWorst
}

// SurveyWorst is the finding that governs: its figure in mm, the base length in
// metres and where it is (the gap, or the top of the column). A survey without
// such a finding has NoVerdict and no value.
type SurveyWorst struct {
	Value   *Decimal
	Base    *Decimal
	At      GridPoint
	Verdict Verdict
}

// ParseOffsets reads the offsets of a grid from text, as they stand on the wall
// seen from outside: the first line is the top row, the first cell the left end.
// Cells are parted by tabs, else by semicolons, else by commas; an empty cell or
// "-" was not taken. Numbers are millimetres with a decimal point. The size is
// checked before anything is read. Refusals name field "offsets" and the cell.
// The answer is the grid without its steps, and the text as it is stored.
func ParseOffsets(text string) (Grid, string, error) {
	bad := func(code, format string, args ...any) (Grid, string, error) {
		return Grid{}, "", RefuseField(Invalid, "offsets", code, fmt.Sprintf(format, args...))
	}
	switch {
	case len(text) > MaxSurveyBytes:
		return Grid{}, "", RefuseField(TooLarge, "offsets", "survey_too_large", fmt.Sprintf("a survey has at most %d bytes", MaxSurveyBytes))
	case !utf8.ValidString(text):
		return bad("not_utf8", "the text is not UTF-8; save the table as UTF-8")
	}
	text = strings.TrimPrefix(strings.ReplaceAll(text, "\r\n", "\n"), "\ufeff")
	text = strings.TrimRight(text, " \n")
	if text == "" {
		return bad("no_offsets", "there are no offsets")
	}
	separator := ","
	for _, s := range []string{";", "\t"} {
		if strings.Contains(text, s) {
			separator = s
		}
	}
	first, _, _ := strings.Cut(text, "\n")
	g := Grid{Columns: strings.Count(first, separator) + 1, Rows: strings.Count(text, "\n") + 1}
	if g.Columns > maxSurveyPoints || g.Rows > maxSurveyPoints || g.Columns*g.Rows > maxSurveyPoints {
		return bad("bad_grid", "a survey has at most %d points; cut the wall in parts", maxSurveyPoints)
	}
	g.Offsets = make([]float64, g.Columns*g.Rows)
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		cells := strings.Split(line, separator)
		if len(cells) != g.Columns {
			return bad("bad_grid", "row %d has %d cells and the first row %d", i+1, len(cells), g.Columns)
		}
		for c, cell := range cells {
			kept, v, err := offset(cell)
			if err != nil {
				return bad("bad_offset", "row %d, cell %d: %s", i+1, c+1, err)
			}
			cells[c], g.Offsets[(g.Rows-1-i)*g.Columns+c] = kept, v
		}
		lines[i] = strings.Join(cells, ",")
	}
	if g.Known() == 0 {
		return bad("no_offsets", "no point was taken")
	}
	return g, strings.Join(lines, "\n"), nil
}

// offset reads one cell.
func offset(cell string) (kept string, v float64, err error) {
	cell = strings.TrimSpace(cell)
	if cell == "" || cell == "-" {
		return "", math.NaN(), nil
	}
	d, err := ParseDecimal(cell)
	switch {
	case err != nil:
		return "", 0, err
	case d.Round(offsetPlaces).Cmp(d) != 0:
		return "", 0, badNumber(cell, "is finer than a thousandth of a millimetre")
	case d.Abs().Cmp(DecimalOf(maxOffset)) > 0:
		return "", 0, badNumber(cell, "lies beyond 10 m")
	}
	return d.String(), d.Float(), nil
}

// Grid is the survey as the mathematics takes it.
func (s Survey) Grid() (Grid, error) {
	g, _, err := ParseOffsets(s.Offsets)
	g.DX, g.DZ = float64(s.DX)/1000, float64(s.DZ)/1000
	return g, err
}

// Width and Height are what the grid spans.
func (s Survey) Width() MM { return s.DX * MM(s.Columns-1) }

// Height is how far the grid reaches up.
func (s Survey) Height() MM { return s.DZ * MM(s.Rows-1) }

// Place is where a point of the grid lies on the elevation.
func (s Survey) Place(p GridPoint) Place {
	x, z := s.X+s.DX*MM(p.Column), s.Z+s.DZ*MM(p.Row)
	return Place{ElevationID: s.ElevationID, X: &x, Z: &z}
}

// CheckSurvey refuses a grid that does not lie on the elevation or whose steps or
// straightedge are none (codes bad_grid, outside_elevation, bad_value).
func CheckSurvey(e Elevation, s Survey) error {
	step := func(field string, d MM) error {
		if d < minSurveyStep || d > maxGridStep*1000 {
			return RefuseField(Invalid, field, "bad_grid", fmt.Sprintf("a step is %s to %d m", minSurveyStep.Metres(), maxGridStep))
		}
		return nil
	}
	if err := step("dx_m", s.DX); err != nil {
		return err
	}
	if err := step("dz_m", s.DZ); err != nil {
		return err
	}
	if s.Longest < 2*minSurveyStep || s.Longest > 10_000 {
		return RefuseField(Invalid, "straightedge_m", "bad_value", "a straightedge is 0.1 to 10 m long")
	}
	top := GridPoint{s.Columns - 1, s.Rows - 1}
	switch {
	case s.X < 0 || s.X > e.Length || *s.Place(top).X > e.Length:
		return RefuseField(Invalid, "x_m", "outside_elevation", fmt.Sprintf(
			"the grid runs from %s to %s m along an elevation of %s m", s.X.Metres(), s.Place(top).X.Metres(), e.Length.Metres()))
	case s.Z < -e.BaseLine || *s.Place(top).Z > e.Height:
		return RefuseField(Invalid, "z_m", "outside_elevation", fmt.Sprintf(
			"the grid runs from %s to %s m up an elevation of %s m", s.Z.Metres(), s.Place(top).Z.Metres(), e.Height.Metres()))
	}
	return nil
}

// DifferenceUncertainty is the U of a difference of two figures that have each
// the same U: √2 of it, rounded up to thousandths; nil for nil. A gap under a
// straightedge is that of one offset from a mean of two others and has no more.
func DifferenceUncertainty(u *Decimal) *Decimal {
	if u == nil {
		return nil
	}
	d, ok := DecimalFromFloat(math.Ceil(u.Float()*math.Sqrt2*1000-1e-6)/1000, 3)
	if !ok {
		return nil
	}
	return &d
}

// JudgeStored gives a stored survey its findings under the schedules, the
// governing one first.
func JudgeStored(s Survey, j SurveyJudged, schedules []*Limits) (SurveyVerdict, error) {
	g, err := s.Grid()
	if err != nil {
		return SurveyVerdict{}, err
	}
	common := Input{Stage: s.Stage, Expanded: DifferenceUncertainty(j.Expanded), CalibrationExpired: j.CalibrationExpired}
	return JudgeSurvey(g, common, float64(s.Longest)/1000, schedules, j.Rule, j.Guard)
}

// Keep notes what a survey's findings came to.
func (j *SurveyJudged) Keep(v SurveyVerdict) {
	j.Outcome = v.Outcome
	j.Flatness, j.Plumb = worstOf(v.Flatness), worstOf(v.Plumb)
}

// Governing is the finding of a list that governs: of the worst outcome, the one
// that uses most of its limit. It is nil for an empty list.
func Governing(list []SurveyFinding) *SurveyFinding {
	outcomes := make([]Outcome, len(list))
	for i, f := range list {
		outcomes[i] = f.Verdict.Outcome
	}
	var governing *SurveyFinding
	worst, most := Worst(outcomes...), -1.0
	for i, f := range list {
		share := math.Abs(f.Input.Value.Float())
		if up := f.Verdict.Upper; up != nil && up.Sign() > 0 {
			share /= up.Float()
		}
		if f.Verdict.Outcome == worst && share > most {
			most, governing = share, &list[i]
		}
	}
	return governing
}

func worstOf(list []SurveyFinding) SurveyWorst {
	f := Governing(list)
	if f == nil {
		return SurveyWorst{Verdict: Verdict{Outcome: NoVerdict}}
	}
	value, base := f.Input.Value, *f.Input.BaseLength
	w := SurveyWorst{Value: &value, Base: &base, Verdict: f.Verdict}
	if f.Gap != nil {
		w.At = f.Gap.At
	} else {
		w.At = f.Ends[1]
	}
	return w
}
