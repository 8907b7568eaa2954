package statistics

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"storeyrod/defects"
)

func checkInterval(n int, proportion, confidence float64) error {
	switch {
	case n < 2:
		return bad("n", CodeTooFew, "a tolerance interval needs at least 2 values, not %d", n)
	case !between01(proportion):
		return bad("proportion", CodeBadValue, "the proportion covered lies between 0 and 1")
	case !between01(confidence):
		return bad("confidence", CodeBadValue, "the confidence lies between 0 and 1")
	}
	return nil
}

// OneSidedFactor is k₁ of a one-sided statistical tolerance interval: at least
// the proportion lies below x̄ + k₁s (or above x̄ − k₁s) with the confidence.
// Exact, from the noncentral t distribution (ISO 16269-6, from memory).
func OneSidedFactor(n int, proportion, confidence float64) (float64, error) {
	if err := checkInterval(n, proportion, confidence); err != nil {
		return 0, err
	}
	root := math.Sqrt(float64(n))
	return NoncentralQuantile(confidence, float64(n-1), NormalQuantile(proportion)*root) / root, nil
}

// TwoSidedFactor is k₂ of x̄ ± k₂s, exact: the confidence that the interval
// covers the proportion is integrated over where the mean may fall.
func TwoSidedFactor(n int, proportion, confidence float64) (float64, error) {
	if err := checkInterval(n, proportion, confidence); err != nil {
		return 0, err
	}
	nu := float64(n - 1)
	const nodes, reach = 80, 9.0
	at, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(at, weight, 0, reach)
	half := make([]float64, nodes) // half-widths that cover the proportion about each shift
	for i, t := range at {
		half[i] = halfWidth(t/math.Sqrt(float64(n)), proportion)
		weight[i] *= 2 * distuv.UnitNormal.Prob(t)
	}
	chi := distuv.ChiSquared{K: nu}
	covered := func(k float64) float64 {
		var sum float64
		for i, r := range half {
			sum += weight[i] * chi.Survival(nu*r*r/(k*k))
		}
		return sum
	}
	hi := 1.0
	for covered(hi) < confidence && hi < 1e12 {
		hi *= 2
	}
	return crossing(0, hi, func(k float64) float64 { return covered(k) - confidence }), nil
}

// halfWidth is r with Φ(z + r) − Φ(z − r) = p.
func halfWidth(z, p float64) float64 {
	r := math.Abs(z) + NormalQuantile((1+p)/2) // an upper bound
	return crossing(0, r, func(r float64) float64 { return defects.NormalCDF(z+r) - defects.NormalCDF(z-r) - p })
}

// HoweFactor is Howe's approximation of k₂, as NIST/SEMATECH 7.2.6.3 prints it.
// For checking published figures; TwoSidedFactor is exact.
func HoweFactor(n int, proportion, confidence float64) (float64, error) {
	if err := checkInterval(n, proportion, confidence); err != nil {
		return 0, err
	}
	nu := float64(n - 1)
	chi := distuv.ChiSquared{K: nu}.Quantile(1 - confidence)
	return NormalQuantile((1+proportion)/2) * math.Sqrt(nu*(1+1/float64(n))/chi), nil
}

// NatrellaFactor is Natrella's approximation of k₁, as NIST/SEMATECH 7.2.6.3
// prints it. For checking published figures; OneSidedFactor is exact.
func NatrellaFactor(n int, proportion, confidence float64) (float64, error) {
	if err := checkInterval(n, proportion, confidence); err != nil {
		return 0, err
	}
	zp, zc := NormalQuantile(proportion), NormalQuantile(confidence)
	a := 1 - zc*zc/(2*float64(n-1))
	b := zp*zp - zc*zc/float64(n)
	return (zp + math.Sqrt(zp*zp-a*b)) / a, nil
}

// DistributionFree is the fewest values whose largest bounds the proportion
// (twoSided false), or whose smallest and largest enclose it, with the
// confidence, whatever the distribution: 59 and 93 for 95 %/95 %.
func DistributionFree(proportion, confidence float64, twoSided bool) (int, error) {
	if err := checkInterval(2, proportion, confidence); err != nil {
		return 0, err
	}
	for n := 1; n < 10_000_000; n++ {
		m := float64(n)
		miss := math.Pow(proportion, m)
		if twoSided {
			miss = m*math.Pow(proportion, m-1) - (m-1)*miss
		}
		if 1-miss >= confidence {
			return n, nil
		}
	}
	return 0, bad("proportion", CodeBadValue, "more than ten million values would be needed")
}

// ToleranceInterval covers a proportion of what the readings came from.
type ToleranceInterval struct {
	Proportion, Confidence float64
	K                      float64
	Lower, Upper           float64 // ∓Inf on the open side
}

// Tolerance is the two-sided, lower or upper tolerance interval of a set that
// is taken to be normal; side HighSide bounds above, LowSide below.
func Tolerance(sum Summary, proportion, confidence float64, side Side) (ToleranceInterval, error) {
	if sum.S == 0 && sum.N >= 2 {
		return ToleranceInterval{}, bad("values", CodeNoSpread, "all values are equal, so a tolerance interval says nothing")
	}
	factor := OneSidedFactor
	if side == EitherSide {
		factor = TwoSidedFactor
	}
	k, err := factor(sum.N, proportion, confidence)
	if err != nil {
		return ToleranceInterval{}, err
	}
	out := ToleranceInterval{
		Proportion: proportion, Confidence: confidence, K: k, Lower: sum.Mean - k*sum.S, Upper: sum.Mean + k*sum.S,
	}
	switch side {
	case HighSide:
		out.Lower = math.Inf(-1)
	case LowSide:
		out.Upper = math.Inf(1)
	}
	return out, nil
}
