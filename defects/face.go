package defects

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Settings of the first version of "which elevation". Positions near a wall are
// worse than a phone reports: floors after the studies named in the geodesy
// notes (7 to 13 m mean error in streets, PLOS ONE 0219890; compass 10° to 30°).
// The rest is our proposal; no standard is claimed.
const (
	FaceRangeM        = 60.0 // metres from the wall beyond which a face is no candidate
	faceSigmaFloorM   = 4.0  // metres per axis
	faceSigmaOfRadius = 0.707
	faceAssumedErrorM = 15.0 // when the photo states no accuracy
	faceBehindM       = 8.0  // a position this far behind a face may still be in front of it
	faceHeadingSigma  = 20.0 // degrees
	faceLookingAway   = 110.0
	faceMost          = 8 // candidates kept

	faceScoreDistance = 10.0 // metres that count one point
	faceScoreOffAxis  = 45.0 // degrees whose square counts one point

	chooseWorstErrorM = 30.0 // metres; a weaker position proves no wall
	chooseOffAxisDeg  = 60.0 // further round, the photo may be of something else
	chooseMargin      = 1.0  // points between the first and the second candidate
)

// BuildingFaces is a building with its elevations.
type BuildingFaces struct {
	Building   Building
	Elevations []Elevation
}

// FaceOptions settles how far GuessFaces looks. The zero value takes the
// defaults.
type FaceOptions struct {
	RangeM float64 // 0 = FaceRangeM
}

// GuessFaces lists the elevations a photo may show, the likeliest first; none
// when the photo has no position or no building has coordinates. It is the only
// entry to this question, so that a statistical answer can take its place.
//
// A face is a candidate when the camera stands within range, on its outer side
// (or behind it by no more than the position's error), sees it past all
// outlines, and did not look away. The score, less is better, adds
//
//	distance from the face / 10 m
//	(distance behind the face / σ)², σ = the greater of 4 m and 0.707 × accuracy
//	(heading against looking straight at the wall / 45°)²
//	(degrees by which the line of sight misses the face / 20°)²
//
// where looking straight at a wall means its outward normal + 180°. Without a
// heading the last two are left out. A magnetic heading is taken as true: the
// declination is not applied yet, and Why says so.
func GuessFaces(c Capture, buildings []BuildingFaces, opt FaceOptions) []FaceGuess {
	at, ok := capturePlace(c)
	if !ok {
		return nil
	}
	faces, frame, ok := wallFaces(buildings)
	if !ok || !nearby(frame.Origin(), at) {
		return nil
	}
	view := newFaceView(c, frame.ToXY(at))
	reach := opt.RangeM
	if reach <= 0 {
		reach = FaceRangeM
	}
	var out []FaceGuess
	for i := range faces {
		if g, ok := view.guess(faces, i, reach); ok {
			out = append(out, g)
		}
	}
	slices.SortStableFunc(out, func(a, b FaceGuess) int {
		return cmp.Or(cmp.Compare(a.Score, b.Score), cmp.Compare(a.Name, b.Name), cmp.Compare(a.ElevationID, b.ElevationID))
	})
	return out[:min(len(out), faceMost)]
}

// ChooseFace takes the first guess when the facts prove it, and otherwise says
// which fact is missing. why is for people, in either case.
func ChooseFace(c Capture, guesses []FaceGuess) (best FaceGuess, proven bool, why string) {
	if !c.HasPlace() {
		return FaceGuess{}, false, "not proven: the photo carries no position; choose the elevation by hand"
	}
	if len(guesses) == 0 {
		return FaceGuess{}, false, "not proven: no elevation with coordinates lies near the photo's position on the side the camera looked to"
	}
	best = guesses[0]
	radius, stated := captureError(c)
	switch {
	case radius > chooseWorstErrorM:
		return best, false, fmt.Sprintf("not proven: the position is good to %.0f m only; a better position or an area label in frame would settle it", radius)
	case best.OffAxisDeg < 0 && !clearByPlace(guesses, radius):
		return best, false, "not proven: the photo does not say which way the camera looked, and its position alone fits more than one elevation"
	case best.OffAxisDeg > chooseOffAxisDeg:
		return best, false, fmt.Sprintf("not proven: the camera looked %.0f° away from straight at %s; a photo taken square to the wall would settle it", best.OffAxisDeg, best.Name)
	case len(guesses) > 1 && guesses[1].Score-best.Score < chooseMargin:
		return best, false, fmt.Sprintf("not proven: %s and %s fit nearly as well; an area label in frame or a choice by hand would settle it", best.Name, guesses[1].Name)
	}
	why = best.Why
	if !stated {
		why += fmt.Sprintf("; accuracy not stated, %.0f m assumed", faceAssumedErrorM)
	}
	return best, true, why
}

