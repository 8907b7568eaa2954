package statistics_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// Job J11: 64 elevations at level II are letter E; the zero plan draws 13 of them.
func TestASampleIsItsPlanItsDrawAndWhatItCanMiss(t *testing.T) {
	t.Parallel()
	spec := statistics.SampleSpec{Lot: statistics.Numbered(64), Level: "II", Scheme: statistics.ZeroScheme, Seed: "May audit", Risk: []string{"7", "9"}}
	got, err := statistics.TakeSample(spec)
	require.NoError(t, err)
	require.Equal(t, []any{"E", 13, 0}, []any{got.Plan.LotCode, got.Plan.N, got.Plan.Ac})
	require.Len(t, got.Drawn.Sample, 13)
	require.Len(t, got.Drawn.Risk, 2)
	for _, want := range []struct {
		bad int
		p   float64
	}{{1, 0.20}, {3, 0.50}, {6, 0.76}} {
		require.InDelta(t, want.p, got.Detect[want.bad-1].P, 0.005, "of %d bad ones", want.bad)
	}
	spec.Scheme, spec.AQL, spec.Inspection = "", "2.5", statistics.NormalInspection
	got, err = statistics.TakeSample(spec)
	require.NoError(t, err)
	require.Equal(t, []any{"E", "F", 20, 1, 2}, []any{got.Plan.LotCode, got.Plan.Code, got.Plan.N, got.Plan.Ac, got.Plan.Re})
	spec.Scheme, spec.Bad, spec.Confidence = statistics.DiscoveryScheme, 3, 0.95
	got, err = statistics.TakeSample(spec)
	require.NoError(t, err)
	require.GreaterOrEqual(t, got.Detect[2].P, 0.95)
	one, err := statistics.Detection(64, got.Plan.N-1, 3)
	require.NoError(t, err)
	require.Less(t, one, 0.95, "one fewer would not do")
	spec.Scheme = "by eye"
	_, err = statistics.TakeSample(spec)
	require.ErrorIs(t, err, defects.Invalid)
	_, err = statistics.TakeSample(statistics.SampleSpec{Level: "II", AQL: "2.5", Inspection: statistics.NormalInspection, Seed: "s"})
	require.ErrorIs(t, err, defects.Invalid, "an empty lot")
}
