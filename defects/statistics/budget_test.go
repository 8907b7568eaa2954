package statistics_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/statistics"
)

func source(standard, nu float64) statistics.Source {
	return statistics.Source{Standard: standard, Nu: nu}
}

func TestABudgetOfFiveCaliperReadings(t *testing.T) {
	t.Parallel()
	v := methodVectors(t, "gum-caliper-budget")[0]
	var in struct {
		Readings []json.Number `json:"readings_mm"`
	}
	var want []float64
	v.read(t, &in, &want)
	repeats, mean, err := statistics.Repeats("five readings", exact(in.Readings))
	require.NoError(t, err)
	display, err := statistics.Resolution("display", 0.1)
	require.NoError(t, err)
	certificate, err := statistics.Certificate("certificate", 0.06, 2, math.Inf(1))
	require.NoError(t, err)
	thermal, err := statistics.Within("temperature", 10, statistics.Rectangular, 11.5e-6*mean)
	require.NoError(t, err)
	b, err := statistics.Combine(repeats, display, certificate, thermal)
	require.NoError(t, err)
	t95, err := b.ExpandT(0.95)
	require.NoError(t, err)
	kReal := statistics.StudentQuantile(0.975, b.NuEff)
	got := []float64{
		mean, repeats.Standard, display.Standard, certificate.Standard, b.Combined, b.NuEff, kReal, kReal * b.Combined,
		b.ExpandTwo().Expanded,
	}
	for i := range want {
		require.InDelta(t, want[i], got[i], v.tol(t), "%d of %s", i, v)
	}
	// The guide cuts the degrees of freedom down to a whole number (the vector's note).
	require.InDelta(t, 2.2010, t95.K, 5e-5)
	require.Equal(t, 11.0, t95.Nu)
	var shares float64
	for _, s := range b.Sources {
		shares += s.Share
	}
	require.InDelta(t, 1, shares, 1e-12)
	require.True(t, b.Sources[0].TypeA)
	require.False(t, b.Sources[1].TypeA)
	require.Equal(t, math.Sqrt(3), b.Sources[1].Divisor)
}

// The end gauge of GUM H.1, from memory.
func TestTheEndGaugeOfTheGuide(t *testing.T) {
	t.Parallel()
	d, err := statistics.Combine(source(5.8, 24), source(3.9, 5), source(6.7, 8))
	require.NoError(t, err)
	require.InDelta(t, 9.7, d.Combined, 0.05)
	require.InDelta(t, 25.45, d.NuEff, 0.05, "unrounded; the guide rounds on the way to 25.6")
	standard, err := statistics.Certificate("standard", 75, 3, 18)
	require.NoError(t, err)
	require.Equal(t, 25.0, standard.Standard)
	all, err := statistics.Combine(standard, source(9.7, 25.6), source(2.9, 50), source(16.6, 2))
	require.NoError(t, err)
	require.InDelta(t, 32, all.Combined, 0.5)
	require.InDelta(t, 16.7, all.NuEff, 0.5)
	c, err := all.ExpandT(0.99)
	require.NoError(t, err)
	require.Equal(t, 16.0, c.Nu)
	require.InDelta(t, 2.92, c.K, 0.005)
	require.InDelta(t, 93, c.Expanded, 0.8)
}

func TestResolutionIsRectangular(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "gum-res-") {
		var in struct{ Resolution float64 }
		var want float64
		v.read(t, &in, &want)
		s, err := statistics.Resolution("display", in.Resolution)
		require.NoError(t, err)
		require.InDelta(t, want, s.Standard, v.tol(t), "%s", v)
	}
	for shape, want := range map[statistics.Distribution]float64{
		statistics.Rectangular: 1 / math.Sqrt(3), statistics.Triangular: 1 / math.Sqrt(6), statistics.Arcsine: 1 / math.Sqrt2,
	} {
		s, err := statistics.Within("limits", 1, shape, -1)
		require.NoError(t, err)
		require.InDelta(t, want, s.Standard, 1e-15)
	}
}

func TestEqualRepeatsLeaveTheBudgetToTheResolution(t *testing.T) {
	t.Parallel()
	repeats, _, err := statistics.Repeats("equal", decimals("9.5", "9.5", "9.50"))
	require.NoError(t, err)
	require.Zero(t, repeats.Standard)
	display, err := statistics.Resolution("display", 0.1)
	require.NoError(t, err)
	b, err := statistics.Combine(repeats, display)
	require.NoError(t, err)
	require.Equal(t, display.Standard, b.Combined)
	require.Equal(t, math.Inf(1), b.NuEff)
	c, err := b.ExpandT(0.95)
	require.NoError(t, err)
	require.InDelta(t, 1.959964, c.K, 1e-6)
	_, err = statistics.Combine(repeats)
	refusedWith(t, "no_uncertainty", err)
}

func TestABudgetRefusesWhatIsNoUncertainty(t *testing.T) {
	t.Parallel()
	_, _, err := statistics.Repeats("one", decimals("9.5"))
	refusedWith(t, statistics.CodeTooFew, err)
	_, err = statistics.Within("limits", math.NaN(), statistics.Rectangular, 1)
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Within("limits", 1, statistics.Normal, 1)
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Certificate("certificate", 1, 0, math.Inf(1))
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Certificate("certificate", 1, 2, 0)
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Combine(source(-1, 3))
	refusedWith(t, statistics.CodeBadValue, err)
	b, err := statistics.Combine(source(1, 0.5))
	require.NoError(t, err)
	_, err = b.ExpandT(0.95)
	refusedWith(t, statistics.CodeTooFew, err)
	_, err = b.ExpandT(1)
	refusedWith(t, statistics.CodeBadValue, err)
}
