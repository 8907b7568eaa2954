package statistics

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"storeyrod/defects"
)

// Interval is a tolerance or an acceptance zone; a nil end is open.
type Interval struct{ Lower, Upper *float64 }

// Guarded moves the ends inwards by the guard band w (outwards when negative).
// A band that leaves nothing to accept is refused with code guard_too_wide.
func (i Interval) Guarded(w float64) (Interval, error) {
	if !finite(w) {
		return Interval{}, bad("guard", CodeBadValue, "the guard band is not a number")
	}
	out := Interval{}
	if i.Lower != nil {
		v := *i.Lower + w
		out.Lower = &v
	}
	if i.Upper != nil {
		v := *i.Upper - w
		out.Upper = &v
	}
	if out.Lower != nil && out.Upper != nil && *out.Lower > *out.Upper {
		return Interval{}, bad("guard", "guard_too_wide", "the guard band leaves no value that could be accepted")
	}
	return out, nil
}

func (i Interval) contains(v float64) bool {
	return (i.Lower == nil || v >= *i.Lower) && (i.Upper == nil || v <= *i.Upper)
}

// SpecificRisk is the risk of one decision already taken (JCGM 106:2012, 8, from
// memory): for an accepted reading the consumer's, that it does not conform;
// for a rejected one the producer's, that it does. nu is +Inf for a normal spread.
func SpecificRisk(y, u, nu float64, tolerance Interval, accepted bool) float64 {
	pc := Conformance(y, u, nu, tolerance.Lower, tolerance.Upper)
	if accepted {
		return 1 - pc
	}
	return pc
}

// WorstFalseAcceptance is the specific consumer's risk of a reading that lies
// exactly on a guarded limit, one limit in reach: Φ(−w/u), or Student's t.
func WorstFalseAcceptance(w, u, nu float64) float64 {
	if u <= 0 {
		if w >= 0 {
			return 0
		}
		return 1
	}
	return StudentCDF(-w/u, nu)
}

// Process is what is known of the work before it is measured.
type Process interface {
	Prob(x float64) float64
	CDF(x float64) float64
	Quantile(p float64) float64
}

// NormalProcess is normal work with mean and standard deviation sd > 0.
func NormalProcess(mean, sd float64) Process { return distuv.Normal{Mu: mean, Sigma: sd} }

// GammaProcess is skewed work that cannot go below zero.
func GammaProcess(shape, scale float64) Process { return distuv.Gamma{Alpha: shape, Beta: 1 / scale} }

// GlobalRisk is what a decision rule does over the whole of a process (JCGM
// 106:2012, 9, from memory), as shares of all items.
type GlobalRisk struct {
	OutOfTolerance        float64
	Accepted              float64
	Consumer              float64 // R_C: accepted and not conforming
	Producer              float64 // R_P: rejected and conforming
	ConsumerGivenAccepted float64 // not conforming among those accepted
}

// Global integrates the risks of accepting a reading inside acceptance when its
// standard uncertainty is u > 0 and the process is as given.
func Global(process Process, tolerance, acceptance Interval, u float64) (GlobalRisk, error) {
	if !finite(u) || u <= 0 {
		return GlobalRisk{}, bad("u", CodeBadValue, "the standard uncertainty must be above 0")
	}
	accept := func(x float64) float64 {
		p := 1.0
		if acceptance.Upper != nil {
			p = defects.NormalCDF((*acceptance.Upper - x) / u)
		}
		if acceptance.Lower != nil {
			p -= defects.NormalCDF((*acceptance.Lower - x) / u)
		}
		return max(p, 0)
	}
	points := riskPoints(process, tolerance, acceptance, u)
	var r GlobalRisk
	for i := 1; i < len(points); i++ {
		lo, hi := points[i-1], points[i]
		accepted := panels(func(x float64) float64 { return process.Prob(x) * accept(x) }, 32, lo, hi)
		r.Accepted += accepted
		if tolerance.contains(lo + (hi-lo)/2) {
			r.Producer += panels(func(x float64) float64 { return process.Prob(x) * (1 - accept(x)) }, 32, lo, hi)
		} else {
			r.Consumer += accepted
		}
	}
	inside := 1.0
	if tolerance.Upper != nil {
		inside = process.CDF(*tolerance.Upper)
	}
	if tolerance.Lower != nil {
		inside -= process.CDF(*tolerance.Lower)
	}
	r.OutOfTolerance = 1 - inside
	if r.Accepted > 0 {
		r.ConsumerGivenAccepted = r.Consumer / r.Accepted
	}
	return r, nil
}

// riskPoints cuts the axis where an integrand bends: at the limits, about the
// acceptance limits as the measurement blurs them, and along the process.
func riskPoints(process Process, tolerance, acceptance Interval, u float64) []float64 {
	const tail = 1e-14
	lo, hi := process.Quantile(tail), process.Quantile(1-tail)
	points := []float64{lo, hi}
	for _, p := range []float64{1e-9, 1e-5, 1e-3, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 0.999, 1 - 1e-5, 1 - 1e-9} {
		points = append(points, process.Quantile(p))
	}
	for _, end := range []*float64{tolerance.Lower, tolerance.Upper} {
		if end != nil {
			points = append(points, *end)
		}
	}
	for _, end := range []*float64{acceptance.Lower, acceptance.Upper} {
		if end != nil {
			for _, k := range []float64{-9, -4, -1.5, 0, 1.5, 4, 9} {
				points = append(points, *end+k*u)
			}
		}
	}
	points = slices.DeleteFunc(points, func(x float64) bool { return math.IsNaN(x) || x < lo || x > hi })
	slices.Sort(points)
	return slices.Compact(points)
}

// UpperForConsumerRisk is the upper acceptance limit for which the global
// consumer's risk against an upper limit equals risk; the guard band is the
// limit less this. Refused when no limit gives it.
func UpperForConsumerRisk(process Process, upper, u, risk float64) (float64, error) {
	if !between01(risk) {
		return 0, bad("risk", CodeBadValue, "a risk lies between 0 and 1")
	}
	at := func(a float64) float64 {
		r, err := Global(process, Interval{Upper: &upper}, Interval{Upper: &a}, u)
		if err != nil {
			return math.NaN()
		}
		return r.Consumer
	}
	lo, hi := upper-20*u, upper+20*u
	if l, h := at(lo), at(hi); math.IsNaN(l) || risk < l || risk > h {
		return 0, bad("risk", "risk_out_of_reach", "no acceptance limit near this tolerance has that risk")
	}
	return crossing(lo, hi, func(a float64) float64 { return at(a) - risk }), nil
}

// Capability is C_pk of a set against its limits and the share expected beyond
// them if it is normal. Refused without a limit or without spread.
func Capability(mean, s float64, tolerance Interval) (cpk, beyond float64, err error) {
	switch {
	case !finite(mean, s) || s < 0:
		return 0, 0, bad("s", CodeBadValue, "mean and standard deviation must be numbers")
	case s == 0:
		return 0, 0, bad("s", CodeNoSpread, "a capability needs some spread")
	case tolerance.Lower == nil && tolerance.Upper == nil:
		return 0, 0, bad("limits", CodeBadValue, "a capability needs a limit")
	}
	room := math.Inf(1)
	if tolerance.Lower != nil {
		room = min(room, mean-*tolerance.Lower)
	}
	if tolerance.Upper != nil {
		room = min(room, *tolerance.Upper-mean)
	}
	return room / (3 * s), 1 - defects.Conformance(mean, s, tolerance.Lower, tolerance.Upper), nil
}
