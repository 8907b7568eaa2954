package defects

import (
	"fmt"
	"math"
	"time"
)

// DewPoint is the temperature in °C at which air of the temperature and the
// relative humidity in per cent is saturated over water, by the Magnus form with
// the constants of WMO Annex 4.B (17.62, 243.12; read in a station manual that
// quotes it). It takes −45 to 60 °C and humidity above 0 up to 100 %. Below 0 °C
// it is the dew point, not the frost point that some tables print.
func DewPoint(air, humidity Decimal) (float64, error) {
	t, rh := air.Float(), humidity.Float()
	if t < -45 || t > 60 {
		return 0, RefuseField(Invalid, "air", "bad_value", "the dew point formula holds from -45 to 60 °C")
	}
	if rh <= 0 || rh > 100 {
		return 0, RefuseField(Invalid, "humidity", "bad_value", "relative humidity lies above 0 and up to 100 %")
	}
	const a, b = 17.62, 243.12
	gamma := math.Log(rh/100) + a*t/(b+t)
	return b * gamma / (a - gamma), nil
}

// WeatherEntry is one line of a site's weather log; a nil figure was not taken.
type WeatherEntry struct {
	At       time.Time
	Air      *Decimal // °C
	Surface  *Decimal // °C, of the wall
	Humidity *Decimal // %
}

// WeatherLimits are what a product or a schedule asks of the weather. A nil
// figure asks nothing.
type WeatherLimits struct {
	Product    string
	AirMin     *Decimal // °C
	AirMax     *Decimal
	SurfaceMin *Decimal
	// RisingMin, below AirMin, is what the air may have while it is rising: the
	// next entry within RisingWithin must be higher.
	RisingMin    *Decimal
	RisingWithin time.Duration // 0 = one hour (common practice, no source)
	// DewMargin is what the surface should lie above the dew point, in K. It
	// warns and fails nothing: coating practice, 3 K (from memory).
	DewMargin *Decimal
	// FrostHours after the end of the work in which no frost may come.
	FrostHours int
}

// Check refuses limits that contradict each other, with code bad_weather_limits.
func (l WeatherLimits) Check() error {
	why := ""
	switch {
	case l.AirMin != nil && l.AirMax != nil && l.AirMax.Less(*l.AirMin):
		why = "the greatest air temperature lies below the least"
	case l.RisingMin != nil && (l.AirMin == nil || !l.RisingMin.Less(*l.AirMin)):
		why = "a limit while rising must lie below the ordinary one"
	case l.DewMargin != nil && l.DewMargin.Sign() < 0:
		why = "the margin to the dew point cannot be negative"
	case l.RisingWithin < 0 || l.FrostHours < 0:
		why = "a span of time cannot be negative"
	default:
		return nil
	}
	return RefuseField(Invalid, "weather", "bad_weather_limits", why)
}

// Shift is one stretch of work: Start and End, and Noon when it spans midday
// (zero otherwise). Each asks for a log entry within Reach of it.
type Shift struct {
	Start, Noon, End time.Time
	Reach            time.Duration // 0 = one hour (common practice, no source)
}

// WeatherLook is the verdict on one moment.
type WeatherLook struct {
	Name     string // "start", "noon", "end", "between", "after"
	At       time.Time
	Outcome  Outcome
	Reason   string   // stable word when it is not a plain pass
	Text     string   // plain English
	DewPoint *float64 // °C, when air and humidity are known
	Margin   *float64 // K of the surface over the dew point
	Warning  string   // dew, or what is not known of it
}

// The reasons of a WeatherLook.
const (
	ReasonWeatherGap       = "weather_gap"
	ReasonAirMissing       = "air_missing"
	ReasonSurfaceMissing   = "surface_missing"
	ReasonTooCold          = "too_cold"
	ReasonTooWarm          = "too_warm"
	ReasonSurfaceTooCold   = "surface_too_cold"
	ReasonAllowedRising    = "allowed_while_rising"
	ReasonNotRising        = "not_rising"
	ReasonRisingNotProven  = "rising_not_proven"
	ReasonFrostAfterwards  = "frost_afterwards"
	ReasonFrostNotExcluded = "frost_not_excluded"
)

// WeatherVerdict is the answer for one product and one shift: the worst look
// governs, and a gap in the log leaves it unproven unless something failed.
type WeatherVerdict struct {
	Outcome Outcome
	Looks   []WeatherLook
}

// JudgeWeather holds a log against a product's limits over a shift. Entries may
// come in any order; those outside the shift count only for "rising" and for
// frost afterwards.
func JudgeWeather(log []WeatherEntry, shift Shift, limits WeatherLimits) (WeatherVerdict, error) {
	if err := limits.Check(); err != nil {
		return WeatherVerdict{}, err
	}
	if shift.Start.IsZero() || shift.End.Before(shift.Start) {
		return WeatherVerdict{}, RefuseField(Invalid, "shift", "bad_shift", "a shift needs a start and an end after it")
	}
	w := weatherRun{log: byTime(log), shift: shift, limits: limits, used: map[int]bool{}}
	w.fill()
	v := WeatherVerdict{Looks: w.looks()}
	outcomes := make([]Outcome, len(v.Looks))
	for i, l := range v.Looks {
		outcomes[i] = l.Outcome
	}
	v.Outcome = Worst(outcomes...)
	return v, nil
}

func looksGap(name string, at time.Time, reach time.Duration) WeatherLook {
	return WeatherLook{
		Name: name, At: at, Outcome: NoVerdict, Reason: ReasonWeatherGap,
		Text: fmt.Sprintf("the log has no entry within %s of %s (%s)", shortSpan(reach), at.Format("15:04"), name),
	}
}

// shortSpan writes whole hours and minutes: "1 h", "30 min", "1 h 30 min".
func shortSpan(d time.Duration) string {
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}
