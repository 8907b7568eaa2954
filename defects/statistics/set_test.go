package statistics_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

func alternating(first, low, high string) []defects.Decimal {
	list := decimals(first)
	for range 500 {
		list = append(list, decimals(low, high)...)
	}
	return list
}

// NIST StRD; NumAcc1 to 4 are defined by rule (NumAcc3's from memory), Mavro is
// in the vectors, Michelso's values are from memory. Lottery, Lew and the rest
// are not here: their values could not be read.
func TestMeanAndSpreadAgainstCertifiedValues(t *testing.T) {
	t.Parallel()
	var mavro []defects.Decimal
	want := map[string][]float64{"NumAcc3": {1000000.2, 0.1}}
	for _, v := range methodVectors(t, "strd-") {
		var in struct{ X json.RawMessage }
		var certified []float64
		v.read(t, &in, &certified)
		want[v.ID[len("strd-"):]] = certified
		if v.ID == "strd-Mavro" {
			var x []json.Number
			require.NoError(t, json.Unmarshal(in.X, &x))
			mavro = exact(x)
		}
	}
	sets := map[string][]defects.Decimal{
		"NumAcc1": decimals("10000001", "10000003", "10000002"),
		"NumAcc2": alternating("1.2", "1.1", "1.3"),
		"NumAcc3": alternating("1000000.2", "1000000.1", "1000000.3"),
		"NumAcc4": alternating("10000000.2", "10000000.1", "10000000.3"),
		"Mavro":   mavro, "Michelso": michelso(t),
	}
	for name, values := range sets {
		sum, err := statistics.Summarise(values)
		require.NoError(t, err)
		require.InEpsilon(t, want[name][0], sum.Mean, 1e-14, name)
		require.InEpsilon(t, want[name][1], sum.S, 1e-13, name)
	}
}

func michelso(t *testing.T) []defects.Decimal {
	t.Helper()
	text, err := os.ReadFile("testdata/michelso.json")
	require.NoError(t, err)
	var file struct {
		Offset      int64
		Thousandths []int64
	}
	require.NoError(t, json.Unmarshal(text, &file))
	var list []defects.Decimal
	for _, n := range file.Thousandths {
		list = append(list, defects.MustDecimal(fmt.Sprintf("%d.%03d", file.Offset+n/1000, n%1000)))
	}
	return list
}

func TestTheTemperaturesOfTheGuide(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "gum-4.4.3") {
		var in struct{ X []json.Number }
		var want []float64
		v.read(t, &in, &want)
		s, mean, err := statistics.Repeats("temperatures", exact(in.X))
		require.NoError(t, err)
		for i, got := range []float64{mean, s.Value, s.Standard} {
			require.InDelta(t, want[i], got, v.tol(t), "%s", v)
		}
		require.Equal(t, 19.0, s.Nu)
	}
}

func TestASummaryHoldsAtTheEndsOfTheRange(t *testing.T) {
	t.Parallel()
	sum, err := statistics.Summarise(decimals("9000000000", "-9000000000"))
	require.NoError(t, err)
	require.Zero(t, sum.Mean)
	require.InEpsilon(t, 9e9*math.Sqrt2, sum.S, 1e-14)
	require.Zero(t, sum.Median)
	sum, err = statistics.Summarise(decimals("2", "7", "3"))
	require.NoError(t, err)
	require.Equal(t, 3.0, sum.Median)
	require.Equal(t, "2", sum.Min.String())
	require.Equal(t, "7", sum.Max.String())
	sum, err = statistics.Summarise(decimals("-0.1"))
	require.NoError(t, err)
	require.Equal(t, statistics.Summary{
		N: 1, Mean: -0.1, Min: defects.DecimalFromNano(-1e8, 0), Max: defects.DecimalFromNano(-1e8, 0), Median: -0.1,
	}, sum)
	_, err = statistics.Summarise(nil)
	refusedWith(t, statistics.CodeTooFew, err)
}

func TestGrubbsCriticalValues(t *testing.T) {
	t.Parallel()
	check := func(v vector, n int, want []float64, side statistics.Side) {
		for i, alpha := range []float64{0.05, 0.01}[:len(want)] {
			got, err := statistics.GrubbsCritical(n, alpha, side)
			require.NoError(t, err)
			require.InDelta(t, want[i], got, v.tol(t), "%s", v)
		}
	}
	for _, v := range methodVectors(t, "grubbs-2s-") {
		var in struct{ N int }
		var want []float64
		v.read(t, &in, &want)
		check(v, in.N, want, statistics.EitherSide)
	}
	for _, v := range methodVectors(t, "grubbs-1s-") {
		var in struct{ N int }
		var want float64
		v.read(t, &in, &want)
		check(v, in.N, []float64{want}, statistics.HighSide)
	}
}

