package statistics

import (
	"fmt"
	"math"

	"storeyrod/defects"
)

// Distribution is the shape assumed for one source of uncertainty.
type Distribution string

// The shapes and, in brackets, the divisor that makes a standard uncertainty of
// the stated value (GUM, JCGM 100:2008, 4.3, from memory).
const (
	FromRepeats Distribution = "repeats"     // s of n repeats (√n), type A
	Rectangular Distribution = "rectangular" // half-width (√3)
	Triangular  Distribution = "triangular"  // half-width (√6)
	Arcsine     Distribution = "arcsine"     // half-width (√2)
	Normal      Distribution = "normal"      // expanded uncertainty (its k)
)

// Source is one line of an uncertainty budget. Value is in the source's own
// unit; Sensitivity takes it to the unit of the result.
type Source struct {
	Name         string
	TypeA        bool
	Value        float64 // s, half-width or expanded uncertainty, as Distribution says
	Distribution Distribution
	Divisor      float64
	Sensitivity  float64 // c_i; 1 when the units agree
	Standard     float64 // |c_i|·u_i in the unit of the result
	Nu           float64 // degrees of freedom; +Inf = well known
	Share        float64 // of u_c², 0…1; set by Combine
}

// Repeats is the type A source of n ≥ 2 repeats: s/√n with n − 1 degrees of
// freedom, and their mean. Equal repeats give 0; the resolution then carries
// the budget.
func Repeats(name string, values []defects.Decimal) (Source, float64, error) {
	sum, err := Summarise(values)
	if err != nil {
		return Source{}, 0, err
	}
	if sum.N < 2 {
		return Source{}, 0, bad("values", CodeTooFew, "repeats need at least 2 readings, not %d", sum.N)
	}
	root := math.Sqrt(float64(sum.N))
	return Source{
		Name: name, TypeA: true, Value: sum.S, Distribution: FromRepeats, Divisor: root, Sensitivity: 1,
		Standard: sum.S / root, Nu: float64(sum.N - 1),
	}, sum.Mean, nil
}

// Resolution is the type B source of a display that steps by step: rectangular
// with half-width step/2 (GUM F.2.2.1, from memory).
func Resolution(name string, step float64) (Source, error) {
	return Within(name, step/2, Rectangular, 1)
}

// Within is the type B source of a value known to lie within ± half-width.
func Within(name string, halfWidth float64, shape Distribution, sensitivity float64) (Source, error) {
	var divisor float64
	switch shape {
	case Rectangular:
		divisor = math.Sqrt(3)
	case Triangular:
		divisor = math.Sqrt(6)
	case Arcsine:
		divisor = math.Sqrt2
	default:
		return Source{}, bad("distribution", CodeBadValue, "limits have no %q distribution", shape)
	}
	return typeB(name, halfWidth, shape, divisor, sensitivity, math.Inf(1))
}

// Certificate is the type B source of a certificate or reference that states an
// expanded uncertainty with its coverage factor; nu is +Inf when none is stated.
func Certificate(name string, expanded, k, nu float64) (Source, error) {
	if !finite(k) || k <= 0 {
		return Source{}, bad("k", CodeBadValue, "a coverage factor must be above 0")
	}
	return typeB(name, expanded, Normal, k, 1, nu)
}

func typeB(name string, value float64, shape Distribution, divisor, sensitivity, nu float64) (Source, error) {
	if !finite(value, sensitivity) || value < 0 {
		return Source{}, bad("value", CodeBadValue, "%s: an uncertainty must be a number of 0 or more", name)
	}
	if !(nu > 0) {
		return Source{}, bad("nu", CodeBadValue, "%s: degrees of freedom must be above 0", name)
	}
	return Source{
		Name: name, Value: value, Distribution: shape, Divisor: divisor, Sensitivity: sensitivity,
		Standard: math.Abs(sensitivity) * value / divisor, Nu: nu,
	}, nil
}

// Budget is a combined uncertainty with the table it comes from.
type Budget struct {
	Sources  []Source
	Combined float64 // u_c = √Σ(c_i u_i)²
	NuEff    float64 // Welch–Satterthwaite; +Inf when no source has few degrees of freedom
}

// Combine adds independent sources (GUM 5.1.2) and works out the effective
// degrees of freedom (Welch–Satterthwaite, GUM G.4.1; both from memory).
func Combine(sources ...Source) (Budget, error) {
	b := Budget{Sources: append([]Source(nil), sources...), NuEff: math.Inf(1)}
	var squares, fourths float64
	for i, s := range sources {
		if !finite(s.Standard) || s.Standard < 0 || !(s.Nu > 0) {
			return Budget{}, bad(fmt.Sprintf("sources[%d]", i), CodeBadValue, "%s has no usable uncertainty", s.Name)
		}
		square := s.Standard * s.Standard
		squares += square
		fourths += square * square / s.Nu
	}
	if squares == 0 {
		return Budget{}, bad("sources", "no_uncertainty", "no source has an uncertainty above 0; state the resolution")
	}
	for i := range b.Sources {
		b.Sources[i].Share = b.Sources[i].Standard * b.Sources[i].Standard / squares
	}
	b.Combined = math.Sqrt(squares)
	if fourths > 0 {
		b.NuEff = squares * squares / fourths
	}
	return b, nil
}

// Coverage is an expanded uncertainty and how its factor was found.
type Coverage struct {
	K        float64
	Expanded float64 // K·u_c
	Nu       float64 // degrees of freedom the factor was taken for; +Inf for a fixed k
	Level    float64 // two-sided coverage probability; 0 for a fixed k
}

// ExpandTwo is U = 2·u_c, the default on site.
func (b Budget) ExpandTwo() Coverage {
	return Coverage{K: 2, Expanded: 2 * b.Combined, Nu: math.Inf(1)}
}

// ExpandT is U with k from Student's t for a two-sided level such as 0.95 and
// the effective degrees of freedom cut down to a whole number (GUM G.4.1).
func (b Budget) ExpandT(level float64) (Coverage, error) {
	if !between01(level) {
		return Coverage{}, bad("level", CodeBadValue, "a coverage level lies between 0 and 1")
	}
	nu := math.Floor(b.NuEff)
	if nu < 1 {
		return Coverage{}, bad("nu", CodeTooFew, "fewer than 1 effective degree of freedom; take more repeats")
	}
	k := StudentQuantile((1+level)/2, nu)
	return Coverage{K: k, Expanded: k * b.Combined, Nu: nu, Level: level}, nil
}
