package defects

import (
	"fmt"
	"strings"
)

// DollyArea reads the face of a pull-off dolly in mm and answers its area in
// mm²: "50 mm round", "50 x 50 mm", "215 x 65". A shape that is not said is
// refused with code dolly_unknown: the same peak on a round and a square dolly
// of 50 mm differs by a quarter.
func DollyArea(text string) (Decimal, error) {
	words := strings.Fields(strings.ToLower(strings.NewReplacer("×", " x ", "*", " x ", "mm", " ").Replace(text)))
	var sides []Decimal
	round, by := false, false
	for _, w := range words {
		switch w {
		case "round", "dia", "diameter", "ø":
			round = true
		case "square", "slip", "plate":
		case "x", "by":
			by = true
		default:
			for part := range strings.SplitSeq(w, "x") {
				d, err := ParseDecimal(part)
				if err != nil || d.Sign() <= 0 || DecimalOf(1000).Less(d) {
					return Decimal{}, unknownDolly(text)
				}
				sides = append(sides, d)
			}
		}
	}
	switch {
	case round && len(sides) == 1 && !by:
		return RoundDolly(sides[0]), nil
	case !round && len(sides) == 2:
		return sides[0].Mul(sides[1]), nil
	}
	return Decimal{}, unknownDolly(text)
}

func unknownDolly(text string) error {
	return RefuseField(Invalid, "dolly", "dolly_unknown",
		fmt.Sprintf("%q names no dolly; write \"50 mm round\" or \"50 x 50 mm\"", clip(text, 40)))
}

// BondTest is one pull-off test as read on site.
type BondTest struct {
	PeakN Decimal // newtons
	Dolly string
	Plane string // what tore: layer or interface; "" = not noted
}

// BondReading is the strength in N/mm² of a test, ready to be judged as a
// bond_strength with its failure plane.
func (b BondTest) BondReading() (Input, error) {
	area, err := DollyArea(b.Dolly)
	if err != nil {
		return Input{}, err
	}
	strength, ok := BondStrength(b.PeakN, area)
	if !ok {
		return Input{}, RefuseField(Invalid, "peak", "bad_value", "a peak load cannot be negative")
	}
	return Input{Quantity: "bond_strength", Value: strength, Unit: "N/mm2", FailurePlane: b.Plane}, nil
}

// BondPeak is the load in newtons that a strength in N/mm² means on a dolly, as
// read on the tester; false when the dolly is not one that is understood.
func BondPeak(strength Decimal, dolly string) (peak, area Decimal, ok bool) {
	area, err := DollyArea(dolly)
	if err != nil {
		return Decimal{}, Decimal{}, false
	}
	return strength.Mul(area), area, true
}

// BondWords says what a pull-off test came to by what tore, which is half of its
// result.
func BondWords(v Verdict, plane string) string {
	switch {
	case v.Reason == ReasonPlaneExcepted:
		return "accepted: torn wholly in the " + plane + ", which the limit takes in place of the figure"
	case plane == "":
		return "no verdict: what tore is not named"
	case v.Outcome == NoVerdict:
		return "no verdict: " + v.ReasonText
	case v.Outcome == Fail || v.Outcome == ConditionalFail:
		return "too weak, torn in " + plane
	}
	return "strong enough, torn in " + plane
}
