package defects

import "math"

// NormalCDF is Φ(z), the standard normal distribution function.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// Conformance is p_c of JCGM 106:2012 clause 7 (from memory) for a normal
// spread of standard uncertainty u around y: the probability that the true
// value lies within the limits. A nil limit is absent. With u = 0 it is 1 or 0.
func Conformance(y, u float64, lower, upper *float64) float64 {
	if u <= 0 {
		if (lower != nil && y < *lower) || (upper != nil && y > *upper) {
			return 0
		}
		return 1
	}
	below, under := 1.0, 0.0
	if upper != nil {
		below = NormalCDF((*upper - y) / u)
	}
	if lower != nil {
		under = NormalCDF((*lower - y) / u)
	}
	return max(0, below-under)
}
