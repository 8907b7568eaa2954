package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func pullOutLimit() Limit {
	rule := DefaultPullOutRule()
	return Limit{Quantity: "pull_out_load", Kind: PullOutLimit, PullOut: &rule}
}

func pullOutSet(values []Decimal) SetInput {
	return SetInput{Input: Input{Quantity: "pull_out_load", Unit: "kN"}, Values: values}
}

// Job J2 through the set verdict.
func TestAPullOutSetIsJudgedByItsCharacteristicValue(t *testing.T) {
	t.Parallel()
	l := compiled(t, pullOutLimit())
	in := pullOutSet(quarryTerrace())
	for required, want := range map[string]Outcome{"0.50": Pass, "0.52": Fail} {
		in.Required = exact(required)
		for _, rule := range Rules() {
			v := JudgeSet(in, l, rule, Decimal{})
			require.Equal(t, want, v.Verdict.Outcome)
			require.Equal(t, "0.5196", v.Result.String())
			require.Equal(t, "N1 = 0.866 kN, N_Rk = 0.52 kN, N_Rd = 0.26 kN", v.ResultText)
			require.Equal(t, required, v.Verdict.Lower.String())
			require.Equal(t, rule, v.Verdict.Rule)
			require.Equal(t, "test-site@1", v.Verdict.Schedule)
		}
	}
	in.Values = in.Values[:14]
	v := JudgeSet(in, l, FourWay, Decimal{})
	require.Equal(t, ReasonTooFew, v.Verdict.Reason)
	require.Equal(t, "1 test short: 14 of 15", v.Verdict.ReasonText)
	require.Nil(t, v.Result)
}

func TestAnExpiredTesterMakesTheSetVoidWhateverTheValues(t *testing.T) {
	t.Parallel()
	in := pullOutSet(quarryTerrace())
	in.Required, in.CalibrationExpired = exact("0.1"), true
	v := JudgeSet(in, compiled(t, pullOutLimit()), FourWay, Decimal{})
	require.Equal(t, NoVerdict, v.Verdict.Outcome)
	require.Equal(t, ReasonCalibrationExpired, v.Verdict.Reason)
	require.Contains(t, v.Verdict.ReasonText, "void")
	require.Nil(t, v.Result)
	require.Nil(t, v.PullOut.NRk)
	require.Equal(t, 15, v.PullOut.N)
}

func TestASetMinimumNeedsEachValueAndTheMean(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "base_coat_depth_dry", Kind: SetMinimumLimit, Lower: exact("4"), MeanLower: exact("4.5")})
	for _, c := range []struct {
		values []Decimal
		rule   Rule
		want   Outcome
	}{
		{decimals("4.2", "4.6", "5.1", "4.9", "4.4"), Simple, Pass},
		{decimals("3.9", "6", "6", "6"), Simple, Fail},
		{decimals("4.4", "4.4", "4.4"), Simple, Fail},
		{decimals("4", "5"), Simple, Pass},
		{decimals("4.499999999", "4.5"), Simple, Fail},
		{decimals("4.2", "5.5"), FourWay, ConditionalPass},
		{decimals("3.8", "6"), FourWay, ConditionalFail},
		{decimals("3.6", "6"), FourWay, Fail},
	} {
		in := SetInput{Input: Input{Quantity: "base_coat_depth_dry", Unit: "mm", Expanded: exact("0.3")}, Values: c.values}
		v := JudgeSet(in, l, c.rule, Decimal{})
		require.Equal(t, c.want, v.Verdict.Outcome, "%v", c.values)
		require.Len(t, v.Each, len(c.values))
		require.NotNil(t, v.Result)
	}
	v := JudgeSet(SetInput{Input: Input{Quantity: "base_coat_depth_dry", Unit: "mm"}}, l, Simple, Decimal{})
	require.Equal(t, ReasonTooFew, v.Verdict.Reason)
}