func TestGrubbsFlagsAndRemovesNothing(t *testing.T) {
	t.Parallel()
	v := methodVectors(t, "grubbs-nist-example")[0]
	var in struct{ X []json.Number }
	var want []float64
	v.read(t, &in, &want)
	values := exact(in.X)
	before := slices.Clone(values)
	flag, err := statistics.Grubbs(values, statistics.HighSide)
	require.NoError(t, err)
	require.InDelta(t, want[0], flag.G, v.tol(t), "%s", v)
	require.InDelta(t, want[1], flag.Critical5, v.tol(t), "%s", v)
	require.Equal(t, statistics.Outlier, flag.Class)
	require.Equal(t, 7, flag.Index)
	require.Equal(t, before, values)

	low, err := statistics.Grubbs(values, statistics.LowSide)
	require.NoError(t, err)
	require.Equal(t, statistics.NoOutlier, low.Class)
	require.Equal(t, 0, low.Index)
	straggler, err := statistics.Grubbs(decimals("10", "10.1", "10.2", "9.9", "9.8", "10", "10.1", "10.63"), statistics.EitherSide)
	require.NoError(t, err)
	require.Equal(t, statistics.Straggler, straggler.Class, "G %v between %v and %v", straggler.G, straggler.Critical5, straggler.Critical1)

	_, err = statistics.Grubbs(decimals("1", "2"), statistics.EitherSide)
	refusedWith(t, statistics.CodeTooFew, err)
	_, err = statistics.Grubbs(decimals("1", "1", "1.0"), statistics.EitherSide)
	refusedWith(t, statistics.CodeNoSpread, err)
}

func TestTheNormalityHintAgainstSciPy(t *testing.T) {
	t.Parallel()
	for _, v := range computedVectors(t, "anderson") {
		var in struct {
			X    []json.Number
			Name string
		}
		var want float64
		v.read(t, &in, &want)
		h, err := statistics.Normality(exact(in.X))
		require.NoError(t, err)
		require.InDelta(t, want, h.A2, 1e-9, "%s (%s)", in.Name, v.Source)
		require.Contains(t, h.Text, "hint")
		require.Equal(t, in.Name == "normal", h.P >= 0.05, "%s: p %v", in.Name, h.P)
	}
	_, err := statistics.Normality(decimals("1", "2", "3"))
	refusedWith(t, statistics.CodeTooFew, err)
}

// Upper points of the adjusted statistic: 0.631, 0.752, 1.035 at 10, 5 and 1 %
// (D'Agostino and Stephens 1986, from memory).
func TestTheNormalityHintsProbabilityAtItsTabledPoints(t *testing.T) {
	t.Parallel()
	values := decimals("1", "2", "3", "4", "5", "6", "7", "40")
	h, err := statistics.Normality(values)
	require.NoError(t, err)
	require.Less(t, h.P, 0.01)
	require.Greater(t, h.Adjusted, 1.035)
}

func timed(gang string, texts ...string) []statistics.Timed {
	start := time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC)
	var list []statistics.Timed
	for i, v := range decimals(texts...) {
		list = append(list, statistics.Timed{At: start.Add(time.Duration(i) * time.Hour), Gang: gang, Value: v})
	}
	return list
}

func TestControlChartFactors(t *testing.T) {
	t.Parallel()
	for prefix, f := range map[string]func(int) float64{"spc-c4": statistics.C4, "spc-d2": statistics.D2} {
		for _, v := range methodVectors(t, prefix) {
			var in struct{ N []int }
			var want []float64
			v.read(t, &in, &want)
			for i, n := range in.N {
				require.InDelta(t, want[i], f(n), v.tol(t), "%s n %d", v, n)
			}
		}
	}
}

// Constants 2.660, 3.267 (individuals), A3 1.427, B3 0, B4 2.089 for n = 5
// (ISO 7870-2, from memory).
func TestControlChartsByGang(t *testing.T) {
	t.Parallel()
	list := append(timed("gang 1", "10", "11", "10", "11", "10", "11", "19"), timed("gang 2", "9")...)
	charts, without := statistics.Individuals(list)
	require.Equal(t, []string{"gang 2"}, without)
	require.Len(t, charts, 1)
	c := charts[0]
	moving := 13.0 / 6
	require.InDelta(t, moving, c.Spread.Centre, 1e-12)
	require.InDelta(t, 2.660*moving, c.Level.Upper-c.Level.Centre, 0.002*moving)
	require.InDelta(t, 3.267*moving, c.Spread.Upper, 0.001*moving)
	require.True(t, c.Provisional)
	require.True(t, math.IsNaN(c.Points[0].Spread))
	for i, p := range c.Points {
		require.Equal(t, i == 6, p.Outside, "%d", i)
	}

	runs, without, err := statistics.MeanAndSpread(timed("gang 1",
		"10", "11", "12", "9", "10", "10", "11", "12", "9", "10", "10", "10", "10", "10", "10", "77"), 5)
	require.NoError(t, err)
	require.Empty(t, without)
	c = runs[0]
	require.Len(t, c.Points, 3, "the last run is not full")
	require.InDelta(t, 1.427*c.Spread.Centre, c.Level.Upper-c.Level.Centre, 0.0005)
	require.InDelta(t, 2.089*c.Spread.Centre, c.Spread.Upper, 0.0005)
	require.Zero(t, c.Spread.Lower)
	_, _, err = statistics.MeanAndSpread(nil, 1)
	refusedWith(t, statistics.CodeTooFew, err)
}
