package defects

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Cells below 0 °C print the frost point elsewhere and are not tested.
func TestDewPointsAgainstTheMagnusFormAndTradeTables(t *testing.T) {
	t.Parallel()
	for _, v := range append(toleranceVectors(t, "dew-"), toleranceVectors(t, "substrate-3K-")...) {
		var want float64
		v.expect(t, &want)
		got, err := DewPoint(v.decimal(t, "T_C"), v.decimal(t, "RH_pct"))
		require.NoError(t, err)
		if v.ID[:3] == "sub" {
			got += 3
		}
		require.InDelta(t, want, got, v.Within, "%s", v)
	}
	for _, c := range [][2]string{{"20", "0"}, {"20", "100.1"}, {"-50", "50"}, {"61", "50"}, {"20", "-1"}} {
		_, err := DewPoint(MustDecimal(c[0]), MustDecimal(c[1]))
		require.ErrorIs(t, err, Invalid, "%v", c)
	}
	full, err := DewPoint(MustDecimal("12.5"), DecimalOf(100))
	require.NoError(t, err)
	require.InDelta(t, 12.5, full, 1e-12)
}

func clock(text string) time.Time {
	at, err := time.Parse("2006-01-02 15:04", "2026-11-"+text)
	if err != nil {
		panic(err)
	}
	return at
}

func airAt(at, air string) WeatherEntry { return WeatherEntry{At: clock(at), Air: exact(air)} }

func dayShift() Shift {
	return Shift{Start: clock("18 08:00"), Noon: clock("18 12:00"), End: clock("18 16:00")}
}

// Job J13: limit 5 °C for air and wall; base coat at 15:10 with 4.1 and 3.6, a
// night of −1.2.
func TestABaseCoatInTheColdFails(t *testing.T) {
	t.Parallel()
	limits := WeatherLimits{Product: "base coat", AirMin: exact("5"), SurfaceMin: exact("5"), FrostHours: 24}
	shift := Shift{Start: clock("18 15:10"), End: clock("18 15:40")}
	log := []WeatherEntry{
		{At: clock("19 04:00"), Air: exact("-1.2")},
		{At: clock("18 15:10"), Air: exact("4.1"), Surface: exact("3.6")},
	}
	v, err := JudgeWeather(log, shift, limits)
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome)
	require.Equal(t, ReasonSurfaceTooCold, v.Looks[0].Reason)
	last := v.Looks[len(v.Looks)-1]
	require.Equal(t, []any{"after", Fail, ReasonFrostAfterwards}, []any{last.Name, last.Outcome, last.Reason})
	require.Contains(t, last.Text, "-1.2")
}

func TestRisingIsProvenByTheNextEntry(t *testing.T) {
	t.Parallel()
	limits := WeatherLimits{AirMin: exact("5"), RisingMin: exact("2")}
	shift := Shift{Start: clock("18 08:30"), End: clock("18 08:40")}
	for name, c := range map[string]struct {
		log     []WeatherEntry
		outcome Outcome
		reason  string
	}{
		"higher after half an hour": {[]WeatherEntry{airAt("18 08:30", "2.4"), airAt("18 09:00", "3.1")}, Pass, ReasonAllowedRising},
		"lower":                     {[]WeatherEntry{airAt("18 08:30", "2.4"), airAt("18 09:00", "2.3")}, Fail, ReasonNotRising},
		"the same":                  {[]WeatherEntry{airAt("18 08:30", "2.4"), airAt("18 09:00", "2.40")}, Fail, ReasonNotRising},
		"too late":                  {[]WeatherEntry{airAt("18 08:30", "2.4"), airAt("18 09:45", "3.1")}, NoVerdict, ReasonRisingNotProven},
		"alone":                     {[]WeatherEntry{airAt("18 08:30", "2.4")}, NoVerdict, ReasonRisingNotProven},
		"below what rises":          {[]WeatherEntry{airAt("18 08:30", "1.9"), airAt("18 09:00", "3.1")}, Fail, ReasonTooCold},
		"warm enough":               {[]WeatherEntry{airAt("18 08:30", "5"), airAt("18 09:00", "3")}, Pass, ""},
	} {
		v, err := JudgeWeather(c.log, shift, limits)
		require.NoError(t, err)
		require.Equal(t, c.outcome, v.Outcome, name)
		require.Equal(t, c.reason, v.Looks[0].Reason, name)
	}
}

