package defects

import (
	"cmp"
	"fmt"
	"slices"
)

// Limits is a schedule made ready for judging: checked, with its sources filled
// in and indexed by quantity. It does not change and may be shared.
type Limits struct {
	schedule string
	rank     Rank
	warns    bool // some limit is a warning
	by       map[string]*quantityLimits
}

type quantityLimits struct {
	unit   string
	needs  Need
	single []compiledLimit // those with the most conditions first
	set    []compiledLimit

	warnings []compiledLimit
}

type compiledLimit struct {
	limit   Limit
	line    int     // in the schedule, from 1
	verdict Verdict // schedule and source, ready to copy
}

// ScheduleRef writes a schedule's name and version as "name@version".
func ScheduleRef(s Schedule) string { return fmt.Sprintf("%s@%d", s.Name, s.Version) }

// Ref is the compiled schedule's name@version.
func (l *Limits) Ref() string { return l.schedule }

// Rank is the compiled schedule's place in the order of precedence.
func (l *Limits) Rank() Rank { return l.rank }

// Has reports whether any limit, single or for a set, is for the quantity.
func (l *Limits) Has(quantity string) bool { return l.by[quantity] != nil }

// HasSet reports whether a limit judges the quantity as a set.
func (l *Limits) HasSet(quantity string) bool {
	q := l.by[quantity]
	return q != nil && len(q.set) > 0
}

// Compile checks a schedule and makes it ready for judging. A limit without a
// source, with missing or descending figures, or one that overlaps another
// under the same conditions is refused with code bad_schedule and the limit's
// position in Field ("limits[3]").
func Compile(s Schedule) (*Limits, error) {
	if err := checkScheduleHead(s); err != nil {
		return nil, err
	}
	l := &Limits{schedule: ScheduleRef(s), rank: RankOf(s), by: make(map[string]*quantityLimits)}
	for i, lim := range s.Limits {
		lim.Title = cmp.Or(lim.Title, s.Title)
		lim.Edition = cmp.Or(lim.Edition, s.Edition)
		lim.Basis = cmp.Or(lim.Basis, s.Basis)
		why := checkLimit(lim)
		if why == "" {
			why = l.add(lim, i+1)
		}
		if why != "" {
			return nil, badLimit(i, lim, why)
		}
	}
	for _, q := range l.by {
		slices.SortStableFunc(q.single, moreConditionsFirst)
		slices.SortStableFunc(q.set, moreConditionsFirst)
		slices.SortStableFunc(q.warnings, moreConditionsFirst)
	}
	return l, nil
}

func (l *Limits) add(lim Limit, line int) string {
	q, known := l.by[lim.Quantity]
	if !known {
		quantity, _ := QuantityByName(lim.Quantity)
		q = &quantityLimits{unit: quantity.Unit, needs: quantity.Needs}
		l.by[lim.Quantity] = q
	}
	list := &q.single
	switch {
	case lim.Warning:
		list, l.warns = &q.warnings, true
	case lim.Kind.ForSet():
		list = &q.set
	}
	for _, o := range *list {
		if conditions(o.limit) == conditions(lim) && couldBothApply(o.limit, lim) {
			return fmt.Sprintf("overlaps line %d, which is for %s under the same conditions", o.line, lim.Quantity)
		}
	}
	*list = append(*list, compiledLimit{limit: lim, line: line, verdict: Verdict{
		Outcome: NoVerdict, Schedule: l.schedule,
		Title: lim.Title, Edition: lim.Edition, Clause: lim.Clause, Line: lim.Line, Basis: lim.Basis,
	}})
	return ""
}

func badLimit(i int, l Limit, why string) error {
	where := fmt.Sprintf("line %d", i+1)
	if l.Quantity != "" {
		where += " (" + clip(l.Quantity, 40) + ")"
	}
	return RefuseField(Invalid, fmt.Sprintf("limits[%d]", i), "bad_schedule", where+": "+why)
}

func moreConditionsFirst(a, b compiledLimit) int {
	return cmp.Compare(conditions(b.limit), conditions(a.limit))
}

func conditions(l Limit) int {
	n := 0
	for _, set := range []bool{l.Zone != "", l.Stage != "", l.Courses != 0, l.Mode != ""} {
		if set {
			n++
		}
	}
	return n
}

// couldBothApply reports whether one reading may meet the conditions of both.
func couldBothApply(a, b Limit) bool {
	return compatible(string(a.Zone), string(b.Zone)) && compatible(a.Stage, b.Stage) &&
		compatible(a.Mode, b.Mode) && (a.Courses == 0 || b.Courses == 0 || a.Courses == b.Courses)
}

func compatible(a, b string) bool { return a == "" || b == "" || a == b }
