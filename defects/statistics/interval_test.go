package statistics_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/statistics"
)

func TestToleranceFactorsAgainstThePublishedOnes(t *testing.T) {
	t.Parallel()
	type input struct {
		N                      int
		Proportion, Confidence float64
	}
	for _, v := range methodVectors(t, "tol-k1-") {
		var in input
		var want float64
		v.read(t, &in, &want)
		k, err := statistics.OneSidedFactor(in.N, in.Proportion, in.Confidence)
		require.NoError(t, err)
		require.InDelta(t, want, k, v.tol(t), "%s", v)
	}
	for _, v := range methodVectors(t, "tol-k2-") {
		var in input
		var want []float64
		v.read(t, &in, &want)
		if strings.HasPrefix(v.ID, "tol-k2-table") { // 90 % and 95 % at 95 % confidence
			for i, p := range []float64{0.90, 0.95} {
				k, err := statistics.TwoSidedFactor(in.N, p, 0.95)
				require.NoError(t, err)
				require.InDelta(t, want[i], k, v.tol(t), "%s", v)
			}
			continue
		}
		k, err := statistics.TwoSidedFactor(in.N, in.Proportion, in.Confidence)
		require.NoError(t, err)
		require.InDelta(t, want[0], k, v.tol(t), "%s", v)
		k, err = statistics.HoweFactor(in.N, in.Proportion, in.Confidence)
		require.NoError(t, err)
		require.InDelta(t, want[1], k, v.tol(t), "%s", v)
	}
}

func TestToleranceFactorsAgainstSciPy(t *testing.T) {
	t.Parallel()
	for kind, f := range map[string]func(int, float64, float64) (float64, error){
		"k1": statistics.OneSidedFactor, "k2": statistics.TwoSidedFactor,
	} {
		for _, v := range computedVectors(t, kind) {
			var in struct {
				N                      int
				Proportion, Confidence float64
			}
			var want float64
			v.read(t, &in, &want)
			k, err := f(in.N, in.Proportion, in.Confidence)
			require.NoError(t, err)
			require.InEpsilon(t, want, k, 1e-7, "%s %+v (%s)", kind, in, v.Source)
		}
	}
}

// The handbook prints approximations; the exact values differ (vectors' notes).
func TestTheHandbooksApproximateFactors(t *testing.T) {
	t.Parallel()
	v := methodVectors(t, "tol-nist-k1")[0]
	var in struct {
		N       int
		P, Conf float64
	}
	var want float64
	v.read(t, &in, &want)
	k, err := statistics.NatrellaFactor(in.N, in.P, in.Conf)
	require.NoError(t, err)
	require.InDelta(t, want, k, v.tol(t), "%s", v)
	k, err = statistics.OneSidedFactor(in.N, in.P, in.Conf)
	require.NoError(t, err)
	require.InDelta(t, 1.87395, k, 1e-5)

	v = methodVectors(t, "tol-nist-k2")[0]
	var two struct {
		N             int
		P, Conf, Mean float64
		S             float64
	}
	var interval []float64
	v.read(t, &two, &interval)
	k, err = statistics.HoweFactor(two.N, two.P, two.Conf)
	require.NoError(t, err)
	require.InDelta(t, interval[0], k, v.tol(t), "%s", v)
	require.InDelta(t, interval[1], two.Mean-k*two.S, v.tol(t))
	require.InDelta(t, interval[2], two.Mean+k*two.S, v.tol(t))
	exact, err := statistics.Tolerance(statistics.Summary{N: two.N, Mean: two.Mean, S: two.S}, two.P, two.Conf, statistics.EitherSide)
	require.NoError(t, err)
	require.InDelta(t, 2.22283, exact.K, 1e-5)
	require.InDelta(t, two.Mean-exact.K*two.S, exact.Lower, 1e-12)
}

// 59 and 93 for 95 %/95 % (from memory, recomputed).
func TestDistributionFreeSizes(t *testing.T) {
	t.Parallel()
	n, err := statistics.DistributionFree(0.95, 0.95, false)
	require.NoError(t, err)
	require.Equal(t, 59, n)
	n, err = statistics.DistributionFree(0.95, 0.95, true)
	require.NoError(t, err)
	require.Equal(t, 93, n)
}

func TestOneSidedIntervalsAreOpenOnTheOther(t *testing.T) {
	t.Parallel()
	sum := statistics.Summary{N: 10, Mean: 5, S: 1}
	high, err := statistics.Tolerance(sum, 0.95, 0.95, statistics.HighSide)
	require.NoError(t, err)
	require.True(t, math.IsInf(high.Lower, -1))
	require.InDelta(t, 5+2.910963, high.Upper, 1e-5)
	low, err := statistics.Tolerance(sum, 0.95, 0.95, statistics.LowSide)
	require.NoError(t, err)
	require.True(t, math.IsInf(low.Upper, 1))

	_, err = statistics.Tolerance(statistics.Summary{N: 1, Mean: 5}, 0.95, 0.95, statistics.HighSide)
	refusedWith(t, statistics.CodeTooFew, err)
	_, err = statistics.Tolerance(statistics.Summary{N: 3, Mean: 5}, 0.95, 0.95, statistics.HighSide)
	refusedWith(t, statistics.CodeNoSpread, err)
	_, err = statistics.TwoSidedFactor(10, 1, 0.95)
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.OneSidedFactor(10, 0.95, math.NaN())
	refusedWith(t, statistics.CodeBadValue, err)
}
