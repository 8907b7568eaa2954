package defects

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// weatherRun is one call of JudgeShift.
type weatherRun struct {
	log   []WeatherEntry
	shift Shift
	rules WeatherRules
	used  map[int]bool // entries that answer for start, noon or end
}

func byTime(log []WeatherEntry) []WeatherEntry {
	sorted := slices.Clone(log)
	slices.SortStableFunc(sorted, func(a, b WeatherEntry) int { return a.At.Compare(b.At) })
	return sorted
}

func (w *weatherRun) fill() {
	w.shift.Reach = cmp.Or(w.shift.Reach, time.Hour)
	w.rules.RisingWithin = cmp.Or(w.rules.RisingWithin, time.Hour)
}

func (w *weatherRun) looks() []WeatherLook {
	var looks []WeatherLook
	for _, m := range []struct {
		name string
		at   time.Time
	}{{"start", w.shift.Start}, {"noon", w.shift.Noon}, {"end", w.shift.End}} {
		if m.at.IsZero() {
			continue
		}
		i := w.nearest(m.at)
		if i < 0 {
			looks = append(looks, looksGap(m.name, m.at, w.shift.Reach))
			continue
		}
		w.used[i] = true
		looks = append(looks, w.look(m.name, i))
	}
	for i, e := range w.log {
		if !w.used[i] && !e.At.Before(w.shift.Start) && !e.At.After(w.shift.End) {
			looks = append(looks, w.look("between", i))
		}
	}
	if after, ok := w.frost(); ok {
		looks = append(looks, after)
	}
	return looks
}

// nearest is the entry closest to a moment within reach, -1 when there is none.
func (w *weatherRun) nearest(at time.Time) int {
	best, distance := -1, w.shift.Reach
	for i, e := range w.log {
		d := e.At.Sub(at).Abs()
		if d < distance || (d == distance && best < 0) {
			best, distance = i, d
		}
	}
	return best
}

// look judges what one entry says.
func (w *weatherRun) look(name string, i int) WeatherLook {
	e := w.log[i]
	l := WeatherLook{Name: name, At: e.At, Entry: e, Outcome: NoVerdict, Reason: ReasonNoLimit, Text: "no limit in force for the weather"}
	w.dew(&l, e)
	var outcomes []Outcome
	var said []weatherFinding
	for _, m := range weatherMeasures {
		f, ok := w.finding(m, i)
		if !ok {
			continue
		}
		l.Warning = joinWarnings(l.Warning, f.Verdict.Warning)
		if !f.judged {
			continue
		}
		l.Findings = append(l.Findings, f.Finding)
		outcomes, said = append(outcomes, f.Verdict.Outcome), append(said, f)
	}
	if len(said) == 0 {
		return l
	}
	l.Outcome, l.Reason, l.Text = Worst(outcomes...), "", ""
	for _, f := range said {
		if f.Verdict.Outcome == l.Outcome && (f.reason != "" || f.text != "") {
			l.Reason, l.Text = f.reason, f.text
			break
		}
	}
	return l
}

// dew works out the dew point, and says when a margin to it is asked and the wall
// was not taken.
func (w *weatherRun) dew(l *WeatherLook, e WeatherEntry) {
	if e.Surface == nil && slices.ContainsFunc(w.rules.Schedules, func(s *Limits) bool { return s.warnsOf("surface_temperature") }) {
		l.Warning = "the margin to the dew point is not known; take air, wall and humidity together"
	}
	if e.Air == nil || e.Humidity == nil {
		return
	}
	d, err := DewPoint(*e.Air, *e.Humidity)
	if err != nil {
		return // a limit that needs it says so
	}
	l.DewPoint = &d
	if e.Surface != nil {
		margin := e.Surface.Float() - d
		l.Margin = &margin
	}
}

// frost looks at the hours after the work.
func (w *weatherRun) frost() (WeatherLook, bool) {
	if w.rules.FrostHours == 0 {
		return WeatherLook{}, false
	}
	until := w.shift.End.Add(time.Duration(w.rules.FrostHours) * time.Hour)
	l := WeatherLook{Name: "after", At: until, Outcome: NoVerdict}
	seen := false
	for _, e := range w.log {
		if !e.At.After(w.shift.End) || e.At.After(until) || e.Air == nil {
			continue
		}
		seen = true
		if e.Air.Sign() < 0 {
			l.At, l.Entry = e.At, e
			return l.with(Fail, ReasonFrostAfterwards, fmt.Sprintf("air %s °C within %d h of the work", e.Air, w.rules.FrostHours)), true
		}
	}
	if !seen {
		return l.with(NoVerdict, ReasonFrostNotExcluded, fmt.Sprintf("the log says nothing of the %d h after the work; enter the night's minimum",
			w.rules.FrostHours)), true
	}
	return l.with(Pass, "", ""), true
}

func (l WeatherLook) with(o Outcome, reason, text string) WeatherLook {
	l.Outcome, l.Reason, l.Text = o, reason, text
	return l
}
