package statistics_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// series makes readings a minute apart, all judged by one verdict.
func series(v *defects.Verdict, gang string, values ...string) []defects.Figure {
	var list []defects.Figure
	for i, text := range values {
		list = append(list, defects.Figure{
			ID: fmt.Sprintf("%s%d", gang, i), Value: defects.MustDecimal(text), Gang: gang, Verdict: v,
			At: time.Date(2026, 6, 1, 8, i, 0, 0, time.UTC),
		})
	}
	return list
}

// spreadOver is n values about ten that go round a short cycle.
func spreadOver(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprintf("%.1f", 9+float64(i*7%20)/10)
	}
	return out
}

func analyse(t *testing.T, list []defects.Figure, w statistics.Wanted) statistics.Analysis {
	t.Helper()
	a, err := statistics.Analyse(list, w)
	require.NoError(t, err)
	return a
}

func why(a statistics.Analysis, what string) string {
	for _, u := range a.Unsaid {
		if u.What == what {
			return u.Why
		}
	}
	return ""
}

func joints() *defects.Verdict {
	return &defects.Verdict{Outcome: defects.Pass, Lower: dec("7"), Upper: dec("13"), Title: "Invented", Schedule: "invented@1"}
}

func TestAnOutlierIsFlaggedAndCountedAllTheSame(t *testing.T) {
	t.Parallel()
	list := series(joints(), "", "10.1", "9.9", "10.0", "10.2", "9.8", "10.0", "10.1", "14.6")
	list = append(list, defects.Figure{ID: "gone", Value: *dec("99"), Verdict: joints(), Withdrawn: true})
	a := analyse(t, list, statistics.Wanted{})
	require.Equal(t, 8, a.N)
	require.Equal(t, 1, a.Withdrawn)
	require.Equal(t, "14.6", a.Summary.Max.String())
	require.InDelta(t, 84.7/8, a.Summary.Mean, 1e-12, "the outlier is in the mean")
	require.Equal(t, statistics.Outlier, a.Outlier.Class)
	require.Equal(t, "7", a.OutlierID)
	require.Equal(t, 1, a.Outside.Found)
	require.InDelta(t, 0.125, a.Outside.Share, 1e-12)
	require.Equal(t, map[defects.Outcome]int{defects.Pass: 8}, a.Outcomes)
}

// k₂ of 15 values for 95 %/95 % is 2.965 and k₁ 2.566 (Berthouex and Brown, table
// 21.1, read).
func TestTheToleranceIntervalTakesTheSidesOfTheLimit(t *testing.T) {
	t.Parallel()
	values := spreadOver(15)
	w := statistics.Wanted{Proportion: 0.95, Confidence: 0.95}
	for name, c := range map[string]struct {
		verdict defects.Verdict
		side    statistics.Side
		asked   statistics.Side
		k       float64
	}{
		"both limits":  {defects.Verdict{Lower: dec("7"), Upper: dec("13")}, statistics.EitherSide, "", 2.965},
		"upper alone":  {defects.Verdict{Upper: dec("13")}, statistics.HighSide, "", 2.566},
		"lower alone":  {defects.Verdict{Lower: dec("7")}, statistics.LowSide, "", 2.566},
		"no limit":     {defects.Verdict{}, statistics.EitherSide, "", 2.965},
		"as asked for": {defects.Verdict{Lower: dec("7")}, statistics.EitherSide, statistics.EitherSide, 2.965},
	} {
		w.Side = c.asked
		a := analyse(t, series(&c.verdict, "", values...), w)
		require.Equal(t, c.side, a.Side, name)
		require.InDelta(t, c.k, a.Interval.K, 5e-4, name)
	}
}

