package statistics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/statistics"
)

// The ball bearings of JCGM 106:2012 9.5.4: gamma(4, 1/4), T_U = 2, u = 0.25.
func TestTheBearingsOfTheGuide(t *testing.T) {
	t.Parallel()
	process := statistics.GammaProcess(4, 0.25)
	limit := statistics.Interval{Upper: ptr(2)}
	r, err := statistics.Global(process, limit, limit, 0.25)
	require.NoError(t, err)
	for id, got := range map[string]float64{
		"conf-jcgm106-bearing-nc": r.OutOfTolerance, "conf-jcgm106-bearing-RP": r.Producer,
	} {
		v := methodVectors(t, id)[0]
		var in any
		var want float64
		v.read(t, &in, &want)
		require.InDelta(t, want, got, v.tol(t), "%s", v)
	}
	require.InDelta(t, 0.0080, r.Consumer, 0.00005)
	v := methodVectors(t, "conf-jcgm106-bearing-AU")[0]
	var in any
	var want float64
	v.read(t, &in, &want)
	a, err := statistics.UpperForConsumerRisk(process, 2, 0.25, 0.001)
	require.NoError(t, err)
	require.InDelta(t, want, a, v.tol(t), "%s", v)
}

func TestGlobalRisksOfSymmetricTolerances(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "conf-pfa-itp") {
		var in struct {
			P float64 `json:"P(in tolerance)"`
		}
		var want []float64
		v.read(t, &in, &want)
		sp := 1 / statistics.NormalQuantile((1+in.P)/2)
		limits := statistics.Interval{Lower: ptr(-1), Upper: ptr(1)}
		r, err := statistics.Global(statistics.NormalProcess(0, sp), limits, limits, sp/4)
		require.NoError(t, err)
		require.InDelta(t, want[0], 100*r.Consumer, v.tol(t), "%s", v)
		require.InDelta(t, want[1], 100*r.ConsumerGivenAccepted, v.tol(t), "%s", v)
		require.InDelta(t, 1-in.P, r.OutOfTolerance, 1e-9)
	}
}

func TestAGuardBandTradesOneRiskForTheOther(t *testing.T) {
	t.Parallel()
	v := methodVectors(t, "conf-deaver")[0]
	var in struct {
		Process float64 `json:"process sigma"`
		Meas    float64 `json:"meas sigma"`
		L, A    float64
	}
	var want []float64
	v.read(t, &in, &want)
	limits := statistics.Interval{Lower: ptr(-in.L), Upper: ptr(in.L)}
	guarded, err := limits.Guarded(in.L - in.A)
	require.NoError(t, err)
	r, err := statistics.Global(statistics.NormalProcess(0, in.Process), limits, guarded, in.Meas)
	require.NoError(t, err)
	require.InDelta(t, want[0], r.Consumer, v.tol(t), "%s", v)
	require.InDelta(t, want[1], r.Producer, v.tol(t), "%s", v)
	open, err := statistics.Global(statistics.NormalProcess(0, in.Process), limits, limits, in.Meas)
	require.NoError(t, err)
	require.Greater(t, open.Consumer, r.Consumer)
	require.Less(t, open.Producer, r.Producer)
	_, err = limits.Guarded(2.5)
	refusedWith(t, "guard_too_wide", err)
}

func TestGlobalRisksAgainstSciPy(t *testing.T) {
	t.Parallel()
	for _, v := range computedVectors(t, "global-risk") {
		var in struct {
			Mean, SD float64
			T, A     [2]*float64
			U        float64
		}
		var want []float64
		v.read(t, &in, &want)
		r, err := statistics.Global(statistics.NormalProcess(in.Mean, in.SD),
			statistics.Interval{Lower: in.T[0], Upper: in.T[1]}, statistics.Interval{Lower: in.A[0], Upper: in.A[1]}, in.U)
		require.NoError(t, err)
		require.InDelta(t, want[0], r.Consumer, 1e-10, "%+v (%s)", in, v.Source)
		require.InDelta(t, want[1], r.Producer, 1e-10, "%+v (%s)", in, v.Source)
	}
}

func TestSpecificRisks(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "conf-guard-") {
		var in struct{ R float64 }
		var want float64
		v.read(t, &in, &want)
		require.InDelta(t, want, statistics.WorstFalseAcceptance(2*in.R, 1, math.Inf(1)), v.tol(t), "%s", v)
	}
	for _, v := range methodVectors(t, "conf-specific-") {
		var in struct{ L, U, Mean, S float64 }
		var want []float64
		v.read(t, &in, &want)
		cpk, beyond, err := statistics.Capability(in.Mean, in.S, statistics.Interval{Lower: &in.L, Upper: &in.U})
		require.NoError(t, err)
		require.InDelta(t, want[0], cpk, v.tol(t), "%s", v)
		require.InDelta(t, want[1], beyond, v.tol(t), "%s", v)
	}
	limit := statistics.Interval{Upper: ptr(8)}
	accepted := statistics.SpecificRisk(7.2, 0.5, math.Inf(1), limit, true)
	require.InDelta(t, 1-0.9452007083, accepted, 1e-9)
	require.InDelta(t, 1-accepted, statistics.SpecificRisk(7.2, 0.5, math.Inf(1), limit, false), 1e-15)
	require.Equal(t, 0.0, statistics.WorstFalseAcceptance(0, 0, math.Inf(1)))
	_, _, err := statistics.Capability(1, 0, limit)
	refusedWith(t, statistics.CodeNoSpread, err)
	_, _, err = statistics.Capability(1, 1, statistics.Interval{})
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Global(statistics.NormalProcess(0, 1), limit, limit, 0)
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.UpperForConsumerRisk(statistics.NormalProcess(0, 1), 2, 0.1, 0.9)
	refusedWith(t, "risk_out_of_reach", err)
}

func TestWhatWouldSettleAConditionalReading(t *testing.T) {
	t.Parallel()
	joint := statistics.Interval{Lower: ptr(7), Upper: ptr(13)}
	doubt := statistics.Doubt{Y: 12.8, Tolerance: joint, R: 1, K: 2, N: 1, Repeat: 0.2, Rest: 0.05}
	s, err := statistics.Settle(doubt)
	require.NoError(t, err)
	require.False(t, s.Settled)
	require.True(t, s.Possible)
	require.InDelta(t, 0.1, s.Standard, 1e-12)
	require.InDelta(t, 0.2, s.Expanded, 1e-12)
	// 0.04/n + 0.0025 ≤ 0.01 from n = 5.33 on.
	require.Equal(t, 6, s.Repeats)
	require.Contains(t, s.Text, "6 repeats")

	doubt.N = s.Repeats
	s, err = statistics.Settle(doubt)
	require.NoError(t, err)
	require.True(t, s.Settled)

	doubt.N, doubt.Rest = 1, 0.1
	s, err = statistics.Settle(doubt)
	require.NoError(t, err)
	require.Zero(t, s.Repeats)
	require.Contains(t, s.Text, "repeating alone cannot settle it; an instrument with U of at most 0.2")

	doubt.Y = 13
	s, err = statistics.Settle(doubt)
	require.NoError(t, err)
	require.False(t, s.Possible)
	require.Contains(t, s.Text, "lies on the limit")

	_, err = statistics.Settle(statistics.Doubt{Y: math.NaN(), Tolerance: joint, R: 1, K: 2, N: 1})
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.Settle(statistics.Doubt{Y: 1, R: 1, K: 2, N: 1})
	refusedWith(t, statistics.CodeBadValue, err)
}
