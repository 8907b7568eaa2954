package defects

import (
	"cmp"
	"slices"
)

// The walk of an elevation (trade habit, common practice, no source): the top
// lift first, from its left end to its right, the next lift back the other way,
// the ground last; inside a bay left to right, then top to bottom; what has no
// clear place comes last.
//
// WalkRank packs that order into one non-negative whole number, so that a
// database can ORDER BY walk_rank, number. From the highest bit of 63:
//
//	 1 bit   unclear: 1 = no bay or no lift, "place unclear"
//	10 bits  level: lifts down from the top one, 0 = top; 1023 = not stated
//	10 bits  bay in walking direction: its number where the walk runs left to
//	         right, 1023 less its number where it runs back; 1023 = not stated
//	23 bits  x in mm, at most 8 388 606; the highest value = not stated
//	19 bits  height in mm downwards from 504.286 m above the base line, so that
//	         higher comes first; the highest value = not stated
//
// Values beyond a field are held at its end. Where an elevation has no bays, x
// stands in for them and runs back on every other lift; where it has no lifts,
// all of it is one lift. Where a lift is named on an elevation without lifts
// the top is unknown: higher still comes first, and odd lifts run left to right.
const (
	walkLevelBits = 10
	walkBayBits   = 10
	walkXBits     = 23
	walkZBits     = 19
	walkUnclear   = int64(1) << (walkLevelBits + walkBayBits + walkXBits + walkZBits)
	walkUnknown   = 1<<walkLevelBits - 1
	walkXNone     = 1<<walkXBits - 1
	walkZNone     = 1<<walkZBits - 1
	walkZDatum    = 20_000 // mm below the base line that still sort
	walkOddTop    = 999    // stands for the top lift when none is known; odd
)

// WalkKey is what the walk sorts by.
type WalkKey struct {
	Elevation int   // position of the elevation in the list of elevations
	Rank      int64 // WalkRank of the place
	Number    int   // snag number, which settles ties
}

// WalkLess reports whether a comes before b on the walk.
func WalkLess(a, b WalkKey) bool { return compareWalk(a, b) < 0 }

func compareWalk(a, b WalkKey) int {
	return cmp.Or(cmp.Compare(a.Elevation, b.Elevation), cmp.Compare(a.Rank, b.Rank), cmp.Compare(a.Number, b.Number))
}

// SortWalk puts items into walking order, in place; equal keys keep their order.
func SortWalk[T any](items []T, key func(T) WalkKey) {
	slices.SortStableFunc(items, func(a, b T) int { return compareWalk(key(a), key(b)) })
}

// WalkRank gives a place's position on the walk of its elevation. Only the
// elevation's bays and lifts matter, so it can be computed when a place is
// stored; when they change, the ranks on that elevation are stored anew.
func WalkRank(e Elevation, p Place) int64 {
	bayKnown := p.Bay > 0 || (len(e.Bays) == 0 && p.X != nil)
	liftKnown := p.Lift > 0 || (len(e.Lifts) == 0 && p.Z != nil)
	level, back := walkLevel(len(e.Lifts), p.Lift, liftKnown)
	bay := int64(walkUnknown)
	x, z := int64(walkXNone), int64(walkZNone)
	if p.X != nil {
		x = min(max(int64(*p.X), 0), walkXNone-1)
	}
	if p.Z != nil {
		z = min(max(walkZNone-1-walkZDatum-int64(*p.Z), 0), walkZNone-1)
	}
	switch {
	case p.Bay > 0 && back:
		bay = walkUnknown - min(int64(p.Bay), walkUnknown)
	case p.Bay > 0:
		bay = min(int64(p.Bay), walkUnknown-1)
	case bayKnown:
		bay = 0
		if back {
			x = walkXNone - 1 - x
		}
	}
	rank := ((level<<walkBayBits|bay)<<walkXBits|x)<<walkZBits | z
	if !bayKnown || !liftKnown {
		rank |= walkUnclear
	}
	return rank
}

// walkLevel counts lifts down from the top and tells whether the walk runs
// back, right to left, on this one.
func walkLevel(lifts, lift int, known bool) (level int64, back bool) {
	switch {
	case !known:
		return walkUnknown, false
	case lift <= 0: // no lifts on this elevation: one run
		return 0, false
	case lifts == 0:
		lifts = walkOddTop
	}
	down := max(lifts-lift, 0)
	return min(int64(down), walkUnknown-1), down%2 == 1
}

// PlaceUnclear reports whether a stored rank belongs under "place unclear".
func PlaceUnclear(rank int64) bool { return rank&walkUnclear != 0 }
