package defects

import (
	"fmt"
	"math"
	"strings"
)

// Defaults for making elevations. Common practice, no source; each can be set.
const (
	MinElevationLength = MM(500)  // a shorter edge is a return or a nib, no face of its own
	DefaultBayWidth    = MM(3000) // scaffold bay, at most
	DefaultLiftHeight  = MM(2000) // scaffold lift
	maxElevationLength = MM(MaxFootprintM * 1000)
	maxElevationHeight = MM(500_000)
	maxBaysOrLifts     = 500
	maxOpenings        = 2000
	cardinalTolerance  = 22.5 // degrees off north, east, south or west before a half wind is named
	maxBaseLine        = MM(20_000)
	stubLiftOf         = 4 // a top lift under a quarter of a full one joins the one below
)

// ElevationOptions says how ElevationsOf cuts a footprint into faces. The zero
// value takes the default shortest length, merges nothing, and makes no bays
// and no lifts.
type ElevationOptions struct {
	Shortest   MM      // shorter edges are left out; 0 = MinElevationLength, below 0 = keep all
	MergeDeg   float64 // neighbours whose normals differ by no more are one face
	BayWidth   MM      // greatest width of a bay; 0 = no bays
	LiftHeight MM      // 0 = no lifts
}

// ElevationsOf makes a building's elevations from its outline: named by
// compass and, where several share a name, numbered in the order of the
// outline ("North", "East 1", "East 2"). Height is the building's. Ids and
// openings are left to the caller. Edge stays the index in the ring as given,
// also past edges that are left out. The faces of courtyards come after the outer
// ones and say so in their names.
func ElevationsOf(b Building, opt ElevationOptions) []Elevation {
	shortest := opt.Shortest
	if shortest == 0 {
		shortest = MinElevationLength
	}
	count := map[string]int{}
	var out []Elevation
	for court, sides := range RingSides(b) {
		if opt.MergeDeg > 0 {
			sides = MergeCollinear(sides, opt.MergeDeg)
		}
		for _, s := range sides {
			if s.Length < shortest {
				continue
			}
			e := elevationOfSide(b, court, s, opt)
			count[e.Name]++
			out = append(out, e)
		}
	}
	numberNames(out, count)
	return out
}

func elevationOfSide(b Building, court int, s Side, opt ElevationOptions) Elevation {
	e := Elevation{
		SiteID: b.SiteID, BuildingID: b.ID, Building: b.Name, Name: compassName(s.Bearing), Court: court,
		Edge: s.Index, Length: s.Length, Height: b.Height, Bearing: bearingDecimal(s.Bearing),
	}
	switch courts := len(b.Courts) + len(b.PlanCourts); {
	case court > 0 && courts == 1:
		e.Name = "Courtyard " + e.Name
	case court > 0:
		e.Name = fmt.Sprintf("Courtyard %d %s", court, e.Name)
	}
	if opt.BayWidth > 0 {
		e.Bays = EvenBays(e.Length, opt.BayWidth)
	}
	if opt.LiftHeight > 0 {
		e.Lifts = EvenLifts(e.Height, opt.LiftHeight)
	}
	return e
}

// numberNames puts the order in and numbers the names that occur more than once.
func numberNames(list []Elevation, count map[string]int) {
	seen := map[string]int{}
	for i := range list {
		name := list[i].Name
		seen[name]++
		list[i].Order = i
		if count[name] > 1 {
			list[i].Name = fmt.Sprintf("%s %d", name, seen[name])
		}
	}
}

// compassName prefers the four winds and takes a half wind only when a face is
// more than 22.5° off all of them.
func compassName(bearing float64) string {
	four := math.Round(bearing/90) * 90
	if AngleBetween(bearing, four) <= cardinalTolerance {
		return Wind(four)
	}
	return Wind(bearing)
}

// bearingDecimal rounds to a tenth of a degree, and 359.97 to 0.0.
func bearingDecimal(deg float64) Decimal {
	d, _ := DecimalFromFloat(wrap360(math.Round(wrap360(deg)*10)/10), 1)
	return d
}

// EvenBays cuts a length into the fewest equal bays no wider than widest and
// gives their right ends in whole millimetres; the last is the length itself.
func EvenBays(length, widest MM) []MM {
	if length <= 0 || widest <= 0 {
		return nil
	}
	n := min(int64((length+widest-1)/widest), maxBaysOrLifts)
	out := make([]MM, 0, n)
	for i := int64(1); i <= n; i++ {
		out = append(out, MM((int64(length)*i+n/2)/n))
	}
	return out
}

