package statistics_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

func dec(text string) *defects.Decimal { d := defects.MustDecimal(text); return &d }

// judged is a reading of 10 ± 3 mm joints as the rule judged it.
func judged(value, expanded string, rule defects.Rule, outcome defects.Outcome) defects.Reading {
	rd := defects.Reading{Quantity: "joint_width_bed", Unit: "mm", Value: *dec(value)}
	rd.Verdict = defects.Verdict{Outcome: outcome, Lower: dec("7"), Upper: dec("13"), Rule: rule}
	if expanded != "" {
		rd.Verdict.Expanded, rd.Verdict.Guard = dec(expanded), dec(expanded)
		if rule == defects.Simple {
			rd.Verdict.Guard = dec("0")
		}
	}
	return rd
}

// The budget of five caliper readings (vector gum-caliper-budget, computed with
// SciPy) without its thermal part, with the spread of single repeats as an
// instrument states it. The spread of the mean of five is s/√5.
func TestTheBudgetOfAReadingNamesEverySource(t *testing.T) {
	t.Parallel()
	tool := defects.UncertaintyOf(defects.Instrument{
		Unit: "mm", Resolution: dec("0.1"), Repeatability: dec("0.050990"), Repeats: 5,
		Calibrations: []defects.Calibration{{Certificate: "C7", On: "2026-01-01", Due: "2026-12-31", Expanded: dec("0.06")}},
	}, "2026-06-01")
	rd := judged("12.95", tool.Expanded().String(), defects.FourWay, defects.ConditionalPass)
	a, err := statistics.Assess(rd, &tool)
	require.NoError(t, err)
	require.False(t, a.Moved)
	require.Len(t, a.Budget.Sources, 3)
	for i, want := range []struct {
		name     string
		standard float64
		typeA    bool
	}{{"certificate C7", 0.03, false}, {"resolution 0.1 mm", 0.028868, false}, {"repeatability, found from 5 repeats", 0.05099, true}} {
		got := a.Budget.Sources[i]
		require.Equal(t, want.name, got.Name)
		require.InDelta(t, want.standard, got.Standard, 1e-6, want.name)
		require.Equal(t, want.typeA, got.TypeA, want.name)
	}
	require.InDelta(t, 0.065832, a.Budget.Combined, 1e-5)
	require.InDelta(t, 11.113482, a.Budget.NuEff, 5e-3) // the thermal part has infinitely many
	require.InDelta(t, 0.131663, a.Two.Expanded, 1e-5)
	require.InDelta(t, 2.2010, a.T.K, 1e-4)
	require.InDelta(t, 11.11, a.Decision.Nu, 0.01)
	require.Greater(t, a.Decision.Consumer, 1-defects.Conformance(12.95, a.Budget.Combined, dec0(7), dec0(13)), "few degrees of freedom make the doubt larger")
}

func dec0(f float64) *float64 { return &f }

func TestTheRisksOfAVerdict(t *testing.T) {
	t.Parallel()
	// Readings of worked job J3, U = 0.5: u = 0.25, and Φ of the distance in u by
	// the usual table. The worst case on a guarded limit is 2.28 % (METHODS 1,
	// w = U) and a half without a guard band.
	for name, c := range map[string]struct {
		rd                        defects.Reading
		accepted, doubt           bool
		consumer, producer, worst float64
		settle                    string
	}{
		"well inside": {judged("9.5", "0.5", defects.FourWay, defects.Pass), true, false, 0, 1, 0.02275, ""},
		"conditional pass": {
			judged("12.8", "0.5", defects.FourWay, defects.ConditionalPass), true, true, 0.21186, 0.78814, 0.02275,
			"an instrument with U of at most 0.2 mm would settle it",
		},
		"conditional fail": {
			judged("13.2", "0.5", defects.FourWay, defects.ConditionalFail), false, true, 0.78814, 0.21186, 0.02275,
			"an instrument with U of at most 0.2 mm would settle it",
		},
		"fail":              {judged("13.6", "0.5", defects.FourWay, defects.Fail), false, false, 0.99180, 0.00820, 0.02275, ""},
		"simple acceptance": {judged("12.8", "0.5", defects.Simple, defects.Pass), true, true, 0.21186, 0.78814, 0.5, "an instrument with U of at most 0.2 mm would settle it"},
		"on the limit": {
			judged("13", "0.5", defects.FourWay, defects.ConditionalPass), true, true, 0.5, 0.5, 0.02275,
			"cannot be settled by measuring: the value lies on the limit",
		},
		"a count is exact": {judged("13", "0", defects.FourWay, defects.Pass), true, false, 0, 1, 0, ""},
	} {
		c.rd.Expanded = c.rd.Verdict.Expanded
		a, err := statistics.Assess(c.rd, nil)
		require.NoError(t, err, name)
		require.False(t, a.Moved, name)
		d := a.Decision
		require.Equal(t, c.accepted, d.Accepted, name)
		require.True(t, d.Decided, name)
		require.InDelta(t, c.consumer, d.Consumer, 1e-5, name)
		require.InDelta(t, c.producer, d.Producer, 1e-5, name)
		require.InDelta(t, c.producer, d.PConform, 1e-5, name)
		require.InDelta(t, c.worst, d.Worst, 1e-5, name)
		require.Equal(t, c.doubt, a.Settle != nil, name)
		if c.doubt {
			require.Equal(t, c.settle, a.Settle.Text, name)
		}
	}
}

