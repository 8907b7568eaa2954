package defects

import (
	"fmt"
	"strings"
)

// CheckElevation refuses an elevation that does not hold together: its size,
// bays and lifts (ascending, within the face), openings (inside the face, named
// once, not overlapping) and bearing. The error names the field, such as
// "openings[2].width".
func CheckElevation(e Elevation) error {
	switch {
	case e.Length <= 0 || e.Length > maxElevationLength:
		return RefuseField(Invalid, "length", "bad_length",
			fmt.Sprintf("must be above 0 and at most %d m", maxElevationLength/1000))
	case e.Height <= 0 || e.Height > maxElevationHeight:
		return RefuseField(Invalid, "height", "bad_height",
			fmt.Sprintf("must be above 0 and at most %d m", maxElevationHeight/1000))
	case e.BaseLine < 0 || e.BaseLine > maxBaseLine:
		return RefuseField(Invalid, "base_line", "bad_base_line",
			fmt.Sprintf("must be 0 to %d m above finished ground", maxBaseLine/1000))
	case e.Bearing.Sign() < 0 || !e.Bearing.Less(DecimalOf(360)):
		return RefuseField(Invalid, "bearing", "bad_bearing", "must be 0 or more and below 360 degrees")
	}
	if err := checkCells(e.Bays, e.Length, "bays", "length"); err != nil {
		return err
	}
	if err := checkCells(e.Lifts, e.Height, "lifts", "height"); err != nil {
		return err
	}
	return checkOpenings(e)
}

func checkCells(ends []MM, limit MM, field, of string) error {
	if len(ends) > maxBaysOrLifts {
		return RefuseField(Invalid, field, "too_many", fmt.Sprintf("at most %d", maxBaysOrLifts))
	}
	last := MM(0)
	for i, end := range ends {
		at := fmt.Sprintf("%s[%d]", field, i)
		if end <= last {
			return RefuseField(Invalid, at, "not_ascending",
				fmt.Sprintf("%s m is not beyond %s m before it", end.Metres(), last.Metres()))
		}
		if end > limit {
			return RefuseField(Invalid, at, "outside_elevation",
				fmt.Sprintf("%s m is beyond the elevation's %s of %s m", end.Metres(), of, limit.Metres()))
		}
		last = end
	}
	return nil
}

func checkOpenings(e Elevation) error {
	if len(e.Openings) > maxOpenings {
		return RefuseField(Invalid, "openings", "too_many", fmt.Sprintf("at most %d", maxOpenings))
	}
	for i, o := range e.Openings {
		if err := checkOpening(e, o, fmt.Sprintf("openings[%d]", i)); err != nil {
			return err
		}
		for _, other := range e.Openings[:i] {
			if strings.EqualFold(other.Name, o.Name) {
				return RefuseField(Invalid, fmt.Sprintf("openings[%d].name", i), "opening_twice",
					"there are two openings named "+clip(o.Name, 40))
			}
			if o.overlaps(other) {
				return RefuseField(Invalid, fmt.Sprintf("openings[%d]", i), "openings_overlap",
					clip(o.Name, 40)+" overlaps "+clip(other.Name, 40))
			}
		}
	}
	return nil
}

func checkOpening(e Elevation, o Opening, field string) error {
	switch {
	case strings.TrimSpace(o.Name) == "" || strings.TrimSpace(o.Name) != o.Name:
		return RefuseField(Invalid, field+".name", "no_name", "an opening needs a name, such as W07")
	case o.Width <= 0:
		return RefuseField(Invalid, field+".width", "bad_width", "must be above 0")
	case o.Height <= 0:
		return RefuseField(Invalid, field+".height", "bad_height", "must be above 0")
	case o.X < 0 || o.Width > e.Length || o.X > e.Length-o.Width:
		return RefuseField(Invalid, field+".x", "outside_elevation", fmt.Sprintf(
			"%s does not lie within the elevation's length of %s m", clip(o.Name, 40), e.Length.Metres()))
	case o.Z < -e.BaseLine || o.Height > e.Height+e.BaseLine || o.Z > e.Height-o.Height:
		return RefuseField(Invalid, field+".z", "outside_elevation", fmt.Sprintf(
			"%s does not lie within the elevation's height of %s m", clip(o.Name, 40), e.Height.Metres()))
	}
	return nil
}

