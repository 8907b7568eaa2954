package defects

import "math"

const (
	normalReach = 9  // standard deviations; Φ(−9) is 1e-19
	normalSteps = 64 // nodes per standard deviation
)

// normalNode is Φ and φ at one node.
type normalNode struct{ cdf, density float64 }

// normalNodes is computed once and never written again.
var normalNodes = func() (nodes [2*normalReach*normalSteps + 1]normalNode) {
	for i := range nodes {
		z := float64(i)/normalSteps - normalReach
		nodes[i] = normalNode{NormalCDF(z), math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)}
	}
	return nodes
}()

// fastNormalCDF is Φ(z) by a Taylor series of degree 5 about the nearest node:
// the derivatives of φ are φ times Hermite polynomials. It differs from
// NormalCDF by less than 2e-15, and by less than 2e-10 of the value down to
// Φ(−8); a test holds it to both. Beyond nine standard deviations it is 0 or 1.
func fastNormalCDF(z float64) float64 {
	if z >= normalReach {
		return 1
	}
	if !(z > -normalReach) {
		if math.IsNaN(z) {
			return z
		}
		return 0
	}
	i := int((z+normalReach)*normalSteps + 0.5)
	n := &normalNodes[i]
	a := float64(i)/normalSteps - normalReach
	d := z - a
	aa := a * a
	// Φ(a+d) = Φ(a) + φ(a)·Σ (−1)^k He_k(a)·d^(k+1)/(k+1)!
	low := 1 - a*d/2
	high := (aa-1)/6 - d*(a*(aa-3)/24-d*(aa*(aa-6)+3)/120)
	return n.cdf + n.density*d*(low+d*d*high)
}
