package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func compiled(t testing.TB, limits ...Limit) *Limits {
	t.Helper()
	l, err := Compile(Schedule{
		Name: "test-site", Version: 1, Title: "invented agreement of a test", Basis: Project, Limits: limits,
	})
	require.NoError(t, err)
	return l
}

func columns(pairs ...string) []LimitStep {
	list := make([]LimitStep, 0, len(pairs)/2)
	for i := 0; i+1 < len(pairs); i += 2 {
		list = append(list, LimitStep{UpTo: exact(pairs[i]), Figure: exact(pairs[i+1])})
	}
	return list
}

func jointLimit() Limit {
	return Limit{Quantity: "joint_width_bed", Kind: FixedLimit, Lower: exact("7"), Upper: exact("13")}
}

func line6() Limit {
	return Limit{
		Quantity: "flatness", Kind: InterpolatedLimit, Whole: true,
		Steps: columns("0.1", "3", "1", "5", "4", "10", "10", "20", "15", "25"),
	}
}

func measured(quantity, value, expanded string) Input {
	in := Input{Quantity: quantity, Value: MustDecimal(value), Unit: "mm"}
	if expanded != "" {
		in.Expanded = exact(expanded)
	}
	return in
}

// Job J3: joint 10 ± 3 mm, U = 0.5.
func TestJointsNearTheLimitUnderEachRule(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit())
	values := []string{"9.5", "12.3", "12.8", "13.2", "13.6", "7.3", "6.8", "6.4"}
	for rule, want := range map[Rule][]Outcome{
		FourWay: {Pass, Pass, ConditionalPass, ConditionalFail, Fail, ConditionalPass, ConditionalFail, Fail},
		Simple:  {Pass, Pass, Pass, Fail, Fail, Pass, Fail, Fail},
		Guarded: {Pass, Pass, Fail, Fail, Fail, Fail, Fail, Fail},
	} {
		for i, value := range values {
			v := Judge(measured("joint_width_bed", value, "0.5"), l, rule, DecimalOf(1))
			require.Equal(t, want[i], v.Outcome, "%s under %s", value, rule)
			require.Equal(t, rule, v.Rule)
			require.Equal(t, "7", v.Lower.String())
			require.Equal(t, "13", v.Upper.String())
			require.Equal(t, "0.5", v.Expanded.String())
			require.Equal(t, "test-site@1", v.Schedule)
			require.Equal(t, Project, v.Basis)
			require.NotNil(t, v.PConform)
		}
	}
}

func TestBoundariesCountAsInsideExactlyAsEntered(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit())
	for value, want := range map[string]Outcome{
		"12.5": Pass, "12.50": Pass, "12.500000001": ConditionalPass, "13.0": ConditionalPass,
		"13.000000001": ConditionalFail, "13.5": ConditionalFail, "13.500000001": Fail,
	} {
		require.Equal(t, want, Judge(measured("joint_width_bed", value, "0.5"), l, FourWay, DecimalOf(1)).Outcome, value)
	}
	l = compiled(t, Limit{Quantity: "board_gap", Kind: FixedLimit, Upper: exact("0.3")})
	in := measured("board_gap", "0.2", "0.1")
	require.Equal(t, Pass, Judge(in, l, FourWay, DecimalOf(1)).Outcome, "0.2 + 0.1 is 0.3 and no more")
}

func TestTheGuardFactorScalesTheBand(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit())
	in := measured("joint_width_bed", "12.58", "0.5")
	require.Equal(t, ConditionalPass, Judge(in, l, FourWay, Decimal{}).Outcome, "zero means 1")
	v := Judge(in, l, FourWay, MustDecimal("0.83"))
	require.Equal(t, Pass, v.Outcome)
	require.Equal(t, "0.415", v.Guard.String())
	require.Equal(t, "0", Judge(in, l, Simple, MustDecimal("1.5")).Guard.String())
}

// Job J15: mesh laps, limit at least 100 mm, U = 3.
func TestMeshLapsAgainstALowerLimit(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "mesh_lap", Kind: FixedLimit, Lower: exact("100")})
	for value, want := range map[string]Outcome{
		"110": Pass, "104": Pass, "95": Fail, "88": Fail, "102": ConditionalPass, "98": ConditionalFail,
	} {
		v := Judge(measured("mesh_lap", value, "3"), l, FourWay, DecimalOf(1))
		require.Equal(t, want, v.Outcome, value)
		require.Nil(t, v.Upper)
	}
}

