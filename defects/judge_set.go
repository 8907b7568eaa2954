package defects

import "fmt"

// SetInput is a group of readings judged together. Values are in the order
// taken; for the mean of eight they must be successive joints.
type SetInput struct {
	Input  // facts common to all; its Value is not used
	Values []Decimal
	Ends   []string // of pull-out tests: how each ended, as noted; nil = not noted
	// Expired is how many of the readings were taken with an instrument out of
	// calibration; CalibrationExpired says that there is one.
	Expired int
	// Required is the designer's required characteristic pull-out value in kN;
	// it goes before the limit's own.
	Required *Decimal
}

// SetVerdict is a set's verdict with the figure it was judged by.
type SetVerdict struct {
	Verdict    Verdict
	Result     *Decimal // pull-out: N_Rk in kN; set minimum: the mean; mean of eight: the largest departure
	ResultText string
	Each       []Outcome      // of each value, where the limit judges them singly
	PullOut    *PullOutResult // for a pull-out set
}

// JudgeSet gives the verdict of one schedule on a set: a pull-out test, single
// and mean minimum, or each against the mean of any eight successive. The worst
// part governs. An instrument out of calibration makes the whole set void.
func JudgeSet(in SetInput, l *Limits, rule Rule, r Decimal) SetVerdict {
	none := func(reason string) SetVerdict {
		return SetVerdict{Verdict: Verdict{
			Outcome: NoVerdict, Reason: reason, ReasonText: reasonText(reason),
			Rule: rule, Schedule: l.schedule,
		}}
	}
	q, ok := l.by[in.Quantity]
	switch {
	case !rule.Known():
		return none(ReasonBadRule)
	case !ok || len(q.set) == 0:
		return none(ReasonNoLimit)
	case in.Unit != q.unit:
		return none(ReasonWrongUnit)
	case in.Expanded != nil && in.Expanded.Sign() < 0:
		return none(ReasonBadUncertainty)
	}
	c, reason := pick(q.set, &in.Input)
	if c == nil {
		return none(reason)
	}
	out := SetVerdict{Verdict: c.verdict}
	out.Verdict.Rule = rule
	if why, text := in.void(c.limit.Kind); why != "" {
		out.Verdict.without(why)
		out.Verdict.ReasonText = "the set is void: " + text
		if c.limit.Kind == PullOutLimit {
			res := PullOutResult{Rule: *c.limit.PullOut, N: len(in.Values), Required: c.limit.PullOut.Required}.Void(why, out.Verdict.ReasonText)
			out.PullOut = &res
		}
		return out
	}
	switch c.limit.Kind {
	case PullOutLimit:
		out.pullOut(&in, &c.limit)
	case SetMinimumLimit:
		out.setMinimum(&in, q, &c.limit, r)
	case MeanOfEightLimit:
		out.meanOfEight(&in, q, &c.limit, r)
	}
	return out
}

// JudgedSingly is the verdict of a set of which no limit in force judges more
// than each reading by itself.
func JudgedSingly(v Verdict) Verdict {
	v.without(ReasonJudgedSingly)
	return v
}

// void is the reason why a set counts for nothing, whatever its values.
func (in *SetInput) void(kind LimitKind) (reason, text string) {
	if in.CalibrationExpired {
		text = reasonText(ReasonCalibrationExpired)
		if in.Expired > 0 {
			text = fmt.Sprintf("%d of its %d readings hit: %s", in.Expired, len(in.Values), text)
		}
		return ReasonCalibrationExpired, text
	}
	if kind == PullOutLimit {
		if text = voidByEnd(in.Ends); text != "" {
			return ReasonFailureMode, text
		}
	}
	return "", ""
}

// pullOut compares the characteristic value as it stands under every rule: the
// scatter of the tests is already in the five lowest and the factor.
func (s *SetVerdict) pullOut(in *SetInput, l *Limit) {
	rule := *l.PullOut
	if in.Required != nil {
		rule.Required = in.Required
	}
	res := Characteristic(in.Values, rule)
	s.PullOut, s.Result = &res, res.NRk
	s.Verdict.Outcome, s.Verdict.Reason, s.Verdict.ReasonText = res.Verdict, res.Reason, res.ReasonText
	s.Verdict.Lower = rule.Required
	if res.NRk != nil {
		s.ResultText = fmt.Sprintf("N1 = %s kN, N_Rk = %s kN, N_Rd = %s kN",
			res.N1.Round(3), res.NRk.Round(2), res.NRd.Round(2))
	}
}

