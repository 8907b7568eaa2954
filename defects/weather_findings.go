package defects

import (
	"fmt"
	"slices"
)

// weatherMeasure is one figure of a log entry; missing, low and high are the
// reasons when it was not taken, or lies outside.
type weatherMeasure struct {
	quantity           string
	words, unit        string
	missing, low, high string
	of                 func(WeatherEntry) *Decimal
}

var weatherMeasures = []weatherMeasure{
	{
		"surface_temperature", "wall", "°C", ReasonSurfaceMissing, ReasonSurfaceTooCold, ReasonTooWarm,
		func(e WeatherEntry) *Decimal { return e.Surface },
	},
	{
		"air_temperature", "air", "°C", ReasonAirMissing, ReasonTooCold, ReasonTooWarm,
		func(e WeatherEntry) *Decimal { return e.Air },
	},
	{
		"relative_humidity", "humidity", "%", ReasonHumidityMissing, ReasonTooHumid, ReasonTooHumid,
		func(e WeatherEntry) *Decimal { return e.Humidity },
	},
}

// weatherFinding is a finding in the words of a log.
type weatherFinding struct {
	Finding
	judged       bool // a limit applies; else it may still warn
	reason, text string
}

// finding judges one figure of an entry; false when there is nothing to say.
func (w *weatherRun) finding(m weatherMeasure, i int) (weatherFinding, bool) {
	e, value := w.log[i], m.of(w.log[i])
	q, _ := QuantityByName(m.quantity)
	in := Input{Quantity: m.quantity, Unit: q.Unit, Stage: w.rules.Stage, CalibrationExpired: e.CalibrationExpired}
	if value == nil {
		f := weatherFinding{Finding: Finding{Input: in}, judged: true, reason: m.missing}
		f.text = "the " + quantityWords(m.quantity) + " was not taken"
		f.Verdict = Verdict{Outcome: NoVerdict, Reason: m.missing, ReasonText: f.text, Rule: w.rules.Rule}
		return f, slices.ContainsFunc(w.rules.Schedules, func(l *Limits) bool { return l.appliesTo(&in) })
	}
	in.Value = *value
	var next *WeatherEntry
	if m.unit == "°C" {
		in.Expanded = e.Expanded
		in.Trend, next = w.trend(m, i)
	}
	if m.quantity == "surface_temperature" {
		in.AirTemperature, in.Humidity = e.Air, e.Humidity
	}
	f := weatherFinding{Finding: Finding{in, true, JudgeGoverning(in, w.rules.Schedules, w.rules.Rule, w.rules.Guard)}}
	f.judged = f.Verdict.Reason != ReasonNoLimit
	if f.judged {
		f.reason, f.text = w.say(m, f.Finding, next)
	}
	return f, true
}

// trend is where a temperature is going, by the next entry that has it and lies
// within the time that limits for rising temperatures ask; "" without one.
func (w *weatherRun) trend(m weatherMeasure, i int) (Trend, *WeatherEntry) {
	e := w.log[i]
	for _, next := range w.log[i+1:] {
		then := m.of(next)
		switch {
		case then == nil || !next.At.After(e.At):
			continue
		case next.At.Sub(e.At) > w.rules.RisingWithin:
			return "", nil
		case m.of(e).Less(*then):
			return Rising, &next
		case then.Less(*m.of(e)):
			return Falling, &next
		}
		return Steady, &next
	}
	return "", nil
}

// say puts a finding into the words of a log.
func (w *weatherRun) say(m weatherMeasure, f Finding, next *WeatherEntry) (reason, text string) {
	v, value := f.Verdict, f.Input.Value
	now := fmt.Sprintf("%s %s %s", m.words, value, m.unit)
	rising := risingBehind(v, &f.Input, w.rules.Schedules)
	near := rising != nil && !value.Less(*rising.Lower) && value.Less(*rising.RisingBelow)
	then := ""
	if near && next != nil {
		then = fmt.Sprintf("%s, then %s %s at %s", now, m.of(*next), m.unit, next.At.Format("15:04"))
	}
	switch {
	case v.Reason == ReasonCalibrationExpired:
		return v.Reason, now + ": " + v.ReasonText
	case v.Reason == ReasonTrendMissing:
		return ReasonRisingNotProven, fmt.Sprintf("%s is allowed only while rising; take it again within %s", now, shortSpan(w.rules.RisingWithin))
	case v.Outcome == NoVerdict:
		return v.Reason, now + ": " + v.ReasonText
	case v.Outcome == Pass && near:
		return ReasonAllowedRising, then + ": allowed while rising"
	case v.Outcome == Pass:
		return "", ""
	case v.Upper != nil && v.Upper.Less(value):
		return m.high, fmt.Sprintf("%s, at most %s %s", now, v.Upper, m.unit)
	case near && f.Input.Trend != Rising:
		return ReasonNotRising, then + ": not rising"
	case rising != nil && value.Less(*rising.Lower):
		return m.low, fmt.Sprintf("%s, at least %s %s, or %s %s and rising", now, rising.RisingBelow, m.unit, rising.Lower, m.unit)
	case v.Lower != nil && value.Less(*v.Lower):
		return m.low, fmt.Sprintf("%s, at least %s %s", now, v.Lower, m.unit)
	}
	return "", now + ": closer to the limit than its uncertainty"
}

// risingBehind is the limit of kind rising that a verdict came from, nil when it
// came from another kind.
func risingBehind(v Verdict, in *Input, schedules []*Limits) *Limit {
	for _, l := range schedules {
		if l.schedule != v.Schedule || l.by[in.Quantity] == nil {
			continue
		}
		if c, _ := pick(l.by[in.Quantity].single, in); c != nil && c.limit.Kind == RisingLimit {
			return &c.limit
		}
	}
	return nil
}

// appliesTo reports whether some single limit is for the quantity under the
// input's conditions, whatever the value.
func (l *Limits) appliesTo(in *Input) bool {
	q := l.by[in.Quantity]
	if q == nil {
		return false
	}
	c, reason := pick(q.single, in)
	return c != nil || reason != ReasonNoLimit
}

// warnsOf reports whether some warning is for the quantity.
func (l *Limits) warnsOf(quantity string) bool {
	q := l.by[quantity]
	return q != nil && len(q.warnings) > 0
}
