package statistics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

func TestNoncentralTAgainstSciPy(t *testing.T) {
	t.Parallel()
	for _, v := range computedVectors(t, "nct-cdf") {
		var in struct{ T, Nu, Delta float64 }
		var want float64
		v.read(t, &in, &want)
		got := statistics.NoncentralCDF(in.T, in.Nu, in.Delta)
		require.InDelta(t, want, got, 1e-10, "%+v (%s)", in, v.Source)
		if want > 1e-9 && want < 1-1e-9 {
			back := statistics.NoncentralQuantile(want, in.Nu, in.Delta)
			require.InEpsilon(t, in.T+100, back+100, 1e-8, "%+v", in)
		}
	}
}

func TestNoncentralTJoinsWhereTheMethodChanges(t *testing.T) {
	t.Parallel()
	for _, nu := range []float64{3, 20, 400} {
		for _, at := range []float64{25, 30, 36} {
			below, above := statistics.NoncentralCDF(at, nu, 30), statistics.NoncentralCDF(at, nu, math.Nextafter(30, 31))
			require.InDelta(t, below, above, 1e-10, "nu %v t %v", nu, at)
		}
	}
}

func TestStudentQuantilesAgainstSciPyAndTheGuide(t *testing.T) {
	t.Parallel()
	for _, v := range computedVectors(t, "t-quantile") {
		var in struct{ P, Nu float64 }
		var want float64
		v.read(t, &in, &want)
		require.InDelta(t, want, statistics.StudentQuantile(in.P, in.Nu), 1e-9*max(1, math.Abs(want)), "%+v (%s)", in, v.Source)
	}
	for _, v := range methodVectors(t, "gum-tableG2") {
		var in struct{ Nu []float64 }
		var want []float64
		v.read(t, &in, &want)
		for i, nu := range in.Nu {
			require.InDelta(t, want[i], statistics.StudentQuantile((1+0.9545)/2, nu), v.tol(t), "%s nu %v", v, nu)
		}
	}
}

// Closed forms: ν = 1 is Cauchy's, ν = 2 algebraic.
func TestStudentCDFMatchesClosedForms(t *testing.T) {
	t.Parallel()
	for _, x := range []float64{-40, -3, -0.5, 0, 0.2, 1, 7} {
		require.InDelta(t, 0.5+math.Atan(x)/math.Pi, statistics.StudentCDF(x, 1), 1e-12, "%v", x)
		require.InDelta(t, 0.5+x/(2*math.Sqrt(2+x*x)), statistics.StudentCDF(x, 2), 1e-12, "%v", x)
		require.Equal(t, defects.NormalCDF(x), statistics.StudentCDF(x, math.Inf(1)), "%v", x)
	}
}

func TestDistributionsRefuseWhatHasNone(t *testing.T) {
	t.Parallel()
	for name, v := range map[string]float64{
		"no freedom":      statistics.StudentCDF(1, 0),
		"no number":       statistics.StudentCDF(math.NaN(), 3),
		"p of 1":          statistics.StudentQuantile(1, 3),
		"p not a number":  statistics.StudentQuantile(math.NaN(), 3),
		"p of 0":          statistics.NormalQuantile(0),
		"negative nu":     statistics.NoncentralCDF(1, -1, 0),
		"infinite delta":  statistics.NoncentralCDF(1, 1, math.Inf(1)),
		"quantile of NaN": statistics.NoncentralQuantile(math.NaN(), 3, 1),
	} {
		require.True(t, math.IsNaN(v), name)
	}
}

func TestConformanceWithFewDegreesOfFreedom(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "conf-pc-t") {
		var in struct {
			TU    float64 `json:"T_U"`
			Y, U  float64
			Nu    float64
			Other float64
		}
		var want float64
		v.read(t, &in, &want)
		require.InDelta(t, want, statistics.Conformance(in.Y, in.U, in.Nu, nil, &in.TU), v.tol(t), "%s", v)
		require.Greater(t, statistics.Conformance(in.Y, in.U, math.Inf(1), nil, &in.TU), want)
	}
	require.Equal(t, 1.0, statistics.Conformance(5, 0, 3, ptr(4), ptr(6)))
}