// The plan of 5 %/0.95 and 15 %/0.075 has n = 49 and k = 1.3265 (vector
// samp-var-findplan, read).
func TestAcceptanceByVariablesFollowsThePlanOrSaysWhatItAsksFor(t *testing.T) {
	t.Parallel()
	risks := statistics.PlanChoice{Producer: statistics.RiskPoint{Share: 0.05, Accept: 0.95}, Consumer: statistics.RiskPoint{Share: 0.15, Accept: 0.075}}
	tight := &defects.Verdict{Outcome: defects.Pass, Upper: dec("10.5")}
	void := &defects.Verdict{Outcome: defects.NoVerdict, Reason: defects.ReasonCalibrationExpired, Lower: dec("7"), Upper: dec("13")}
	for name, c := range map[string]struct {
		list     []defects.Figure
		plan     statistics.PlanChoice
		n        int
		k        float64
		accepted bool
		why      string
	}{
		"by risks, accepted":     {series(joints(), "", spreadOver(49)...), risks, 49, 1.3265, true, ""},
		"by risks, not accepted": {series(tight, "", spreadOver(49)...), risks, 49, 1.3265, false, ""},
		"too few for the plan":   {series(joints(), "", spreadOver(48)...), risks, 0, 0, false, "asks for 49 values, not 48"},
		"too many for the plan":  {series(joints(), "", spreadOver(50)...), risks, 0, 0, false, "for 49 values, not 50"},
		// MIL-STD-414 Table B-1: AQL 1.0, n = 15, k = 1.79 (read in a public transcription).
		"published plan":        {series(joints(), "", spreadOver(15)...), statistics.PlanChoice{AQL: "1.0"}, 15, 1.79, true, ""},
		"no published plan":     {series(joints(), "", spreadOver(16)...), statistics.PlanChoice{AQL: "1.0"}, 0, 0, false, "for 4, 5, 7, 10, 15, 20, 25, 30, 35, 40, 50, 75, 100, 150, 200 values, not for 16"},
		"void readings":         {append(series(joints(), "", spreadOver(14)...), series(void, "x", "10")...), statistics.PlanChoice{AQL: "1.0"}, 0, 0, false, "1 of the 15 readings are void"},
		"no limit for all":      {append(series(joints(), "", spreadOver(14)...), series(tight, "x", "10")...), statistics.PlanChoice{AQL: "1.0"}, 0, 0, false, "2 different limits"},
		"all values equal":      {series(joints(), "", "10", "10", "10", "10"), statistics.PlanChoice{AQL: "1.0"}, 0, 0, false, "needs some spread"},
		"no plan was asked for": {series(joints(), "", spreadOver(15)...), statistics.PlanChoice{}, 0, 0, false, ""},
	} {
		a := analyse(t, c.list, statistics.Wanted{Plan: c.plan})
		if c.n == 0 {
			require.Nil(t, a.Acceptance, name)
			require.Contains(t, why(a, statistics.SaidAcceptance), c.why, name)
			continue
		}
		require.Equal(t, c.n, a.Acceptance.Plan.N, name)
		require.InDelta(t, c.k, a.Acceptance.Plan.K, 5e-4, name)
		require.Equal(t, c.accepted, a.Acceptance.Result.Accepted, name)
		require.NotEmpty(t, a.Acceptance.Source, name)
	}
}

func TestFewReadingsSayLittleAndSayWhy(t *testing.T) {
	t.Parallel()
	none := analyse(t, nil, statistics.Wanted{})
	require.Zero(t, none.N)
	require.Nil(t, none.Summary)
	one := analyse(t, series(joints(), "", "10"), statistics.Wanted{})
	require.Equal(t, 1, one.Summary.N)
	require.Nil(t, one.Outlier)
	require.Nil(t, one.Normality)
	require.Nil(t, one.Interval)
	require.Empty(t, one.Charts)
	require.Equal(t, []string{""}, one.Without)
	require.Contains(t, why(one, statistics.SaidInterval), "at least 2 values")
	require.Contains(t, why(one, statistics.SaidOutlier), "at least 3 values")
	equal := analyse(t, series(joints(), "", "10", "10", "10"), statistics.Wanted{})
	require.Nil(t, equal.Interval)
	require.Contains(t, why(equal, statistics.SaidInterval), "all values are equal")
	require.Nil(t, equal.Outside.Capability)
}

