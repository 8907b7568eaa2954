package statistics

import (
	"math"

	"storeyrod/defects"
)

// Side says which way a value may lie out.
type Side string

// The sides of a test.
const (
	EitherSide Side = "either"
	HighSide   Side = "high"
	LowSide    Side = "low"
)

// OutlierClass is the answer of Grubbs' test in the words of ISO 5725-2 (from
// memory). It flags for a person to look at; no value is ever taken out.
type OutlierClass string

// The classes.
const (
	NoOutlier OutlierClass = "none"
	Straggler OutlierClass = "straggler" // beyond 5 %: keep and mark
	Outlier   OutlierClass = "outlier"   // beyond 1 %: find out why
)

// OutlierFlag is the result of Grubbs' test on the value that lies farthest out.
type OutlierFlag struct {
	Class     OutlierClass
	Index     int // of the value in the order given
	Value     defects.Decimal
	G         float64
	Critical5 float64
	Critical1 float64
	Side      Side
}

// GrubbsCritical is (n−1)/√n · √(t²/(n−2+t²)) with t of n − 2 degrees of freedom
// at α/n, or α/(2n) when the value may lie out on either side (NIST/SEMATECH
// 1.3.5.17, from memory), for n ≥ 3.
func GrubbsCritical(n int, alpha float64, side Side) (float64, error) {
	switch {
	case n < 3:
		return 0, bad("n", CodeTooFew, "Grubbs' test needs at least 3 values, not %d", n)
	case !between01(alpha):
		return 0, bad("alpha", CodeBadValue, "a significance level lies between 0 and 1")
	}
	m := float64(n)
	tail := alpha / m
	if side == EitherSide {
		tail /= 2
	}
	t := StudentQuantile(1-tail, m-2)
	return (m - 1) / math.Sqrt(m) * math.Sqrt(t*t/(m-2+t*t)), nil
}

// Grubbs tests the value that lies farthest out on the side.
func Grubbs(values []defects.Decimal, side Side) (OutlierFlag, error) {
	sum, err := spread(values, 3, "Grubbs' test")
	if err != nil {
		return OutlierFlag{}, err
	}
	flag := OutlierFlag{Class: NoOutlier, Index: -1, Side: side}
	for i, v := range values {
		g := (v.Float() - sum.Mean) / sum.S
		switch side {
		case EitherSide:
			g = math.Abs(g)
		case LowSide:
			g = -g
		}
		if flag.Index < 0 || g > flag.G {
			flag.Index, flag.Value, flag.G = i, v, g
		}
	}
	if flag.Critical5, err = GrubbsCritical(sum.N, 0.05, side); err != nil {
		return OutlierFlag{}, err
	}
	if flag.Critical1, err = GrubbsCritical(sum.N, 0.01, side); err != nil {
		return OutlierFlag{}, err
	}
	switch {
	case flag.G > flag.Critical1:
		flag.Class = Outlier
	case flag.G > flag.Critical5:
		flag.Class = Straggler
	}
	return flag, nil
}

// NormalityHint is the Anderson–Darling statistic of a set with a rough p.
type NormalityHint struct {
	A2       float64 // as computed
	Adjusted float64 // A²·(1 + 0.75/n + 2.25/n²)
	P        float64
	Text     string // says "hint"
}

// Normality compares a set with the normal distribution by the Anderson–Darling
// statistic with mean and s estimated; adjustment and p after D'Agostino and
// Stephens (1986), Table 4.9 (from memory). It is a hint: on few values it
// misses much, on thousands it finds what does not matter.
func Normality(values []defects.Decimal) (NormalityHint, error) {
	sum, err := spread(values, 8, "the Anderson–Darling statistic")
	if err != nil {
		return NormalityHint{}, err
	}
	z := scores(values, sum)
	n := float64(len(z))
	var s float64
	for i := range z {
		s += (2*float64(i) + 1) * (logNormalCDF(z[i]) + logNormalCDF(-z[len(z)-1-i]))
	}
	h := NormalityHint{A2: -n - s/n}
	h.Adjusted = h.A2 * (1 + 0.75/n + 2.25/(n*n))
	h.P = andersonP(h.Adjusted)
	h.Text = "hint: nothing here speaks against a normal spread"
	if h.P < 0.05 {
		h.Text = "hint: the spread does not look normal; look at the readings before trusting a figure that assumes it"
	}
	return h, nil
}

func logNormalCDF(z float64) float64 {
	if z < -35 {
		return -z*z/2 - math.Log(-z) - 0.5*math.Log(2*math.Pi)
	}
	return math.Log(defects.NormalCDF(z))
}

func andersonP(a float64) float64 {
	switch {
	case a >= 13:
		return 0
	case a >= 0.6:
		return math.Exp(1.2937 - 5.709*a + 0.0186*a*a)
	case a >= 0.34:
		return math.Exp(0.9177 - 4.279*a - 1.38*a*a)
	case a >= 0.2:
		return 1 - math.Exp(-8.318+42.796*a-59.938*a*a)
	}
	return 1 - math.Exp(-13.436+101.14*a-223.73*a*a)
}
