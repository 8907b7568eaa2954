package defects

import "math"

// ResolutionUncertainty is the standard uncertainty of a display that steps by
// r: rectangular with half-width r/2, so r/√12.
func ResolutionUncertainty(r float64) float64 { return r / math.Sqrt(12) }

// Uncertainty is what is known on a day of what an instrument adds to a reading,
// in the instrument's unit. A nil part is unknown or contained in another.
type Uncertainty struct {
	Certificate   *Calibration // in force and stating a U
	Stated        *Decimal     // U (k = 2) of the instrument as a whole, resolution included
	Resolution    *Decimal
	Repeatability *Decimal // s of single repeats
	Repeats       int      // from how many s was found
	Observed      int      // single values that the reading is the mean of; 0 = it is one value
	Own           bool     // s was found from these values themselves
	Contained     bool     // the resolution is left out, because the repeats show it
	Expired       bool     // it has certificates, and none for the day

	step *Decimal // of the display, also where the resolution is contained
}

// UncertaintyOf looks up what counts for an instrument on a day ("2006-01-02").
// The certificate in force counts with its own factor, else the U stated for the
// instrument, which has its resolution in it. Repeats that spread by more than a
// step of the display show the resolution already, so that it is not counted
// twice. An instrument without any certificate is not held to be expired.
func UncertaintyOf(i Instrument, day string) Uncertainty {
	u := Uncertainty{Expired: len(i.Calibrations) > 0}
	for n, c := range i.Calibrations {
		if c.On <= day && (c.Due == "" || day <= c.Due) {
			u.Expired = false
			if c.Expanded != nil {
				u.Certificate = &i.Calibrations[n]
			}
			break
		}
	}
	if i.Repeatability != nil && i.Repeats >= 2 {
		u.Repeatability, u.Repeats = i.Repeatability, i.Repeats
	}
	switch {
	case u.Certificate == nil && i.Expanded != nil:
		u.Stated = i.Expanded
	case i.Resolution == nil || i.Resolution.Sign() <= 0:
	case u.Repeatability != nil && i.Resolution.Less(*u.Repeatability):
		u.Contained, u.step = true, i.Resolution
	default:
		u.Resolution, u.step = i.Resolution, i.Resolution
	}
	return u
}

// Expanded combines the parts into U (k = 2): (U/k)² + r²/12 + s²/n for the mean
// of n observations (GUM, JCGM 100:2008, 5.1.2, from memory), rounded to six
// places. A single part that is U (k = 2) stays as stated; nil when nothing is
// known.
func (u Uncertainty) Expanded() *Decimal {
	single := u.Resolution == nil && u.Repeatability == nil
	var squares float64
	known := false
	add := func(standard float64) { squares, known = squares+standard*standard, true }
	switch c := u.Certificate; {
	case c != nil && single && c.K == nil:
		return c.Expanded
	case c != nil:
		add(c.Expanded.Float() / c.Factor())
	case u.Stated != nil && single:
		return u.Stated
	case u.Stated != nil:
		add(u.Stated.Float() / 2)
	}
	if u.Resolution != nil {
		add(ResolutionUncertainty(u.Resolution.Float()))
	}
	if u.Repeatability != nil {
		add(u.Repeatability.Float() / math.Sqrt(float64(max(1, u.Observed))))
	}
	expanded, ok := DecimalFromFloat(2*math.Sqrt(squares), 6)
	if !known || !ok || u.Own && squares == 0 { // equal values alone do not make a reading exact
		return nil
	}
	return &expanded
}

// Factor is the coverage factor of a certificate's U: 2 unless it states another.
func (c Calibration) Factor() float64 {
	if c.K == nil || c.K.Sign() <= 0 {
		return 2
	}
	return c.K.Float()
}

// ExpandedOf is the U (k = 2) of an instrument on a day ("2006-01-02"), nil when
// nothing is known, and whether its calibration had expired.
func ExpandedOf(i Instrument, day string) (expanded *Decimal, expired bool) {
	u := UncertaintyOf(i, day)
	return u.Expanded(), u.Expired
}

// BondStrength is peak / area in N/mm² for a pull-off test: the peak in newtons
// on a dolly of the area in mm², to the ninth place. The bool is false for an
// area of 0 or below or a negative peak.
func BondStrength(peakN, areaMM2 Decimal) (Decimal, bool) {
	if areaMM2.Sign() <= 0 || peakN.Sign() < 0 {
		return Decimal{}, false
	}
	return Decimal{nano: mulDivRound(peakN.nano, nanosPerUnit, areaMM2.nano)}, true
}

// RoundDolly is the area in mm² of a round dolly of the diameter in mm.
func RoundDolly(diameter Decimal) Decimal {
	d, _ := DecimalFromFloat(math.Pi/4*diameter.Float()*diameter.Float(), 6)
	return d
}
