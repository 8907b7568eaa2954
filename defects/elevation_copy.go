package defects

import (
	"fmt"
	"slices"
)

// CopyTolerance is how much the lengths of two walls of one house type may differ.
// Ours, after setting-out deviations of masonry; common practice, no source.
const CopyTolerance = MM(50)

// MaxCopyTolerance bounds what a person may ask for: more is another house type.
const MaxCopyTolerance = MM(1000)

// CopyOptions says what of an elevation is copied to another. The coursing starts
// from the base line, so it comes with the outline.
type CopyOptions struct {
	Outline   bool // height and base line
	Bays      bool
	Lifts     bool
	Openings  bool
	Mirrored  bool // for a handed house: left and right change places
	Tolerance MM   // between the lengths
}

// Check refuses options that copy nothing or any length.
func (o CopyOptions) Check() error {
	if !o.Outline && !o.Bays && !o.Lifts && !o.Openings {
		return RefuseField(Invalid, "parts", "nothing_copied", "choose what to copy")
	}
	if o.Tolerance < 0 || o.Tolerance > MaxCopyTolerance {
		return RefuseField(Invalid, "tolerance_m", "bad_tolerance", fmt.Sprintf("must be 0 to %s m", MaxCopyTolerance.Metres()))
	}
	return nil
}

// CopyElevation gives an elevation what was chosen of another one. Its name, side,
// direction and length stay. Positions are kept from the left end, or, mirrored,
// from the right one; the last bay ends with the wall. Codes length_differs and
// those of CheckElevation.
func CopyElevation(from, to Elevation, o CopyOptions) (Elevation, error) {
	if off := max(from.Length-to.Length, to.Length-from.Length); off > o.Tolerance {
		return to, RefuseField(Invalid, "to", "length_differs", fmt.Sprintf(
			"%s is %s m long and %s %s m; they may differ by %s m", from.Name, from.Length.Metres(), to.Name, to.Length.Metres(), o.Tolerance.Metres()))
	}
	if o.Outline {
		to.Height, to.BaseLine = from.Height, from.BaseLine
	}
	if o.Bays {
		to.Bays = copiedBays(from, to.Length, o.Mirrored)
	}
	if o.Lifts {
		to.Lifts = slices.Clone(from.Lifts)
	}
	if o.Openings {
		to.Openings = slices.Clone(from.Openings)
		for i, p := range to.Openings {
			if o.Mirrored {
				to.Openings[i].X = to.Length - p.X - p.Width
			}
		}
	}
	if err := CheckElevation(to); err != nil {
		return to, named(to, err)
	}
	return to, nil
}

// copiedBays gives the ends of bays on a wall of another length. Without mirroring
// the last one takes up the difference, with it the first.
func copiedBays(from Elevation, length MM, mirrored bool) []MM {
	bays := slices.Clone(from.Bays)
	n := len(bays)
	if n == 0 {
		return nil
	}
	whole := bays[n-1] == from.Length
	if mirrored {
		for i, end := range from.Bays[:n-1] {
			bays[n-2-i] = length - end
		}
		bays[n-1] = length
		if !whole { // what no bay had on the right is no bay on the left
			bays = slices.Insert(bays, 0, length-from.Bays[n-1])
		}
		return bays
	}
	if whole {
		bays[n-1] = length
	}
	return bays
}

// Stranded says why a place would no longer lie on an elevation, "" when it does.
// Bay and lift are those of x and z where these are known.
func Stranded(e Elevation, p Place) string {
	if p.X != nil {
		p.Bay = 0
	}
	if p.Z != nil {
		p.Lift = 0
	}
	p.ElevationID = e.ID
	if _, err := Locate(e, p); err != nil {
		return err.Error()
	}
	return ""
}