func TestPublishedTemperatureLimits(t *testing.T) {
	t.Parallel()
	var protect int64
	toleranceVectors(t, "nhbc-temp-prot")[0].expect(t, &protect)
	ordinary := DecimalOf(protect)
	shift := Shift{Start: clock("18 08:30"), End: clock("18 08:40")}
	for _, id := range []string{"nhbc-temp-1.5", "nhbc-temp-2.0"} {
		v := toleranceVectors(t, id)[0]
		var allowed, rising bool
		v.expect(t, &allowed)
		v.input(t, "rising", &rising)
		air := v.decimal(t, "air_C")
		next := air.Add(DecimalOf(1))
		require.True(t, rising)
		got, err := JudgeWeather([]WeatherEntry{{At: clock("18 08:30"), Air: &air}, {At: clock("18 09:00"), Air: &next}}, shift,
			WeatherLimits{AirMin: &ordinary, RisingMin: exact("2")})
		require.NoError(t, err)
		require.Equal(t, allowed, got.Outcome == Pass, "%s", v)
	}
	for _, v := range toleranceVectors(t, "en13914-1-temp-") {
		var allowed bool
		v.expect(t, &allowed)
		air := v.decimal(t, "T_C")
		got, err := JudgeWeather([]WeatherEntry{{At: clock("18 08:30"), Air: &air}}, shift, WeatherLimits{AirMin: exact("5"), AirMax: exact("30")})
		require.NoError(t, err)
		require.Equal(t, allowed, got.Outcome == Pass, "%s", v)
	}
}

func TestGapsInTheLogAreNamed(t *testing.T) {
	t.Parallel()
	limits := WeatherLimits{AirMin: exact("5")}
	v, err := JudgeWeather([]WeatherEntry{airAt("18 08:10", "7"), airAt("18 15:40", "8")}, dayShift(), limits)
	require.NoError(t, err)
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonWeatherGap, v.Looks[1].Reason)
	require.Equal(t, "the log has no entry within 1 h of 12:00 (noon)", v.Looks[1].Text)

	v, err = JudgeWeather([]WeatherEntry{airAt("18 08:10", "7"), airAt("18 12:20", "9"), airAt("18 15:40", "8")}, dayShift(), limits)
	require.NoError(t, err)
	require.Equal(t, Pass, v.Outcome)
	v, err = JudgeWeather([]WeatherEntry{
		airAt("18 08:10", "7"), airAt("18 12:20", "9"), airAt("18 13:40", "4"), airAt("18 15:40", "8"),
	}, dayShift(), limits)
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome, "an entry between the three counts too")
	v, err = JudgeWeather(nil, dayShift(), limits)
	require.NoError(t, err)
	require.Len(t, v.Looks, 3)
	require.Equal(t, NoVerdict, v.Outcome)
}

