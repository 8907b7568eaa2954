package defects

import "testing"

// BenchmarkJudgeGoverningMillion judges a million readings, each under a
// project's schedule that goes before two others.
func BenchmarkJudgeGoverningMillion(b *testing.B) {
	var list []*Limits
	for _, name := range []string{"a", "b", "c"} {
		f := DecimalOf(8)
		l, err := Compile(Schedule{Name: name, Version: 1, Title: "invented", Basis: Project, Limits: []Limit{
			{Quantity: "plumb", Kind: SteppedLimit, Steps: []LimitStep{{Figure: &f}}, BothWays: true},
		}})
		if err != nil {
			b.Fatal(err)
		}
		list = append(list, l)
	}
	base, u := MustDecimal("2.5"), MustDecimal("2")
	b.ReportAllocs()
	for b.Loop() {
		var t Tally
		for i := range 1_000_000 {
			in := Input{Quantity: "plumb", Value: DecimalOf(int64(i % 16)), Unit: "mm", BaseLength: &base, Expanded: &u}
			t.Add(Pass, JudgeGoverning(in, list, FourWay, DecimalOf(1)).Outcome, 0)
		}
	}
}
