package defects

import (
	"fmt"
	"math"
)

// Limits of a footprint. Ours, to catch slips of the keyboard and mixed-up
// coordinates; no standard is claimed.
const (
	MaxFootprintM  = 5000.0 // metres across; larger is no building
	MaxRingPoints  = 2000   // points in one outline
	minEdgeM       = 0.001  // a shorter edge is two equal points
	maxLatitudeDeg = 89.9   // beyond it there is no usable east and north
)

// Normalise drops a repeated last point and keeps the order as given, so that
// edge i always runs from point i of the ring as given to the next one.
func Normalise[P comparable](ring []P) []P {
	if len(ring) > 1 && ring[0] == ring[len(ring)-1] {
		return ring[:len(ring)-1]
	}
	return ring
}

// CheckRing refuses an outline in degrees that is no simple ring: codes
// too_few_points, too_many_points, bad_coordinate, swapped_coordinates,
// metres_not_degrees, zero_edge, ring_crosses, too_large and no_area, each with
// field naming the outline and, where there is one, the point ("ring[3]").
// It takes either direction, closed or not.
func CheckRing(ring []LonLat, field string) error {
	pts := Normalise(ring)
	if err := checkCount(len(pts), field); err != nil {
		return err
	}
	for i, p := range pts {
		if err := checkLonLat(p, fmt.Sprintf("%s[%d]", field, i)); err != nil {
			return err
		}
	}
	if err := checkDegreeSpan(pts, field); err != nil {
		return err
	}
	f := NewFrame(middle(pts))
	plan := make([]XY, len(pts))
	for i, p := range pts {
		plan[i] = f.ToXY(p)
	}
	return checkSimple(plan, field)
}

// CheckPlan does the same for an outline typed in metres.
func CheckPlan(plan []XY, field string) error {
	pts := Normalise(plan)
	if err := checkCount(len(pts), field); err != nil {
		return err
	}
	for i, p := range pts {
		if !finite(p.X) || !finite(p.Y) || math.Abs(p.X) > 1e7 || math.Abs(p.Y) > 1e7 {
			return RefuseField(Invalid, fmt.Sprintf("%s[%d]", field, i), "bad_coordinate",
				"must be a number of metres")
		}
	}
	return checkSimple(pts, field)
}

func checkCount(n int, field string) error {
	if n < 3 {
		return RefuseField(Invalid, field, "too_few_points",
			fmt.Sprintf("an outline needs at least three different points, not %d", n))
	}
	if n > MaxRingPoints {
		return RefuseField(Invalid, field, "too_many_points",
			fmt.Sprintf("at most %d points, not %d", MaxRingPoints, n))
	}
	return nil
}

func checkLonLat(p LonLat, field string) error {
	if !finite(p.Lon) || !finite(p.Lat) {
		return RefuseField(Invalid, field, "bad_coordinate", "longitude and latitude must be numbers")
	}
	lonOK, latOK := math.Abs(p.Lon) <= 180, math.Abs(p.Lat) <= maxLatitudeDeg
	switch {
	case lonOK && latOK:
		return nil
	case math.Abs(p.Lon) <= 90 && math.Abs(p.Lat) > 90 && math.Abs(p.Lat) <= 180:
		return RefuseField(Invalid, field, "swapped_coordinates", fmt.Sprintf(
			"longitude %g, latitude %g is no place; are they swapped? Longitude comes first", p.Lon, p.Lat))
	case math.Abs(p.Lon) > 360 || math.Abs(p.Lat) > 360:
		return RefuseField(Invalid, field, "metres_not_degrees", fmt.Sprintf(
			"%g, %g look like metres of a map grid; WGS84 degrees are needed, or type the outline in metres", p.Lon, p.Lat))
	}
	return RefuseField(Invalid, field, "bad_coordinate", fmt.Sprintf(
		"longitude %g must be within ±180 and latitude %g within ±%g degrees", p.Lon, p.Lat, maxLatitudeDeg))
}

// checkDegreeSpan runs before the plane is laid: over many degrees a plane
// would fold and report crossings that are not there.
func checkDegreeSpan(pts []LonLat, field string) error {
	lo, hi := pts[0], pts[0]
	for _, p := range pts {
		lo = LonLat{min(lo.Lon, p.Lon), min(lo.Lat, p.Lat)}
		hi = LonLat{max(hi.Lon, p.Lon), max(hi.Lat, p.Lat)}
	}
	perLat, _ := MetresPerDegree(lo.Lat)
	_, perLon := MetresPerDegree(max(math.Abs(lo.Lat), math.Abs(hi.Lat)))
	w, h := (hi.Lon-lo.Lon)*perLon, (hi.Lat-lo.Lat)*perLat
	if w <= MaxFootprintM && h <= MaxFootprintM {
		return nil
	}
	text := sizeText(w, h)
	if hi.Lon-lo.Lon > 1 || hi.Lat-lo.Lat > 1 {
		text += "; were metres typed as degrees?"
	}
	return RefuseField(Invalid, field, "too_large", text)
}

