package defects

import "fmt"

// Trend says where a temperature is going.
type Trend string

// The trends; "" is not stated.
const (
	Rising  Trend = "rising"
	Falling Trend = "falling"
	Steady  Trend = "steady"
)

// KnownTrend reports whether t is a trend or "".
func KnownTrend(t Trend) bool { return t == "" || t == Rising || t == Falling || t == Steady }

// dewBound is the lower limit of a surface temperature: figure kelvin above the
// dew point, cut to hundredths.
func (l *Limit) dewBound(in *Input) (limitBounds, string) {
	if in.AirTemperature == nil || in.Humidity == nil {
		return limitBounds{}, ReasonDewPointUnknown
	}
	celsius, err := DewPoint(*in.AirTemperature, *in.Humidity)
	dew, ok := DecimalFromFloat(celsius, 2)
	if err != nil || !ok {
		return limitBounds{}, ReasonBadAir
	}
	return limitBounds{lower: dew.Add(*l.Figure), hasLower: true}, ""
}

// risingBound is the limit of "at least Lower and rising", and at most Upper if
// there is one. From RisingBelow up the trend is not asked.
func (l *Limit) risingBound(in *Input) (limitBounds, string) {
	b := between(l.Lower, l.Upper)
	switch {
	case in.Value.Less(*l.Lower) || !in.Value.Less(*l.RisingBelow) || in.Trend == Rising:
		return b, ""
	case in.Trend == "":
		return limitBounds{}, ReasonTrendMissing
	}
	b.lower = *l.RisingBelow
	return b, ""
}

// nearlyTooCold reports a temperature that passed near the limit, where work
// wants protection.
func (l *Limit) nearlyTooCold(in *Input, j *Judgement) bool {
	return j.Reason == "" && j.Outcome != Fail && !l.RisingBelow.Less(in.Value)
}

// warning says which of a schedule's warnings a reading calls up. A warning
// never changes an outcome.
func (l *Limits) warning(in *Input) string {
	q := l.by[in.Quantity]
	if q == nil || len(q.warnings) == 0 || in.Unit != q.unit {
		return ""
	}
	c, _ := pick(q.warnings, in)
	if c == nil {
		return ""
	}
	source := c.limit.Title
	if c.limit.Basis != CommonPractice { // whose title says it
		source += ", " + string(c.limit.Basis)
	}
	b, reason := c.limit.boundsFor(in)
	above, below := b.distances(in.Value.nano)
	switch {
	case reason != "":
		return "warning limit not checked: " + reasonText(reason) + " (" + source + ")"
	case above >= 0 && below >= 0:
		return ""
	case c.limit.Kind == DewPointLimit:
		dew := b.lower.Sub(*c.limit.Figure)
		return fmt.Sprintf("danger of condensation: the surface lies %.1f K above the dew point, less than %s K (%s and %s °C; %s)",
			in.Value.Sub(dew).Float(), c.limit.Figure, in.Value, dew, source)
	}
	return "outside " + LimitWords(Verdict{Lower: b.lowerPointer(), Upper: b.upperPointer()}, in.Unit) + ", a warning (" + source + ")"
}

func (b *limitBounds) lowerPointer() *Decimal {
	if !b.hasLower {
		return nil
	}
	return &b.lower
}

func (b *limitBounds) upperPointer() *Decimal {
	if !b.hasUpper {
		return nil
	}
	return &b.upper
}
