package server

import (
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// NewSurvey is a line and level survey as it was taken. Decimals may be strings or
// numbers; they are taken by their text.
type NewSurvey struct {
	Elevation    string     `json:"elevation" doc:"id, \"Building / Name\", or a name used once"`
	Stage        string     `json:"stage,omitempty"`
	DX           Exact      `json:"dx_m" doc:"step along the wall"`
	DZ           Exact      `json:"dz_m" doc:"step up the wall"`
	X            Exact      `json:"x_m,omitempty" doc:"of the bottom left point, from the elevation's left end"`
	Z            Exact      `json:"z_m,omitempty" doc:"of the bottom left point, above the base line"`
	Offsets      [][]*Exact `json:"offsets" doc:"mm, + towards the viewer; rows from the top down, as seen from outside; null = not taken"`
	Straightedge Exact      `json:"straightedge_m,omitempty" doc:"the longest to judge with; 4 when absent"`
	Expanded     Exact      `json:"expanded_uncertainty,omitempty" doc:"U of one offset in mm, k = 2"`
	Instrument   string     `json:"instrument,omitempty" doc:"id or name"`
	MeasuredAt   string     `json:"measured_at,omitempty" doc:"RFC 3339; now when absent"`
	By           string     `json:"by,omitempty" doc:"login of who measured; you when absent"`
	Note         string     `json:"note,omitempty" doc:"such as what the offsets are measured from"`
}

func (n NewSurvey) input() (register.SurveyInput, error) {
	in := register.SurveyInput{
		ElevationID: n.Elevation, Stage: n.Stage, DX: n.DX.text(), DZ: n.DZ.text(), X: n.X.text(), Z: n.Z.text(),
		Straightedge: n.Straightedge.text(), Expanded: n.Expanded.text(), InstrumentID: n.Instrument, MeasuredAt: n.MeasuredAt,
		ByLogin: n.By, Note: n.Note,
	}
	var text strings.Builder
	for r, row := range n.Offsets {
		if r > 0 {
			text.WriteByte('\n')
		}
		for c, cell := range row {
			if c > 0 {
				text.WriteByte(',')
			}
			if cell == nil {
				continue
			}
			if strings.ContainsAny(cell.text(), ",;\t\n\r") {
				return in, defects.RefuseField(defects.Invalid, "offsets", "bad_offset", "an offset is one number")
			}
			text.WriteString(cell.text())
		}
	}
	in.Offsets = text.String()
	return in, nil
}

// Survey is a stored survey with what it came to.
type Survey struct {
	ID           string      `json:"id"`
	ElevationID  string      `json:"elevation_id"`
	Stage        string      `json:"stage,omitempty"`
	Columns      int         `json:"columns"`
	Rows         int         `json:"rows"`
	DX           Exact       `json:"dx_m"`
	DZ           Exact       `json:"dz_m"`
	X            Exact       `json:"x_m"`
	Z            Exact       `json:"z_m"`
	Straightedge Exact       `json:"straightedge_m"`
	Expanded     *Exact      `json:"expanded_uncertainty,omitempty" doc:"as entered"`
	InstrumentID string      `json:"instrument_id,omitempty"`
	Instrument   string      `json:"instrument,omitempty"`
	MeasuredAt   string      `json:"measured_at"`
	By           Person      `json:"by"`
	Note         string      `json:"note,omitempty"`
	EnteredBy    Person      `json:"entered_by"`
	EnteredAt    string      `json:"entered_at"`
	Withdrawn    string      `json:"withdrawn,omitempty" doc:"reason"`
	Outcome      string      `json:"outcome" enum:"pass,conditional-pass,conditional-fail,fail,none"`
	Schedules    []string    `json:"schedules" doc:"in force when it was judged, the governing one first"`
	Rule         string      `json:"decision_rule"`
	U            *Exact      `json:"offset_uncertainty,omitempty" doc:"U of one offset that was used; a gap and a lean have √2 of it"`
	Expired      bool        `json:"calibration_expired,omitempty"`
	Flatness     SurveyWorst `json:"flatness" doc:"the finding that governs"`
	Plumb        SurveyWorst `json:"plumb" doc:"the finding that governs"`
	Version      int         `json:"version"`
	*SurveyMore
}

// SurveyWorst is a finding that governs.
type SurveyWorst struct {
	Value   *Exact  `json:"value_mm,omitempty"`
	Base    *Exact  `json:"base_length_m,omitempty"`
	Place   *Place  `json:"place,omitempty" doc:"of the gap, or of the top of the column"`
	Verdict Verdict `json:"verdict"`
}

// SurveyMore is what one survey shows and a list leaves out.
type SurveyMore struct {
	Offsets  [][]*Exact      `json:"offsets" doc:"as in a new survey"`
	Findings []SurveyFinding `json:"findings" doc:"flatness by base length, then plumb by column"`
	Gaps     []SurveyGap     `json:"largest_gaps" doc:"under straightedges of 1, 2 and 4 m"`
	Plane    *SurveyPlane    `json:"best_fit_plane,omitempty"`
	NoPlane  string          `json:"no_plane,omitempty" doc:"why there is none"`
	Dubbing  *SurveyDubbing  `json:"dubbing,omitempty"`
	Past     []SurveyPast    `json:"judged_before,omitempty"`
}

// SurveyFinding is one judged figure.
type SurveyFinding struct {
	Quantity string  `json:"quantity"`
	Value    Exact   `json:"value_mm"`
	Base     *Exact  `json:"base_length_m"`
	Places   []Place `json:"places" doc:"of the gap, or of bottom and top"`
	Verdict  Verdict `json:"verdict"`
}

// SurveyGap is the largest gap under a straightedge.
type SurveyGap struct {
	Straightedge float64 `json:"straightedge_m"`
	Depth        float64 `json:"depth_mm"`
	Base         float64 `json:"base_length_m,omitempty" doc:"between the high points"`
	From         *Place  `json:"from,omitempty"`
	To           *Place  `json:"to,omitempty"`
	At           *Place  `json:"at,omitempty"`
}

// SurveyPlane is the best-fit plane.
type SurveyPlane struct {
	Lean   float64  `json:"lean_mm_per_m" doc:"out of plumb, + outwards with height"`
	Turn   float64  `json:"turn_mm_per_m" doc:"turned on plan, + outwards to the right"`
	Twist  *float64 `json:"twist_mm,omitempty" doc:"how far the right end leans more than the left, over the grid"`
	RMS    float64  `json:"rms_mm" doc:"of the residuals"`
	Points int      `json:"points"`
	Method string   `json:"method"`
}

// SurveyDubbing is packing or dubbing-out to a plane.
type SurveyDubbing struct {
	Target    string      `json:"target"`
	CutBack   float64     `json:"cut_back_mm" doc:"what is cut back at most"`
	Greatest  float64     `json:"greatest_mm"`
	Mean      float64     `json:"mean_mm"`
	Volume    float64     `json:"volume_m3"`
	Area      float64     `json:"area_m2"`
	CellsOut  int         `json:"cells_left_out" doc:"for a corner that was not taken"`
	Thickness [][]*string `json:"thickness_mm" doc:"rows from the top down; below 0 = cut back"`
}

// SurveyPast is a verdict that was replaced.
type SurveyPast struct {
	Until    string      `json:"until"`
	By       Person      `json:"by" doc:"who judged it anew"`
	Reason   string      `json:"reason"`
	Outcome  string      `json:"outcome"`
	Now      string      `json:"replaced_by" doc:"outcome after"`
	Flatness PastVerdict `json:"flatness"`
	Plumb    PastVerdict `json:"plumb"`
}

func surveyOf(s defects.Survey) Survey {
	j := s.Judged
	return Survey{
		ID: s.ID, ElevationID: s.ElevationID, Stage: s.Stage, Columns: s.Columns, Rows: s.Rows, DX: mmText(s.DX), DZ: mmText(s.DZ),
		X: mmText(s.X), Z: mmText(s.Z), Straightedge: mmText(s.Longest), Expanded: exactOf(s.Expanded), InstrumentID: s.InstrumentID,
		Instrument: s.Instrument, MeasuredAt: stamp(s.MeasuredAt), By: Person{ID: s.ByID, Name: s.ByName}, Note: s.Note,
		EnteredBy: Person{ID: s.EnteredBy, Name: s.EnteredName}, EnteredAt: stamp(s.EnteredAt), Withdrawn: s.Withdrawn,
		Outcome: string(j.Outcome), Schedules: each(j.Schedules, itself), Rule: string(j.Rule), U: exactOf(j.Expanded), Expired: j.CalibrationExpired,
		Flatness: surveyWorstOf(s, j.Flatness), Plumb: surveyWorstOf(s, j.Plumb), Version: s.Version,
	}
}

func surveyWorstOf(s defects.Survey, w defects.SurveyWorst) SurveyWorst {
	out := SurveyWorst{Value: exactOf(w.Value), Base: exactOf(w.Base), Verdict: verdictOf(w.Verdict)}
	if w.Value != nil {
		place := placeOf(s.Place(w.At))
		out.Place = &place
	}
	return out
}

// surveyMoreOf adds what one survey shows.
func surveyMoreOf(v register.SurveyView, g defects.Grid, f defects.SurveyFigures, target defects.DubTarget) *SurveyMore {
	more := &SurveyMore{NoPlane: f.Why}
	for _, line := range strings.Split(v.Offsets, "\n") {
		var row []*Exact
		for _, cell := range strings.Split(line, ",") {
			e := Exact(cell)
			if row = append(row, &e); cell == "" {
				row[len(row)-1] = nil
			}
		}
		more.Offsets = append(more.Offsets, row)
	}
	for i, gap := range f.Gaps {
		out := SurveyGap{Straightedge: defects.Straightedges()[i], Depth: gap.Depth, Base: gap.Base}
		if gap.Depth > 0 {
			from, to, at := placeOf(v.Place(gap.From)), placeOf(v.Place(gap.To)), placeOf(v.Place(gap.At))
			out.From, out.To, out.At = &from, &to, &at
		}
		more.Gaps = append(more.Gaps, out)
	}
	for _, finding := range append(v.Verdict.Flatness[:len(v.Verdict.Flatness):len(v.Verdict.Flatness)], v.Verdict.Plumb...) {
		more.Findings = append(more.Findings, surveyFindingOf(v.Survey, finding))
	}
	if p := f.Plane; p != nil {
		more.Plane = &SurveyPlane{Lean: p.Lean, Turn: p.Turn, Twist: notNaN(p.Twist), RMS: p.RMS, Points: p.Points, Method: defects.MethodPlane}
	}
	if f.Dubbing != nil {
		more.Dubbing = dubbingOf(*f.Dubbing, g, target)
	}
	more.Past = each(v.Past, surveyPastOf)
	return more
}

func notNaN(f float64) *float64 {
	if f != f { //nolint:staticcheck // the one number that is not itself
		return nil
	}
	return &f
}

func surveyFindingOf(s defects.Survey, f defects.SurveyFinding) SurveyFinding {
	out := SurveyFinding{Quantity: f.Input.Quantity, Value: Exact(f.Input.Value.String()), Base: exactOf(f.Input.BaseLength), Verdict: verdictOf(f.Verdict)}
	points := f.Ends
	if f.Gap != nil {
		points = []defects.GridPoint{f.Gap.At}
	}
	for _, p := range points {
		out.Places = append(out.Places, placeOf(s.Place(p)))
	}
	return out
}

func dubbingOf(d defects.Dubbing, g defects.Grid, target defects.DubTarget) *SurveyDubbing {
	out := &SurveyDubbing{
		Target: string(target), CutBack: d.CutBack, Greatest: d.Greatest, Mean: d.Mean, Volume: d.Volume, Area: d.Area, CellsOut: d.CellsOut,
	}
	for r := g.Rows - 1; r >= 0; r-- {
		var row []*string
		for c := range g.Columns {
			var cell *string
			if t := notNaN(d.Thickness[r*g.Columns+c]); t != nil {
				text := strconv.FormatFloat(*t, 'f', 1, 64)
				cell = &text
			}
			row = append(row, cell)
		}
		out.Thickness = append(out.Thickness, row)
	}
	return out
}

func surveyPastOf(p register.PastSurveyVerdict) SurveyPast {
	of := func(b, after register.JudgedThen) PastVerdict {
		return pastVerdictOf(register.PastVerdict{At: p.At, By: p.By, Role: p.Role, Reason: p.Reason, Before: b, After: after})
	}
	return SurveyPast{
		Until: stamp(p.At), By: Person{Name: p.By, Role: p.Role}, Reason: p.Reason, Outcome: string(p.Before.Outcome), Now: string(p.After.Outcome),
		Flatness: of(p.Before.Flatness, p.After.Flatness), Plumb: of(p.Before.Plumb, p.After.Plumb),
	}
}
