package defects

import "math"

// The WGS84 ellipsoid: semi-major axis in metres, flattening, and the square of
// the first eccentricity. Published by the NGA (NGA.STND.0036), from memory.
const (
	wgsA  = 6378137.0
	wgsF  = 1 / 298.257223563
	wgsB  = wgsA * (1 - wgsF)
	wgsE2 = wgsF * (2 - wgsF)
)

// ECEF gives earth-centred, earth-fixed metres of a WGS84 position at an
// ellipsoidal height in metres.
func ECEF(p LonLat, height float64) (x, y, z float64) {
	sinLat, cosLat := math.Sincos(radians(p.Lat))
	sinLon, cosLon := math.Sincos(radians(p.Lon))
	n := wgsA / math.Sqrt(1-wgsE2*sinLat*sinLat)
	return (n + height) * cosLat * cosLon, (n + height) * cosLat * sinLon, (n*(1-wgsE2) + height) * sinLat
}

// ENU gives a position as metres east, north and up of an origin; heights are
// ellipsoidal metres.
func ENU(origin LonLat, originHeight float64, p LonLat, height float64) (east, north, up float64) {
	x0, y0, z0 := ECEF(origin, originHeight)
	x, y, z := ECEF(p, height)
	dx, dy, dz := x-x0, y-y0, z-z0
	sinLat, cosLat := math.Sincos(radians(origin.Lat))
	sinLon, cosLon := math.Sincos(radians(origin.Lon))
	east = -sinLon*dx + cosLon*dy
	north = -sinLat*cosLon*dx - sinLat*sinLon*dy + cosLat*dz
	up = cosLat*cosLon*dx + cosLat*sinLon*dy + sinLat*dz
	return east, north, up
}

// MetresPerDegree gives the length of one degree of latitude and of longitude
// at a latitude, from the radii of curvature of WGS84. Good to 0.1 mm over 10 m.
func MetresPerDegree(lat float64) (perLat, perLon float64) {
	sinLat, cosLat := math.Sincos(radians(lat))
	w := 1 - wgsE2*sinLat*sinLat
	m := wgsA * (1 - wgsE2) / (w * math.Sqrt(w))
	n := wgsA / math.Sqrt(w)
	return radians(m), radians(n * cosLat)
}

// Frame is a local plane touching the ellipsoid at its origin, with x east and
// y north in metres. Over a site of 5 km its lengths are true to 1 part in
// 10 million, so it serves for footprints and photos alike.
type Frame struct{ origin LonLat }

// NewFrame makes the frame of an origin. Near the poles, beyond ±89.9° of
// latitude, east and north lose their meaning; CheckRing refuses such rings.
func NewFrame(origin LonLat) Frame { return Frame{origin: origin} }

// Holds reports whether the frame's plane is still true at a place: within 50 km.
func (f Frame) Holds(p LonLat) bool { return nearby(f.Origin(), p) }

// Origin is the position of (0, 0).
func (f Frame) Origin() LonLat { return f.origin }

// ToXY gives metres east and north of the origin.
func (f Frame) ToXY(p LonLat) XY {
	e, n, _ := ENU(f.origin, 0, p, 0)
	return XY{X: e, Y: n}
}

// ToLonLat is the inverse of ToXY, to well below a millimetre within 50 km.
func (f Frame) ToLonLat(p XY) LonLat {
	perLat, perLon := MetresPerDegree(f.origin.Lat)
	at := LonLat{Lon: f.origin.Lon + p.X/perLon, Lat: f.origin.Lat + p.Y/perLat}
	for range 5 {
		got := f.ToXY(at)
		at.Lon += (p.X - got.X) / perLon
		at.Lat += (p.Y - got.Y) / perLat
	}
	return at
}