func TestRepeatsSettleAVerdictWhenTheyAreWhatSpreads(t *testing.T) {
	t.Parallel()
	tool := defects.Uncertainty{Repeatability: dec("0.25"), Repeats: 9}
	a, err := statistics.Assess(judged("12.8", "0.5", defects.FourWay, defects.ConditionalPass), &tool)
	require.NoError(t, err)
	require.False(t, a.Moved)
	require.Equal(t, 7, a.Settle.Repeats, "(0.25/0.1)² = 6.25")
	require.Contains(t, a.Settle.Text, "7 repeats in all would settle it")
	tool = defects.Uncertainty{Repeatability: dec("0.15"), Repeats: 9, Certificate: &defects.Calibration{Certificate: "C", Expanded: dec("0.4")}}
	a, err = statistics.Assess(judged("12.8", "0.5", defects.FourWay, defects.ConditionalPass), &tool)
	require.NoError(t, err)
	require.Zero(t, a.Settle.Repeats)
	require.Contains(t, a.Settle.Text, "repeating alone cannot settle it")
}

func TestAnAssessmentSaysWhatItCannotKnow(t *testing.T) {
	t.Parallel()
	bare, err := statistics.Assess(judged("12.8", "", defects.FourWay, defects.Pass), nil)
	require.NoError(t, err)
	require.Nil(t, bare.Budget)
	require.Nil(t, bare.Decision)
	require.Equal(t, "no uncertainty is known; an instrument with U of at most 0.2 mm would settle it", bare.Settle.Text)

	moved, err := statistics.Assess(judged("12.8", "0.5", defects.FourWay, defects.ConditionalPass), &defects.Uncertainty{Resolution: dec("0.1")})
	require.NoError(t, err)
	require.True(t, moved.Moved, "a certificate came, or went, since the verdict")
	require.InDelta(t, 0.25, moved.Decision.Standard, 1e-12, "the verdict's own uncertainty")
	require.True(t, math.IsInf(moved.Decision.Nu, 1))

	none, err := statistics.Assess(defects.Reading{Unit: "mm", Value: *dec("6"), Verdict: defects.Verdict{Outcome: defects.NoVerdict}}, &defects.Uncertainty{Resolution: dec("0.1")})
	require.NoError(t, err)
	require.NotNil(t, none.Budget)
	require.Nil(t, none.Decision, "no limit, no risk")
	require.Nil(t, none.Settle)

	excepted := judged("0.1", "0.05", defects.FourWay, defects.Pass)
	excepted.Verdict.Reason = defects.ReasonPlaneExcepted
	a, err := statistics.Assess(excepted, nil)
	require.NoError(t, err)
	require.Nil(t, a.Decision, "it passed for its failure plane, not for its value")

	void := judged("12.8", "0.5", defects.FourWay, defects.NoVerdict)
	void.Expanded = dec("0.5")
	a, err = statistics.Assess(void, nil)
	require.NoError(t, err)
	require.False(t, a.Decision.Decided)
	require.InDelta(t, 0.78814, a.Decision.PConform, 1e-5)
}