// overlaps reports whether two openings share area; a common edge is none.
func (o Opening) overlaps(p Opening) bool {
	return o.X < p.X+p.Width && p.X < o.X+o.Width && o.Z < p.Z+p.Height && p.Z < o.Z+o.Height
}

// Locate completes a place on an elevation: it fills bay and lift from x and z
// and refuses what does not lie on the elevation, names an unknown opening, or
// contradicts itself (codes other_elevation, outside_elevation, no_such_bay,
// no_such_lift, bay_mismatch, lift_mismatch, no_such_opening, unknown_zone).
// Where the elevation has no bays or lifts a stated number is taken as it is.
func Locate(e Elevation, p Place) (Place, error) {
	if p.ElevationID != "" && e.ID != "" && p.ElevationID != e.ID {
		return p, RefuseField(Invalid, "elevation", "other_elevation", "the place is on another elevation")
	}
	p.ElevationID = e.ID
	if p.X != nil && (*p.X < 0 || *p.X > e.Length) {
		return p, outside("x", *p.X, 0, e.Length, "from the left end, seen from outside")
	}
	if p.Z != nil && (*p.Z < -e.BaseLine || *p.Z > e.Height) {
		return p, outside("z", *p.Z, -e.BaseLine, e.Height, "above the base line")
	}
	var err error
	if p.Bay, err = cell("bay", e.Bays, p.Bay, p.X, e.BayAt); err != nil {
		return p, err
	}
	if p.Lift, err = cell("lift", e.Lifts, p.Lift, p.Z, e.LiftAt); err != nil {
		return p, err
	}
	if p.Opening != "" {
		o, ok := e.OpeningNamed(p.Opening)
		if !ok {
			return p, RefuseField(Invalid, "opening", "no_such_opening",
				fmt.Sprintf("%s has no opening %q", e.Name, clip(p.Opening, 40)))
		}
		p.Opening = o.Name
	}
	if !KnownZone(p.Zone) {
		return p, RefuseField(Invalid, "zone", "unknown_zone", "must be field, edge or ground")
	}
	return p, nil
}

func outside(field string, at, low, high MM, words string) error {
	return RefuseField(Invalid, field, "outside_elevation", fmt.Sprintf(
		"%s m lies off the elevation: it must be %s to %s m %s", at.Metres(), low.Metres(), high.Metres(), words))
}

// cell settles a bay or lift number from what was stated and where x or z is.
// A stated neighbour of the boundary the point lies on is right as well.
func cell(field string, ends []MM, stated int, at *MM, find func(MM) int) (int, error) {
	limit := len(ends)
	if limit == 0 {
		limit = maxBaysOrLifts
	}
	if stated < 0 || stated > limit {
		return stated, RefuseField(Invalid, field, "no_such_"+field,
			fmt.Sprintf("%s must be 1 to %d", field, limit))
	}
	if at == nil || len(ends) == 0 {
		return stated, nil
	}
	found := find(*at)
	onBoundary := found > 0 && stated == found+1 && *at == ends[found-1]
	if stated == 0 || stated == found || onBoundary {
		return max(stated, found), nil
	}
	if found == 0 {
		return stated, RefuseField(Invalid, field, field+"_mismatch",
			fmt.Sprintf("%s m lies in no %s, not in %s %d", at.Metres(), field, field, stated))
	}
	return stated, RefuseField(Invalid, field, field+"_mismatch",
		fmt.Sprintf("%s m lies in %s %d, not in %s %d", at.Metres(), field, found, field, stated))
}
