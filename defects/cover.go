package defects

import (
	"cmp"
	"slices"
	"strings"
)

// CoverNeed is what makes a photo of a stage usable as evidence of a cell.
type CoverNeed struct {
	Stage string
	Worst Grade // the lowest grade that counts; "" = GradeB
	Scale bool  // a rule, tape or gauge must be in frame
}

// CoverCell is one bay and lift of an elevation with the photos of it.
type CoverCell struct {
	Bay, Lift int
	Usable    []string // photo ids
	Short     []ShortPhoto
}

// ShortPhoto is a photo that falls short of the need, and in what.
type ShortPhoto struct {
	ID  string
	Why string
}

// Covered reports whether a usable photo shows the cell.
func (c CoverCell) Covered() bool { return len(c.Usable) > 0 }

// Cover is which cells of an elevation have a usable photo of a stage.
type Cover struct {
	Elevation Elevation
	Need      CoverNeed
	Cells     []CoverCell // lift by lift from the top, each from the left
	Loose     []string    // photos of the stage on the elevation without a bay and lift
}

// Bare lists the cells without a usable photo, in the order of Cells.
func (c Cover) Bare() []CoverCell {
	return slices.DeleteFunc(slices.Clone(c.Cells), CoverCell.Covered)
}

// CoverOf sorts photos into the cells of an elevation. Photos of other stages or
// other elevations are passed over; an elevation without bays or lifts counts as
// one bay, one lift.
func CoverOf(e Elevation, photos []Photo, need CoverNeed) Cover {
	need.Worst = cmp.Or(need.Worst, GradeB)
	c := Cover{Elevation: e, Need: need}
	bays, lifts := max(len(e.Bays), 1), max(len(e.Lifts), 1)
	for lift := lifts; lift >= 1; lift-- {
		for bay := 1; bay <= bays; bay++ {
			c.Cells = append(c.Cells, CoverCell{Bay: bay, Lift: lift})
		}
	}
	for _, p := range photos {
		if p.Place.ElevationID != e.ID || p.Stage != need.Stage {
			continue
		}
		bay, lift := e.CellOf(p.Place)
		if len(e.Bays) == 0 {
			bay = 1
		}
		if len(e.Lifts) == 0 {
			lift = 1
		}
		if bay < 1 || bay > bays || lift < 1 || lift > lifts {
			c.Loose = append(c.Loose, p.ID)
			continue
		}
		cell := &c.Cells[(lifts-lift)*bays+bay-1]
		if why := need.short(p); why != "" {
			cell.Short = append(cell.Short, ShortPhoto{p.ID, why})
			continue
		}
		cell.Usable = append(cell.Usable, p.ID)
	}
	return c
}

// short says in what a photo falls short, "" in nothing.
func (n CoverNeed) short(p Photo) string {
	switch {
	case p.Grade > n.Worst: // "A" < "B" < "C" < "X"
		return "grade " + string(p.Grade)
	case n.Scale && !p.ScaleSeen:
		return "no scale in frame"
	}
	return ""
}

// ScaleDue reports whether a stage's photos need a scale in view, by the table of
// photos that stages need: by the rows for every bay and lift where there are
// such, else by any row of the stage.
func ScaleDue(stage string, rows []RequiredPhoto) bool {
	some, each, eachDue := false, false, false
	for _, r := range rows {
		if r.Stage != stage {
			continue
		}
		due := !slices.Contains([]string{"", "-", "no", "tag"}, r.Scale)
		some = some || due
		if strings.Contains(r.HowMany, "per bay-lift") {
			each, eachDue = true, eachDue || due
		}
	}
	if each {
		return eachDue
	}
	return some
}