func (s *SetVerdict) setMinimum(in *SetInput, q *quantityLimits, l *Limit, r Decimal) {
	if len(in.Values) == 0 {
		s.tooFew(1, 0, 1)
		return
	}
	for _, v := range in.Values {
		s.Each = append(s.Each, s.single(in, q, v, between(l.Lower, nil), r))
	}
	mean := Decimal{nano: floorMean(in.Values)}
	onMean := s.single(in, q, mean, between(l.MeanLower, nil), r)
	s.Result = &mean
	s.ResultText = fmt.Sprintf("mean %s %s of %d", mean.Round(2), q.unit, len(in.Values))
	s.conclude(in, q, append(s.Each[:len(s.Each):len(s.Each)], onMean))
	s.Verdict.Lower = l.Lower
}

// meanOfEight holds each value against the lowest and the highest mean of eight
// successive ones: within the figure of both is within it of every one.
func (s *SetVerdict) meanOfEight(in *SetInput, q *quantityLimits, l *Limit, r Decimal) {
	const eight = 8
	if short := eight - len(in.Values); short > 0 {
		s.tooFew(short, len(in.Values), eight)
		return
	}
	var low, high int64
	for i := 0; i+eight <= len(in.Values); i++ {
		sum := sumOf(in.Values[i : i+eight])
		if i == 0 || sum < low {
			low = sum
		}
		if i == 0 || sum > high {
			high = sum
		}
	}
	lower := Decimal{nano: ceilDiv(high, eight)}.Sub(*l.Figure)
	upper := Decimal{nano: floorDiv(low, eight)}.Add(*l.Figure)
	b := limitBounds{lower: lower, upper: upper, hasLower: true, hasUpper: true}
	worst := Decimal{}
	for _, v := range in.Values {
		s.Each = append(s.Each, s.single(in, q, v, b, r))
		worst = maxDecimal(worst, maxDecimal(upper.Sub(*l.Figure).Sub(v).Abs(), lower.Add(*l.Figure).Sub(v).Abs()))
	}
	s.Result = &worst
	s.ResultText = fmt.Sprintf("largest departure %s %s from a mean of eight", worst.Round(2), q.unit)
	s.conclude(in, q, s.Each)
	s.Verdict.Lower, s.Verdict.Upper = &lower, &upper
}

func (s *SetVerdict) single(in *SetInput, q *quantityLimits, value Decimal, b limitBounds, r Decimal) Outcome {
	one := in.Input
	one.Value = value
	j := Judgement{rule: s.Verdict.Rule}
	j.compare(&one, q, b, r)
	s.Verdict.Expanded, s.Verdict.Guard = nil, nil
	if j.knowsU {
		expanded, guard := j.expanded, j.guard
		s.Verdict.Expanded, s.Verdict.Guard = &expanded, &guard
	}
	return j.Outcome
}

func (s *SetVerdict) conclude(in *SetInput, q *quantityLimits, parts []Outcome) {
	s.Verdict.Outcome = Worst(parts...)
	if in.Expanded == nil && q.unit != "count" && s.Verdict.Rule != Simple {
		s.Verdict.Reason, s.Verdict.ReasonText = ReasonUncertaintyMissing, reasonText(ReasonUncertaintyMissing)
	}
}

func (s *SetVerdict) tooFew(short, have, want int) {
	s.Verdict.without(ReasonTooFew)
	s.Verdict.ReasonText = tooFewText(short, have, want)
}

// Worst is the outcome that governs a group: one fail fails it, and what could
// not be judged goes before any kind of pass. Of none it is NoVerdict.
func Worst(parts ...Outcome) Outcome {
	order := []Outcome{Fail, NoVerdict, ConditionalFail, ConditionalPass, Pass}
	for _, o := range order {
		for _, p := range parts {
			if p == o {
				return o
			}
		}
	}
	return NoVerdict
}

func sumOf(values []Decimal) int64 {
	var sum int64
	for _, v := range values {
		sum = addSat(sum, v.nano)
	}
	return sum
}

func floorMean(values []Decimal) int64 { return floorDiv(sumOf(values), int64(len(values))) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func ceilDiv(a, b int64) int64 { return -floorDiv(-a, b) }
