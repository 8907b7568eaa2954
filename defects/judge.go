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
	var j Judgement
	l.weigh(&j, &in, l.by[in.Quantity], rule, r)
	return l.Verdict(j, in)
}

// JudgeAll appends the judgement of one schedule on each input, in order. It
// decides as Judge does, without spelling the verdicts out.
func JudgeAll(dst []Judgement, inputs []Input, l *Limits, rule Rule, r Decimal) []Judgement {
	from := len(dst)
	dst = slices.Grow(dst, len(inputs))[:from+len(inputs)]
	var (
		quantity string
		q        *quantityLimits
	)
	for i := range inputs {
		in := &inputs[i]
		if in.Quantity != quantity {
			quantity, q = in.Quantity, l.by[in.Quantity]
		}
		l.weigh(&dst[from+i], in, q, rule, r)
	}
	return dst
}

// weigh overwrites the whole of a judgement. q is what the schedule holds for
// the quantity.
func (l *Limits) weigh(j *Judgement, in *Input, q *quantityLimits, rule Rule, r Decimal) {
	*j = Judgement{Outcome: NoVerdict, rule: rule}
	switch {
	case q == nil:
		j.Reason = l.unlimited(in)
	case !rule.Known():
		j.Reason = ReasonBadRule
	case in.Unit != q.unit:
		j.Reason = ReasonWrongUnit
	default:
		j.Reason = q.missing(in)
	}
	if j.Reason != "" {
		return
	}
	if j.limit, j.Reason = q.choose(in); j.limit != nil {
		j.weigh(in, q, r)
	}
}

// unlimited is the reason for a quantity the schedule does not know.
func (l *Limits) unlimited(in *Input) string {
	if _, known := QuantityByName(in.Quantity); !known {
		return ReasonUnknownQuantity
	}
	if in.Quantity == "moisture_index" && l.by["moisture_mass"] != nil {
		return ReasonNotComparable
	}
	return ReasonNoLimit
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