// Geodesic gives the length in metres of the shortest line between two places
// on WGS84 and its azimuth at the start, in degrees from north (0 ≤ azimuth <
// 360). ok is false for nearly antipodal places, where the iteration of
// Vincenty (Survey Review 23, 1975, from memory) does not settle.
func Geodesic(from, to LonLat) (metres, azimuth float64, ok bool) {
	if from == to {
		return 0, 0, true
	}
	s1, c1 := reduced(from.Lat)
	s2, c2 := reduced(to.Lat)
	l := radians(math.Remainder(to.Lon-from.Lon, 360))
	lambda := l
	for range 200 {
		v := vincentyStep(s1, c1, s2, c2, l, lambda)
		if math.Abs(v.lambda-lambda) < 1e-13 {
			return v.length(), wrap360(degrees(math.Atan2(c2*v.sinLambda, c1*s2-s1*c2*v.cosLambda))), true
		}
		lambda = v.lambda
	}
	return 0, 0, false
}

// vincenty is the state of one round of the iteration.
type vincenty struct {
	lambda, sinLambda, cosLambda       float64
	sigma, sinSigma, cosSigma          float64
	cosSqAlpha, cos2SigmaM, cos2Square float64
}

func vincentyStep(s1, c1, s2, c2, l, lambda float64) vincenty {
	v := vincenty{}
	v.sinLambda, v.cosLambda = math.Sincos(lambda)
	v.sinSigma = math.Hypot(c2*v.sinLambda, c1*s2-s1*c2*v.cosLambda)
	v.cosSigma = s1*s2 + c1*c2*v.cosLambda
	v.sigma = math.Atan2(v.sinSigma, v.cosSigma)
	sinAlpha := 0.0
	if v.sinSigma != 0 {
		sinAlpha = c1 * c2 * v.sinLambda / v.sinSigma
	}
	v.cosSqAlpha = 1 - sinAlpha*sinAlpha
	if v.cosSqAlpha > 1e-15 { // else both places are on the equator
		v.cos2SigmaM = v.cosSigma - 2*s1*s2/v.cosSqAlpha
	}
	v.cos2Square = v.cos2SigmaM * v.cos2SigmaM
	c := wgsF / 16 * v.cosSqAlpha * (4 + wgsF*(4-3*v.cosSqAlpha))
	v.lambda = l + (1-c)*wgsF*sinAlpha*
		(v.sigma+c*v.sinSigma*(v.cos2SigmaM+c*v.cosSigma*(2*v.cos2Square-1)))
	return v
}

func (v vincenty) length() float64 {
	u2 := v.cosSqAlpha * (wgsA*wgsA - wgsB*wgsB) / (wgsB * wgsB)
	a := 1 + u2/16384*(4096+u2*(-768+u2*(320-175*u2)))
	b := u2 / 1024 * (256 + u2*(-128+u2*(74-47*u2)))
	correction := b * v.sinSigma * (v.cos2SigmaM + b/4*(v.cosSigma*(2*v.cos2Square-1)-
		b/6*v.cos2SigmaM*(4*v.sinSigma*v.sinSigma-3)*(4*v.cos2Square-3)))
	return wgsB * a * (v.sigma - correction)
}

// reduced gives sine and cosine of the reduced latitude.
func reduced(lat float64) (sin, cos float64) {
	s, c := math.Sincos(radians(lat))
	s *= 1 - wgsF
	h := math.Hypot(s, c)
	return s / h, c / h
}

// AngleBetween is the smaller angle between two directions in degrees, 0 to 180.
func AngleBetween(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

// Wind names a direction in degrees by the nearest of the eight winds:
// "North", "North-east" and so on.
func Wind(deg float64) string {
	return [...]string{
		"North", "North-east", "East", "South-east", "South", "South-west", "West",
		"North-west",
	}[int(math.Floor(wrap360(deg)/45+0.5))%8]
}

// wrap360 brings degrees into 0 ≤ d < 360.
func wrap360(deg float64) float64 {
	d := math.Mod(deg, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 {
		return 0
	}
	return d
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }

func degrees(rad float64) float64 { return rad * 180 / math.Pi }