func sizeText(w, h float64) string {
	return fmt.Sprintf("the outline is %.0f m by %.0f m; a building is at most %.0f m across", w, h, MaxFootprintM)
}

// checkSimple looks at a plan in metres: size, edges, crossings, area.
func checkSimple(plan []XY, field string) error {
	lo, hi := bounds(plan)
	if hi.X-lo.X > MaxFootprintM || hi.Y-lo.Y > MaxFootprintM {
		return RefuseField(Invalid, field, "too_large", sizeText(hi.X-lo.X, hi.Y-lo.Y))
	}
	n := len(plan)
	for i := range n {
		if distance(plan[i], plan[(i+1)%n]) < minEdgeM {
			return RefuseField(Invalid, field, "zero_edge",
				fmt.Sprintf("edge %d has no length: points %d and %d are the same place", i, i, (i+1)%n))
		}
	}
	if i, j, yes := firstCrossing(plan); yes {
		return RefuseField(Invalid, field, "ring_crosses",
			fmt.Sprintf("edge %d and edge %d touch or cross; an outline may not cross itself", i, j))
	}
	if math.Abs(signedArea(plan)) < 0.01 {
		return RefuseField(Invalid, field, "no_area", "the outline encloses no area")
	}
	return nil
}

// firstCrossing finds the first pair of edges that meet other than at the
// corner they share. Quadratic, which MaxRingPoints keeps harmless.
func firstCrossing(plan []XY) (i, j int, yes bool) {
	n := len(plan)
	for i := range n {
		a, b := plan[i], plan[(i+1)%n]
		for j := i + 1; j < n; j++ {
			c, d := plan[j], plan[(j+1)%n]
			switch {
			case j == i+1:
				yes = foldsBack(a, b, d)
			case i == 0 && j == n-1:
				yes = foldsBack(b, a, c)
			default:
				yes = segmentsMeet(a, b, c, d)
			}
			if yes {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

// foldsBack reports whether the edge from b to d runs back over the edge from a
// to b.
func foldsBack(a, b, d XY) bool {
	back, on := sub(a, b), sub(d, b)
	return dot(back, on) > 0 && math.Abs(cross(back, on)) < minEdgeM*min(norm(back), norm(on))
}

// segmentsMeet reports whether two segments share a point, ends included.
func segmentsMeet(a, b, c, d XY) bool {
	if max(a.X, b.X) < min(c.X, d.X) || max(c.X, d.X) < min(a.X, b.X) ||
		max(a.Y, b.Y) < min(c.Y, d.Y) || max(c.Y, d.Y) < min(a.Y, b.Y) {
		return false
	}
	ab, cd := sub(b, a), sub(d, c)
	s1, s2 := cross(ab, sub(c, a)), cross(ab, sub(d, a))
	s3, s4 := cross(cd, sub(a, c)), cross(cd, sub(b, c))
	return !(s1 > 0 && s2 > 0 || s1 < 0 && s2 < 0) && !(s3 > 0 && s4 > 0 || s3 < 0 && s4 < 0)
}

// middle is the middle of the bounding box; it serves as a frame's origin.
func middle(pts []LonLat) LonLat {
	lo, hi := pts[0], pts[0]
	for _, p := range pts {
		lo = LonLat{min(lo.Lon, p.Lon), min(lo.Lat, p.Lat)}
		hi = LonLat{max(hi.Lon, p.Lon), max(hi.Lat, p.Lat)}
	}
	return LonLat{Lon: (lo.Lon + hi.Lon) / 2, Lat: (lo.Lat + hi.Lat) / 2}
}

func bounds(plan []XY) (lo, hi XY) {
	lo, hi = plan[0], plan[0]
	for _, p := range plan {
		lo = XY{min(lo.X, p.X), min(lo.Y, p.Y)}
		hi = XY{max(hi.X, p.X), max(hi.Y, p.Y)}
	}
	return lo, hi
}

// signedArea is positive for a ring that runs anticlockwise seen from above.
func signedArea(plan []XY) float64 {
	if len(plan) < 3 {
		return 0
	}
	sum := 0.0
	for i, p := range plan { // relative to the first point, to keep digits
		a, b := sub(p, plan[0]), sub(plan[(i+1)%len(plan)], plan[0])
		sum += cross(a, b)
	}
	return sum / 2
}

func sub(a, b XY) XY           { return XY{a.X - b.X, a.Y - b.Y} }
func dot(a, b XY) float64      { return a.X*b.X + a.Y*b.Y }
func cross(a, b XY) float64    { return a.X*b.Y - a.Y*b.X }
func norm(a XY) float64        { return math.Hypot(a.X, a.Y) }
func distance(a, b XY) float64 { return norm(sub(b, a)) }
func bearingOf(d XY) float64   { return wrap360(degrees(math.Atan2(d.X, d.Y))) }
func finite(f float64) bool    { return !math.IsNaN(f) && !math.IsInf(f, 0) }
func towards(b float64) XY     { s, c := math.Sincos(radians(b)); return XY{s, c} }
func millimetres(m float64) MM { return MM(math.Round(m * 1000)) }
