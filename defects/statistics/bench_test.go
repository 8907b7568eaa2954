package statistics_test

import (
	"math/rand/v2"
	"testing"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// BenchmarkSet is everything a page about a set of 10 000 readings shows.
func BenchmarkSet(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	values := make([]defects.Decimal, 10_000)
	for i := range values {
		values[i], _ = defects.DecimalFromFloat(10+1.5*rng.NormFloat64(), 1)
	}
	b.ReportAllocs()
	for b.Loop() {
		sum, err := statistics.Summarise(values)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := statistics.Grubbs(values, statistics.EitherSide); err != nil {
			b.Fatal(err)
		}
		if _, err := statistics.Normality(values); err != nil {
			b.Fatal(err)
		}
		for _, side := range []statistics.Side{statistics.EitherSide, statistics.HighSide} {
			if _, err := statistics.Tolerance(sum, 0.95, 0.95, side); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/set(hold:50)")
}

func BenchmarkDraw(b *testing.B) {
	lot := statistics.Numbered(10_000)
	for b.Loop() {
		if _, err := statistics.Draw("seed", lot, 200); err != nil {
			b.Fatal(err)
		}
	}
}
