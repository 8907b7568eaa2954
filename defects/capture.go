package defects

import (
	"strings"
	"time"
)

// captureTime is how a camera's own clock is written down.
const captureTime = "2006-01-02T15:04:05"

// Capture is what a photo says of itself: its Exif data, as far as present.
// A nil pointer or empty text means the photo does not say. South, west, and
// below sea level are negative.
type Capture struct {
	Type        string // "jpeg", "png", "webp", "heic" …, by content, never by name
	Width       int    // pixels as stored in the file, before orientation
	Height      int
	Orientation int // Exif 1–8; 1 when absent or out of range
	Make        string
	Model       string
	Lens        string
	Software    string
	TakenLocal  string     // as captureTime, the camera's own clock
	UTCOffset   string     // "+01:00" as stored; "" when the camera does not say
	TakenUTC    *time.Time // only when the offset is known
	SubSec      string     // digits after the second, as stored
	GPSUTC      *time.Time // GNSS date and time
	Lat, Lon    *float64   // degrees, WGS84
	AltitudeM   *float64   // metres
	Direction   *float64   // degrees clockwise, 0 ≤ d < 360
	DirectionBy string     // "T" true north, "M" magnetic north, "" unknown
	TiltDeg     *float64   // degrees above the horizon, −180 ≤ t < 180
	HErrorM     *float64   // metres, as reported; the standard gives no confidence level
	FocalMM     *float64
	Focal35MM   *float64
}

// Upright gives the size in pixels once the orientation is applied.
func (c Capture) Upright() (width, height int) {
	if c.Orientation >= 5 && c.Orientation <= 8 {
		return c.Height, c.Width
	}
	return c.Width, c.Height
}

// Camera tells cameras apart as far as their photos say: two of one make, model
// and software are taken as one.
func (c Capture) Camera() string {
	return strings.Join([]string{c.Make, c.Model, c.Software}, "\x00")
}

// HasPlace reports whether the photo carries a position.
func (c Capture) HasPlace() bool { return c.Lat != nil && c.Lon != nil }

// Day is when the photo was taken, to the day: the camera's own clock is read as
// UTC where the offset is not known. ok is false without a time.
func (c Capture) Day() (at time.Time, ok bool) {
	if c.TakenUTC != nil {
		return *c.TakenUTC, true
	}
	t, err := time.Parse(captureTime, c.TakenLocal)
	return t, err == nil
}
