package defects

import (
	"math"
	"slices"
)

// Input is a single reading as a limit sees it. Lengths are in metres, Value
// and Expanded in Unit, Area in square metres.
type Input struct {
	Quantity     string
	Value        Decimal
	Unit         string
	Expanded     *Decimal // U (k = 2); nil = not known
	BaseLength   *Decimal
	Zone         Zone
	Stage        string
	Courses      int
	FailurePlane string
	Mode         string
	Nominal      *Decimal // design or sample value, for limits relative to it
	Area         *Decimal // area of the board counted on

	Trend          Trend    // where a temperature is going
	AirTemperature *Decimal // of the air beside a surface, °C
	Humidity       *Decimal // relative, of that air, %

	CalibrationExpired bool // the instrument was out of calibration that day
}

// InputOf takes from a reading what a verdict needs. The reading's own U wins;
// fromInstrument is used when it has none and may be nil.
func InputOf(r Reading, fromInstrument *Decimal, calibrationExpired bool) Input {
	expanded := r.Expanded
	if expanded == nil {
		expanded = fromInstrument
	}
	return Input{
		Quantity: r.Quantity, Value: r.Value, Unit: r.Unit, Expanded: expanded, BaseLength: r.BaseLength,
		Zone: r.Place.Zone, Stage: r.Stage, Courses: r.Courses, FailurePlane: r.FailurePlane, Mode: r.Mode,
		Nominal: r.Nominal, Area: r.Area, Trend: r.Trend, AirTemperature: r.AirTemperature, Humidity: r.Humidity,
		CalibrationExpired: calibrationExpired,
	}
}

// Judge gives the verdict of one schedule on one reading. The guard band is
// w = r·U; an r of zero means the usual 1, and the rule simple uses none.
// Values are compared exactly as entered.
//
// Without a fact that the limit needs, the outcome is none and the reason says
// which. An instrument out of calibration keeps the figures but takes the
// outcome away.
func Judge(in Input, l *Limits, rule Rule, r Decimal) Verdict {
	var v Verdict
	l.judge(&v, &in, l.by[in.Quantity], rule, r, nil)
	if l.warns {
		v.Warning = l.warning(&in)
	}
	return v
}

// JudgeAll appends the verdict of Judge on each input, in order. It is for many
// readings at once: what Judge allocates and looks up for each is shared, so
// that the verdicts of one call keep each other's figures in memory.
func JudgeAll(dst []Verdict, inputs []Input, l *Limits, rule Rule, r Decimal) []Verdict {
	from := len(dst)
	dst = slices.Grow(dst, len(inputs))[:from+len(inputs)]
	const block = 256
	var (
		free     []figures
		quantity string
		q        *quantityLimits
	)
	for i := range inputs {
		in, v := &inputs[i], &dst[from+i]
		if in.Quantity != quantity {
			quantity, q = in.Quantity, l.by[in.Quantity]
		}
		if len(free) == 0 {
			free = make([]figures, min(block, len(inputs)-i))
		}
		l.judge(v, in, q, rule, r, &free[0])
		if l.warns {
			v.Warning = l.warning(in)
		}
		if v.Lower != nil || v.Upper != nil {
			free = free[1:]
		}
	}
	return dst
}

// judge overwrites the whole of a verdict. q is what the schedule holds for the quantity;
// f takes the figures, nil for new ones.
func (l *Limits) judge(v *Verdict, in *Input, q *quantityLimits, rule Rule, r Decimal, f *figures) {
	if q == nil {
		*v = l.unlimited(in, rule)
		return
	}
	reason := ""
	switch {
	case !rule.Known():
		reason = ReasonBadRule
	case in.Unit != q.unit:
		reason = ReasonWrongUnit
	default:
		reason = q.missing(in)
	}
	var c *compiledLimit
	if reason == "" {
		c, reason = q.choose(in)
	}
	if c == nil {
		*v = Verdict{Outcome: NoVerdict, Reason: reason, ReasonText: reasonText(reason), Rule: rule, Schedule: l.schedule}
		if reason == ReasonWrongUnit {
			v.ReasonText = quantityWords(in.Quantity) + " is measured in " + q.unit + "; enter the value again in that unit"
		}
		return
	}
	*v = c.verdict
	v.Rule = rule
	c.decide(v, in, q, r, f)
}

// decide compares the reading with the limit that was chosen for it.
func (c *compiledLimit) decide(v *Verdict, in *Input, q *quantityLimits, r Decimal, f *figures) {
	b, reason := c.limit.boundsFor(in)
	switch {
	case reason == ReasonBaseLengthOutside:
		v.without(reason)
		v.ReasonText = c.limit.lengthsText()
		return
	case reason != "":
		v.without(reason)
		return
	case in.Expanded != nil && in.Expanded.Sign() < 0:
		v.without(ReasonBadUncertainty)
		return
	}
	v.decide(in, q, b, r, f)
	if b.hasLower && c.limit.ExceptPlane != "" && in.Value.Less(addGuard(b.lower, v.Guard)) && c.limit.excepts(in.FailurePlane) {
		v.Outcome, v.PConform = Pass, nil
		v.Reason, v.ReasonText = ReasonPlaneExcepted, reasonText(ReasonPlaneExcepted)
	}
	v.protect(in, &c.limit)
	if in.CalibrationExpired {
		v.without(ReasonCalibrationExpired)
	}
}

