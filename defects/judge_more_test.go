package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestEveryMissingFactHasItsOwnReason(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit(), line6(),
		Limit{Quantity: "course_gauge", Kind: FixedLimit, Courses: 4, Lower: exact("297"), Upper: exact("303")},
		Limit{Quantity: "fixing_density", Kind: FixedLimit, Lower: exact("6")},
		Limit{Quantity: "moisture_index", Kind: FixedLimit, Mode: "masonry", Upper: exact("20")},
		Limit{Quantity: "joint_recess", Kind: NominalLimit, Lower: exact("-1"), Upper: exact("1")},
		Limit{Quantity: "board_step", Kind: FixedLimit, Stage: "IB", Upper: exact("2")},
		Limit{Quantity: "crack_width", Kind: FixedLimit, Zone: Ground, Upper: exact("0.2")},
		Limit{Quantity: "pull_out_load", Kind: PullOutLimit, PullOut: &PullOutRule{
			Factor: MustDecimal("0.6"), Lowest: 5, MinTests: 15, Gamma: MustDecimal("2"),
		}})
	base := func(in Input, b string) Input { in.BaseLength = exact(b); return in }
	for _, c := range []struct {
		in   Input
		want string
	}{
		{measured("mesh_lap", "1", ""), ReasonNoLimit},
		{measured("mood", "1", ""), ReasonUnknownQuantity},
		{Input{Quantity: "joint_width_bed", Unit: "cm"}, ReasonWrongUnit},
		{measured("joint_width_bed", "9", "-0.1"), ReasonBadUncertainty},
		{measured("flatness", "1", ""), ReasonBaseLengthMissing},
		{base(measured("flatness", "1", ""), "0"), ReasonBadBaseLength},
		{base(measured("flatness", "1", ""), "-2"), ReasonBadBaseLength},
		{base(measured("flatness", "1", ""), "0.05"), ReasonBaseLengthOutside},
		{measured("course_gauge", "300", ""), ReasonCoursesMissing},
		{Input{Quantity: "course_gauge", Unit: "mm", Courses: 7}, ReasonNoLimit},
		{Input{Quantity: "fixing_density", Unit: "1/m2"}, ReasonZoneMissing},
		{Input{Quantity: "moisture_index", Unit: "index"}, ReasonModeMissing},
		{Input{Quantity: "moisture_index", Unit: "index", Mode: "wood"}, ReasonNoLimit},
		{measured("joint_recess", "3", ""), ReasonNominalMissing},
		{measured("board_step", "3", ""), ReasonStageMissing},
		{measured("crack_width", "0.1", ""), ReasonZoneMissing},
		{Input{Quantity: "pull_out_load", Unit: "kN"}, ReasonJudgedAsSet},
	} {
		v := Judge(c.in, l, FourWay, Decimal{})
		require.Equal(t, c.want, v.Reason, "%+v", c.in)
		require.Equal(t, NoVerdict, v.Outcome)
		require.NotEmpty(t, v.ReasonText, c.want)
		require.Equal(t, "test-site@1", v.Schedule)
	}
	require.Equal(t, ReasonBadRule, Judge(measured("joint_width_bed", "9", ""), l, "kind", Decimal{}).Reason)
}

func TestAnExpiredCalibrationKeepsTheFiguresAndTakesTheOutcome(t *testing.T) {
	t.Parallel()
	in := measured("joint_width_bed", "10", "0.5")
	in.CalibrationExpired = true
	v := Judge(in, compiled(t, jointLimit()), FourWay, Decimal{})
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonCalibrationExpired, v.Reason)
	require.Equal(t, "13", v.Upper.String())
	require.NotNil(t, v.PConform)
}

func TestWithoutUncertaintyTheLimitIsUsedAsItStandsAndTheVerdictSaysSo(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit())
	for value, want := range map[string]Outcome{"13": Pass, "13.1": Fail} {
		v := Judge(measured("joint_width_bed", value, ""), l, FourWay, Decimal{})
		require.Equal(t, want, v.Outcome)
		require.Equal(t, ReasonUncertaintyMissing, v.Reason)
		require.Nil(t, v.PConform)
		require.Nil(t, v.Guard)
		require.Empty(t, Judge(measured("joint_width_bed", value, ""), l, Simple, Decimal{}).Reason)
	}
}

func TestALimitMayBeRelativeToANominalValue(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "board_thickness", Kind: NominalLimit, Lower: exact("-1"), Upper: exact("3")},
		Limit{Quantity: "position", Kind: LargerOfLimit, Figure: exact("5"), Percent: exact("5")})
	in := measured("board_thickness", "118.9", "")
	in.Nominal = exact("120")
	v := Judge(in, l, Simple, Decimal{})
	require.Equal(t, []string{"119", "123", string(Fail)}, []string{v.Lower.String(), v.Upper.String(), string(v.Outcome)})
	for nominal, want := range map[string]string{"80": "5", "140": "7", "215": "10.75"} {
		in := measured("position", nominal, "")
		in.Nominal = exact(nominal)
		v := Judge(in, l, Simple, Decimal{})
		require.Equal(t, want, v.Upper.Sub(*in.Nominal).String(), nominal)
		require.Equal(t, want, in.Nominal.Sub(*v.Lower).String(), nominal)
	}
}

