package defects

import "math"

// rayChances holds the chance that a line of sight falls between two bearings,
// tabulated so that a sum over many positions needs no error function.
type rayChances struct {
	heading float64 // degrees
	hit     []float64
	cover   []float64 // nil when the angle of view is unknown
}

// rayStep is the spacing of the tables in degrees. Between the entries they are
// taken as straight, which for a heading good to 5° is wrong by less than 0.0003.
const rayStep = 0.5

// newRayChances tabulates, for bearings from 180° left of the heading to 180°
// right of it, the distribution function of the middle of the picture and that
// of what the whole angle of view takes in.
//
// With a heading θ of standard deviation σ wrapped round the circle the first is
// Σₖ Φ((d+360k)/σ). Averaged over an angle of view H, it is the difference of
// its integral, F(z) = σ(z/σ·Φ(z/σ) + φ(z/σ)), over H.
func newRayChances(v Sighting) rayChances {
	n := int(360/rayStep) + 1
	r := rayChances{heading: v.HeadingDeg, hit: make([]float64, n)}
	sigma := max(v.HeadingSigma, 0.01)
	if v.ViewAcrossDeg > 0 {
		r.cover = make([]float64, n)
	}
	for i := range n {
		d := float64(i)*rayStep - 180
		if !v.Headed {
			r.hit[i] = (d + 180) / 360
			if r.cover != nil {
				r.cover[i] = r.hit[i]
			}
			continue
		}
		for _, whole := range [...]float64{-360, 0, 360} {
			r.hit[i] += meanCDF(d+whole, 0, sigma)
			if r.cover != nil {
				r.cover[i] += meanCDF(d+whole, v.ViewAcrossDeg, sigma)
			}
		}
	}
	return r
}

// farTail is how many σ from its middle a normal distribution is over: what is
// left beyond is below the rounding of its function.
const farTail = 8.5

// meanCDF is Φ(x/σ) averaged over a width around z; most of a circle lies far
// from the heading and needs no error function.
func meanCDF(z, width, sigma float64) float64 {
	switch low, high := z-width/2, z+width/2; {
	case high < -farTail*sigma:
		return 0
	case low > farTail*sigma:
		return 1
	case width == 0:
		return fastNormalCDF(z / sigma)
	default:
		return (normalIntegral(high, sigma) - normalIntegral(low, sigma)) / width
	}
}

// normalIntegral is the integral of Φ(x/σ) from −∞ to z.
func normalIntegral(z, sigma float64) float64 {
	u := z / sigma
	return sigma * (u*fastNormalCDF(u) + math.Exp(-u*u/2)/math.Sqrt(2*math.Pi))
}

// between is the chance of the middle of the picture lying in a span of
// bearings given in degrees from the heading, −180 ≤ from ≤ to ≤ 180.
func (r rayChances) between(from, to float64) float64 { return at(r.hit, to) - at(r.hit, from) }

// coverage is the expected part of the angle of view that a span takes up.
func (r rayChances) coverage(from, to float64) float64 {
	if r.cover == nil {
		return 0
	}
	return at(r.cover, to) - at(r.cover, from)
}

func at(table []float64, deg float64) float64 {
	x := (deg + 180) / rayStep
	i := min(max(int(x), 0), len(table)-2)
	return table[i] + (x-float64(i))*(table[i+1]-table[i])
}