func TestTheDewPointWarnsAndFailsNothing(t *testing.T) {
	t.Parallel()
	limits := WeatherLimits{AirMin: exact("5"), DewMargin: exact("3")}
	shift := Shift{Start: clock("18 08:30"), End: clock("18 08:40")}
	entry := WeatherEntry{At: clock("18 08:30"), Air: exact("10"), Surface: exact("11.3"), Humidity: exact("90")}
	v, err := JudgeWeather([]WeatherEntry{entry}, shift, limits)
	require.NoError(t, err)
	require.Equal(t, Pass, v.Outcome)
	require.InDelta(t, 8.434, *v.Looks[0].DewPoint, 0.005)
	require.Contains(t, v.Looks[0].Warning, "2.9 K above the dew point, less than 3 K")
	entry.Surface = exact("11.5")
	v, err = JudgeWeather([]WeatherEntry{entry}, shift, limits)
	require.NoError(t, err)
	require.Empty(t, v.Looks[0].Warning)
	entry.Humidity = nil
	v, err = JudgeWeather([]WeatherEntry{entry}, shift, limits)
	require.NoError(t, err)
	require.Contains(t, v.Looks[0].Warning, "not known")
	entry.Humidity = exact("0")
	v, err = JudgeWeather([]WeatherEntry{entry}, shift, limits)
	require.NoError(t, err)
	require.Contains(t, v.Looks[0].Warning, "not known")
}

func TestWeatherWithoutItsFactsHasNoVerdict(t *testing.T) {
	t.Parallel()
	shift := Shift{Start: clock("18 08:30"), End: clock("18 08:40")}
	one := []WeatherEntry{{At: clock("18 08:30")}}
	for reason, limits := range map[string]WeatherLimits{
		ReasonAirMissing: {AirMin: exact("5")}, ReasonSurfaceMissing: {SurfaceMin: exact("5")},
	} {
		v, err := JudgeWeather(one, shift, limits)
		require.NoError(t, err)
		require.Equal(t, NoVerdict, v.Outcome)
		require.Equal(t, reason, v.Looks[0].Reason)
	}
	v, err := JudgeWeather(one, shift, WeatherLimits{FrostHours: 12})
	require.NoError(t, err)
	require.Equal(t, ReasonFrostNotExcluded, v.Looks[len(v.Looks)-1].Reason)
	for name, limits := range map[string]WeatherLimits{
		"crossed":         {AirMin: exact("9"), AirMax: exact("5")},
		"rising above":    {AirMin: exact("5"), RisingMin: exact("5")},
		"rising alone":    {RisingMin: exact("2")},
		"negative margin": {DewMargin: exact("-1")},
		"negative hours":  {FrostHours: -1},
	} {
		_, err := JudgeWeather(one, shift, limits)
		require.ErrorIs(t, err, Invalid, name)
	}
	_, err = JudgeWeather(one, Shift{Start: clock("18 09:00"), End: clock("18 08:00")}, WeatherLimits{})
	require.ErrorIs(t, err, Invalid)
}

func inForceFor(t *testing.T, limits ...Limit) *Limits {
	t.Helper()
	for i := range limits {
		limits[i].Title, limits[i].Basis = "house rules", Project
	}
	l, err := Compile(Schedule{Name: "house", Version: 1, Title: "house rules", Basis: Project, Limits: limits})
	require.NoError(t, err)
	return l
}

