package defects

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// weatherRun is one call of JudgeWeather.
type weatherRun struct {
	log    []WeatherEntry
	shift  Shift
	limits WeatherLimits
	used   map[int]bool // entries that answer for start, noon or end
}

func byTime(log []WeatherEntry) []WeatherEntry {
	sorted := slices.Clone(log)
	slices.SortStableFunc(sorted, func(a, b WeatherEntry) int { return a.At.Compare(b.At) })
	return sorted
}

func (w *weatherRun) fill() {
	w.shift.Reach = cmp.Or(w.shift.Reach, time.Hour)
	w.limits.RisingWithin = cmp.Or(w.limits.RisingWithin, time.Hour)
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

func (w *weatherRun) look(name string, i int) WeatherLook {
	e := w.log[i]
	l := WeatherLook{Name: name, At: e.At, Outcome: Pass}
	w.dew(&l, e)
	switch {
	case e.Air == nil && (w.limits.AirMin != nil || w.limits.AirMax != nil):
		return l.with(NoVerdict, ReasonAirMissing, "the air temperature was not taken")
	case e.Surface == nil && w.limits.SurfaceMin != nil:
		return l.with(NoVerdict, ReasonSurfaceMissing, "the temperature of the wall was not taken")
	case w.limits.AirMax != nil && w.limits.AirMax.Less(*e.Air):
		return l.with(Fail, ReasonTooWarm, fmt.Sprintf("air %s °C, at most %s °C", e.Air, w.limits.AirMax))
	case w.limits.SurfaceMin != nil && e.Surface.Less(*w.limits.SurfaceMin):
		return l.with(Fail, ReasonSurfaceTooCold, fmt.Sprintf("wall %s °C, at least %s °C", e.Surface, w.limits.SurfaceMin))
	case w.limits.AirMin != nil && e.Air.Less(*w.limits.AirMin):
		return w.cold(l, i)
	}
	return l
}

// cold is for air below the ordinary limit: allowed only while it is rising.
func (w *weatherRun) cold(l WeatherLook, i int) WeatherLook {
	e, least := w.log[i], w.limits.RisingMin
	tooCold := fmt.Sprintf("air %s °C, at least %s °C", e.Air, w.limits.AirMin)
	if least == nil || e.Air.Less(*least) {
		if least != nil {
			tooCold += fmt.Sprintf(", or %s °C and rising", least)
		}
		return l.with(Fail, ReasonTooCold, tooCold)
	}
	for _, next := range w.log[i+1:] {
		if next.Air == nil || !next.At.After(e.At) {
			continue
		}
		if next.At.Sub(e.At) > w.limits.RisingWithin {
			break
		}
		then := fmt.Sprintf("air %s °C, then %s °C at %s", e.Air, next.Air, next.At.Format("15:04"))
		if e.Air.Less(*next.Air) {
			return l.with(Pass, ReasonAllowedRising, then+": allowed while rising")
		}
		return l.with(Fail, ReasonNotRising, then+": not rising")
	}
	return l.with(NoVerdict, ReasonRisingNotProven, fmt.Sprintf("air %s °C is allowed only while rising; take it again within %s",
		e.Air, shortSpan(w.limits.RisingWithin)))
}

func (w *weatherRun) dew(l *WeatherLook, e WeatherEntry) {
	if w.limits.DewMargin == nil {
		return
	}
	if e.Air == nil || e.Surface == nil || e.Humidity == nil {
		l.Warning = "the margin to the dew point is not known; take air, wall and humidity together"
		return
	}
	d, err := DewPoint(*e.Air, *e.Humidity)
	if err != nil {
		l.Warning = "the dew point is not known: " + err.Error()
		return
	}
	margin := e.Surface.Float() - d
	l.DewPoint, l.Margin = &d, &margin
	if margin < w.limits.DewMargin.Float() {
		l.Warning = fmt.Sprintf("the wall lies %.1f K above the dew point, less than %s K: moisture may settle on it",
			margin, w.limits.DewMargin)
	}
}

// frost looks at the hours after the work.
func (w *weatherRun) frost() (WeatherLook, bool) {
	if w.limits.FrostHours == 0 {
		return WeatherLook{}, false
	}
	until := w.shift.End.Add(time.Duration(w.limits.FrostHours) * time.Hour)
	l := WeatherLook{Name: "after", At: until, Outcome: NoVerdict}
	seen := false
	for _, e := range w.log {
		if !e.At.After(w.shift.End) || e.At.After(until) || e.Air == nil {
			continue
		}
		seen = true
		if e.Air.Sign() < 0 {
			l.At = e.At
			return l.with(Fail, ReasonFrostAfterwards, fmt.Sprintf("air %s °C within %d h of the work", e.Air, w.limits.FrostHours)), true
		}
	}
	if !seen {
		return l.with(NoVerdict, ReasonFrostNotExcluded, fmt.Sprintf("the log says nothing of the %d h after the work; enter the night's minimum",
			w.limits.FrostHours)), true
	}
	return l.with(Pass, "", ""), true
}

func (l WeatherLook) with(o Outcome, reason, text string) WeatherLook {
	l.Outcome, l.Reason, l.Text = o, reason, text
	return l
}
