package defects

import (
	"errors"
	"fmt"
	"math"
)

// MaxMoveM bounds how far a footprint is moved in one go. Ours, to catch slips
// of the keyboard; no standard is claimed.
const MaxMoveM = 5000

// sameSideMM is how much a side may differ from its elevation's length before
// the length follows it; corners are kept to less.
const sameSideMM = MM(10)

// Move shifts an outline on the ground and turns it about the middle of its
// bounding box, seen from above.
type Move struct {
	East, North MM
	TurnDeg     Decimal // clockwise
}

// Check refuses a move that moves nothing or too far.
func (s Move) Check() error {
	switch {
	case s.East == 0 && s.North == 0 && s.TurnDeg.Sign() == 0:
		return RefuseField(Invalid, "turn_deg", "nothing_moves", "say how far to move it or how much to turn it")
	case max(s.East, -s.East) > MaxMoveM*1000:
		return RefuseField(Invalid, "east_m", "too_far", fmt.Sprintf("at most %d m", MaxMoveM))
	case max(s.North, -s.North) > MaxMoveM*1000:
		return RefuseField(Invalid, "north_m", "too_far", fmt.Sprintf("at most %d m", MaxMoveM))
	case !s.TurnDeg.Less(DecimalOf(361)) || s.TurnDeg.Less(DecimalOf(-360)):
		return RefuseField(Invalid, "turn_deg", "bad_turn", "must be -360 to 360 degrees, clockwise")
	}
	return nil
}

// Moved is a building moved and turned by a move that passed its check: its
// corners keep their order, its sides their lengths to a millimetre.
func Moved(b Building, s Move) Building {
	if f, ok := BuildingFrame(b); ok {
		move := s.about(XY{})
		for i, ring := range RingsIn(b, f) {
			for k, p := range ring {
				ring[k] = move(p)
			}
			if i == 0 {
				b.Ring, b.Courts = RingOnEarth(ring, f), nil
				continue
			}
			b.Courts = append(b.Courts, RingOnEarth(ring, f))
		}
		return b
	}
	rings := Rings(b)
	if len(rings) == 0 {
		return b
	}
	lo, hi := bounds(rings[0])
	move := s.about(XY{(lo.X + hi.X) / 2, (lo.Y + hi.Y) / 2})
	for i, ring := range rings {
		rings[i] = make([]XY, len(ring)) // the building as it was keeps its own corners
		for k, p := range ring {
			rings[i][k] = tidyMetres(move(p))
		}
	}
	b.Plan, b.PlanCourts = rings[0], rings[1:]
	return b
}

// about turns points about a middle and moves them.
func (s Move) about(middle XY) func(XY) XY {
	sin, cos := math.Sincos(radians(s.TurnDeg.Float()))
	east, north := float64(s.East)/1000, float64(s.North)/1000
	return func(p XY) XY {
		d := sub(p, middle)
		return XY{middle.X + d.X*cos + d.Y*sin + east, middle.Y - d.X*sin + d.Y*cos + north}
	}
}

// tidyDegrees keeps nine places, a tenth of a millimetre on the ground.
func tidyDegrees(p LonLat) LonLat {
	return LonLat{Lon: math.Round(p.Lon*1e9) / 1e9, Lat: math.Round(p.Lat*1e9) / 1e9}
}

// tidyMetres keeps tenths of a millimetre.
func tidyMetres(p XY) XY { return XY{math.Round(p.X*1e4) / 1e4, math.Round(p.Y*1e4) / 1e4} }

// RingOnEarth gives corners in metres their places in a frame.
func RingOnEarth(plan []XY, f Frame) []LonLat {
	ring := make([]LonLat, len(plan))
	for i, p := range plan {
		ring[i] = tidyDegrees(f.ToLonLat(p))
	}
	return ring
}

