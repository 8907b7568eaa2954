package defects

import "fmt"

// Judgement is what a verdict rests on, its figures by value: the form in which
// many readings are judged at once. Limits.Verdict spells one out.
type Judgement struct {
	Outcome Outcome
	Reason  string // stable word, as in Verdict

	bounds   limitBounds
	expanded Decimal // U (k = 2) used
	guard    Decimal // w used
	conform  float64 // p_c
	knowsU   bool
	knowsP   bool
	rule     Rule
	limit    *compiledLimit // nil when none was chosen
}

// PConform is the conformance probability p_c of JCGM 106; false when it cannot
// be computed.
func (j *Judgement) PConform() (float64, bool) { return j.conform, j.knowsP }

// weigh compares the reading with the limit that was chosen for it.
func (j *Judgement) weigh(in *Input, q *quantityLimits, r Decimal) {
	limit := &j.limit.limit
	b, reason := limit.boundsFor(in)
	switch {
	case reason != "":
		j.without(reason)
		return
	case in.Expanded != nil && in.Expanded.Sign() < 0:
		j.without(ReasonBadUncertainty)
		return
	}
	j.compare(in, q, b, r)
	if b.hasLower && limit.ExceptPlane != "" && in.Value.Less(b.lower.Add(j.guard)) && limit.excepts(in.FailurePlane) {
		j.Outcome, j.Reason, j.knowsP = Pass, ReasonPlaneExcepted, false
	}
	if limit.Kind == RisingLimit && limit.nearlyTooCold(in, j) {
		j.Reason = ReasonProtect
	}
	if in.CalibrationExpired {
		j.without(ReasonCalibrationExpired)
	}
}

// compare decides by the limit as it applies to the reading.
func (j *Judgement) compare(in *Input, q *quantityLimits, b limitBounds, r Decimal) {
	j.bounds = b
	above, below := b.distances(in.Value.nano)
	j.knowsU = in.Expanded != nil
	if j.knowsU {
		j.expanded = *in.Expanded
	} else {
		j.knowsU = q.unit == "count" // a count is exact
	}
	if j.knowsU {
		j.guard = guardBand(j.rule, r, j.expanded)
		j.conform, j.knowsP = conform(above, below, j.expanded.nano), true
	} else if j.rule != Simple {
		j.Reason = ReasonUncertaintyMissing
	}
	j.Outcome = outcomeAt(min(above, below), j.guard.nano, j.rule)
}

// without takes the outcome back and says why.
func (j *Judgement) without(reason string) { j.Outcome, j.Reason = NoVerdict, reason }

// Verdict spells a judgement on an input out, with its source and the words for
// its reason.
func (l *Limits) Verdict(j Judgement, in Input) Verdict {
	v := l.spell(&j, &in)
	if l.warns {
		v.Warning = l.warning(&in)
	}
	return v
}

func (l *Limits) spell(j *Judgement, in *Input) Verdict {
	v := Verdict{Schedule: l.schedule}
	if j.limit != nil {
		v = j.limit.verdict
	}
	v.Outcome, v.Reason, v.Rule = j.Outcome, j.Reason, j.rule
	v.ReasonText = l.reasonText(j, in)
	f := &figures{lower: j.bounds.lower, upper: j.bounds.upper, expanded: j.expanded, guard: j.guard, conform: j.conform}
	if j.bounds.hasLower {
		v.Lower = &f.lower
	}
	if j.bounds.hasUpper {
		v.Upper = &f.upper
	}
	if j.knowsU {
		v.Expanded, v.Guard = &f.expanded, &f.guard
	}
	if j.knowsP {
		v.PConform = &f.conform
	}
	return v
}

// figures holds what a verdict points to, so that each costs one allocation.
type figures struct {
	lower, upper, expanded, guard Decimal
	conform                       float64
}

// reasonText is the plain English of a judgement's reason, with what the limit
// or the quantity has to say beside it.
func (l *Limits) reasonText(j *Judgement, in *Input) string {
	switch j.Reason {
	case ReasonWrongUnit:
		return quantityWords(in.Quantity) + " is measured in " + l.by[in.Quantity].unit + "; enter the value again in that unit"
	case ReasonBaseLengthOutside:
		return j.limit.limit.lengthsText()
	case ReasonProtect:
		return fmt.Sprintf("%s; %s °C or less", reasonText(ReasonProtect), j.limit.limit.RisingBelow)
	}
	return reasonText(j.Reason)
}
