package defects

import (
	"fmt"
	"math"
	"time"
)

// instant is the time of capture by the camera's clock, else by satellite.
func (in PhotoCheck) instant() (at time.Time, ok bool) {
	if at, _ = in.Photo.TakenAt(in.Zone); !at.IsZero() {
		return at, true
	}
	if in.Photo.Capture.GPSUTC != nil {
		return *in.Photo.Capture.GPSUTC, true
	}
	return time.Time{}, false
}

// clockFlags looks at the time of capture against receipt and satellite time.
// A photo that comes in long after it was taken is no fault.
func (in PhotoCheck) clockFlags() []Flag {
	at, ok := in.instant()
	if !ok {
		return []Flag{{
			Code: FlagNoTime, Caps: in.withLabel(),
			Text: "the photo carries no time of capture; editing programs leave it out. It was taken before it came in, more isn't known",
		}}
	}
	if at.In(in.Zone).Year() < earliestYear {
		return []Flag{{Code: FlagClockUnset, Caps: GradeB, Text: fmt.Sprintf(
			"the camera's clock showed the year %d; a clock falls back to its start when the battery was empty. Time uncertain", at.In(in.Zone).Year())}}
	}
	var flags []Flag
	if f, yes := in.clockAhead(at); yes {
		flags = append(flags, f)
	}
	if f, yes := in.clockAgainstGPS(); yes {
		flags = append(flags, f)
	}
	return flags
}

// clockAhead: nothing can be received before it was taken. Where the offset is
// not stored, the nearest whole hours that put the capture before the receipt
// are the likeliest error: summer time or another zone.
func (in PhotoCheck) clockAhead(at time.Time) (Flag, bool) {
	if in.Photo.ReceivedAt.IsZero() {
		return Flag{}, false
	}
	ahead := at.Sub(in.Photo.ReceivedAt)
	if ahead <= clockTolerance {
		return Flag{}, false
	}
	hours := int(math.Ceil(ahead.Hours()))
	cause := "the date of the camera is probably wrong"
	switch {
	case ahead <= clockMinutes:
		cause = "the camera's clock is probably fast"
	case hours <= mostZoneHours:
		cause = fmt.Sprintf("clock probably +%d h, from summer time or another time zone", hours)
	}
	return Flag{Code: FlagClockAhead, Caps: GradeB, Text: fmt.Sprintf(
		"time of capture is in the future by %s, seen from its receipt; %s. Time uncertain: a named person can record the right time, the original keeps its own",
		spell(ahead), cause)}, true
}

// clockAgainstGPS compares the camera's clock with satellite time.
func (in PhotoCheck) clockAgainstGPS() (Flag, bool) {
	gps := in.Photo.Capture.GPSUTC
	at, _ := in.Photo.TakenAt(in.Zone)
	if gps == nil || at.IsZero() {
		return Flag{}, false
	}
	diff := at.Sub(*gps)
	if diff.Abs() <= gpsClockTolerance {
		return Flag{}, false
	}
	way := "ahead of"
	if diff < 0 {
		way = "behind"
	}
	hours := diff.Round(time.Hour)
	if hours != 0 && hours.Abs() <= mostZoneHours*time.Hour && (diff-hours).Abs() <= gpsClockTolerance {
		return Flag{Code: FlagClockHours, Caps: GradeB, Text: fmt.Sprintf(
			"the camera's clock is %s %s satellite time, a whole number of hours: probably summer time or another time zone. Time uncertain",
			spell(hours.Abs()), way)}, true
	}
	return Flag{Code: FlagClockDiffers, Caps: GradeB, Text: fmt.Sprintf(
		"the camera's clock is %s %s satellite time; one of them may be set wrongly or come from an earlier position. Time uncertain",
		spell(diff.Abs()), way)}, true
}

// spell prints a span in the largest two units that matter: "55 min",
// "1 h 20 min", "3 days".
func spell(d time.Duration) string {
	minutes := int64(d.Round(time.Minute) / time.Minute)
	switch {
	case minutes < 60:
		return fmt.Sprintf("%d min", minutes)
	case minutes < 48*60 && minutes%60 == 0:
		return fmt.Sprintf("%d h", minutes/60)
	case minutes < 48*60:
		return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
	}
	return fmt.Sprintf("%d days", minutes/(24*60))
}
