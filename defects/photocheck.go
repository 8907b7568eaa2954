package defects

import (
	"fmt"
	"strings"
	"time"
)

// Thresholds of the photo checks. Defaults after common practice or our own
// proposal, to be replaced by the project's settings; no standard is claimed.
const (
	FenceMarginM      = 30.0             // metres round the outlines when a site has no fence
	assumedAccuracyM  = 60.0             // metres when a photo states none: the worst between sheeted scaffold and wall
	weakAccuracyM     = 60.0             // metres; a weaker position proves no place
	lookedAwayDeg     = 110.0            // off looking straight at the wall: past along it, plus a poor compass
	fitsHeadingDeg    = 45.0             // a wall fits a heading within this
	clockTolerance    = 2 * time.Minute  // a phone's clock against the server's
	clockMinutes      = 15 * time.Minute // up to here a clock is just fast, not in another zone
	gpsClockTolerance = 10 * time.Minute // satellite time of a photo may be that of the last fix
	mostZoneHours     = 14               // no two neighbouring clock habits differ by more
	earliestYear      = 2000             // an earlier capture is a clock never set
)

// Flag codes of CheckPhoto.
const (
	FlagNoMetadata     = "no_metadata"
	FlagNoPlace        = "no_place"
	FlagPlaceUnchecked = "place_unchecked"
	FlagPlaceNotProven = "place_not_proven"
	FlagOutsideFence   = "outside_fence"
	FlagLookedAway     = "looked_away"
	FlagFarFromWall    = "far_from_wall"
	FlagBehindWall     = "behind_wall"
	FlagUnlikelyWall   = "wall_unlikely"
	FlagNoTime         = "no_time"
	FlagClockAhead     = "clock_ahead"
	FlagClockHours     = "clock_hours"
	FlagClockDiffers   = "clock_differs"
	FlagClockUnset     = "clock_unset"
	FlagPlaceAndTime   = "place_and_time"
)

// PhotoCheck is all that the checks of a photo need to know.
type PhotoCheck struct {
	Photo     Photo           // its Capture, ReceivedAt, LabelSeen and Overruled are read
	Elevation *Elevation      // the wall it was put on; nil = none yet
	Buildings []BuildingFaces // all of the site
	Fence     []LonLat        // empty = the outlines grown by FenceMarginM
	Zone      *time.Location  // the site's; nil = UTC
	Options   FaceOptions     // of the site
	Faces     *FaceMap        // of Buildings; nil = laid out when it is needed
}

// CheckPhoto grades a photo as evidence and says what it saw. Each flag states
// an observation with an innocent explanation, and caps the grade; the grade is
// the lowest cap, A without any. A: original, time and place coherent. B: one
// thing missing, explained by a second source, such as a label in frame. C: a
// picture only. X: refused, until a person overrules it with a reason.
// Whether a scale was due, and whether the picture came before the cover-up,
// is for the inspection plan to judge.
func CheckPhoto(in PhotoCheck) (Grade, []Flag) {
	if in.Zone == nil {
		in.Zone = time.UTC
	}
	if in.stripped() {
		return GradeC, []Flag{{
			Code: FlagNoMetadata, Caps: GradeC,
			Text: "no camera, time or place is stored with this picture; sending it through a chat program or saving a screenshot removes them. " +
				"The original file from the phone would lift the grade, or opening up the place and taking a new photo",
		}}
	}
	flags := append(in.placeFlags(), in.wallFlags()...)
	doubtedPlace := len(flags) > 0
	clock := in.clockFlags()
	flags = append(flags, clock...)
	if doubtedPlace && len(clock) > 0 && !in.secondSource() {
		flags = append(flags, Flag{
			Code: FlagPlaceAndTime, Caps: GradeC,
			Text: "place and time are both in doubt and nothing else speaks for either; an area label that can be read in frame would",
		})
	}
	return lowest(flags), flags
}

// TimeUncertain reports whether a flag puts the time of capture in doubt.
func TimeUncertain(flags []Flag) bool {
	for _, f := range flags {
		switch f.Code {
		case FlagNoMetadata, FlagNoTime, FlagClockAhead, FlagClockHours, FlagClockDiffers, FlagClockUnset:
			return true
		}
	}
	return false
}

func lowest(flags []Flag) Grade {
	g := GradeA
	for _, f := range flags {
		if f.Caps > g { // "A" < "B" < "C" < "X"
			g = f.Caps
		}
	}
	return g
}

func (in PhotoCheck) stripped() bool {
	c := in.Photo.Capture
	_, timed := in.instant()
	return c.Make == "" && c.Model == "" && !timed && !c.HasPlace()
}

