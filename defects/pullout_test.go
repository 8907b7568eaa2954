package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func decimals(texts ...string) []Decimal {
	list := make([]Decimal, len(texts))
	for i, s := range texts {
		list[i] = MustDecimal(s)
	}
	return list
}

func exact(text string) *Decimal {
	d := MustDecimal(text)
	return &d
}

// quarryTerrace is the set of job J2 (an invented site).
func quarryTerrace() []Decimal {
	return decimals("0.92", "1.05", "0.88", "1.21", "1.10", "0.79", "0.95", "1.30", "1.02", "0.84", "0.98", "1.15",
		"0.90", "1.08", "0.97")
}

func requiring(text string) PullOutRule {
	rule := DefaultPullOutRule()
	rule.Required = exact(text)
	return rule
}

func TestPullOutComparesTheUnroundedCharacteristicValue(t *testing.T) {
	t.Parallel()
	for required, want := range map[string]Outcome{
		"0.50": Pass, "0.5196": Pass, "0.519600001": Fail, "0.52": Fail,
	} {
		res := Characteristic(quarryTerrace(), requiring(required))
		require.Equal(t, want, res.Verdict, required)
		require.Equal(t, 15, res.N)
		require.Equal(t, "0.866", res.N1.String())
		require.Equal(t, "0.5196", res.NRk.String())
		require.Equal(t, "0.52", res.NRk.Round(2).String(), "printed")
		require.Equal(t, "0.2598", res.NRd.String())
	}
}

func TestPullOutWithATestShortHasNoVerdictAndNoFigures(t *testing.T) {
	t.Parallel()
	res := Characteristic(quarryTerrace()[:14], requiring("0.10"))
	require.Equal(t, NoVerdict, res.Verdict)
	require.Equal(t, ReasonTooFew, res.Reason)
	require.Equal(t, "1 test short: 14 of 15", res.ReasonText)
	require.Nil(t, res.NRk)
	require.Nil(t, res.N1)
	require.Equal(t, 14, res.N)

	res = Characteristic(nil, DefaultPullOutRule())
	require.Equal(t, "15 tests short: 0 of 15", res.ReasonText)
}

func TestPullOutWithoutARequiredValueGivesFiguresButNoVerdict(t *testing.T) {
	t.Parallel()
	res := Characteristic(quarryTerrace(), DefaultPullOutRule())
	require.Equal(t, NoVerdict, res.Verdict)
	require.Equal(t, ReasonRequiredMissing, res.Reason)
	require.Equal(t, "0.5196", res.NRk.String())
}

func TestPullOutIsExactWhereTheMeanHasNoEnd(t *testing.T) {
	t.Parallel()
	rule := PullOutRule{Factor: MustDecimal("1"), Lowest: 3, MinTests: 3, Gamma: MustDecimal("3"), Required: exact("0.666666666")}
	loads := decimals("0.5", "0.5", "1") // mean 0.6666…
	require.Equal(t, Pass, Characteristic(loads, rule).Verdict)
	rule.Required = exact("0.666666667")
	require.Equal(t, Fail, Characteristic(loads, rule).Verdict)
}

func TestPullOutRefusesWhatCannotBeALoadOrARule(t *testing.T) {
	t.Parallel()
	loads := quarryTerrace()
	loads[3] = MustDecimal("-0.1")
	require.Equal(t, "bad_value", Characteristic(loads, DefaultPullOutRule()).Reason)
	loads[3] = MustDecimal("9000000000")
	require.Equal(t, "bad_value", Characteristic(loads, DefaultPullOutRule()).Reason)
	for name, change := range map[string]func(*PullOutRule){
		"factor":   func(r *PullOutRule) { r.Factor = Decimal{} },
		"lowest":   func(r *PullOutRule) { r.Lowest = 0 },
		"tests":    func(r *PullOutRule) { r.MinTests = 4 },
		"gamma":    func(r *PullOutRule) { r.Gamma = MustDecimal("-1") },
		"cap":      func(r *PullOutRule) { r.Cap = exact("0") },
		"required": func(r *PullOutRule) { r.Required = exact("-1") },
	} {
		rule := DefaultPullOutRule()
		change(&rule)
		require.ErrorIs(t, rule.Check(), Invalid, name)
		require.Equal(t, "bad_pull_out_rule", Characteristic(quarryTerrace(), rule).Reason, name)
	}
}

func TestPullOutLeavesTheGivenOrderAlone(t *testing.T) {
	t.Parallel()
	loads := quarryTerrace()
	Characteristic(loads, DefaultPullOutRule())
	require.Equal(t, quarryTerrace(), loads)
}

func TestAVoidPullOutSetKeepsNoFigure(t *testing.T) {
	t.Parallel()
	res := Characteristic(quarryTerrace(), requiring("0.1")).Void(ReasonCalibrationExpired, "void")
	require.Equal(t, NoVerdict, res.Verdict)
	require.Nil(t, res.NRk)
	require.Equal(t, 15, res.N)
}

// The list of steps is of ETAG 014, from memory.
func TestAListedCharacteristicValueIsRoundedDownToAndTheWorkingShown(t *testing.T) {
	t.Parallel()
	rule := requiring("0.50")
	rule.Steps = decimals("0.3", "0.4", "0.5", "0.6", "0.75", "0.9", "1.2", "1.5")
	res := Characteristic(quarryTerrace(), rule)
	require.Equal(t, "0.5196", res.Raw.String(), "0.6 × 0.866")
	require.Equal(t, "0.5", res.NRk.String())
	require.Equal(t, "0.25", res.NRd.String())
	require.Equal(t, Pass, res.Verdict)
	require.False(t, res.Capped)
	strong := Characteristic(decimals("2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80", "2.80"), rule)
	require.True(t, strong.Capped)
	require.Equal(t, "1.68", strong.Raw.String())
	require.Equal(t, "1.5", strong.NRk.String())
	require.Contains(t, Limit{Kind: PullOutLimit, PullOut: &rule}.Words("kN"), "rounded down to one of 0.3 0.4 0.5 0.6 0.75 0.9 1.2 1.5 kN")
}