// clearByPlace reports whether position alone tells the first face from the rest.
func clearByPlace(guesses []FaceGuess, radius float64) bool {
	return guesses[0].DistanceM <= 2*radius &&
		(len(guesses) == 1 || guesses[1].DistanceM-guesses[0].DistanceM > 2*radius)
}

// wallFace is an elevation laid out in the site's frame.
type wallFace struct {
	id, name string
	building int
	side     Side
	outline  []XY
}

// wallFaces lays all elevations that have an edge of a geodetic outline into
// one frame. ok is false when no building has coordinates.
func wallFaces(buildings []BuildingFaces) (faces []wallFace, frame Frame, ok bool) {
	var all []LonLat
	for _, b := range buildings {
		all = append(all, b.Building.Ring...)
	}
	if len(all) == 0 {
		return nil, Frame{}, false
	}
	frame = NewFrame(middle(all))
	for i, b := range buildings {
		outline := OutlineIn(b.Building, frame)
		sides := sidesOf(outline)
		for _, e := range b.Elevations {
			if e.Edge < 0 || e.Edge >= len(sides) {
				continue
			}
			faces = append(faces, wallFace{
				id: e.ID, name: faceName(b.Building.Name, e.Name),
				building: i, side: sideOf(sides, e), outline: outline,
			})
		}
	}
	return faces, frame, true
}

func faceName(building, elevation string) string {
	if building == "" {
		return elevation
	}
	return building + " / " + elevation
}

// sideOf finds an elevation's edge, or the run of edges in line that it was
// merged from, told by its length.
func sideOf(sides []Side, e Elevation) Side {
	const same = MM(10)
	raw := sides[e.Edge]
	if raw.Length+same >= e.Length {
		return raw
	}
	for _, tolerance := range []float64{1, 2, 5, 10} {
		for _, s := range MergeCollinear(sides, tolerance) {
			if s.Index == e.Edge && max(s.Length-e.Length, e.Length-s.Length) <= same {
				return s
			}
		}
	}
	return raw
}

// faceView is where a camera stood and what it looked at, as far as it says.
type faceView struct {
	at       XY
	sigma    float64
	heading  float64
	headed   bool
	magnetic bool
}

func newFaceView(c Capture, at XY) faceView {
	radius, _ := captureError(c)
	v := faceView{at: at, sigma: max(faceSigmaFloorM, faceSigmaOfRadius*radius)}
	v.heading, v.headed = captureHeading(c)
	v.magnetic = c.DirectionBy == "M"
	return v
}

func (v faceView) guess(faces []wallFace, i int, reach float64) (FaceGuess, bool) {
	f := faces[i]
	front := dot(sub(v.at, f.side.Left), towards(f.side.Bearing))
	aim, hit := v.aim(f.side)
	near := nearestOn(f.side, v.at)
	g := FaceGuess{ElevationID: f.id, Name: f.name, DistanceM: distance(v.at, near), OffAxisDeg: -1}
	behind := max(-front, 0)
	if g.DistanceM > reach || behind > min(faceBehindM, 2*v.sigma) {
		return g, false
	}
	g.Score = g.DistanceM/faceScoreDistance + square(behind/v.sigma)
	if v.headed {
		g.OffAxisDeg = AngleBetween(v.heading, f.side.Bearing+180)
		if g.OffAxisDeg > faceLookingAway {
			return g, false
		}
		g.Score += square(g.OffAxisDeg/faceScoreOffAxis) + square(v.miss(f.side, hit)/faceHeadingSigma)
	}
	if blocked(faces, i, v.at, aim) && blocked(faces, i, v.at, near) {
		return g, false
	}
	g.Why = v.why(g, behind)
	return g, true
}

