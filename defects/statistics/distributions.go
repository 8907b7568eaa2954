package statistics

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"storeyrod/defects"
)

// NormalQuantile is z with Φ(z) = p, for 0 < p < 1; NaN outside.
func NormalQuantile(p float64) float64 {
	if !between01(p) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

// StudentCDF is the distribution function of Student's t with nu > 0 degrees of
// freedom, NaN otherwise; infinite nu is the normal one.
func StudentCDF(t, nu float64) float64 {
	switch {
	case math.IsNaN(t) || !(nu > 0):
		return math.NaN()
	case math.IsInf(nu, 1):
		return defects.NormalCDF(t)
	}
	return distuv.StudentsT{Sigma: 1, Nu: nu}.CDF(t)
}

// StudentQuantile is t with StudentCDF(t, nu) = p, for 0 < p < 1 and nu > 0.
func StudentQuantile(p, nu float64) float64 {
	switch {
	case !between01(p) || !(nu > 0):
		return math.NaN()
	case math.IsInf(nu, 1):
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: nu}.Quantile(p)
}

// Conformance is p_c of JCGM 106:2012 clause 7 with Student's t of nu degrees
// of freedom in place of the normal distribution, for a standard uncertainty u
// that rests on few repeats; infinite nu gives defects.Conformance. A nil limit
// is absent.
func Conformance(y, u, nu float64, lower, upper *float64) float64 {
	if u <= 0 || math.IsInf(nu, 1) {
		return defects.Conformance(y, u, lower, upper)
	}
	below, under := 1.0, 0.0
	if upper != nil {
		below = StudentCDF((*upper-y)/u, nu)
	}
	if lower != nil {
		under = StudentCDF((*lower-y)/u, nu)
	}
	return max(0, below-under)
}

// largestSeriesDelta is the noncentrality up to which gonum's series (AS 243)
// holds its twelve digits; from 38.6 on its first term underflows and it falls
// back on a rough approximation.
const largestSeriesDelta = 30

// NoncentralCDF is the distribution function of the noncentral t distribution
// with nu > 0 degrees of freedom and noncentrality delta, to about 1e-10: by
// gonum's series, and by quadrature over the chi distribution where a large
// delta (a long series of readings) takes that away.
func NoncentralCDF(t, nu, delta float64) float64 {
	switch {
	case !finite(t, delta) || !(nu > 0):
		return math.NaN()
	case math.IsInf(nu, 1):
		return defects.NormalCDF(t - delta)
	case delta < 0:
		return 1 - NoncentralCDF(-t, nu, -delta)
	case delta <= largestSeriesDelta:
		return min(max(distuv.NoncentralT{Nu: nu, Mu: delta}.CDF(t), 0), 1)
	case t <= 0:
		return 0 // below Φ(−30)
	}
	return noncentralByQuadrature(t, nu, delta)
}

// noncentralByQuadrature is ∫ Φ(t·w − δ) f(w) dw, f the density of √(χ²_ν/ν).
// Dividing by the quadrature of f itself cancels the rounding of its constant.
func noncentralByQuadrature(t, nu, delta float64) float64 {
	mode := math.Sqrt(max(nu-1, 0) / nu)
	reach := 12 / math.Sqrt(2*nu)
	logAt := func(w float64) float64 { return (nu-1)*math.Log(w) - nu*w*w/2 }
	peak := logAt(max(mode, 1e-9))
	density := func(w float64) float64 {
		if w <= 0 {
			return 0
		}
		return math.Exp(logAt(w) - peak)
	}
	lo, hi := max(0, mode-reach), mode+reach
	clamp := func(w float64) float64 { return min(max(w, lo), hi) }
	step := delta / t
	points := []float64{lo}
	for _, w := range []float64{step - 9/t, step, step + 9/t} {
		points = append(points, clamp(w))
	}
	points = append(points, hi)
	const nodes = 96
	part := panels(func(w float64) float64 { return defects.NormalCDF(t*w-delta) * density(w) }, nodes, points...)
	return min(part/panels(density, nodes, points...), 1)
}

// NoncentralQuantile is t with NoncentralCDF(t, nu, delta) = p.
func NoncentralQuantile(p, nu, delta float64) float64 {
	if !between01(p) || !(nu > 0) || !finite(delta) {
		return math.NaN()
	}
	lo, hi := delta-1, delta+1
	for width := 1.0; NoncentralCDF(lo, nu, delta) > p && width < 1e300; width *= 2 {
		lo -= width
	}
	for width := 1.0; NoncentralCDF(hi, nu, delta) < p && width < 1e300; width *= 2 {
		hi += width
	}
	return crossing(lo, hi, func(t float64) float64 { return NoncentralCDF(t, nu, delta) - p })
}