func (in PhotoCheck) secondSource() bool {
	return in.Photo.LabelSeen || strings.TrimSpace(in.Photo.Overruled) != ""
}

// withLabel is the best grade when a fact is missing: B when a label in frame
// stands in for it, else C.
func (in PhotoCheck) withLabel() Grade {
	if in.Photo.LabelSeen {
		return GradeB
	}
	return GradeC
}

func (in PhotoCheck) accuracy() (metres float64, words string) {
	if m, stated := in.Photo.Capture.ErrorRadius(); stated {
		return m, fmt.Sprintf("good to %.0f m", m)
	}
	return assumedAccuracyM, fmt.Sprintf("of unstated accuracy (%.0f m assumed)", assumedAccuracyM)
}

// placeFlags looks at the position against the fence.
func (in PhotoCheck) placeFlags() []Flag {
	at, ok := capturePlace(in.Photo.Capture)
	if !ok {
		return []Flag{{
			Code: FlagNoPlace, Caps: in.withLabel(),
			Text: "the photo carries no position; location may be switched off for the camera, or there was no reception. " +
				"An area label that can be read in frame stands in for it",
		}}
	}
	out, known := OutsideFence(at, in.Fence, in.Buildings)
	accuracy, words := in.accuracy()
	switch {
	case !known:
		return []Flag{{
			Code: FlagPlaceUnchecked, Caps: GradeB,
			Text: "the position can't be checked: the site has neither a fence nor an outline with coordinates",
		}}
	case out > accuracy:
		return []Flag{in.outsideFence(out, words)}
	case out > 0:
		return []Flag{{Code: FlagPlaceNotProven, Caps: GradeB, Text: fmt.Sprintf(
			"place not proven: the position lies %.0f m outside the fence and is %s; "+
				"between scaffold sheeting and walls positions are often that far off", out, words)}}
	case accuracy > weakAccuracyM:
		return []Flag{{Code: FlagPlaceNotProven, Caps: GradeB, Text: fmt.Sprintf(
			"place not proven: the position is %s only; under cover or just after start a phone knows no better", words)}}
	}
	return nil
}

func (in PhotoCheck) outsideFence(out float64, words string) Flag {
	f := Flag{Code: FlagOutsideFence, Caps: GradeX, Text: fmt.Sprintf(
		"the position lies %.0f m outside the fence and is %s; the fence may be drawn too small, the photo may belong to another site, "+
			"or the phone kept an old position. A person can overrule this with a reason", out, words)}
	if reason := strings.TrimSpace(in.Photo.Overruled); reason != "" {
		f.Caps = GradeB
		f.Text = fmt.Sprintf("the position lies %.0f m outside the fence and is %s; overruled: %s", out, words, reason)
	}
	return f
}

// wallFlags looks at direction and position against the wall the photo is on.
func (in PhotoCheck) wallFlags() []Flag {
	if in.Elevation == nil {
		return nil
	}
	var flags []Flag
	if f, yes := in.lookedAway(); yes {
		flags = append(flags, f)
	}
	if f, yes := in.offTheWall(); yes {
		flags = append(flags, f)
	}
	if f, yes := in.unlikelyWall(); yes {
		flags = append(flags, f)
	}
	return flags
}

func (in PhotoCheck) faces() FaceMap {
	if in.Faces != nil {
		return *in.Faces
	}
	return MapFaces(in.Buildings)
}

// unlikelyWall holds a person's choice of a wall against the photo's own facts. The
// choice stays; below WallDoubt they contradict it. A position that leaves all walls
// nearly alike contradicts nothing.
func (in PhotoCheck) unlikelyWall() (Flag, bool) {
	if in.Photo.PlacedBy != PlacedPerson {
		return Flag{}, false
	}
	faces := in.faces()
	shown := faces.Look(in.Photo.Capture, in.Options)
	if len(shown.Guesses) == 0 || shown.Hit < faceLeastHit || len(faces.facesOf(in.Elevation.ID)) == 0 {
		return Flag{}, false
	}
	p := shown.Chance(in.Elevation.ID)
	if p >= WallDoubt {
		return Flag{}, false
	}
	chance := fmt.Sprintf("%.2f", p)
	if p < faceLeast {
		chance = fmt.Sprintf("below %.2f", faceLeast)
	}
	f := Flag{Code: FlagUnlikelyWall, Caps: in.withLabel(), Text: fmt.Sprintf(
		"a person put it on %s, which by its position and direction it shows with a chance of %s only; likelier is %s. "+
			"Walls and steel throw positions and compasses off, or the wrong wall was chosen. An area label that can be read in frame would settle it",
		in.Elevation.Name, chance, chances(shown.Guesses[:1]))}
	if reason := strings.TrimSpace(in.Photo.Overruled); reason != "" {
		f.Caps = GradeB
		f.Text += "; overruled: " + reason
	}
	return f, true
}

