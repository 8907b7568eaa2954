package defects

import "math"

// Scene is a site's outlines in one frame, ready for the question which wall
// faces a camera sees.
type Scene struct {
	rings []sceneRing
	faces []sceneFace
}

// SceneFace names one edge of an outline: the building and the ring by their
// order, ring 0 being the outer one and the others courtyards, and the edge
// from point Edge of the ring as given to the next.
type SceneFace struct{ Building, Ring, Edge int }

// sceneRing is one outline with its first face; a courtyard's outside is inside
// its ring.
type sceneRing struct {
	building, first int
	points          []XY
}

// sceneFace runs from left to right as seen by somebody who looks at it from
// outdoors.
type sceneFace struct {
	SceneFace
	left, right XY
}

// NewScene takes each building's rings in metres, the outer one first, in
// either direction, closed or not. Rings must be simple (CheckPlan).
func NewScene(buildings [][][]XY) Scene {
	var s Scene
	for b, rings := range buildings {
		for r, ring := range rings {
			points := Normalise(ring)
			if len(points) < 3 {
				continue
			}
			s.rings = append(s.rings, sceneRing{building: b, first: len(s.faces), points: points})
			// Along an anticlockwise outer ring the outdoors is on the right, so
			// that who looks at it from there has its start on the left.
			flip := (signedArea(points) > 0) != (r == 0)
			for e, from := range points {
				f := sceneFace{SceneFace: SceneFace{b, r, e}, left: from, right: points[(e+1)%len(points)]}
				if flip {
					f.left, f.right = f.right, f.left
				}
				s.faces = append(s.faces, f)
			}
		}
	}
	return s
}

// Faces lists the scene's faces in the order Posterior counts them.
func (s Scene) Faces() []SceneFace {
	out := make([]SceneFace, len(s.faces))
	for i, f := range s.faces {
		out[i] = f.SceneFace
	}
	return out
}

// outdoors reports whether a point lies in no building; courtyards are outdoors.
func (s Scene) outdoors(p XY) bool {
	building, inside := -1, false
	for _, r := range s.rings {
		if r.building != building {
			if inside {
				return false
			}
			building = r.building
		}
		if insideRing(p, r.points) {
			inside = !inside
		}
	}
	return !inside
}

// insideRing counts the edges that a ray to the east crosses.
func insideRing(p XY, ring []XY) bool {
	inside := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			inside = !inside
		}
	}
	return inside
}

// within keeps the faces that have a point within reach metres of p.
func (s Scene) within(p XY, reach float64) []int {
	var near []int
	for i, f := range s.faces {
		if distance(p, nearestOnSegment(f.left, f.right, p)) <= reach {
			near = append(near, i)
		}
	}
	return near
}

// AngleOfView gives the horizontal and vertical angles of view in degrees of
// a picture w × h pixels, upright, from its focal length as the equivalent in
// 35 mm film. The equivalence is by the diagonal of 36 × 24 mm (CIPA DCG-001,
// diagonal definition), so a 4:3 picture at 26 mm is 67.3° wide and not the
// 69.4° of the width of the film. Zero when anything is unknown.
func AngleOfView(focal35 float64, w, h int) (across, down float64) {
	if !(focal35 > 0) || math.IsInf(focal35, 0) || w <= 0 || h <= 0 {
		return 0, 0
	}
	perPixel := math.Hypot(36, 24) / math.Hypot(float64(w), float64(h))
	angle := func(side int) float64 {
		return 2 * degrees(math.Atan(perPixel*float64(side)/(2*focal35)))
	}
	return angle(w), angle(h)
}
