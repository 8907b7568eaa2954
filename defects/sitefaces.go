package defects

import (
	"fmt"
	"math"
)

// AccuracyReading is how a site reads the accuracy that photos state, since the
// Exif standard gives no level of confidence for it.
type AccuracyReading string

// The readings. A phone's own is the root of the summed squares of both axes,
// which holds 63 % to 68 % of positions.
const (
	AccuracyPhone AccuracyReading = ""
	Accuracy68    AccuracyReading = "68"
	Accuracy95    AccuracyReading = "95"
)

// AccuracyReadings lists them, the default first.
func AccuracyReadings() []AccuracyReading {
	return []AccuracyReading{AccuracyPhone, Accuracy68, Accuracy95}
}

// Known reports whether r is one of the readings.
func (r AccuracyReading) Known() bool {
	return r == AccuracyPhone || r == Accuracy68 || r == Accuracy95
}

// Factor turns a stated radius into the standard deviation along each axis: of a
// circular normal distribution the part p lies within σ·√(−2 ln(1−p)).
func (r AccuracyReading) Factor() float64 {
	switch r {
	case Accuracy68:
		return 1 / circle(0.68)
	case Accuracy95:
		return 1 / circle(0.95)
	}
	return FaceRadiusFactor
}

// Words says for people what a stated accuracy holds.
func (r AccuracyReading) Words() string {
	switch r {
	case Accuracy68:
		return "68 % of positions"
	case Accuracy95:
		return "95 % of positions"
	}
	return "63 to 68 % of positions (phones)"
}

// circle is the radius, in standard deviations along an axis, that holds a part of
// a circular normal distribution.
func circle(part float64) float64 { return math.Sqrt(-2 * math.Log(1-part)) }

// CircleM is the radius in metres that holds 68 % of positions with a stated
// radius of error, as the options read it.
func (o FaceOptions) CircleM(stated float64) float64 {
	return o.filled().RadiusFactor * stated * circle(0.68)
}

// Bounds of a site's threshold: at most one face has more than half.
var (
	leastThreshold = MustDecimal("0.5")
	mostThreshold  = MustDecimal("0.9999")
)

// CheckFaceThreshold refuses a threshold that several faces could reach, or none.
func CheckFaceThreshold(d Decimal) error {
	if !leastThreshold.Less(d) || mostThreshold.Less(d) {
		return RefuseField(Invalid, "face_threshold", "bad_threshold",
			fmt.Sprintf("must be above %s and at most %s; %.2f is usual", leastThreshold, mostThreshold, FaceThreshold))
	}
	return nil
}

// FaceOptions are the site's settings of which wall a photo shows.
func (s Site) FaceOptions() FaceOptions {
	o := FaceOptions{RadiusFactor: s.Accuracy.Factor(), Threshold: FaceThreshold}
	if s.FaceThreshold != nil {
		o.Threshold = s.FaceThreshold.Float()
	}
	return o
}