func TestTheLimitWithMoreConditionsGoesFirst(t *testing.T) {
	t.Parallel()
	l := compiled(t,
		Limit{Quantity: "board_step", Kind: FixedLimit, Upper: exact("3")},
		Limit{Quantity: "board_step", Kind: FixedLimit, Stage: "BM", Upper: exact("1")})
	for stage, want := range map[string]string{"BM": "1", "IB": "3", "": "3"} {
		in := measured("board_step", "2", "")
		in.Stage = stage
		require.Equal(t, want, Judge(in, l, Simple, Decimal{}).Upper.String(), stage)
	}
}

func TestTheFirstScheduleWithALimitGoverns(t *testing.T) {
	t.Parallel()
	project := compiled(t, jointLimit())
	other, err := Compile(Schedule{Name: "other", Version: 3, Title: "invented", Basis: Project, Limits: []Limit{
		{Quantity: "joint_width_bed", Kind: FixedLimit, Upper: exact("1")},
		{Quantity: "mesh_lap", Kind: FixedLimit, Lower: exact("100")},
	}})
	require.NoError(t, err)
	all := []*Limits{project, other}
	require.Equal(t, "test-site@1", JudgeGoverning(measured("joint_width_bed", "9", ""), all, Simple, Decimal{}).Schedule)
	require.Equal(t, "other@3", JudgeGoverning(measured("mesh_lap", "120", ""), all, Simple, Decimal{}).Schedule)
	none := JudgeGoverning(measured("board_gap", "1", ""), all, Simple, Decimal{})
	require.Equal(t, ReasonNoLimit, none.Reason)
	require.Equal(t, "test-site@1", none.Schedule)
	require.Equal(t, ReasonNoLimit, JudgeGoverning(measured("board_gap", "1", ""), nil, Simple, Decimal{}).Reason)
}

func TestALimitOnSetsDoesNotHideALaterOneOnSingleValues(t *testing.T) {
	t.Parallel()
	sets := compiled(t, Limit{Quantity: "joint_width_bed", Kind: MeanOfEightLimit, Figure: exact("5")})
	single := compiled(t, Limit{Quantity: "joint_width_bed", Kind: FixedLimit, Lower: exact("7"), Upper: exact("13")})
	in := measured("joint_width_bed", "14", "")
	require.Equal(t, Fail, JudgeGoverning(in, []*Limits{sets, single}, Simple, Decimal{}).Outcome)
	require.Equal(t, ReasonJudgedAsSet, JudgeGoverning(in, []*Limits{sets}, Simple, Decimal{}).Reason)
	other := compiled(t, Limit{Quantity: "mesh_lap", Kind: FixedLimit, Lower: exact("100")})
	require.Equal(t, ReasonJudgedAsSet, JudgeGoverning(in, []*Limits{other, sets}, Simple, Decimal{}).Reason)
}

func TestAReadingsOwnUncertaintyGoesBeforeTheInstruments(t *testing.T) {
	t.Parallel()
	r := Reading{Quantity: "joint_width_bed", Value: MustDecimal("9"), Unit: "mm", Expanded: exact("0.3"), Place: Place{Zone: Edge}}
	require.Equal(t, "0.3", InputOf(r, exact("0.5"), false).Expanded.String())
	r.Expanded = nil
	in := InputOf(r, exact("0.5"), true)
	require.Equal(t, "0.5", in.Expanded.String())
	require.True(t, in.CalibrationExpired)
	require.Equal(t, Edge, in.Zone)
}

func TestALimitHoldsOnBothSidesOfZeroWhenItSaysSo(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "plumb", Kind: SteppedLimit, BothWays: true, Steps: columns("3", "8", "6", "12")})
	for value, want := range map[string]Outcome{"-8": Pass, "-8.1": Fail, "8": Pass, "8.1": Fail} {
		in := measured("plumb", value, "")
		in.BaseLength = exact("2.6")
		require.Equal(t, want, Judge(in, l, Simple, Decimal{}).Outcome, value)
	}
	in := measured("plumb", "1", "")
	in.BaseLength = exact("6.001")
	require.Equal(t, ReasonBaseLengthOutside, Judge(in, l, Simple, Decimal{}).Reason)
}

func TestJudgingAllocatesOnce(t *testing.T) {
	l := compiled(t, jointLimit())
	in := measured("joint_width_bed", "12.8", "0.5")
	allocations := testing.AllocsPerRun(100, func() { Judge(in, l, FourWay, Decimal{}) })
	require.LessOrEqual(t, allocations, 1.0)
}

func BenchmarkJudge(b *testing.B) {
	l := compiled(b, jointLimit(), line6())
	joint := measured("joint_width_bed", "12.8", "0.5")
	flat := measured("flatness", "6", "1")
	flat.BaseLength = exact("2.4")
	inputs := []Input{joint, flat}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if v := Judge(inputs[i&1], l, FourWay, Decimal{}); v.Outcome == "" {
			b.Fatal("no outcome")
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}