// EvenLifts gives the tops of lifts of one height from the base line up, as a
// scaffold has them; the last is the height itself. A rest of less than a
// quarter of a lift belongs to the lift below it.
func EvenLifts(height, lift MM) []MM {
	if height <= 0 || lift <= 0 {
		return nil
	}
	var out []MM
	for top := lift; top <= height-lift/stubLiftOf && top < height && len(out) < maxBaysOrLifts-1; top += lift {
		out = append(out, top)
	}
	return append(out, height)
}

// BayAt gives the bay of a position along the elevation, from 1; 0 when it lies
// in none. A boundary belongs to the bay on its left.
func (e Elevation) BayAt(x MM) int { return cellAt(e.Bays, x, 0) }

// LiftAt gives the lift of a height above the base line, from 1; 0 when it lies
// in none. A boundary belongs to the lift below, and what is below the base
// line belongs to lift 1.
func (e Elevation) LiftAt(z MM) int { return cellAt(e.Lifts, z, -e.BaseLine) }

func cellAt(ends []MM, at, low MM) int {
	if at < low {
		return 0
	}
	for i, end := range ends {
		if at <= end {
			return i + 1
		}
	}
	return 0
}

// CellOf gives the bay and the lift of a place, 0 for what is not known. Where x and
// z are known they follow from those, as the elevation is now; else as they were
// named.
func (e Elevation) CellOf(p Place) (bay, lift int) {
	bay, lift = p.Bay, p.Lift
	if p.X != nil && len(e.Bays) > 0 {
		bay = e.BayAt(*p.X)
	}
	if p.Z != nil && len(e.Lifts) > 0 {
		lift = e.LiftAt(*p.Z)
	}
	return bay, lift
}

// OpeningNamed finds an opening by its name, whatever the letter case.
func (e Elevation) OpeningNamed(name string) (Opening, bool) {
	for _, o := range e.Openings {
		if strings.EqualFold(o.Name, name) {
			return o, true
		}
	}
	return Opening{}, false
}

// GrossArea is length times height in square metres, exact.
func GrossArea(e Elevation) Decimal { return squareMetres(int64(e.Length) * int64(e.Height)) }

// NetArea is the gross area less the openings in square metres, exact. The
// openings must have passed CheckElevation, which keeps them apart.
func NetArea(e Elevation) Decimal {
	area := int64(e.Length) * int64(e.Height)
	for _, o := range e.Openings {
		area -= int64(o.Width) * int64(o.Height)
	}
	return squareMetres(area)
}

// squareMetres turns mm² into m² with at least two places.
func squareMetres(mm2 int64) Decimal { return DecimalFromNano(mm2*1000, 2) }

// PlaceWords says a place as people do: "North / bay 3 / lift 2 / right of
// W07", always as seen from outside, facing the wall. building may be empty.
// Without bay or lift it gives the distances, and without those "place unclear".
func PlaceWords(building string, e Elevation, p Place) string {
	var parts []string
	for _, name := range []string{building, e.Name} {
		if name != "" {
			parts = append(parts, name)
		}
	}
	bay, lift := p.Bay > 0, p.Lift > 0
	if bay {
		parts = append(parts, fmt.Sprintf("bay %d", p.Bay))
	} else if p.X != nil {
		parts = append(parts, p.X.Metres().String()+" m from the left")
	}
	if lift {
		parts = append(parts, fmt.Sprintf("lift %d", p.Lift))
	} else if p.Z != nil {
		parts = append(parts, p.Z.Metres().String()+" m above the base line")
	}
	if p.Opening != "" {
		parts = append(parts, openingWords(e, p))
	}
	if (!bay && p.X == nil) || (!lift && p.Z == nil) {
		parts = append(parts, "place unclear")
	}
	return strings.Join(parts, " / ")
}

func openingWords(e Elevation, p Place) string {
	o, ok := e.OpeningNamed(p.Opening)
	if !ok {
		return "at " + p.Opening
	}
	switch {
	case p.X != nil && *p.X > o.X+o.Width:
		return "right of " + o.Name
	case p.X != nil && *p.X < o.X:
		return "left of " + o.Name
	case p.Z != nil && *p.Z > o.Z+o.Height:
		return "above " + o.Name
	case p.Z != nil && *p.Z < o.Z:
		return "below " + o.Name
	}
	return "at " + o.Name
}
