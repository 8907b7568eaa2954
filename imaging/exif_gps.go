package imaging

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// fillPlace reads position, height and their error.
func (f *fields) fillPlace() {
	lat, okLat := f.degrees("GPSLatitude", tagLat, "N", "S", 90)
	lon, okLon := f.degrees("GPSLongitude", tagLon, "E", "W", 180)
	if okLat && okLon {
		f.c.Lat, f.c.Lon = &lat, &lon
		if lat == 0 && lon == 0 {
			f.note(NotePlaceZero)
		}
		if strings.HasPrefix(strings.ToUpper(f.text(dirGPS, "GPSStatus")), "V") {
			f.note(NoteGPSVoid)
		}
	}
	f.c.HErrorM = f.number(dirGPS, "GPSHPositioningError")
	f.c.AltitudeM = f.number(dirGPS, "GPSAltitude")
	// GPSAltitudeRef: 1 below sea level; Exif 3.0 adds 3, below the ellipsoid.
	if ref := f.altitudeRef(); f.c.AltitudeM != nil && (ref == 1 || ref == 3) {
		below := -math.Abs(*f.c.AltitudeM)
		f.c.AltitudeM = &below
	}
}

func (f *fields) altitudeRef() int {
	if v := f.number(dirGPS, "GPSAltitudeRef"); v != nil {
		return int(*v)
	}
	// Some writers store the digit as text, some the byte as text.
	s, _ := f.tags.values[tagKey{dirGPS, "GPSAltitudeRef"}].(string)
	switch strings.TrimSpace(s) {
	case "1", "\x01":
		return 1
	case "3", "\x03":
		return 3
	}
	return 0
}

// degrees reads one coordinate: three rationals, of which minutes and seconds
// may be fractions or zero (Exif 2.32 §4.6.6). Without its reference the
// hemisphere is unknown and so is the coordinate.
func (f *fields) degrees(name string, tag uint16, plus, minus string, most float64) (float64, bool) {
	decoded, there := f.tags.values[tagKey{dirGPS, name}]
	if !there {
		return 0, false
	}
	value, ok := f.rawDegrees(tag)
	if !ok {
		// Not rationals: some phones store the text "52,0,50" instead.
		if v, isNumber := decoded.(float64); isNumber && f.asText(tag) {
			value = v
		} else {
			f.note(NotePlaceUnreadable)
			return 0, false
		}
	}
	ref := strings.ToUpper(f.text(dirGPS, name+"Ref"))
	switch {
	case strings.HasPrefix(ref, plus):
	case strings.HasPrefix(ref, minus):
		value = -value
	default:
		f.note(NotePlaceNoRef)
		return 0, false
	}
	if math.Abs(value) > most {
		f.note(NotePlaceOutOfRange)
		return 0, false
	}
	return value + 0, true // + 0 turns −0 into 0
}

func (f *fields) rawDegrees(tag uint16) (float64, bool) {
	v, ok := f.tags.raw.find(f.tags.raw.dir(tagGPSDir), tag)
	if !ok {
		return 0, false
	}
	parts, ok := f.tags.raw.rationals(v)
	if !ok || len(parts) == 0 || len(parts) > 3 {
		return 0, false
	}
	sum, unit := 0.0, 1.0
	for _, p := range parts {
		sum += math.Abs(p) / unit // the reference, not a sign, tells the hemisphere
		unit *= 60
	}
	return sum, !math.IsNaN(sum)
}

func (f *fields) asText(tag uint16) bool {
	v, ok := f.tags.raw.find(f.tags.raw.dir(tagGPSDir), tag)
	return ok && (v.kind == typeASCII || v.kind == typeByte || v.kind == typeUndefined) &&
		strings.Trim(string(v.data), "0123456789., \x00") == "" && strings.ContainsAny(string(v.data), "123456789")
}

// fillDirection reads where the camera looked; 360 is north again.
func (f *fields) fillDirection() {
	d := f.number(dirGPS, "GPSImgDirection")
	if d == nil {
		return
	}
	turned := *d
	if turned == 360 {
		turned = 0
	}
	if turned < 0 || turned > 360 {
		f.note(NoteDirectionBad)
		return
	}
	f.c.Direction = &turned
	switch ref := strings.ToUpper(f.text(dirGPS, "GPSImgDirectionRef")); {
	case strings.HasPrefix(ref, "T"):
		f.c.DirectionBy = "T"
	case strings.HasPrefix(ref, "M"):
		f.c.DirectionBy = "M"
	}
}

// fillGPSTime joins the GNSS date and time of day, both UTC.
func (f *fields) fillGPSTime() {
	date := f.text(dirGPS, "GPSDateStamp")
	clock, there, ok := f.gpsClock()
	if blank(date) || !there {
		return
	}
	day, err := time.Parse("2006-01-02", strings.NewReplacer(":", "-", "/", "-", ".", "-").Replace(date[:min(len(date), 10)]))
	if err != nil || !ok || day.Year() < 1980 {
		f.note(NoteGPSTimeUnread)
		return
	}
	at := day.Add(clock)
	f.c.GPSUTC = &at
	f.checkRollover(at)
}

// gpsClock reads hours, minutes and seconds since midnight.
func (f *fields) gpsClock() (clock time.Duration, there, ok bool) {
	v, found := f.tags.raw.find(f.tags.raw.dir(tagGPSDir), tagGPSTime)
	if !found {
		return 0, false, false
	}
	var h, m, s float64
	parts, rational := f.tags.raw.rationals(v)
	switch {
	case rational && len(parts) == 3:
		h, m, s = parts[0], parts[1], parts[2]
	case v.kind == typeASCII:
		text, _ := f.tags.values[tagKey{dirGPS, "GPSTimeStamp"}].(string)
		if n, err := fmt.Sscanf(text, "%f:%f:%f", &h, &m, &s); err != nil || n != 3 {
			return 0, true, false
		}
	default:
		return 0, true, false
	}
	total := h*3600 + m*60 + s
	if math.IsNaN(total) || total < 0 || total >= 86401 || m >= 60 || s >= 61 {
		return 0, true, false
	}
	return time.Duration(math.Round(total*1e6)) * time.Microsecond, true, true
}

// checkRollover notices a receiver that lost a turn of the 10-bit GPS week
// counter: its date is 1024 weeks (7168 days) before the camera's own.
func (f *fields) checkRollover(gps time.Time) {
	local, err := time.Parse(localLayout, f.c.TakenLocal)
	if err != nil {
		return
	}
	const turn = 1024 * 7 * 24 * time.Hour
	for turns := time.Duration(1); turns <= 2; turns++ {
		if off := local.Sub(gps) - turns*turn; off.Abs() <= 48*time.Hour {
			f.note(NoteGPSRollover)
		}
	}
}
