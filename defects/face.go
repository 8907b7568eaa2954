package defects

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Settings of "which elevation". Positions near a wall are worse than a phone
// reports: floors after the studies named in the geodesy notes (7 to 13 m mean
// error in streets, PLOS ONE 0219890; compass 10° to 30°). The rest is our
// proposal; no standard is claimed.
const (
	FaceRangeM        = 60.0  // metres from the wall beyond which a face is no candidate
	FaceThreshold     = 0.90  // chance from which a face is taken without asking
	faceSigmaFloorM   = 4.0   // metres per axis
	FaceRadiusFactor  = 0.707 // of the stated radius of error, per axis
	faceAssumedErrorM = 15.0  // when the photo states no accuracy
	faceHeadingSigma  = 15.0  // degrees
	faceMost          = 8     // candidates kept
	faceLeast         = 0.01  // chance below which a candidate is not worth a look
	faceLeastHit      = 0.1   // below it the picture more likely shows no wall at all
)

// BuildingFaces is a building with its elevations.
type BuildingFaces struct {
	Building   Building
	Elevations []Elevation
}

// FaceOptions settles how a photo's position is read. The zero value takes the
// defaults.
type FaceOptions struct {
	RangeM float64 // 0 = FaceRangeM
	// RadiusFactor turns a stated radius of error into the standard deviation
	// along each axis: 0.662 when the radius holds 68 % of positions, 0.409 when
	// it holds 95 %. 0 = 0.707, the root of the summed squares that phones state.
	RadiusFactor float64
	Threshold    float64 // 0 = FaceThreshold
}

func (o FaceOptions) filled() FaceOptions {
	o.RangeM = cmp.Or(max(o.RangeM, 0), FaceRangeM)
	o.RadiusFactor = cmp.Or(max(o.RadiusFactor, 0), FaceRadiusFactor)
	o.Threshold = cmp.Or(max(o.Threshold, 0), FaceThreshold)
	return o
}

// FaceMap is a site's elevations and outlines in one frame, laid out once to be
// asked about many photos.
type FaceMap struct {
	frame Frame
	scene Scene
	walls []wallFace
	of    []int // by face of the scene its elevation, -1 for an edge that has none
	laid  bool
}

// MapFaces lays all elevations that have an edge of a geodetic outline, and all
// outlines that hide what is behind them, into one frame.
func MapFaces(buildings []BuildingFaces) FaceMap {
	var m FaceMap
	m.walls, m.frame, m.laid = wallFaces(buildings)
	if !m.laid {
		return m
	}
	rings := make([][][]XY, len(buildings))
	for i, b := range buildings {
		if ring := b.Building.Ring; len(ring) > 0 && m.frame.Holds(middle(ring)) {
			rings[i] = RingsIn(b.Building, m.frame)
		}
	}
	m.scene = NewScene(rings)
	m.of = make([]int, len(m.scene.faces))
	for i, f := range m.scene.faces {
		m.of[i] = slices.IndexFunc(m.walls, func(w wallFace) bool {
			return w.building == f.Building && onSide(w.side, f.left) && onSide(w.side, f.right)
		})
	}
	return m
}

// Shown is what the middle of a picture shows, as far as its own data tell.
type Shown struct {
	Guesses []FaceGuess // the likeliest first
	Hit     float64     // chance that it shows any face of the site's outlines at all
	Notes   []string    // what was assumed or corrected
	none    string      // why there are no guesses

	threshold float64
}

// Look lists the elevations a photo may show with their chances, by
// Scene.Posterior; none when the photo has no position, no building has
// coordinates, or the camera looked past them.
func (m FaceMap) Look(c Capture, o FaceOptions) Shown {
	s, _, _ := m.look(c, o.filled())
	return s
}

// look also gives what the answer was made of; a Posterior with no part outdoors
// is of a photo that has no position to ask about.
func (m FaceMap) look(c Capture, o FaceOptions) (s Shown, p Posterior, v Sighting) {
	s.threshold = o.Threshold
	var ok bool
	switch v, s.Notes, ok = SightingOf(c, m.frame, o); {
	case !ok:
		s.none = "the photo carries no position; choose the elevation by hand"
		return s, p, v
	case !m.laid || len(m.walls) == 0:
		s.none = "no building of the site has coordinates"
		return s, p, v
	case !m.frame.Holds(LonLat{Lon: *c.Lon, Lat: *c.Lat}):
		s.none = "the photo's position is nowhere near this site"
		return s, Posterior{Outside: 1}, v
	}
	p = m.scene.Posterior(v)
	s.Hit, s.Guesses = p.Hit, m.guesses(p, v)
	switch {
	case len(p.Faces) == 0:
		s.none = fmt.Sprintf("no wall lies within %.0f m where the camera looked to", o.RangeM)
	case len(s.Guesses) == 0:
		s.none = "the camera looked at a wall that is no elevation of the site"
	}
	return s, p, v
}

