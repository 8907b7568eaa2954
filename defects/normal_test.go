package defects

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheFastNormalDistributionKeepsItsDigits(t *testing.T) {
	t.Parallel()
	for i := range 360_001 {
		z := float64(i)/20_000 - 9
		want, got := NormalCDF(z), fastNormalCDF(z)
		if math.Abs(want-got) > 2e-15 || (z > -8 && math.Abs(want-got) > 2e-10*want) {
			t.Fatalf("z %v: want %v, got %v", z, want, got)
		}
	}
	require.Zero(t, fastNormalCDF(math.Inf(-1)))
	require.Equal(t, 1.0, fastNormalCDF(math.Inf(1)))
	require.True(t, math.IsNaN(fastNormalCDF(math.NaN())))
}

func TestJudgingManyIsJudgingEach(t *testing.T) {
	t.Parallel()
	l := compiled(t, jointLimit(), line6(), Limit{Quantity: "bond_strength", Kind: FixedLimit, Lower: exact("0.08"), ExceptPlane: "insulation"})
	flat := measured("flatness", "6", "1")
	flat.BaseLength = exact("2.4")
	short := flat
	short.BaseLength = exact("0.05")
	expired := measured("joint_width_bed", "9", "0.5")
	expired.CalibrationExpired = true
	negative := measured("joint_width_bed", "9", "-0.5")
	wrong := measured("joint_width_bed", "9", "0.5")
	wrong.Unit = "cm"
	inputs := []Input{
		measured("joint_width_bed", "12.8", "0.5"), flat, measured("mesh_lap", "100", "3"), wrong, short, expired, negative,
		measured("no_such", "1", "1"),
		{Quantity: "bond_strength", Value: MustDecimal("0.05"), Unit: "N/mm2", FailurePlane: "insulation"},
		measured("flatness", "6", "1"),
	}
	for len(inputs) < 2000 {
		inputs = append(inputs, inputs...)
	}
	for _, rule := range append(Rules(), "no rule") {
		got := JudgeAll([]Judgement{{Outcome: Fail}}, inputs, l, rule, MustDecimal("0.83"))
		require.Len(t, got, 1+len(inputs))
		require.Equal(t, Judgement{Outcome: Fail}, got[0])
		for i, in := range inputs {
			want := Judge(in, l, rule, MustDecimal("0.83"))
			require.Equal(t, want, l.Verdict(got[1+i], in), "%d %s", i, rule)
			require.Equal(t, want.Outcome, got[1+i].Outcome)
			p, ok := got[1+i].PConform()
			require.Equal(t, want.PConform != nil, ok)
			if ok {
				require.Equal(t, *want.PConform, p)
			}
		}
	}
	require.Empty(t, JudgeAll(nil, nil, l, FourWay, Decimal{}))
}

func BenchmarkJudgeAll(b *testing.B) {
	l := compiled(b, jointLimit(), line6())
	joint := measured("joint_width_bed", "12.8", "0.5")
	flat := measured("flatness", "6", "1")
	flat.BaseLength = exact("2.4")
	inputs := make([]Input, 1000)
	for i := range inputs {
		inputs[i] = joint
		if i >= len(inputs)/2 {
			inputs[i] = flat
		}
		inputs[i].Value = inputs[i].Value.Add(DecimalFromNano(int64(i)*1_000_000, 3))
	}
	var judgements []Judgement
	b.ReportAllocs()
	for b.Loop() {
		judgements = JudgeAll(judgements[:0], inputs, l, FourWay, Decimal{})
	}
	b.ReportMetric(float64(b.N)*float64(len(inputs))/b.Elapsed().Seconds(), "readings/s(hold:5000000)")
}
