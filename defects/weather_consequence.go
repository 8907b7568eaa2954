package defects

import (
	"strings"
	"time"
)

// ProtectionKind is the kind of a photo that shows fresh work covered or sheeted.
const ProtectionKind = "protection"

// overnight is how long after a shift a photo of sheeting still speaks for the
// night that follows (common practice, no source).
const overnight = 16 * time.Hour

// ShiftWork is what the record knows of the work on one elevation during a shift.
type ShiftWork struct {
	Area     Area // the bays and lifts where something was measured or photographed; zeros = not known
	Readings int
	Photos   int
	Sheeted  bool // a photo of kind ProtectionKind was taken from the start to the morning after
}

// WorkOf gathers the work of a shift from the readings and photos of its
// elevation and its stage; "" is any stage. Photos count by when they were taken,
// as far as that is known.
func WorkOf(elevationID, stage string, shift Shift, readings []Reading, photos []Photo, zone *time.Location) ShiftWork {
	w := ShiftWork{Area: Area{ElevationID: elevationID}}
	during := func(at time.Time) bool { return !at.Before(shift.Start) && !at.After(shift.End) }
	ofStage := func(s string) bool { return stage == "" || s == stage }
	for _, rd := range readings {
		if rd.Withdrawn == "" && rd.Place.ElevationID == elevationID && ofStage(rd.Stage) && during(rd.MeasuredAt) {
			w.Readings++
			w.Area = w.Area.with(rd.Place)
		}
	}
	for _, p := range photos {
		at, _ := p.TakenAt(zone)
		if at.IsZero() || p.Grade == GradeX || p.Place.ElevationID != elevationID {
			continue
		}
		if strings.EqualFold(strings.TrimSpace(p.Kind), ProtectionKind) {
			w.Sheeted = w.Sheeted || !at.Before(shift.Start) && at.Before(shift.End.Add(overnight))
		} else if ofStage(p.Stage) && during(at) {
			w.Photos++
			w.Area = w.Area.with(p.Place)
		}
	}
	return w
}

// with is the area stretched to hold a place. A place without bay or lift leaves
// that side as it is.
func (a Area) with(p Place) Area {
	stretch := func(from, to *int, n int) {
		if n > 0 && (*from == 0 || n < *from) {
			*from = n
		}
		*to = max(*to, n)
	}
	stretch(&a.BayFrom, &a.BayTo, p.Bay)
	stretch(&a.LiftFrom, &a.LiftTo, p.Lift)
	return a
}

// Words says which bays and lifts an area has: "bays 2–3, lift 1"; "" for all.
func (a Area) Words() string { return strings.TrimPrefix(a.words(), ", ") }

// Consequence is a defect that the weather of a shift proposes, with why. Whether
// it is one is for a person to say.
type Consequence struct{ Code, Why string }

// WeatherConsequences are what a failed shift proposes: the defect of work done
// in bad weather, and that of fresh work left unprotected when frost came
// afterwards and no photo shows it sheeted. work is nil when it was not asked for
// one elevation; then nothing is said of sheeting.
func WeatherConsequences(v WeatherVerdict, stage string, work *ShiftWork) []Consequence {
	var out []Consequence
	failed, frost := false, false
	for _, l := range v.Looks {
		failed = failed || l.Outcome == Fail
		frost = frost || l.Outcome == Fail && l.Reason == ReasonFrostAfterwards
	}
	if !failed {
		return nil
	}
	if code := KindForFailure("air_temperature", stage); code != "" {
		out = append(out, Consequence{code, "the work needs a scratch or pull-off result before the hold point that covers it is released"})
	}
	if frost && work != nil && !work.Sheeted {
		out = append(out, Consequence{
			unprotectedCode,
			`frost came afterwards and no photo of kind "` + ProtectionKind + `" shows the work sheeted that night`,
		})
	}
	return out
}

// unprotectedCode is fresh work left unprotected at night.
const unprotectedCode = "CL-03"
