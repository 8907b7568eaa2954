package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOneLimitHoldsForReadingsOnlyIfAllShareIt(t *testing.T) {
	t.Parallel()
	judged := func(lower, upper, title string) *Verdict {
		v := Verdict{Title: title, Schedule: title + "@1"}
		if lower != "" {
			v.Lower = exact(lower)
		}
		if upper != "" {
			v.Upper = exact(upper)
		}
		return &v
	}
	seven := judged("7", "13", "A")
	for name, c := range map[string]struct {
		verdicts  []*Verdict
		withdrawn []*Verdict
		shared    bool
		sources   int
		why       string
	}{
		"one verdict for all":              {[]*Verdict{seven, seven}, nil, true, 1, ""},
		"equal figures, differently typed": {[]*Verdict{seven, judged("7.0", "13.00", "A")}, nil, true, 1, ""},
		"equal figures of two sources":     {[]*Verdict{seven, judged("7", "13", "B")}, nil, true, 2, ""},
		"an open end is not an end":        {[]*Verdict{judged("", "8", "A"), judged("-8", "8", "A")}, nil, false, 1, "these readings were judged by 2 different limits"},
		"another limit":                    {[]*Verdict{seven, judged("7", "12", "A")}, nil, false, 1, "these readings were judged by 2 different limits"},
		"one reading without":              {[]*Verdict{seven, {}}, nil, false, 1, "one of them was judged by none"},
		"several without, and another":     {[]*Verdict{seven, nil, nil, judged("", "8", "B")}, nil, false, 2, "these readings were judged by 2 different limits; 2 of them were judged by none"},
		"a withdrawn one does not count":   {[]*Verdict{seven}, []*Verdict{judged("", "8", "B")}, true, 1, ""},
		"none at all":                      {[]*Verdict{{}, {}}, nil, false, 0, "no limit was applied to these readings one by one"},
		"no readings":                      {nil, nil, false, 0, "no limit was applied to these readings one by one"},
	} {
		var list []Figure
		for _, v := range c.verdicts {
			list = append(list, Figure{Verdict: v})
		}
		for _, v := range c.withdrawn {
			list = append(list, Figure{Verdict: v, Withdrawn: true})
		}
		got := FindCommonLimit(list)
		require.Equal(t, c.shared, got.Shared, name)
		require.Len(t, got.Sources, c.sources, name)
		require.Equal(t, c.why, got.WhyNone(), name)
		if c.shared {
			require.Equal(t, "7", got.Lower.String(), name)
		} else {
			require.Nil(t, got.Lower, name)
			require.Nil(t, got.Upper, name)
		}
	}
}

func TestWhatIsRequiredOfAPullOutSetIsNotRequiredOfEachTest(t *testing.T) {
	t.Parallel()
	require.False(t, Set{Quantity: "pull_out_load", Verdict: Verdict{Lower: exact("0.5")}}.EachLimit().Shared)
	require.True(t, Set{Quantity: "bond_strength", Verdict: Verdict{Lower: exact("0.25")}}.EachLimit().Shared)
	require.False(t, Set{Quantity: "bond_strength"}.EachLimit().Shared)
}

func TestAVoidSetSaysHowManyReadingsWereHit(t *testing.T) {
	t.Parallel()
	l := compiled(t, Limit{Quantity: "pull_out_load", Kind: PullOutLimit, PullOut: &PullOutRule{
		Lowest: 5, Factor: MustDecimal("0.6"), Cap: exact("1.5"), Gamma: MustDecimal("2"), MinTests: 15,
	}})
	in := SetInput{Input: Input{Quantity: "pull_out_load", Unit: "kN", CalibrationExpired: true}, Values: make([]Decimal, 15), Expired: 15}
	v := JudgeSet(in, l, FourWay, Decimal{}).Verdict
	require.Equal(t, NoVerdict, v.Outcome)
	require.Equal(t, ReasonCalibrationExpired, v.Reason)
	require.Contains(t, v.ReasonText, "the set is void: 15 of its 15 readings hit")
}