func TestEachJointIsHeldAgainstTheMeanOfAnyEight(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "joint_width_bed", Kind: MeanOfEightLimit, Figure: exact("5")})
	eight := decimals("10", "11", "9", "10", "12", "10", "9", "11") // mean 10.25
	for last, want := range map[string]Outcome{"15": Pass, "15.25": Pass, "15.250000001": Fail, "15.5": Fail, "5": Fail, "6": Pass} {
		in := SetInput{Input: Input{Quantity: "joint_width_bed", Unit: "mm"}, Values: append(eight[:8:8], MustDecimal(last))}
		v := JudgeSet(in, l, Simple, Decimal{})
		require.Equal(t, want, v.Verdict.Outcome, last)
		require.Equal(t, want, v.Each[8], last)
		require.Equal(t, Pass, v.Each[0], last)
	}
	short := JudgeSet(SetInput{Input: Input{Quantity: "joint_width_bed", Unit: "mm"}, Values: eight[:7]}, l, Simple, Decimal{})
	require.Equal(t, ReasonTooFew, short.Verdict.Reason)
	require.Equal(t, "1 test short: 7 of 8", short.Verdict.ReasonText)
}

func TestASetThatCannotBeJudgedSaysWhy(t *testing.T) {
	t.Parallel()
	l := compiled(t, pullOutLimit(), jointLimit())
	in := pullOutSet(quarryTerrace())
	require.Equal(t, ReasonRequiredMissing, JudgeSet(in, l, Simple, Decimal{}).Verdict.Reason)
	require.Equal(t, ReasonBadRule, JudgeSet(in, l, "", Decimal{}).Verdict.Reason)
	in.Unit = "N"
	require.Equal(t, ReasonWrongUnit, JudgeSet(in, l, Simple, Decimal{}).Verdict.Reason)
	joints := SetInput{Input: Input{Quantity: "joint_width_bed", Unit: "mm"}, Values: decimals("9")}
	require.Equal(t, ReasonNoLimit, JudgeSet(joints, l, Simple, Decimal{}).Verdict.Reason)
	l = compiled(t, Limit{Quantity: "joint_width_bed", Kind: MeanOfEightLimit, Figure: exact("5")})
	joints.Expanded = exact("-1")
	require.Equal(t, ReasonBadUncertainty, JudgeSet(joints, l, Simple, Decimal{}).Verdict.Reason)
	require.True(t, l.HasSet("joint_width_bed"))
	require.False(t, l.HasSet("mesh_lap"))
	require.False(t, l.Has("mesh_lap"))
}

func TestTheWorstPartGovernsAGroup(t *testing.T) {
	t.Parallel()
	require.Equal(t, Fail, Worst(Pass, NoVerdict, Fail, ConditionalFail))
	require.Equal(t, NoVerdict, Worst(Pass, NoVerdict, ConditionalPass))
	require.Equal(t, ConditionalFail, Worst(Pass, ConditionalFail, ConditionalPass))
	require.Equal(t, ConditionalPass, Worst(Pass, ConditionalPass))
	require.Equal(t, Pass, Worst(Pass, Pass))
	require.Equal(t, NoVerdict, Worst())
}

// Words for how a test ended are common practice, no source.
func TestATestThatEndedAwayFromTheWallMakesTheSetVoid(t *testing.T) {
	t.Parallel()
	l := compiled(t, pullOutLimit())
	for end, void := range map[string]bool{
		"": false, "pull-out": false, "Cone ": false, "wall broke": false, "anchor broke": true, "not to failure": true, "odd": true,
	} {
		in := pullOutSet(quarryTerrace())
		in.Required, in.Ends = exact("0.1"), make([]string, 15)
		in.Ends[3] = end
		v := JudgeSet(in, l, FourWay, Decimal{})
		if !void {
			require.Equal(t, Pass, v.Verdict.Outcome, end)
			continue
		}
		require.Equal(t, NoVerdict, v.Verdict.Outcome, end)
		require.Equal(t, ReasonFailureMode, v.Verdict.Reason)
		require.Contains(t, v.Verdict.ReasonText, "test 4")
		require.Nil(t, v.Result)
	}
}
