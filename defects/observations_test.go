package defects

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func observations(text string) []Decimal {
	var out []Decimal
	for word := range strings.FieldsSeq(text) {
		out = append(out, MustDecimal(word))
	}
	return out
}

func TestAMeanIsWrittenWithTwoPlacesMore(t *testing.T) {
	t.Parallel()
	for values, want := range map[string]string{
		"9.6 9.8 9.7":                 "9.700",
		"9.6 9.8 9.7 9.7 9.8 9.8 9.8": "9.743",
		"1 2":                         "1.50",
		"-1 -2 -2":                    "-1.67",
		"0.12345 0.12346":             "0.123455",
		"5":                           "5.00",
		"1000000000.1 1000000000.2":   "1000000000.150",
	} {
		require.Equal(t, want, MeanOf(observations(values)).String(), values)
	}
	require.Equal(t, "0", MeanOf(nil).String())
}

// GUM 4.4.3: twenty temperatures with s = 1.489 and s/√20 = 0.333.
func TestTheSpreadOfObservationsIsThatOfTheGuide(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "gum-4.4.3") {
		var in struct {
			X []float64 `json:"x"`
		}
		var want []float64 // mean, s, s/√n
		v.read(t, &in, &want)
		var list []Decimal
		for _, f := range in.X {
			d, ok := DecimalFromFloat(f, 6)
			require.True(t, ok)
			list = append(list, d)
		}
		require.NotEmpty(t, list)
		require.InDelta(t, want[0], MeanOf(list).Float(), 0.0006, v.ID)
		require.InDelta(t, want[1], deviationOf(list).Float(), 0.0006, "%s (%s)", v.ID, v.Source)
	}
}

func TestTheMeanOfObservationsLessensTheirSpreadOnly(t *testing.T) {
	t.Parallel()
	caliper := func(s string, n int) Instrument {
		i := Instrument{Resolution: exact("0.1"), Calibrations: []Calibration{{On: "2026-01-01", Due: "2026-12-31", Expanded: exact("0.06")}}}
		if s != "" {
			i.Repeatability, i.Repeats = exact(s), n
		}
		return i
	}
	for name, c := range map[string]struct {
		tool      Instrument
		values    string
		want      string // 2·√(sum of squares), worked out by hand
		own       bool
		contained bool
	}{
		// The caliper budget of the vectors, without its thermal part of 0.0007 mm.
		"their own spread":                      {caliper("", 0), "10.2 10.4 10.1 10.3 10.2", "0.131656", true, false},
		"equal ones leave the resolution":       {caliper("", 0), "10.2 10.2 10.2", "0.083267", true, false},
		"a spread of several steps holds it":    {caliper("", 0), "10 11 12 11", "0.818698", true, true},
		"more repeats found before are better":  {caliper("0.05", 5), "10.2 10.4 10.1 10.3", "0.097125", false, false},
		"fewer repeats found before are poorer": {caliper("0.05", 4), "10.2 10.4 10.1 10.3 10.2", "0.131656", true, false},
		"wide repeats before, equal ones now":   {caliper("0.5", 2), "10.2 10.2 10.2", "0.083267", true, false},
		"one value is no mean":                  {caliper("0.05", 4), "10.2", "0.130128", false, false},
	} {
		u := UncertaintyOf(c.tool, "2026-06-01").OfMean(observations(c.values))
		require.Equal(t, c.want, u.Expanded().String(), name)
		require.Equal(t, c.own, u.Own, name)
		require.Equal(t, c.contained, u.Contained, name)
	}
}

func TestEqualObservationsAloneGiveNoUncertainty(t *testing.T) {
	t.Parallel()
	require.Nil(t, Uncertainty{}.OfMean(observations("7 7 7")).Expanded())
	require.NotNil(t, Uncertainty{}.OfMean(observations("7 8 7")).Expanded())
}
