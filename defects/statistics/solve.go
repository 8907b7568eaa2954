package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"storeyrod/defects"
)

// bad is a refusal of input; code is stable.
func bad(field, code, format string, args ...any) error {
	return defects.RefuseField(defects.Invalid, field, code, fmt.Sprintf(format, args...))
}

// Codes of the refusals of this package.
const (
	CodeBadValue = "bad_value" // not a number, infinite or out of its range
	CodeTooFew   = "too_few"   // fewer values than the method needs
	CodeNoSpread = "no_spread" // all values are equal
)

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// between01 reports 0 < p < 1.
func between01(p float64) bool { return p > 0 && p < 1 }

// crossing finds where the rising function f crosses zero in [lo, hi], to the
// last bits that f resolves: by false position after Anderson and Björck, with a
// halving whenever that has not halved the bracket in three steps.
func crossing(lo, hi float64, f func(float64) float64) float64 {
	atLo, atHi := f(lo), f(hi)
	if atLo >= 0 {
		return lo
	}
	if !(atHi > 0) {
		return hi
	}
	moved := 0 // the end that moved last
	for width, step := hi-lo, 1; step <= 300; step++ {
		x := lo - atLo*(hi-lo)/(atHi-atLo)
		if step%4 == 0 {
			if hi-lo > width/2 {
				x = lo + (hi-lo)/2
			}
			width = hi - lo
		}
		if x <= lo || x >= hi {
			return min(max(x, lo), hi)
		}
		if hi-lo <= 4e-16*(math.Abs(lo)+math.Abs(hi)) {
			break
		}
		switch y := f(x); {
		case y == 0:
			return x
		case y < 0:
			if moved == -1 {
				atHi *= damped(1 - y/atLo)
			}
			lo, atLo, moved = x, y, -1
		default:
			if moved == 1 {
				atLo *= damped(1 - y/atHi)
			}
			hi, atHi, moved = x, y, 1
		}
	}
	return lo + (hi-lo)/2
}

// damped is the weight of the end that stayed twice.
func damped(m float64) float64 {
	if m > 0 {
		return m
	}
	return 0.5
}

// panels integrates f from the first to the last of the ascending points, each
// span with a Gauss–Legendre rule of n nodes.
func panels(f func(float64) float64, n int, points ...float64) float64 {
	var sum float64
	for i := 1; i < len(points); i++ {
		if points[i] > points[i-1] {
			sum += quad.Fixed(f, points[i-1], points[i], n, quad.Legendre{}, 0)
		}
	}
	return sum
}