// Job J25: 6 mm under a straightedge, finished wall (DIN 18202 table 3, line 6).
func TestFlatnessDependsOnTheDistanceBetweenTheHighPoints(t *testing.T) {
	t.Parallel()
	l := compiled(t, line6())
	for base, want := range map[string]struct {
		limit   string
		outcome Outcome
	}{"1.0": {"5", Fail}, "2.0": {"7", Pass}} {
		in := measured("flatness", "6", "")
		in.BaseLength = exact(base)
		v := Judge(in, l, Simple, Decimal{})
		require.Equal(t, want.outcome, v.Outcome, base)
		require.Equal(t, want.limit, v.Upper.String(), base)
		require.Nil(t, v.Lower)
	}
	v := Judge(measured("flatness", "6", ""), l, Simple, Decimal{})
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonBaseLengthMissing, v.Reason)
	require.Contains(t, v.ReasonText, "metres")
}

// Job J14: a meter index is not a percentage by mass.
func TestAMoistureMeterIsNotJudgedAsAPercentage(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "moisture_mass", Kind: FixedLimit, Upper: exact("5")})
	v := Judge(Input{Quantity: "moisture_index", Value: MustDecimal("19"), Unit: "index", Mode: "masonry"}, l, FourWay, Decimal{})
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonNotComparable, v.Reason)
	require.Contains(t, v.ReasonText, "carbide")
	v = Judge(Input{Quantity: "moisture_mass", Value: MustDecimal("4.9"), Unit: "%", Expanded: exact("0.3")}, l, FourWay, Decimal{})
	require.Equal(t, ConditionalPass, v.Outcome)
}

// Job J18: at least 0.08 N/mm², or failure wholly in the insulation.
func TestAFailureInTheInsulationStandsInForTheBondStrength(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "bond_strength", Kind: FixedLimit, Lower: exact("0.08"), ExceptPlane: "insulation"})
	round := RoundDolly(DecimalOf(50))
	for peak, area := range map[string]Decimal{"610": round, "165": round, "128": round} {
		strength, ok := BondStrength(MustDecimal(peak), area)
		require.True(t, ok)
		in := Input{Quantity: "bond_strength", Value: strength, Unit: "N/mm2", FailurePlane: "insulation"}
		require.Equal(t, Pass, Judge(in, l, FourWay, Decimal{}).Outcome, peak)
	}
	low := Input{Quantity: "bond_strength", Value: MustDecimal("0.065"), Unit: "N/mm2"}
	require.Equal(t, ReasonFailurePlaneMissing, Judge(low, l, FourWay, Decimal{}).Reason)
	low.FailurePlane = "adhesive/substrate"
	require.Equal(t, Fail, Judge(low, l, FourWay, Decimal{}).Outcome)
	low.FailurePlane = "Insulation"
	require.Equal(t, ReasonPlaneExcepted, Judge(low, l, FourWay, Decimal{}).Reason)
}

func TestBondStrengthDependsOnTheDolly(t *testing.T) {
	t.Parallel()
	for peak, want := range map[string]string{"610": "0.311", "165": "0.084", "128": "0.065"} {
		s, ok := BondStrength(MustDecimal(peak), RoundDolly(DecimalOf(50)))
		require.True(t, ok)
		require.Equal(t, want, s.Round(3).String())
	}
	s, _ := BondStrength(MustDecimal("610"), DecimalOf(50*50))
	require.Equal(t, "0.244", s.Round(3).String())
	_, ok := BondStrength(MustDecimal("610"), Decimal{})
	require.False(t, ok)
}

// Job J16: 8 and 12 fixings per square metre on a board of 0.72 m².
func TestFixingsOfABoardAreCountedByZone(t *testing.T) {
	t.Parallel()
	l := compiled(t,
		Limit{Quantity: "fixing_count_board", Kind: DensityLimit, Zone: Field, PerArea: exact("8")},
		Limit{Quantity: "fixing_count_board", Kind: DensityLimit, Zone: Edge, PerArea: exact("12")})
	in := Input{Quantity: "fixing_count_board", Value: MustDecimal("6"), Unit: "count", Zone: Field, Area: exact("0.72")}
	v := Judge(in, l, FourWay, Decimal{})
	require.Equal(t, Pass, v.Outcome)
	require.Equal(t, "6", v.Lower.String())
	require.Empty(t, v.Reason, "a count needs no uncertainty")
	in.Zone = Edge
	v = Judge(in, l, FourWay, Decimal{})
	require.Equal(t, Fail, v.Outcome)
	require.Equal(t, "9", v.Lower.String())
	in.Zone = ""
	require.Equal(t, ReasonZoneMissing, Judge(in, l, FourWay, Decimal{}).Reason)
	in.Zone, in.Area = Edge, nil
	require.Equal(t, ReasonAreaMissing, Judge(in, l, FourWay, Decimal{}).Reason)
	require.Equal(t, "FX-02", KindForReading(Reading{Quantity: "fixing_count_board", Stage: "FX", Place: Place{Zone: Edge}}))
}