// guesses sums the chances of the edges by elevation.
func (m FaceMap) guesses(p Posterior, v Sighting) []FaceGuess {
	chance := make([]float64, len(m.walls))
	for _, f := range p.Faces {
		if w := m.of[f.Face]; w >= 0 {
			chance[w] += f.P
		}
	}
	var out []FaceGuess
	for i, w := range m.walls {
		if chance[i] < faceLeast {
			continue
		}
		g := FaceGuess{ElevationID: w.id, Name: w.name, P: chance[i], OffAxisDeg: -1, DistanceM: distance(v.At, nearestOn(w.side, v.At))}
		if v.Headed {
			g.OffAxisDeg = AngleBetween(v.HeadingDeg, w.side.Bearing+180)
		}
		g.Why = whyFace(g, max(-dot(sub(v.At, w.side.Left), towards(w.side.Bearing)), 0))
		out = append(out, g)
	}
	slices.SortStableFunc(out, func(a, b FaceGuess) int {
		return cmp.Or(cmp.Compare(b.P, a.P), cmp.Compare(a.Name, b.Name), cmp.Compare(a.ElevationID, b.ElevationID))
	})
	return out[:min(len(out), faceMost)]
}

func whyFace(g FaceGuess, behind float64) string {
	text := fmt.Sprintf("%.0f m from the wall", g.DistanceM)
	if behind > 0.5 {
		text = fmt.Sprintf("position %.0f m behind the wall's face, within its error", behind)
	}
	if g.OffAxisDeg < 0 {
		return text + ", which way the camera looked is not stated"
	}
	return text + fmt.Sprintf(", %.0f° off looking straight at it", g.OffAxisDeg)
}

// WallDoubt is the chance below which a photo's own facts contradict the wall that
// it was put on.
const WallDoubt = 0.05

// Chance is that of one elevation, 0 for one that is no candidate.
func (s Shown) Chance(elevationID string) float64 {
	for _, g := range s.Guesses {
		if g.ElevationID == elevationID {
			return g.P
		}
	}
	return 0
}

// Choose takes the first guess when its chance reaches the threshold, and
// otherwise says what would settle it. why is for people, in either case.
func (s Shown) Choose() (best FaceGuess, proven bool, why string) {
	if len(s.Guesses) == 0 {
		return FaceGuess{}, false, "not proven: " + s.none
	}
	best = s.Guesses[0]
	switch {
	case s.Hit < faceLeastHit:
		return best, false, fmt.Sprintf("not proven: by position and direction the camera more likely looked past the walls (any wall: %.2f)", s.Hit)
	case best.P >= s.threshold:
		return best, true, s.noted(best.Why)
	case best.OffAxisDeg < 0:
		return best, false, s.noted("not proven: the photo does not say which way the camera looked, and its position alone leaves " + chances(s.Guesses))
	}
	return best, false, s.noted("not proven: " + chances(s.Guesses) + "; an area label in frame or a choice by hand would settle it")
}

// noted adds to an answer what was assumed or corrected for it.
func (s Shown) noted(text string) string {
	return strings.Join(append([]string{text}, s.Notes...), "; ")
}

// chances writes the first few guesses as "Block A / North 0.57, Block A / East 0.41".
func chances(list []FaceGuess) string {
	words := make([]string, 0, 3)
	for _, g := range list[:min(len(list), 3)] {
		words = append(words, fmt.Sprintf("%s %.2f", g.Name, g.P))
	}
	return strings.Join(words, ", ")
}

// wallFace is an elevation laid out in the site's frame.
type wallFace struct {
	id, name string
	building int
	side     Side
}

// wallFaces lays all elevations that have an edge of a geodetic outline into
// one frame. ok is false when no building has coordinates.
func wallFaces(buildings []BuildingFaces) (faces []wallFace, frame Frame, ok bool) {
	rings := make([][]LonLat, len(buildings))
	for i, b := range buildings {
		rings[i] = b.Building.Ring
	}
	lay, ok := LocalityOf(rings)
	if !ok {
		return nil, Frame{}, false
	}
	frame = lay.Frame
	for i, b := range buildings {
		if lay.Far[i] {
			continue
		}
		sides := sidesOfRings(RingsIn(b.Building, frame))
		for _, e := range b.Elevations {
			if side, ok := sideAt(sides, e); ok {
				faces = append(faces, wallFace{id: e.ID, name: faceName(b.Building.Name, e.Name), building: i, side: side})
			}
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
