package defects

// Side is one edge of a footprint. Left and Right are its ends as seen from
// outside, facing the wall; From and To are in the order of the ring.
type Side struct {
	Index    int // 0-based, in the ring as given; the first of a merged run
	Merged   []int
	Length   MM
	Bearing  float64 // outward normal, degrees clockwise from north, 0 ≤ b < 360
	From, To XY      // metres in the building's own frame or plan
	Left     XY
	Right    XY
}

// Rings gives a building's outline and then its courtyards in metres, as Outline
// does. A building without an outline gives nil.
func Rings(b Building) [][]XY {
	if f, ok := BuildingFrame(b); ok {
		return RingsIn(b, f)
	}
	if len(b.Plan) == 0 {
		return nil
	}
	rings := [][]XY{Normalise(b.Plan)}
	for _, court := range b.PlanCourts {
		rings = append(rings, Normalise(court))
	}
	return rings
}

// RingsIn gives the outline and then the courtyards of a geodetic building in a
// given frame, nil for a building typed in metres.
func RingsIn(b Building, f Frame) [][]XY {
	outer := OutlineIn(b, f)
	if outer == nil {
		return nil
	}
	rings := [][]XY{outer}
	for _, court := range b.Courts {
		rings = append(rings, OutlineIn(Building{Ring: court}, f))
	}
	return rings
}

// Outline gives a building's corners in metres: its plan as typed, or its ring
// in the frame of the ring's middle. A building without either gives nil.
func Outline(b Building) []XY {
	if f, ok := BuildingFrame(b); ok {
		return OutlineIn(b, f)
	}
	return Normalise(b.Plan)
}

// OutlineIn gives a geodetic building's corners in a given frame, nil for a
// building typed in metres, which has no place on earth.
func OutlineIn(b Building, f Frame) []XY {
	ring := Normalise(b.Ring)
	if len(ring) == 0 {
		return nil
	}
	plan := make([]XY, len(ring))
	for i, p := range ring {
		plan[i] = f.ToXY(p)
	}
	return plan
}

// BuildingFrame is the frame of a geodetic building; ok is false for one typed
// in metres.
func BuildingFrame(b Building) (f Frame, ok bool) {
	if len(b.Ring) == 0 {
		return Frame{}, false
	}
	return NewFrame(middle(b.Ring)), true
}

// Sides lists a building's sides in the order of its outline as given, which
// may run either way. The outline must have passed CheckRing or CheckPlan.
func Sides(b Building) []Side { return sidesOf(Outline(b), false) }

// RingSides lists the sides of each of a building's rings: those of the outline,
// then those of each courtyard, which are seen from within it.
func RingSides(b Building) [][]Side { return sidesOfRings(Rings(b)) }

func sidesOfRings(rings [][]XY) [][]Side {
	out := make([][]Side, len(rings))
	for i, ring := range rings {
		out[i] = sidesOf(ring, i > 0)
	}
	return out
}

// SideOf finds the side of its building's footprint that an elevation is on; ok is
// false when it has none.
func SideOf(b Building, e Elevation) (s Side, ok bool) { return sideAt(RingSides(b), e) }

// sideAt finds the side of an elevation, ok is false when it has none.
func sideAt(sides [][]Side, e Elevation) (s Side, ok bool) {
	if e.Court < 0 || e.Court >= len(sides) || e.Edge < 0 || e.Edge >= len(sides[e.Court]) {
		return Side{}, false
	}
	return sideOf(sides[e.Court], e), true
}

// sidesOf lists the sides of one ring. A courtyard's outdoors is inside its ring.
func sidesOf(plan []XY, court bool) []Side {
	if len(plan) < 3 {
		return nil
	}
	anticlockwise := (signedArea(plan) > 0) != court
	edges := make([]Side, len(plan))
	for i, from := range plan {
		to := plan[(i+1)%len(plan)]
		e := Side{Index: i, Length: millimetres(distance(from, to)), From: from, To: to}
		along := bearingOf(sub(to, from))
		if anticlockwise { // what is built is on the left of the direction of travel
			e.Bearing, e.Left, e.Right = wrap360(along+90), from, to
		} else {
			e.Bearing, e.Left, e.Right = wrap360(along-90), to, from
		}
		edges[i] = e
	}
	return edges
}

// MergeCollinear joins neighbouring edges whose normals differ by at most
// toleranceDeg from the first of the run, so that a wall drawn with spare
// points is one face. A merged edge keeps the index of its first part in ring
// order and lists all its parts; its length is from end to end.
func MergeCollinear(edges []Side, toleranceDeg float64) []Side {
	n := len(edges)
	if n < 3 {
		return edges
	}
	start := -1
	for i := range n { // begin at a corner, so that no run is cut by the ring's start
		if AngleBetween(edges[(i+n-1)%n].Bearing, edges[i].Bearing) > toleranceDeg {
			start = i
			break
		}
	}
	if start < 0 {
		return edges
	}
	var runs [][]Side
	for k := range n {
		e := edges[(start+k)%n]
		last := len(runs) - 1
		if k > 0 && AngleBetween(runs[last][0].Bearing, e.Bearing) <= toleranceDeg {
			runs[last] = append(runs[last], e)
			continue
		}
		runs = append(runs, []Side{e})
	}
	return joinRuns(runs)
}

func joinRuns(runs [][]Side) []Side {
	var out []Side
	for _, run := range runs {
		e := run[0]
		if len(run) > 1 {
			e = joinRun(run)
		}
		out = append(out, e)
	}
	return out
}

func joinRun(run []Side) Side {
	e := run[0]
	anticlockwise := e.Left == e.From
	e.To = run[len(run)-1].To
	for _, part := range run {
		e.Merged = append(e.Merged, part.Index)
	}
	e.Length = millimetres(distance(e.From, e.To))
	along := bearingOf(sub(e.To, e.From))
	if anticlockwise {
		e.Bearing, e.Left, e.Right = wrap360(along+90), e.From, e.To
	} else {
		e.Bearing, e.Left, e.Right = wrap360(along-90), e.To, e.From
	}
	return e
}