// Refit gives a building's elevations after its outline was changed and has
// as many rings and corners as before, so that each keeps its side. Their outward
// directions turn with the sides; a length follows when its side differs by more
// than 10 mm, and the last bay with it. Openings, lifts and heights stay; the
// error names the elevation that would no longer hold together.
func Refit(before, after Building, walls []Elevation) ([]Elevation, error) {
	was, now := RingSides(before), RingSides(after)
	if !sameCorners(was, now) {
		return nil, RefuseField(Invalid, "corners", "corners_differ",
			"the outline must keep its number of corners and courtyards, since each side is an elevation with its record")
	}
	out := make([]Elevation, len(walls))
	for i, e := range walls {
		old, ok := sideAt(was, e)
		side, _ := sideAt(now, e)
		if out[i] = e; !ok {
			continue
		}
		if side.Index != old.Index || len(side.Merged) != len(old.Merged) {
			side = now[e.Court][e.Edge] // a run of sides in line that no longer is
		}
		var err error
		if out[i], err = onSideNow(e, old, side); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func sameCorners(x, y [][]Side) bool {
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if len(x[i]) != len(y[i]) {
			return false
		}
	}
	return true
}

// onSideNow is an elevation whose side was one and is another. An outward
// direction that a person had set keeps its angle to the side.
func onSideNow(e Elevation, old, now Side) (Elevation, error) {
	off := e.Bearing.Float() - bearingDecimal(old.Bearing).Float()
	e.Bearing = bearingDecimal(now.Bearing + off)
	if max(now.Length-e.Length, e.Length-now.Length) > sameSideMM {
		e = withLength(e, now.Length)
	}
	if err := CheckElevation(e); err != nil {
		return e, named(e, err)
	}
	return e, nil
}

// withLength gives an elevation another length; a last bay that ended with the
// wall still does.
func withLength(e Elevation, length MM) Elevation {
	if n := len(e.Bays); n > 0 && e.Bays[n-1] == e.Length {
		e.Bays = append(append([]MM{}, e.Bays[:n-1]...), length)
	}
	e.Length = length
	return e
}

// named says of which elevation a refusal is.
func named(e Elevation, err error) error {
	var refused *Error
	if !errors.As(err, &refused) {
		return err
	}
	told := *refused
	told.Text = e.Name + ": " + refused.Text
	return &told
}

// AssignSide puts an elevation on a side of its building's footprint, of the
// outer ring (court 0) or of a courtyard. An elevation that had that side takes
// the other's in exchange. It gives those that changed, the first one first.
func AssignSide(b Building, walls []Elevation, id string, court, edge int) ([]Elevation, error) {
	sides := RingSides(b)
	if court < 0 || court >= len(sides) || edge < 0 || edge >= len(sides[court]) {
		return nil, RefuseField(Invalid, "side", "no_such_side", "the footprint has no such side")
	}
	var out []Elevation
	for _, e := range walls {
		if e.ID != id {
			continue
		}
		old, had := sideAt(sides, e)
		if !had {
			old.Bearing = e.Bearing.Float()
		}
		for _, other := range walls {
			if other.ID == id || other.Court != court || other.Edge != edge {
				continue
			}
			if !had {
				return nil, RefuseField(Conflict, "side", "side_taken", "that side is "+other.Name)
			}
			theirs, _ := sideAt(sides, other)
			other.Court, other.Edge = e.Court, e.Edge
			swapped, err := onSideNow(other, theirs, sides[e.Court][e.Edge])
			if err != nil {
				return nil, err
			}
			out = append(out, swapped)
		}
		e.Court, e.Edge = court, edge
		moved, err := onSideNow(e, old, sides[court][edge])
		if err != nil {
			return nil, err
		}
		return append([]Elevation{moved}, out...), nil
	}
	return nil, RefuseField(NotFound, "elevation", "elevation_not_found", "the building has no such elevation")
}

// maxOffSide is how far an outward direction may be set off its side's own, in
// degrees; more is another side. Ours, no standard is claimed.
const maxOffSide = 45.0

// CheckBearing refuses an outward direction that belongs to another side.
func CheckBearing(b Building, e Elevation) error {
	side, ok := SideOf(b, e)
	if off := AngleBetween(side.Bearing, e.Bearing.Float()); ok && off > maxOffSide {
		return RefuseField(Invalid, "bearing", "off_its_side", fmt.Sprintf(
			"its side of the footprint faces %s°, %.0f° off; choose another side, or turn the footprint", bearingDecimal(side.Bearing), off))
	}
	return nil
}
