package defects

import "math"

// SurveyFinding is one judged figure of a survey.
type SurveyFinding struct {
	Input   Input
	Verdict Verdict
	Gap     *Gap        // flatness: where
	Ends    []GridPoint // plumb: bottom and top
}

// SurveyVerdict holds the findings of a survey against the schedules handed in:
// the worst flatness and the worst plumb govern. Flatness has one finding for
// each base length that occurs, or, where the limit is listed for straightedges of
// certain lengths, one for each of these; plumb one for each column.
type SurveyVerdict struct {
	Outcome  Outcome
	Flatness []SurveyFinding
	Plumb    []SurveyFinding
	Missing  int // points of the grid that were not taken
}

// JudgeSurvey holds a grid against the first schedule that has a limit, as
// JudgeGoverning does. common gives stage, zone, U and calibration; longest is the
// length of the straightedge in metres. A grid with neither a gap to judge nor a
// column of two points has no verdict.
func JudgeSurvey(g Grid, common Input, longest float64, schedules []*Limits, rule Rule, r Decimal) (SurveyVerdict, error) {
	byBase, err := g.GapsByBase(longest)
	if err != nil {
		return SurveyVerdict{}, err
	}
	gaps := underListed(byBase, common, longest, schedules)
	v := SurveyVerdict{Missing: len(g.Offsets) - g.Known()}
	var outcomes []Outcome
	judge := func(quantity string, value, base float64) SurveyFinding {
		in := common
		in.Quantity, in.Unit = quantity, "mm"
		in.Value = survey(value, 3)
		length := survey(base, 6)
		in.BaseLength = &length
		f := SurveyFinding{Input: in, Verdict: JudgeGoverning(in, schedules, rule, r)}
		outcomes = append(outcomes, f.Verdict.Outcome)
		return f
	}
	for _, gap := range gaps {
		f := judge("flatness", gap.Depth, gap.Under)
		f.Gap = &gap.Gap
		v.Flatness = append(v.Flatness, f)
	}
	for c := range g.Columns {
		bottom, top := g.ends(c)
		if top <= bottom {
			continue
		}
		f := judge("plumb", g.At(c, top)-g.At(c, bottom), float64(top-bottom)*g.DZ)
		f.Ends = []GridPoint{{c, bottom}, {c, top}}
		v.Plumb = append(v.Plumb, f)
	}
	v.Outcome = Worst(outcomes...)
	return v, nil
}

// lengthGap is a gap with the length in metres that its limit goes by.
type lengthGap struct {
	Gap
	Under float64
}

// underListed chooses the lengths that flatness is judged over. A limit goes by
// the distance of the high points; one that is listed for a straightedge of 1 or
// 2 m is held against the largest gap under a straightedge of that length, since
// it would say nothing of high points that lie closer.
func underListed(gaps []Gap, in Input, longest float64, schedules []*Limits) []lengthGap {
	in.Quantity = "flatness"
	var out []lengthGap
	for _, length := range listedLengths(&in, schedules) {
		if length > longest+slackLength {
			continue
		}
		deepest := lengthGap{Under: length}
		for _, gap := range gaps {
			if gap.Base <= length+slackLength && gap.Depth > deepest.Depth {
				deepest.Gap = gap
			}
		}
		if deepest.Depth > 0 {
			out = append(out, deepest)
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, gap := range gaps {
		out = append(out, lengthGap{gap, gap.Base})
	}
	return out
}

// listedLengths are the lengths of the governing limit when it is listed.
func listedLengths(in *Input, schedules []*Limits) []float64 {
	for _, l := range schedules {
		q := l.by[in.Quantity]
		if q == nil {
			continue
		}
		c, _ := pick(q.single, in)
		if c == nil {
			continue
		}
		if c.limit.Kind != ListedLimit {
			return nil
		}
		var out []float64
		for _, s := range c.limit.Steps {
			out = append(out, s.UpTo.Float())
		}
		return out
	}
	return nil
}

// ends are the lowest and the highest row taken in a column; both 0 when fewer
// than two were.
func (g Grid) ends(column int) (bottom, top int) {
	bottom = -1
	for r := range g.Rows {
		if math.IsNaN(g.At(column, r)) {
			continue
		}
		if bottom < 0 {
			bottom = r
		}
		top = r
	}
	return max(bottom, 0), top
}

// survey rounds a computed figure to the places a survey can have; the grid's
// check keeps it in range.
func survey(v float64, places int) Decimal {
	d, _ := DecimalFromFloat(v, places)
	return d
}
