package defects

import "fmt"

// Doubt is a question about a value that hardly can be meant as typed. It
// changes nothing: the person answers, and the answer is recorded.
type Doubt struct {
	Code          string   // "implausible"
	Question      string   // for the person who typed the value
	Suggestion    *Decimal // what may have been meant, in SuggestedUnit; nil = no guess
	SuggestedUnit string   // always the quantity's own unit
}

// Plausible asks about a value outside the quantity's plausible bounds and
// answers nil for any other. The guess is a unit a thousand times too small
// when one exists (N for kN), else a lost decimal point.
func Plausible(q Quantity, value Decimal) *Doubt {
	if !value.Less(q.PlausibleMin) && !q.PlausibleMax.Less(value) {
		return nil
	}
	d := &Doubt{Code: "implausible"}
	d.Question = fmt.Sprintf("%s of %s %s lies outside %s to %s %s, which hardly happens. Is it right?",
		quantityWords(q.Name), value, q.Unit, q.PlausibleMin, q.PlausibleMax, q.Unit)
	if small := smallerUnit(q.Unit); small != "" {
		if v, ok := shifted(q, value, 3); ok {
			d.Suggestion, d.SuggestedUnit = &v, q.Unit
			d.Question += fmt.Sprintf(" Or was it %s %s, which is %s %s?", value, small, v, q.Unit)
			return d
		}
	}
	if v, ok := shifted(q, value, 1); ok {
		d.Suggestion, d.SuggestedUnit = &v, q.Unit
		d.Question += fmt.Sprintf(" Or was %s %s meant?", v, q.Unit)
	}
	return d
}

// AsError makes a doubt the refusal of kind Question that a use case answers
// until the value is confirmed.
func (d *Doubt) AsError(field string) *Error {
	return RefuseField(Question, field, d.Code, d.Question)
}

// smallerUnit names the unit a thousand times smaller that people mix up.
func smallerUnit(unit string) string {
	if unit == "kN" {
		return "N"
	}
	return ""
}

// shifted moves the decimal point to the left; the bool is false when digits
// would be lost or the result is not plausible either.
func shifted(q Quantity, value Decimal, places int) (Decimal, bool) {
	div := pow10(places)
	if value.nano%div != 0 {
		return Decimal{}, false
	}
	v := Decimal{nano: value.nano / div}
	if v.Less(q.PlausibleMin) || q.PlausibleMax.Less(v) {
		return Decimal{}, false
	}
	return v, true
}
