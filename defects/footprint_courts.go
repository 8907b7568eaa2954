package defects

import (
	"fmt"
	"math"
)

// CheckCourts refuses courtyards in degrees that are no simple rings, or do not
// lie apart from each other within the outline: the codes of CheckRing and
// court_outside, courts_meet, each with the field "court 1" and on. The outline
// must have passed CheckRing.
func CheckCourts(outline []LonLat, courts [][]LonLat) error {
	if len(courts) == 0 {
		return nil
	}
	f := NewFrame(middle(outline))
	plan := make([][]XY, len(courts))
	for i, court := range courts {
		if err := CheckRing(court, CourtField(i+1)); err != nil {
			return err
		}
		plan[i] = OutlineIn(Building{Ring: court}, f)
	}
	return checkCourts(OutlineIn(Building{Ring: outline}, f), plan)
}

// CheckPlanCourts does the same for an outline in metres that has passed CheckPlan.
func CheckPlanCourts(outline []XY, courts [][]XY) error {
	plan := make([][]XY, len(courts))
	for i, court := range courts {
		if err := CheckPlan(court, CourtField(i+1)); err != nil {
			return err
		}
		plan[i] = Normalise(court)
	}
	return checkCourts(Normalise(outline), plan)
}

// CourtField names a courtyard, counted from 1, in a refusal.
func CourtField(n int) string { return fmt.Sprintf("court %d", n) }

func checkCourts(outline []XY, courts [][]XY) error {
	points := len(outline)
	for i, court := range courts {
		if points += len(court); points > MaxRingPoints {
			return RefuseField(Invalid, CourtField(i+1), "too_many_points",
				fmt.Sprintf("an outline has at most %d points with its courtyards", MaxRingPoints))
		}
		if ringsMeet(outline, court) || !insideRing(court[0], outline) {
			return RefuseField(Invalid, CourtField(i+1), "court_outside",
				fmt.Sprintf("courtyard %d does not lie within the outline, clear of its edges", i+1))
		}
		for j, other := range courts[:i] {
			if ringsMeet(court, other) || insideRing(court[0], other) || insideRing(other[0], court) {
				return RefuseField(Invalid, CourtField(i+1), "courts_meet",
					fmt.Sprintf("courtyards %d and %d touch or lie in each other", j+1, i+1))
			}
		}
	}
	return nil
}

// ringsMeet reports whether any edges of two rings share a point.
func ringsMeet(x, y []XY) bool {
	for i, a := range x {
		b := x[(i+1)%len(x)]
		for j, c := range y {
			if segmentsMeet(a, b, c, y[(j+1)%len(y)]) {
				return true
			}
		}
	}
	return false
}

// FootprintArea is what a building covers, in square metres, without its
// courtyards.
func FootprintArea(b Building) float64 {
	area := 0.0
	for i, ring := range Rings(b) {
		if i == 0 {
			area = math.Abs(signedArea(ring))
			continue
		}
		area -= math.Abs(signedArea(ring))
	}
	return area
}
