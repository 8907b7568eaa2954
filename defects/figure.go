package defects

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Figure is what the statistics of readings need of one of them. Readings whose
// verdicts differ in nothing but the conformance probability may share Verdict.
type Figure struct {
	ID        string
	Value     Decimal
	At        time.Time
	Gang      string
	Withdrawn bool
	Verdict   *Verdict
}

// FigureOf takes a figure from a reading.
func FigureOf(rd Reading) Figure {
	return Figure{
		ID: rd.ID, Value: rd.Value, At: rd.MeasuredAt, Gang: rd.Gang, Withdrawn: rd.Withdrawn != "", Verdict: &rd.Verdict,
	}
}

// CommonLimit is the limit that a number of readings were judged by, if it was
// one and the same for all of them.
type CommonLimit struct {
	Shared       bool
	Lower, Upper *Decimal
	Sources      []Verdict // whose limit it is; each named once
	Without      int       // readings that no limit was applied to
	Different    int       // different limits among the others
}

// FindCommonLimit compares the limits of the readings that stand. One reading
// without a limit, or with another, and there is none to hold them all against.
func FindCommonLimit(list []Figure) CommonLimit {
	var c CommonLimit
	var limits []*Verdict
	counts := map[*Verdict]int{}
	var order []*Verdict
	for _, f := range list {
		if f.Withdrawn {
			continue
		}
		if counts[f.Verdict]++; counts[f.Verdict] == 1 {
			order = append(order, f.Verdict)
		}
	}
	for _, v := range order {
		if v == nil || v.Lower == nil && v.Upper == nil {
			c.Without += counts[v]
			continue
		}
		if !slices.ContainsFunc(limits, func(o *Verdict) bool { return sameBounds(o, v) }) {
			limits = append(limits, v)
		}
		if !slices.ContainsFunc(c.Sources, func(o Verdict) bool { return sameSource(&o, v) }) {
			c.Sources = append(c.Sources, *v)
		}
	}
	c.Different = len(limits)
	if c.Shared = len(limits) == 1 && c.Without == 0; c.Shared {
		c.Lower, c.Upper = limits[0].Lower, limits[0].Upper
	}
	return c
}

// EachLimit is the limit that a set's verdict held each of its readings against.
// A pull-out set has none: what is required of it is required of the
// characteristic value.
func (s Set) EachLimit() CommonLimit {
	v := s.Verdict
	if s.Quantity == "pull_out_load" || v.Lower == nil && v.Upper == nil {
		return CommonLimit{}
	}
	return CommonLimit{Shared: true, Lower: v.Lower, Upper: v.Upper, Sources: []Verdict{v}, Different: 1}
}

// WhyNone says in plain English why there is no limit for all; "" when there is.
func (c CommonLimit) WhyNone() string {
	switch {
	case c.Shared:
		return ""
	case c.Different == 0:
		return "no limit was applied to these readings one by one"
	}
	var parts []string
	if c.Different > 1 {
		parts = append(parts, fmt.Sprintf("these readings were judged by %d different limits", c.Different))
	}
	if c.Without == 1 {
		parts = append(parts, "one of them was judged by none")
	} else if c.Without > 1 {
		parts = append(parts, fmt.Sprintf("%d of them were judged by none", c.Without))
	}
	return strings.Join(parts, "; ")
}

func sameBounds(a, b *Verdict) bool {
	return sameFigure(a.Lower, b.Lower) && sameFigure(a.Upper, b.Upper)
}

func sameFigure(a, b *Decimal) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Cmp(*b) == 0
}

func sameSource(a, b *Verdict) bool {
	return a.Schedule == b.Schedule && a.Title == b.Title && a.Edition == b.Edition && a.Clause == b.Clause &&
		a.Line == b.Line && a.Basis == b.Basis
}