// unlimited answers for a quantity the schedule does not know.
func (l *Limits) unlimited(in *Input, rule Rule) Verdict {
	reason := ReasonNoLimit
	if _, known := QuantityByName(in.Quantity); !known {
		reason = ReasonUnknownQuantity
	} else if in.Quantity == "moisture_index" && l.by["moisture_mass"] != nil {
		reason = ReasonNotComparable
	}
	return Verdict{Outcome: NoVerdict, Reason: reason, ReasonText: reasonText(reason), Rule: rule, Schedule: l.schedule}
}

// missing is the reason for a fact that the quantity always needs.
func (q *quantityLimits) missing(in *Input) string {
	switch {
	case q.needs == NeedBaseLength && in.BaseLength == nil:
		return ReasonBaseLengthMissing
	case q.needs == NeedZone && in.Zone == "":
		return ReasonZoneMissing
	case q.needs == NeedCourses && in.Courses == 0:
		return ReasonCoursesMissing
	case q.needs == NeedFailurePlane && in.FailurePlane == "":
		return ReasonFailurePlaneMissing
	case q.needs == NeedMode && in.Mode == "":
		return ReasonModeMissing
	}
	return ""
}

// choose finds the limit with the most conditions that the reading meets.
func (q *quantityLimits) choose(in *Input) (*compiledLimit, string) {
	if len(q.single) == 0 && len(q.set) > 0 {
		return nil, ReasonJudgedAsSet
	}
	return pick(q.single, in)
}

func pick(list []compiledLimit, in *Input) (*compiledLimit, string) {
	reason := ReasonNoLimit
	for i := range list {
		l := &list[i].limit
		switch {
		case l.Courses != 0 && l.Courses != in.Courses, l.Mode != "" && l.Mode != in.Mode,
			l.Stage != "" && in.Stage != "" && l.Stage != in.Stage,
			l.Zone != "" && in.Zone != "" && l.Zone != in.Zone:
			continue
		case l.Zone != "" && in.Zone == "":
			// A stricter zone may apply, so the general figure must not be
			// taken on a guess.
			return nil, ReasonZoneMissing
		case l.Stage != "" && in.Stage == "":
			reason = ReasonStageMissing
			continue
		}
		return &list[i], ""
	}
	return nil, reason
}

// figures holds what a verdict points to, so that each costs one allocation.
type figures struct {
	lower, upper, expanded, guard Decimal
	conform                       float64
}

func (v *Verdict) decide(in *Input, q *quantityLimits, b limitBounds, r Decimal, f *figures) {
	if f == nil {
		f = new(figures)
	}
	f.lower, f.upper = b.lower, b.upper
	if b.hasLower {
		v.Lower = &f.lower
	}
	if b.hasUpper {
		v.Upper = &f.upper
	}
	above, below := b.distances(in.Value.nano)
	known := in.Expanded != nil
	if known {
		f.expanded = *in.Expanded
	} else {
		known = q.unit == "count" // a count is exact
	}
	if known {
		f.guard = guardBand(v.Rule, r, f.expanded)
		f.conform = conform(above, below, f.expanded.nano)
		v.Expanded, v.Guard, v.PConform = &f.expanded, &f.guard, &f.conform
	} else if v.Rule != Simple {
		v.Reason, v.ReasonText = ReasonUncertaintyMissing, reasonText(ReasonUncertaintyMissing)
	}
	v.Outcome = outcomeAt(min(above, below), f.guard.nano, v.Rule)
}

func guardBand(rule Rule, r, expanded Decimal) Decimal {
	switch {
	case rule == Simple:
		return Decimal{}
	case r.nano <= 0 || r.nano == nanosPerUnit:
		return expanded
	}
	return r.Mul(expanded)
}

// distances are how far a value lies above the lower and below the upper limit,
// exactly, in billionths; without a limit it is as far as can be.
func (b *limitBounds) distances(value int64) (above, below int64) {
	above, below = math.MaxInt64, math.MaxInt64
	if b.hasLower {
		above = addSat(value, -b.lower.nano)
	}
	if b.hasUpper {
		below = addSat(b.upper.nano, -value)
	}
	return above, below
}

// outcomeAt decides by the distance to the nearer limit, positive inside.
func outcomeAt(margin, guard int64, rule Rule) Outcome {
	switch {
	case margin >= guard:
		return Pass
	case rule != FourWay:
		return Fail
	case margin >= 0:
		return ConditionalPass
	case margin >= -guard:
		return ConditionalFail
	}
	return Fail
}

// conform is p_c of JCGM 106 for distances to the limits and U (k = 2).
func conform(above, below, expanded int64) float64 {
	if expanded == 0 {
		if min(above, below) >= 0 {
			return 1
		}
		return 0
	}
	perSigma := 2 / float64(expanded)
	return max(0, fastNormalCDF(float64(below)*perSigma)-fastNormalCDF(-float64(above)*perSigma))
}

// without takes the outcome back and says why.
func (v *Verdict) without(reason string) {
	v.Outcome, v.Reason, v.ReasonText = NoVerdict, reason, reasonText(reason)
}

func addGuard(d Decimal, guard *Decimal) Decimal {
	if guard == nil {
		return d
	}
	return d.Add(*guard)
}
