package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func plumbUpTo(t *testing.T, name string, rank Rank, basis Basis, figure int64) *Limits {
	t.Helper()
	f := DecimalOf(figure)
	l, err := Compile(Schedule{
		Name: name, Version: 1, Title: "invented", Edition: "1", Basis: basis, Rank: rank,
		Limits: []Limit{{Quantity: "plumb", Kind: SteppedLimit, Steps: []LimitStep{{Figure: &f}}, BothWays: true}},
	})
	require.NoError(t, err)
	return l
}

func TestTheHighestRankGovernsAndTheOthersAreNamed(t *testing.T) {
	t.Parallel()
	list := LimitsByPrecedence([]*Limits{
		plumbUpTo(t, "habit", "", CommonPractice, 20), plumbUpTo(t, "standard", "", Secondary, 8),
		plumbUpTo(t, "ours", "", Project, 10), plumbUpTo(t, "spec", ContractRank, Project, 5),
		plumbUpTo(t, "second-standard", "", Memory, 12),
	})
	base := DecimalOf(2)
	v := JudgeGoverning(Input{Quantity: "plumb", Value: DecimalOf(9), Unit: "mm", BaseLength: &base}, list, Simple, Decimal{})
	require.Equal(t, "spec@1", v.Schedule)
	require.Equal(t, Fail, v.Outcome)
	var others []string
	for _, p := range v.PassedOver {
		others = append(others, p.Schedule+" "+string(p.Outcome)+" "+string(p.Rank))
	}
	require.Equal(t, []string{"ours@1 pass project", "standard@1 fail standard", "second-standard@1 pass standard", "habit@1 pass common-practice"}, others)
	require.Equal(t, Memory, v.PassedOver[2].Basis)
}

func TestALineAtFaultIsNamed(t *testing.T) {
	t.Parallel()
	one := DecimalOf(1)
	line := Limit{Quantity: "mesh_lap", Kind: FixedLimit, Lower: &one}
	s := Schedule{Name: "s", Version: 1, Title: "invented", Basis: Project, Limits: []Limit{line, {Quantity: "board_gap", Kind: FixedLimit, Upper: &one}, line}}
	_, err := Compile(s)
	require.ErrorContains(t, err, "line 3 (mesh_lap): overlaps line 1")
	s.Limits = []Limit{line, {Quantity: "mesh_lop", Kind: FixedLimit, Lower: &one}}
	_, err = Compile(s)
	require.ErrorContains(t, err, `line 2 (mesh_lop): unknown quantity`)
}

// NHBC 2022 cl. 6.11.3 (read): 2 °C and rising, protected below 5 °C.
func TestNearTheLimitATemperatureHasToBeRising(t *testing.T) {
	t.Parallel()
	two, five := DecimalOf(2), DecimalOf(5)
	l, err := Compile(Schedule{Name: "s", Version: 1, Title: "invented", Basis: Project, Limits: []Limit{
		{Quantity: "air_temperature", Kind: RisingLimit, Lower: &two, RisingBelow: &five},
	}})
	require.NoError(t, err)
	for _, c := range []struct {
		value   string
		trend   Trend
		outcome Outcome
		reason  string
	}{
		{"2.4", Rising, Pass, ReasonProtect},
		{"2.4", Falling, Fail, ""},
		{"2.4", Steady, Fail, ""},
		{"2.4", "", NoVerdict, ReasonTrendMissing},
		{"1.9", "", Fail, ""},
		{"5.1", "", Pass, ""},
	} {
		v := Judge(Input{Quantity: "air_temperature", Value: MustDecimal(c.value), Unit: "degC", Trend: c.trend}, l, Simple, Decimal{})
		require.Equal(t, c.outcome, v.Outcome, "%s %s", c.value, c.trend)
		require.Equal(t, c.reason, v.Reason, "%s %s", c.value, c.trend)
	}
}
