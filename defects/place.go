package defects

// MM is a length or position on a wall in whole millimetres.
type MM int64

// Metres prints it in metres with three places.
func (m MM) Metres() Decimal { return DecimalFromNano(int64(m)*1_000_000, 3) }

func (m MM) metres() float64 { return float64(m) / 1000 }

// MMFromMetres reads metres; more than three places are refused, since no one
// places a snag on a wall to less than a millimetre.
func MMFromMetres(d Decimal) (MM, error) {
	if d.nano%1_000_000 != 0 {
		return 0, RefuseField(Invalid, "", "too_fine", d.String()+" m is finer than a millimetre")
	}
	return MM(d.nano / 1_000_000), nil
}

// Zone is the part of an elevation with its own rule.
type Zone string

// The zones; empty means not stated.
const (
	Field  Zone = "field"
	Edge   Zone = "edge"
	Ground Zone = "ground"
)

// KnownZone reports whether z is empty or one of the zones.
func KnownZone(z Zone) bool { return z == "" || z == Field || z == Edge || z == Ground }

// Place is where on a site something is. Everything but the site is optional;
// X and Z are metres in millimetres from the elevation's left end and above its
// base line, seen from outside, facing the wall. Bays count from 1 at the left,
// lifts from 1 at the ground.
type Place struct {
	ElevationID string
	X, Z        *MM
	Bay, Lift   int // 0 = not stated
	Opening     string
	Zone        Zone
}
