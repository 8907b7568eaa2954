package defects

import "math"

// ExpandedFrom combines what is known of a hand instrument into U (k = 2), in
// the unit of the inputs (GUM, JCGM 100:2008, from memory): a resolution r
// counts r/√12, a certificate's U (k = 2) counts U/2, and n repeats of standard
// deviation s count s/√n. Nil or n < 2 leaves a part out; the bool is false
// when nothing is known. The answer is rounded to six places.
func ExpandedFrom(resolution, calibrationU *Decimal, s float64, n int) (Decimal, bool) {
	var squares float64
	known := false
	if resolution != nil && resolution.Sign() > 0 {
		u := ResolutionUncertainty(resolution.Float())
		squares += u * u
		known = true
	}
	if calibrationU != nil && calibrationU.Sign() >= 0 {
		u := calibrationU.Float() / 2
		squares += u * u
		known = true
	}
	if n >= 2 && s >= 0 {
		squares += s * s / float64(n)
		known = true
	}
	if !known {
		return Decimal{}, false
	}
	return DecimalFromFloat(2*math.Sqrt(squares), 6)
}

// ResolutionUncertainty is the standard uncertainty of a display that steps by
// r: rectangular with half-width r/2, so r/√12.
func ResolutionUncertainty(r float64) float64 { return r / math.Sqrt(12) }

// ExpandedOf is the U (k = 2) of an instrument on a day ("2006-01-02"), and
// whether its calibration had expired. The certificate in force gives U, else
// the instrument's own, else its resolution alone. An instrument without any
// certificate is not held to be expired.
func ExpandedOf(i Instrument, day string) (expanded *Decimal, expired bool) {
	expanded = i.Expanded
	if len(i.Calibrations) > 0 {
		expired = true
		for _, c := range i.Calibrations {
			if c.On <= day && (c.Due == "" || day <= c.Due) {
				expired = false
				if c.Expanded != nil {
					expanded = c.Expanded
				}
				break
			}
		}
	}
	if expanded != nil {
		return expanded, expired
	}
	if u, ok := ExpandedFrom(i.Resolution, nil, 0, 0); ok {
		return &u, expired
	}
	return nil, expired
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
