package defects

import "math"

// NormalCDF is Φ(z), the standard normal distribution function.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// Conformance is p_c of JCGM 106:2012 clause 7 (from memory) for a normal
// spread of standard uncertainty u around y: the probability that the true
// value lies within the limits. A nil limit is absent. With u = 0 it is 1 or 0.
func Conformance(y, u float64, lower, upper *float64) float64 {
	return conformance(y, u, lower, upper, NormalCDF)
}

// ConformanceT is Conformance with Student's t of nu degrees of freedom, for an
// uncertainty that rests on few repeats.
func ConformanceT(y, u, nu float64, lower, upper *float64) float64 {
	return conformance(y, u, lower, upper, func(t float64) float64 { return StudentCDF(t, nu) })
}

func conformance(y, u float64, lower, upper *float64, cdf func(float64) float64) float64 {
	if u <= 0 {
		if (lower != nil && y < *lower) || (upper != nil && y > *upper) {
			return 0
		}
		return 1
	}
	below, under := 1.0, 0.0
	if upper != nil {
		below = cdf((*upper - y) / u)
	}
	if lower != nil {
		under = cdf((*lower - y) / u)
	}
	return max(0, below-under)
}

// StudentCDF is the distribution function of Student's t with nu > 0 degrees of
// freedom, by the regularised incomplete beta function.
func StudentCDF(t, nu float64) float64 {
	if math.IsNaN(t) || !(nu > 0) {
		return math.NaN()
	}
	if math.IsInf(nu, 1) {
		return NormalCDF(t)
	}
	tail := 0.5 * betaRegularised(nu/2, 0.5, nu/(nu+t*t))
	if t > 0 {
		return 1 - tail
	}
	return tail
}

// betaRegularised is I_x(a, b) by its continued fraction.
func betaRegularised(a, b, x float64) float64 {
	if x <= 0 {
		return 0
	}
	if x >= 1 {
		return 1
	}
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	front := math.Exp(lab - la - lb + a*math.Log(x) + b*math.Log1p(-x))
	if x < (a+1)/(a+b+2) {
		return front * betaFraction(a, b, x) / a
	}
	return 1 - front*betaFraction(b, a, 1-x)/b
}

// betaFraction evaluates the continued fraction of the incomplete beta function
// from its tail towards its head, which needs no rescaling.
func betaFraction(a, b, x float64) float64 {
	const terms = 400
	f := 1.0
	for k := terms; k >= 1; k-- {
		f = 1 + betaTerm(k, a, b, x)/f
	}
	return 1 / f
}

func betaTerm(k int, a, b, x float64) float64 {
	m := float64(k / 2)
	if k%2 == 0 {
		return m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
	}
	return -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
}
