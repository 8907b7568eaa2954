package defects

import (
	"cmp"
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
	ID       string // of the stored line; "" = none
	At       time.Time
	Air      *Decimal // °C
	Surface  *Decimal // °C, of the wall
	Humidity *Decimal // %

	Expanded           *Decimal // U (k = 2) of the temperatures in K; nil = not known
	CalibrationExpired bool     // the instrument was out of calibration that day
}

// WeatherRules is what a shift is held against: the schedules in force, the
// governing one first, with a limit for air_temperature, surface_temperature or
// relative_humidity, and what no schedule can say.
type WeatherRules struct {
	Schedules []*Limits
	Rule      Rule
	Guard     Decimal // factor of U, as for Judge
	Stage     string
	// RisingWithin is how soon the next entry must be higher for a temperature to
	// be rising. 0 = one hour (common practice, no source).
	RisingWithin time.Duration
	// FrostHours after the end of the work in which no frost may come. 0 = not asked.
	FrostHours int
}

// WeatherLimits are what a product's data sheet asks of the weather. A nil figure
// asks nothing. They are judged as a schedule of their own, so that a rule is
// decided in one place however it came to be written down.
type WeatherLimits struct {
	Product    string
	AirMin     *Decimal // °C
	AirMax     *Decimal
	SurfaceMin *Decimal
	// RisingMin, below AirMin, is what the air may have while it is rising: a limit
	// of kind rising.
	RisingMin    *Decimal
	RisingWithin time.Duration // as in WeatherRules
	// DewMargin is what the surface should lie above the dew point, in K: a limit
	// of kind dew-point. It warns and fails nothing: coating practice, 3 K (from
	// memory).
	DewMargin  *Decimal
	FrostHours int // as in WeatherRules
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

// rules makes a schedule of the limits.
func (l WeatherLimits) rules() (WeatherRules, error) {
	r := WeatherRules{Rule: Simple, RisingWithin: l.RisingWithin, FrostHours: l.FrostHours}
	if err := l.Check(); err != nil {
		return r, err
	}
	s := Schedule{Name: "product", Version: 1, Title: cmp.Or(l.Product, "the product's limits"), Basis: Project}
	air := Limit{Quantity: "air_temperature", Kind: FixedLimit, Lower: l.AirMin, Upper: l.AirMax}
	if l.RisingMin != nil {
		air.Kind, air.Lower, air.RisingBelow = RisingLimit, l.RisingMin, l.AirMin
	}
	if air.Lower != nil || air.Upper != nil {
		s.Limits = append(s.Limits, air)
	}
	if l.SurfaceMin != nil {
		s.Limits = append(s.Limits, Limit{Quantity: "surface_temperature", Kind: FixedLimit, Lower: l.SurfaceMin})
	}
	if l.DewMargin != nil {
		s.Limits = append(s.Limits, Limit{Quantity: "surface_temperature", Kind: DewPointLimit, Figure: l.DewMargin, Warning: true})
	}
	if len(s.Limits) == 0 {
		return r, nil
	}
	compiled, err := Compile(s)
	r.Schedules = []*Limits{compiled}
	return r, err
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
	Entry    WeatherEntry // what the log says there; zero for a gap
	Outcome  Outcome
	Reason   string    // stable word when it is not a plain pass
	Text     string    // plain English
	DewPoint *float64  // °C, when air and humidity are known
	Margin   *float64  // K of the surface over the dew point
	Warning  string    // dew, or what is not known of it
	Findings []Finding // of each quantity that some schedule has a limit for
}

// Finding is one figure with the verdict on it; one that was not Taken has none.
type Finding struct {
	Input   Input
	Taken   bool
	Verdict Verdict
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
	ReasonTooHumid         = "too_humid"
	ReasonHumidityMissing  = "humidity_missing"
)

// WeatherVerdict is the answer for one shift: the worst look governs, and a gap
// in the log leaves it unproven unless something failed.
type WeatherVerdict struct {
	Outcome Outcome
	Looks   []WeatherLook
}

// JudgeWeather is JudgeShift by a product's limits alone, as they stand.
func JudgeWeather(log []WeatherEntry, shift Shift, limits WeatherLimits) (WeatherVerdict, error) {
	rules, err := limits.rules()
	if err != nil {
		return WeatherVerdict{}, err
	}
	return JudgeShift(log, shift, rules)
}

// JudgeShift holds a log against schedules over a shift: at its start, at noon, at
// its end and at each entry between, by JudgeGoverning; then the hours afterwards
// for frost. Where a limit asks whether a temperature is rising, the next entry
// within RisingWithin says it. Entries may come in any order; those outside the
// shift count only for that and for frost. Without any limit for the weather
// there is no verdict.
func JudgeShift(log []WeatherEntry, shift Shift, rules WeatherRules) (WeatherVerdict, error) {
	if shift.Start.IsZero() || shift.End.Before(shift.Start) {
		return WeatherVerdict{}, RefuseField(Invalid, "shift", "bad_shift", "a shift needs a start and an end after it")
	}
	if rules.RisingWithin < 0 || rules.FrostHours < 0 {
		return WeatherVerdict{}, RefuseField(Invalid, "frost_hours", "bad_weather_limits", "a span of time cannot be negative")
	}
	w := weatherRun{log: byTime(log), shift: shift, rules: rules, used: map[int]bool{}}
	w.fill()
	v := WeatherVerdict{Looks: w.looks()}
	var outcomes []Outcome
	for _, l := range v.Looks {
		if l.Reason != ReasonNoLimit { // frost may be all that is asked
			outcomes = append(outcomes, l.Outcome)
		}
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