func (v faceView) why(g FaceGuess, behind float64) string {
	text := fmt.Sprintf("%.0f m from the wall", g.DistanceM)
	if behind > 0 {
		text = fmt.Sprintf("position %.0f m behind the wall's face, within its error", behind)
	}
	if !v.headed {
		return text + ", which way the camera looked is not stated"
	}
	text += fmt.Sprintf(", %.0f° off looking straight at it", g.OffAxisDeg)
	if v.magnetic {
		text += " (magnetic heading, declination not applied)"
	}
	return text
}

// aim is where the line of sight meets the face; without a hit, the nearest
// point of the face.
func (v faceView) aim(s Side) (at XY, hit bool) {
	if v.headed {
		ray := towards(v.heading)
		wall := sub(s.Right, s.Left)
		if d := cross(ray, wall); math.Abs(d) > 1e-9 {
			w := sub(s.Left, v.at)
			t, u := cross(w, wall)/d, cross(w, ray)/d
			if t > 0 && u >= 0 && u <= 1 {
				return XY{s.Left.X + u*wall.X, s.Left.Y + u*wall.Y}, true
			}
		}
	}
	return nearestOn(s, v.at), false
}

// miss is by how many degrees the line of sight passes the face.
func (v faceView) miss(s Side, hit bool) float64 {
	if hit {
		return 0
	}
	return min(AngleBetween(v.heading, bearingOf(sub(s.Left, v.at))),
		AngleBetween(v.heading, bearingOf(sub(s.Right, v.at))))
}

// blocked reports whether an outline other than the face itself stands between
// the camera and a point of the face.
func blocked(faces []wallFace, target int, from, to XY) bool {
	f := faces[target]
	n := towards(f.side.Bearing)
	const clear = 0.02 // metres in front of the face, to be off its own corner
	to = XY{to.X + clear*n.X, to.Y + clear*n.Y}
	seen := -1
	for _, other := range faces { // one outline stands once for each of its faces
		if other.building == seen {
			continue
		}
		seen = other.building
		for i, a := range other.outline {
			b := other.outline[(i+1)%len(other.outline)]
			if other.building == f.building && onSide(f.side, a) && onSide(f.side, b) {
				continue
			}
			if segmentsMeet(from, to, a, b) {
				return true
			}
		}
	}
	return false
}

// onSide reports whether a point lies on a face, to a centimetre.
func onSide(s Side, p XY) bool { return distance(p, nearestOn(s, p)) < 0.01 }

func nearestOn(s Side, p XY) XY { return nearestOnSegment(s.Left, s.Right, p) }

func nearestOnSegment(a, b, p XY) XY {
	d := sub(b, a)
	l := dot(d, d)
	if l == 0 {
		return a
	}
	t := min(max(dot(sub(p, a), d)/l, 0), 1)
	return XY{a.X + t*d.X, a.Y + t*d.Y}
}

func square(f float64) float64 { return f * f }

// capturePlace is the photo's position when it is one.
func capturePlace(c Capture) (LonLat, bool) {
	if !c.HasPlace() {
		return LonLat{}, false
	}
	p := LonLat{Lon: *c.Lon, Lat: *c.Lat}
	return p, finite(p.Lon) && finite(p.Lat) && math.Abs(p.Lon) <= 180 && math.Abs(p.Lat) <= 90
}

// captureHeading is the direction the camera looked to, in degrees.
func captureHeading(c Capture) (float64, bool) {
	if c.Direction == nil || !finite(*c.Direction) {
		return 0, false
	}
	return wrap360(*c.Direction), true
}

// captureError is the reported radius of error in metres, or the one assumed.
func captureError(c Capture) (metres float64, stated bool) {
	if c.HErrorM == nil || !finite(*c.HErrorM) || *c.HErrorM <= 0 {
		return faceAssumedErrorM, false
	}
	return *c.HErrorM, true
}

// nearby reports whether a plane laid at origin still holds at p.
func nearby(origin, p LonLat) bool {
	m, _, ok := Geodesic(origin, p)
	return ok && m < 50_000
}