func TestReadingsOfDifferentLimitsAreHeldAgainstNone(t *testing.T) {
	t.Parallel()
	list := append(series(joints(), "", spreadOver(9)...), series(&defects.Verdict{Outcome: defects.Fail, Upper: dec("8")}, "x", "9.9")...)
	a := analyse(t, list, statistics.Wanted{})
	require.False(t, a.Limit.Shared)
	require.Nil(t, a.Outside)
	require.Equal(t, "these readings were judged by 2 different limits", why(a, statistics.SaidOutside))
}

func TestASetThatWasJudgedAsAWholeLendsItsLimit(t *testing.T) {
	t.Parallel()
	single := &defects.Verdict{Outcome: defects.NoVerdict, Reason: defects.ReasonJudgedAsSet}
	list := series(single, "", "9.8", "10.1", "10.3", "9.9")
	set := defects.Set{Quantity: "joint_width_bed", Verdict: defects.Verdict{Lower: dec("8.9"), Upper: dec("11.1"), Title: "Invented"}}
	require.False(t, analyse(t, list, statistics.Wanted{}).Limit.Shared)
	a := analyse(t, list, statistics.Wanted{Set: &set})
	require.True(t, a.Limit.Shared)
	require.Zero(t, a.Outside.Found)
	set.Quantity = "pull_out_load"
	require.False(t, analyse(t, list, statistics.Wanted{Set: &set}).Limit.Shared)
}

func TestChartsAreByGangAndLongOnesByRuns(t *testing.T) {
	t.Parallel()
	var list []defects.Figure
	list = append(list, series(joints(), "Larch", spreadOver(30)...)...)
	list = append(list, series(joints(), "Rowan", spreadOver(1200)...)...)
	list = append(list, series(joints(), "Alder", "10")...)
	a := analyse(t, list, statistics.Wanted{})
	require.Equal(t, []string{"Alder"}, a.Without)
	require.Len(t, a.Charts, 2)
	larch, rowan := a.Charts[0], a.Charts[1]
	require.Equal(t, "Larch", larch.Gang)
	require.Equal(t, "individuals", larch.Kind)
	require.Len(t, larch.Points, 30)
	require.Equal(t, "Larch7", larch.First[7])
	require.Equal(t, "xbar-s", rowan.Kind)
	require.Equal(t, 20, rowan.Run)
	require.Len(t, rowan.Points, 60)
	require.Equal(t, 1200, rowan.Readings)
	require.Equal(t, "Rowan140", rowan.First[7])
	asked := analyse(t, list, statistics.Wanted{Run: 15})
	require.Len(t, asked.Charts[0].Points, 2)
	require.True(t, asked.Charts[0].Provisional)

	jump := spreadOver(30)
	jump[20] = "19"
	beyond := analyse(t, series(joints(), "", jump...), statistics.Wanted{}).Charts[0].Beyond()
	require.Contains(t, beyond, 20)
}

func TestChoicesThatMeanNothingAreRefused(t *testing.T) {
	t.Parallel()
	good, bad := statistics.RiskPoint{Share: 0.05, Accept: 0.95}, statistics.RiskPoint{Share: 0.15, Accept: 0.1}
	for name, w := range map[string]statistics.Wanted{
		"proportion":             {Proportion: 1.2},
		"confidence":             {Confidence: 1},
		"side":                   {Side: "left"},
		"run of one":             {Run: 1},
		"run too long":           {Run: 1001},
		"unknown AQL":            {Plan: statistics.PlanChoice{AQL: "2.5"}},
		"AQL and risks":          {Plan: statistics.PlanChoice{AQL: "1.0", Producer: good, Consumer: bad}},
		"risks the wrong way":    {Plan: statistics.PlanChoice{Producer: bad, Consumer: good}},
		"half of the risks":      {Plan: statistics.PlanChoice{Producer: good}},
		"risks too close":        {Plan: statistics.PlanChoice{Producer: good, Consumer: statistics.RiskPoint{Share: 0.051, Accept: 0.1}}},
		"risks closer than ever": {Plan: statistics.PlanChoice{Producer: good, Consumer: statistics.RiskPoint{Share: 0.05000000001, Accept: 0.0000001}}},
	} {
		_, err := statistics.Analyse(series(joints(), "", spreadOver(20)...), w)
		require.ErrorIs(t, err, defects.Invalid, name)
	}
}
