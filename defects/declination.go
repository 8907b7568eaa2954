package defects

import (
	"math"
	"time"
)

const (
	wmmDegree = 12
	wmmRadius = 6371.2 // km, the sphere the coefficients are for
	wmmFirst  = 2025.0 // years for which the model is published
	wmmLast   = 2030.0
	// wmmBlackout is the horizontal field in nT below which the model calls a
	// compass unreliable.
	wmmBlackout = 2000
)

// Declination is the angle in degrees from true to magnetic north at a place at
// sea level, east positive: true = magnetic + declination. It is by the World
// Magnetic Model 2025 (NOAA and BGS). ok is false outside the years 2025 to 2030,
// for which the model is published, and near the magnetic poles.
func Declination(p LonLat, at time.Time) (deg float64, ok bool) {
	at = at.UTC()
	first := time.Date(at.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	year := float64(at.Year()) + at.Sub(first).Hours()/first.AddDate(1, 0, 0).Sub(first).Hours()
	if year < wmmFirst || year >= wmmLast {
		return 0, false
	}
	north, east, _ := MagneticField(p, 0, year)
	if math.Hypot(north, east) < wmmBlackout {
		return 0, false
	}
	return degrees(math.Atan2(east, north)), true
}

// MagneticField is the main field in nT to the north, to the east and downwards
// at a place, height in km above the ellipsoid, at a year with its fraction.
func MagneticField(p LonLat, height, year float64) (north, east, down float64) {
	// Geocentric latitude and radius of the place on the ellipsoid.
	x, y, z := ECEF(p, height*1000)
	axis := math.Hypot(x, y)
	r := math.Hypot(axis, z)
	turn := math.Atan2(z, axis) - radians(p.Lat)

	n, e, d := sphericalField(z/r, max(axis/r, 1e-10), wmmRadius*1000/r, radians(p.Lon), year-wmmFirst)
	sin, cos := math.Sincos(turn)
	return n*cos - d*sin, e, n*sin + d*cos
}

// sphericalField sums the harmonics, t and s being the cosine and the sine of
// the angle from the pole. The Legendre functions are Schmidt's, half normalised,
// by their usual recursion in n from the diagonal n = m.
func sphericalField(t, s, ratio, lon, years float64) (north, east, down float64) {
	diagonal, slope := 1.0, 0.0 // the function at n = m, and its slope against the angle from the pole
	for m := 0; m <= wmmDegree; m++ {
		if m > 0 {
			f := 1.0
			if m > 1 {
				f = math.Sqrt(1 - 1/float64(2*m))
			}
			diagonal, slope = f*s*diagonal, f*(s*slope+t*diagonal)
		}
		sin, cos := math.Sincos(float64(m) * lon)
		before, beforeSlope, p, dp := 0.0, 0.0, diagonal, slope
		for n := m; n <= wmmDegree; n++ {
			if n > m {
				a := float64(2*n - 1)
				b := math.Sqrt(float64((n-1)*(n-1) - m*m))
				c := math.Sqrt(float64(n*n - m*m))
				next := (a*t*p - b*before) / c
				nextSlope := (a*(t*dp-s*p) - b*beforeSlope) / c
				before, beforeSlope, p, dp = p, dp, next, nextSlope
			}
			k := wmm2025[n][m]
			g, h := k.g+years*k.gYear, k.h+years*k.hYear
			fall := math.Pow(ratio, float64(n+2))
			north += fall * (g*cos + h*sin) * dp
			east += fall * float64(m) * (g*sin - h*cos) * p / s
			down -= fall * float64(n+1) * (g*cos + h*sin) * p
		}
	}
	return north, east, down
}
