package defects

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Choice is one line of a project's own schedule: a line of another schedule as
// it stands or with other figures, or a new plain one.
type Choice struct {
	From string // "name@version#line", lines from 1; "" = a new line
	// Figures replace those of the line; nil ones stay. A table by base length
	// takes Steps in place of its columns' figures, as many as it has.
	Lower, Upper, Figure *Decimal
	Steps                []*Decimal
	Reason               string // needed with changed figures and for a new line

	Quantity string // of a new line
	Source   string // of a new line: the clause or drawing it stands in
	Zone     Zone
	Stage    string
}

// Composition is a project's own schedule as somebody puts it together.
type Composition struct {
	Name   string
	Title  string
	Rank   Rank // ContractRank, ProjectRank, ApprovalRank or LawRank
	Agreed Agreed
	Notes  string
	Lines  []Choice
}

// Compose makes a schedule of chosen lines. A line taken over keeps its source
// and its basis; one with changed figures is the project's own, says from which
// line it comes and why it was changed. The result is checked as Compile does;
// codes are bad_schedule, unknown_line, reason_missing and not_agreed, with the
// line's place in Field ("lines[2]").
func Compose(c Composition, find func(ref string) (Schedule, bool)) (Schedule, error) {
	s := Schedule{Name: c.Name, Version: 1, Title: c.Title, Basis: Project, Rank: c.Rank, Agreed: c.Agreed, Notes: c.Notes}
	if strings.TrimSpace(c.Agreed.By) == "" || c.Agreed.On == "" {
		return s, RefuseField(Invalid, "agreed_by", "not_agreed", "say who agreed these limits, and on which day")
	}
	for i, choice := range c.Lines {
		l, err := choice.limit(find)
		if err != nil {
			return s, atLine(err, i)
		}
		s.Limits = append(s.Limits, l)
	}
	_, err := Compile(s)
	return s, err
}

func atLine(err *Error, i int) error {
	return RefuseField(err.Kind, fmt.Sprintf("lines[%d]", i), err.Code, fmt.Sprintf("line %d: %s", i+1, err.Text))
}

func (c Choice) limit(find func(string) (Schedule, bool)) (Limit, *Error) {
	needsReason := Refuse(Invalid, "reason_missing", "say why the project asks for this figure")
	reason := strings.TrimSpace(c.Reason)
	if c.From == "" {
		if reason == "" && strings.TrimSpace(c.Source) == "" {
			return Limit{}, needsReason
		}
		return Limit{
			Quantity: c.Quantity, Kind: FixedLimit, Lower: c.Lower, Upper: c.Upper, Zone: c.Zone, Stage: c.Stage,
			Clause: strings.TrimSpace(c.Source), Reason: reason, Basis: Project,
		}, nil
	}
	from, l, ok := findLine(c.From, find)
	if !ok {
		return l, Refuse(Invalid, "unknown_line", "there is no line "+strconv.Quote(clip(c.From, 80)))
	}
	changed, err := c.change(&l)
	if err != nil || !changed {
		return l, err
	}
	if reason == "" {
		return l, needsReason
	}
	original := l.Title
	for _, part := range []string{l.Edition, l.Clause, l.Line} {
		if part != "" {
			original += ", " + part
		}
	}
	l.Line, l.Reason = "in place of "+original, reason
	if from.Basis == Project && l.From != "" { // changed before: keep the first original
		l.Line = from.Limits[lineOf(c.From)-1].Line
	}
	l.Title, l.Edition, l.Clause, l.Basis = "", "", "", Project
	return l, nil
}

// findLine looks a line up and fills its source in from its schedule.
func findLine(ref string, find func(string) (Schedule, bool)) (Schedule, Limit, bool) {
	name, _, _ := strings.Cut(ref, "#")
	s, ok := find(name)
	n := lineOf(ref)
	if !ok || n < 1 || n > len(s.Limits) {
		return s, Limit{}, false
	}
	l := s.Limits[n-1]
	l.Steps = slices.Clone(l.Steps)
	if l.Title == "" && l.Reason == "" {
		l.Title = s.Title
	}
	if l.Edition == "" && l.Reason == "" {
		l.Edition = s.Edition
	}
	if l.Basis == "" {
		l.Basis = s.Basis
	}
	if l.From == "" {
		l.From = ScheduleRef(s) + "#" + strconv.Itoa(n)
	}
	return s, l, true
}

func lineOf(ref string) int {
	_, line, _ := strings.Cut(ref, "#")
	n, _ := strconv.Atoi(line)
	return n
}

// change puts other figures into a line and reports whether any differs.
func (c Choice) change(l *Limit) (bool, *Error) {
	changed := false
	for _, f := range []struct {
		name string
		to   **Decimal
		with *Decimal
	}{{"lower", &l.Lower, c.Lower}, {"upper", &l.Upper, c.Upper}, {"figure", l.figure(), c.Figure}} {
		switch {
		case f.with == nil:
		case f.to == nil || *f.to == nil:
			return false, Refuse(Invalid, "no_such_figure", "the line has no "+f.name+" figure to change")
		case (*f.to).Cmp(*f.with) != 0:
			*f.to, changed = f.with, true
		}
	}
	if len(c.Steps) > 0 && len(c.Steps) != len(l.Steps) {
		return false, Refuse(Invalid, "bad_columns", fmt.Sprintf("the line has %d columns, not %d", len(l.Steps), len(c.Steps)))
	}
	for i, with := range c.Steps {
		if with != nil && (l.Steps[i].Figure == nil || l.Steps[i].Figure.Cmp(*with) != 0) {
			l.Steps[i].Figure, changed = with, true
		}
	}
	return changed, nil
}

// figure is the one figure that stands for the limit's kind, nil where there is
// none.
func (l *Limit) figure() **Decimal {
	switch l.Kind {
	case ProRataLimit, LargerOfLimit, MeanOfEightLimit, PerNominalLimit, InverseNominalLimit, DewPointLimit:
		return &l.Figure
	case DensityLimit:
		return &l.PerArea
	case SetMinimumLimit:
		return &l.MeanLower
	}
	return nil
}

// NoFigure stands for a column without a figure where columns are typed.
const NoFigure = "-"

// FigureField is one figure of a limit that a project may change: the name that
// Choice knows it by, what a person calls it, and its present text.
type FigureField struct{ Name, Label, Text string }

// Figures lists the figures of a limit that Choice can change. The columns of a
// table come as one text, separated by spaces.
func (l Limit) Figures() []FigureField {
	var out []FigureField
	if l.Lower != nil {
		out = append(out, FigureField{"lower", "at least", l.Lower.String()})
	}
	if l.Upper != nil {
		out = append(out, FigureField{"upper", "at most", l.Upper.String()})
	}
	if f := l.figure(); f != nil && *f != nil {
		label := "figure"
		if l.Kind == SetMinimumLimit {
			label = "mean at least"
		}
		out = append(out, FigureField{"figure", label, (*f).String()})
	}
	if len(l.Steps) == 0 {
		return out
	}
	cols, figures := make([]string, len(l.Steps)), make([]string, len(l.Steps))
	for i, s := range l.Steps {
		cols[i], figures[i] = "beyond", NoFigure
		if s.UpTo != nil {
			cols[i] = s.UpTo.String() + " m"
		}
		if s.Figure != nil {
			figures[i] = s.Figure.String()
		}
	}
	return append(out, FigureField{"steps", "figures for " + strings.Join(cols, ", "), strings.Join(figures, " ")})
}