func (in PhotoCheck) lookedAway() (Flag, bool) {
	heading, note, ok := in.Photo.Capture.TrueHeading()
	if !ok {
		return Flag{}, false
	}
	straight := wrap360(in.Elevation.Bearing.Float() + 180)
	if AngleBetween(heading, straight) <= lookedAwayDeg {
		return Flag{}, false
	}
	instead := "another elevation?"
	if name := in.fitting(heading); name != "" {
		instead = name + " elevation?"
	}
	if note != "" {
		note = " (" + note + ")"
	}
	return Flag{Code: FlagLookedAway, Caps: in.withLabel(), Text: fmt.Sprintf(
		"camera looked away from this wall: %s The heading is %.0f°%s, looking straight at %s is %.0f°; "+
			"the wrong wall may have been chosen, or scaffold steel turned the compass",
		instead, heading, note, in.Elevation.Name, straight)}, true
}

// fitting names the elevation the camera looked at: one it stands before, else
// the one of the same building that faces the right way.
func (in PhotoCheck) fitting(heading float64) string {
	for _, g := range in.faces().Look(in.Photo.Capture, in.Options).Guesses {
		if g.ElevationID != in.Elevation.ID && g.OffAxisDeg >= 0 && g.OffAxisDeg <= fitsHeadingDeg {
			return g.Name
		}
	}
	best, name := fitsHeadingDeg, ""
	for _, b := range in.Buildings {
		if b.Building.ID != in.Elevation.BuildingID {
			continue
		}
		for _, e := range b.Elevations {
			off := AngleBetween(heading, e.Bearing.Float()+180)
			if off < best || (off == best && name == "") {
				best, name = off, e.Name
			}
		}
	}
	return name
}

// offTheWall compares the position with the wall itself, where both are known.
func (in PhotoCheck) offTheWall() (Flag, bool) {
	at, ok := capturePlace(in.Photo.Capture)
	faces, frame, known := wallFaces(in.Buildings)
	if !ok || !known || !nearby(frame.Origin(), at) {
		return Flag{}, false
	}
	accuracy, words := in.accuracy()
	p := frame.ToXY(at)
	for _, f := range faces {
		if f.id != in.Elevation.ID {
			continue
		}
		away := distance(p, nearestOn(f.side, p))
		behind := -dot(sub(p, f.side.Left), towards(f.side.Bearing))
		switch {
		case away > FaceRangeM+accuracy:
			return Flag{Code: FlagFarFromWall, Caps: GradeB, Text: fmt.Sprintf(
				"the position lies %.0f m from this wall and is %s; the wrong wall may have been chosen, or the phone kept an old position", away, words)}, true
		case behind > accuracy:
			return Flag{Code: FlagBehindWall, Caps: GradeB, Text: fmt.Sprintf(
				"the position lies %.0f m behind the face of this wall and is %s; the wrong wall may have been chosen, or walls threw the signal", behind, words)}, true
		}
	}
	return Flag{}, false
}

// OutsideFence gives how far a position lies outside a site, 0 when inside. The
// site is the fence, or the outlines grown by FenceMarginM; ok is false when
// there is neither.
func OutsideFence(at LonLat, fence []LonLat, buildings []BuildingFaces) (metres float64, ok bool) {
	rings, margin := [][]LonLat{Normalise(fence)}, 0.0
	if len(fence) == 0 {
		rings, margin = nil, FenceMarginM
		for _, b := range buildings {
			rings = append(rings, Normalise(b.Building.Ring))
		}
	}
	for _, ring := range rings {
		if len(ring) < 3 {
			continue
		}
		d := max(distanceOutside(at, ring)-margin, 0)
		if !ok || d < metres {
			metres, ok = d, true
		}
	}
	return metres, ok
}

// distanceOutside is how far a position lies outside a ring, 0 when inside.
func distanceOutside(at LonLat, ring []LonLat) float64 {
	f := NewFrame(middle(ring))
	if !nearby(f.Origin(), at) {
		m, _, settled := Geodesic(f.Origin(), at)
		if !settled { // nearly antipodal
			return 20_000_000
		}
		return m
	}
	p := f.ToXY(at)
	inside, nearest := false, -1.0
	for i := range ring {
		a, b := f.ToXY(ring[i]), f.ToXY(ring[(i+1)%len(ring)])
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			inside = !inside
		}
		if d := distance(p, nearestOnSegment(a, b, p)); nearest < 0 || d < nearest {
			nearest = d
		}
	}
	if inside {
		return 0
	}
	return nearest
}