// The rule at two degrees and rising, written as a product's limits and as a
// schedule in force, gives one answer.
func TestARuleIsDecidedAlikeHoweverItIsWritten(t *testing.T) {
	t.Parallel()
	shift := Shift{Start: clock("18 08:30"), End: clock("18 08:40")}
	product := WeatherLimits{AirMin: exact("5"), AirMax: exact("30"), RisingMin: exact("2"), SurfaceMin: exact("4"), DewMargin: exact("3")}
	schedule := inForceFor(t,
		Limit{Quantity: "air_temperature", Kind: RisingLimit, Lower: exact("2"), RisingBelow: exact("5"), Upper: exact("30")},
		Limit{Quantity: "surface_temperature", Kind: FixedLimit, Lower: exact("4")},
		Limit{Quantity: "surface_temperature", Kind: DewPointLimit, Figure: exact("3"), Warning: true},
	)
	for _, air := range []string{"1.9", "2.0", "4.99", "5", "30", "30.1"} {
		for _, then := range []string{"", "1", "4.99", "31"} {
			for _, wall := range []string{"", "3.9", "4"} {
				entry := WeatherEntry{At: clock("18 08:30"), Air: exact(air), Humidity: exact("85")}
				if wall != "" {
					entry.Surface = exact(wall)
				}
				log := []WeatherEntry{entry}
				if then != "" {
					log = append(log, airAt("18 09:00", then))
				}
				want, err := JudgeWeather(log, shift, product)
				require.NoError(t, err)
				got, err := JudgeShift(log, shift, WeatherRules{Schedules: []*Limits{schedule}, Rule: Simple})
				require.NoError(t, err)
				require.Equal(t, want.Outcome, got.Outcome, "%s then %s, wall %s", air, then, wall)
				require.Equal(t, want.Looks[0].Reason, got.Looks[0].Reason)
				require.Equal(t, want.Looks[0].Text, got.Looks[0].Text)
				require.Equal(t, want.Looks[0].Warning == "", got.Looks[0].Warning == "")
				if wall == "4" && air != "30.1" {
					alone := Judge(Input{Quantity: "air_temperature", Unit: "degC", Value: *exact(air), Trend: got.Looks[0].Findings[1].Input.Trend}, schedule, Simple, Decimal{})
					require.Equal(t, alone.Outcome, got.Outcome, "the verdict of one reading is the verdict in the log")
				}
			}
		}
	}
}

func TestAShiftIsJudgedByTheSchedulesInForce(t *testing.T) {
	t.Parallel()
	shift := Shift{Start: clock("18 08:30"), End: clock("18 16:00")}
	log := []WeatherEntry{
		{ID: "a", At: clock("18 08:30"), Air: exact("5.2"), Expanded: exact("0.5"), Surface: exact("9"), Humidity: exact("50")},
		{ID: "b", At: clock("18 15:50"), Air: exact("8"), Expanded: exact("0.5")},
	}
	air := inForceFor(t, Limit{Quantity: "air_temperature", Kind: FixedLimit, Lower: exact("5"), Stage: "BM"})
	v, err := JudgeShift(log, shift, WeatherRules{Schedules: []*Limits{air}, Rule: FourWay, Stage: "BM"})
	require.NoError(t, err)
	require.Equal(t, ConditionalPass, v.Outcome, "5.2 with U 0.5 is closer to 5 than its uncertainty")
	require.Equal(t, "house@1", v.Looks[0].Findings[0].Verdict.Schedule)
	require.Equal(t, "a", v.Looks[0].Entry.ID)
	require.NotNil(t, v.Looks[0].DewPoint)

	log[1].CalibrationExpired = true
	v, err = JudgeShift(log, shift, WeatherRules{Schedules: []*Limits{air}, Rule: FourWay, Stage: "BM"})
	require.NoError(t, err)
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonCalibrationExpired, v.Looks[1].Reason)

	v, err = JudgeShift(log, shift, WeatherRules{Schedules: []*Limits{air}, Rule: FourWay, Stage: "SL"})
	require.NoError(t, err)
	require.Equal(t, NoVerdict, v.Outcome, "no limit is for laying slips")
	require.Equal(t, ReasonNoLimit, v.Looks[0].Reason)
	wall := inForceFor(t, Limit{Quantity: "surface_temperature", Kind: FixedLimit, Lower: exact("5")},
		Limit{Quantity: "relative_humidity", Kind: FixedLimit, Upper: exact("40")})
	v, err = JudgeShift(log, shift, WeatherRules{Schedules: []*Limits{wall}, Rule: Simple})
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome)
	require.Equal(t, ReasonTooHumid, v.Looks[0].Reason)
	require.Equal(t, "BM-08", WeatherConsequences(v, "BM", nil)[0].Code)
	require.Equal(t, "SL-14", WeatherConsequences(v, "SL", nil)[0].Code)
	require.Equal(t, ReasonSurfaceMissing, v.Looks[1].Reason)
	_, err = JudgeShift(log, shift, WeatherRules{FrostHours: -1})
	require.ErrorIs(t, err, Invalid)
}
