package reference_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func judged(t *testing.T, schedule string, in defects.Input) defects.Verdict {
	t.Helper()
	return defects.Judge(in, builtIn(t, schedule), defects.Simple, defects.Decimal{})
}

func checkSize(t *testing.T, v vector) {
	rows := map[string]string{
		"plan": "plan", "elevation": "elevation", "clear_plan": "clear-plan", "clear_elevation": "clear-elevation",
		"opening_unfinished": "openings", "opening_finished_reveal": "finished-reveals",
	}
	v.equal(t, upperAt(t, "din-18202-t1-"+rows[v.input(t, "row")], "size_deviation", v.decimal(t, "nominal_m")))
}

// checkNominal compares a departure from the nominal value, which is the same
// whatever that is.
func checkNominal(schedule, quantity string) checker {
	return func(t *testing.T, v vector) {
		nominal := defects.DecimalOf(300)
		got := judged(t, schedule, defects.Input{Quantity: quantity, Value: nominal, Unit: "mm", Nominal: &nominal})
		v.equal(t, got.Upper.Sub(nominal))
		v.equal(t, nominal.Sub(*got.Lower))
	}
}

func checkBondedArea(t *testing.T, v vector) {
	strength := v.decimal(t, "B_MPa")
	got := judged(t, "etag-004-bonded-area", defects.Input{Quantity: "adhesive_contact_board", Unit: "%", Nominal: &strength})
	v.equal(t, *got.Lower)
	require.True(t, got.Unverified(), "%s", v)
}

func checkPlasterClass(t *testing.T, v vector) {
	v.equal(t, upperAt(t, "en-13914-2-class-"+v.input(t, "class"), "flatness", defects.DecimalOf(2)))
}

func checkRender(t *testing.T, v vector) {
	parts := strings.Split(strings.TrimPrefix(v.ID, "din18550-"), "-")
	name := map[string]string{"1coat": "render-one-coat", "2coat": "render-two-coat"}[parts[0]]
	want := v.wants(t)
	figure := map[string]func(below bool) []defects.Decimal{
		"min": func(below bool) []defects.Decimal {
			if below {
				return []defects.Decimal{want.Sub(defects.MustDecimal("0.1")), defects.DecimalOf(40)}
			}
			return []defects.Decimal{want, defects.DecimalOf(40)}
		},
		"mean": func(below bool) []defects.Decimal {
			if below {
				return []defects.Decimal{want, want.Sub(defects.MustDecimal("0.1"))}
			}
			return []defects.Decimal{want, want}
		},
	}[parts[1]]
	for below, outcome := range map[bool]defects.Outcome{false: defects.Pass, true: defects.Fail} {
		in := defects.SetInput{Input: defects.Input{Quantity: "render_thickness", Unit: "mm"}, Values: figure(below)}
		got := defects.JudgeSet(in, builtIn(t, name), defects.Simple, defects.Decimal{})
		require.Equal(t, outcome, got.Verdict.Outcome, "%s", v)
	}
}

func checkRising(t *testing.T, v vector) {
	trend := defects.Falling
	if v.input(t, "rising") == "true" {
		trend = defects.Rising
	}
	got := judged(t, "nhbc-2022-render", defects.Input{Quantity: "air_temperature", Value: v.decimal(t, "air_C"), Unit: "degC", Trend: trend})
	require.Equal(t, v.wantsTrue(t), got.Outcome == defects.Pass, "%s: %s", v, got.Outcome)
}

func checkProtection(t *testing.T, v vector) {
	for _, c := range []struct {
		above  string
		reason string
	}{{"0", defects.ReasonProtect}, {"0.1", ""}} {
		at := v.wants(t).Add(defects.MustDecimal(c.above))
		got := judged(t, "nhbc-2022-render", defects.Input{Quantity: "air_temperature", Value: at, Unit: "degC", Trend: defects.Rising})
		require.Equal(t, defects.Pass, got.Outcome, "%s", v)
		require.Equal(t, c.reason, got.Reason, "%s at %s", v, at)
	}
}

func checkDewPoint(t *testing.T, v vector) {
	within, err := v.Within.Float64()
	require.NoError(t, err)
	got, err := defects.DewPoint(v.decimal(t, "T_C"), v.decimal(t, "RH_pct"))
	require.NoError(t, err)
	require.InDelta(t, v.wants(t).Float(), got, within, "%s", v)
}

// checkAboveDewPoint warns below the printed temperature and not above it.
func checkAboveDewPoint(t *testing.T, v vector) {
	air, humidity := v.decimal(t, "T_C"), v.decimal(t, "RH_pct")
	in := defects.Input{Quantity: "surface_temperature", Unit: "degC", AirTemperature: &air, Humidity: &humidity}
	in.Value = v.wants(t).Add(defects.MustDecimal("0.1"))
	require.Empty(t, judged(t, "dew-point-practice", in).Warning, "%s", v)
	in.Value = v.wants(t).Sub(defects.MustDecimal("0.1"))
	got := judged(t, "dew-point-practice", in)
	require.Contains(t, got.Warning, "danger of condensation", "%s", v)
	require.Equal(t, defects.NoVerdict, got.Outcome, "a warning decides nothing")
}

func checkUneven(t *testing.T, v vector) {
	name := map[string]string{"bonded": "bonded", "bonded_and_anchored": "bonded-anchored", "rail": "rails"}[v.input(t, "method")]
	one := defects.DecimalOf(1)
	got := judged(t, "etics-approvals-"+name, defects.Input{Quantity: "flatness", Unit: "mm", BaseLength: &one, Stage: "SV"})
	v.equal(t, *got.Upper)
}

func TestAPublishedScheduleNeverChangesUnderItsVersion(t *testing.T) {
	t.Parallel()
	checkSums(t)
}
