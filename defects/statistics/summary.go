package statistics

import (
	"math"
	"math/big"
	"math/bits"
	"slices"

	"storeyrod/defects"
)

// Summary is what is said of a set of readings before any judgement.
type Summary struct {
	N        int
	Mean     float64
	S        float64 // sample standard deviation (n − 1); 0 for one value
	Min, Max defects.Decimal
	Median   float64
}

// nano is the number of billionths in a unit of a Decimal.
const nano = 1e9

// Summarise works out a set's figures. Sums are taken exactly over the decimals
// as entered and rounded once at the end, so that no pattern of values can
// cancel digits away (NIST StRD NumAcc3 and NumAcc4 break the usual formulas).
// An empty set is refused with code too_few.
func Summarise(values []defects.Decimal) (Summary, error) {
	n := len(values)
	if n == 0 {
		return Summary{}, bad("values", CodeTooFew, "there is no value")
	}
	m := momentsAbout(values[0].Nano(), values)
	sorted := sortedNano(values)
	return Summary{
		N: n, Mean: m.mean(), S: m.deviation(),
		Min:    defects.DecimalFromNano(sorted[0], 0),
		Max:    defects.DecimalFromNano(sorted[n-1], 0),
		Median: middle(sorted),
	}, nil
}

func sortedNano(values []defects.Decimal) []int64 {
	list := make([]int64, len(values))
	for i, v := range values {
		list[i] = v.Nano()
	}
	slices.Sort(list)
	return list
}

func middle(sorted []int64) float64 {
	n := len(sorted)
	if n%2 == 1 {
		return float64(sorted[n/2]) / nano
	}
	return (float64(sorted[n/2-1]) + float64(sorted[n/2])) / 2 / nano
}

// moments are exact sums of differences from a pivot, in billionths.
type moments struct {
	n      int64
	pivot  int64
	first  *big.Int // Σ(x − pivot)
	second *big.Int // Σ(x − pivot)²
}

func momentsAbout(pivot int64, values []defects.Decimal) moments {
	var up, down [2]uint64 // sums of differences above and below, high word first
	var squares [3]uint64
	for _, v := range values {
		d, sum := uint64(v.Nano())-uint64(pivot), &up
		if v.Nano() < pivot {
			d, sum = -d, &down
		}
		var carry uint64
		sum[1], carry = bits.Add64(sum[1], d, 0)
		sum[0] += carry
		hi, lo := bits.Mul64(d, d)
		squares[2], carry = bits.Add64(squares[2], lo, 0)
		squares[1], carry = bits.Add64(squares[1], hi, carry)
		squares[0] += carry
	}
	first := wide(up[:]...)
	return moments{
		n: int64(len(values)), pivot: pivot,
		first: first.Sub(first, wide(down[:]...)), second: wide(squares[:]...),
	}
}

func wide(words ...uint64) *big.Int {
	sum := new(big.Int)
	for _, w := range words {
		sum.Or(sum.Lsh(sum, 64), new(big.Int).SetUint64(w))
	}
	return sum
}

func (m moments) mean() float64 {
	sum := new(big.Int).Mul(big.NewInt(m.n), big.NewInt(m.pivot))
	f, _ := new(big.Rat).SetFrac(sum.Add(sum, m.first), new(big.Int).Mul(big.NewInt(m.n), big.NewInt(nano))).Float64()
	return f
}

// deviation is √((nΣd² − (Σd)²)/(n(n−1))), with the root taken at 160 bits.
func (m moments) deviation() float64 {
	if m.n < 2 {
		return 0
	}
	square := new(big.Int).Mul(big.NewInt(m.n), m.second)
	square.Sub(square, new(big.Int).Mul(m.first, m.first))
	const precision = 160
	ratio := new(big.Float).SetPrec(precision).SetInt(square)
	ratio.Quo(ratio, new(big.Float).SetPrec(precision).SetInt(new(big.Int).Mul(big.NewInt(m.n), big.NewInt(m.n-1))))
	f, _ := ratio.Quo(ratio.Sqrt(ratio), big.NewFloat(nano)).Float64()
	return f
}

// scores are (x − mean)/s in ascending order.
func scores(values []defects.Decimal, sum Summary) []float64 {
	list := sortedNano(values)
	out := make([]float64, len(list))
	pivot := list[0]
	offset := sum.Mean - float64(pivot)/nano
	for i, v := range list {
		out[i] = (float64(v-pivot)/nano - offset) / sum.S
	}
	return out
}

// spread is Summarise that also asks for a number of values and some spread.
func spread(values []defects.Decimal, least int, method string) (Summary, error) {
	if len(values) < least {
		return Summary{}, bad("values", CodeTooFew, "%s needs at least %d values, not %d", method, least, len(values))
	}
	sum, err := Summarise(values)
	if err != nil {
		return Summary{}, err
	}
	if sum.S == 0 || math.IsNaN(sum.S) {
		return Summary{}, bad("values", CodeNoSpread, "all values are equal, so %s says nothing", method)
	}
	return sum, nil
}
