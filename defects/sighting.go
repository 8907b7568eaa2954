package defects

import (
	"fmt"
	"math"
)

// SightingOf reads from a photo where its camera stood and looked to, in a
// frame. notes say what was assumed or corrected; ok is false without a position.
func SightingOf(c Capture, f Frame, o FaceOptions) (v Sighting, notes []string, ok bool) {
	at, ok := capturePlace(c)
	if !ok {
		return Sighting{}, nil, false
	}
	o = o.filled()
	radius, stated := c.ErrorRadius()
	if !stated {
		notes = append(notes, fmt.Sprintf("accuracy not stated, %.0f m assumed", radius))
	}
	v = Sighting{
		At: f.ToXY(at), SigmaM: max(faceSigmaFloorM, o.RadiusFactor*radius),
		HeadingSigma: faceHeadingSigma, RangeM: o.RangeM,
	}
	var note string
	if v.HeadingDeg, note, v.Headed = c.TrueHeading(); note != "" {
		notes = append(notes, note)
	}
	v.view(c)
	return v, notes, true
}

const (
	// A focal length as the equivalent in 35 mm film is stored in whole millimetres:
	// half of one either way, all alike (JCGM 100:2008, 4.3.7).
	focalSigmaMM = 0.5 / 1.7320508075688772
	tiltSigma    = 3.0 // degrees; our proposal for a hand-held phone, no source
)

// view reads what the lens took in, and how far the camera was tilted.
func (v *Sighting) view(c Capture) {
	if c.Focal35MM != nil {
		w, h := c.Upright()
		v.ViewAcrossDeg, v.ViewDownDeg = AngleOfView(*c.Focal35MM, w, h)
	}
	if v.ViewAcrossDeg > 0 { // 2·atan(k/f) falls by sin(angle)/f for each millimetre
		v.ViewSigma = degrees(math.Sin(radians(v.ViewAcrossDeg)) / *c.Focal35MM * focalSigmaMM)
	}
	if c.TiltDeg != nil && finite(*c.TiltDeg) && math.Abs(*c.TiltDeg) < 90 {
		v.Tilted, v.TiltDeg, v.TiltSigma = true, *c.TiltDeg, tiltSigma
	}
}

// ViewAcross is the horizontal angle of view of the upright picture in degrees,
// 0 when it is not known.
func (c Capture) ViewAcross() float64 {
	if c.Focal35MM == nil {
		return 0
	}
	w, h := c.Upright()
	across, _ := AngleOfView(*c.Focal35MM, w, h)
	return across
}

// TrueHeading is the direction the camera looked to, clockwise from true north.
// note says what became of a magnetic one.
func (c Capture) TrueHeading() (deg float64, note string, ok bool) {
	deg, ok = captureHeading(c)
	if !ok || c.DirectionBy != "M" {
		return deg, "", ok
	}
	at, placed := capturePlace(c)
	if day, known := c.Day(); placed && known {
		if d, held := Declination(at, day); held {
			return wrap360(deg + d), fmt.Sprintf("magnetic heading, turned by the declination of %+.1f°", d), true
		}
	}
	return deg, "magnetic heading, declination not known", true
}

// capturePlace is the photo's position when it is one.
func capturePlace(c Capture) (LonLat, bool) {
	if !c.HasPlace() {
		return LonLat{}, false
	}
	p := LonLat{Lon: *c.Lon, Lat: *c.Lat}
	return p, finite(p.Lon) && finite(p.Lat) && math.Abs(p.Lon) <= 180 && math.Abs(p.Lat) <= 90
}

// captureHeading is the direction the camera looked to, in degrees.
func captureHeading(c Capture) (float64, bool) {
	if c.Direction == nil || !finite(*c.Direction) {
		return 0, false
	}
	return wrap360(*c.Direction), true
}

// ErrorRadius is the reported radius of error in metres, or the one assumed.
func (c Capture) ErrorRadius() (metres float64, stated bool) {
	if c.HErrorM == nil || !finite(*c.HErrorM) || *c.HErrorM <= 0 {
		return faceAssumedErrorM, false
	}
	return *c.HErrorM, true
}

// nearby reports whether a plane laid at origin still holds at p.
func nearby(origin, p LonLat) bool {
	m, _, ok := Geodesic(origin, p)
	return ok && m < 50_000
}
