package defects

import "strings"

func concede(s Snag, rule StepRule, in StepInput) (Snag, error) {
	if err := askedOnce(rule, s); err != nil {
		return s, err
	}
	switch rule.Part {
	case PartAsk:
		return askConcession(s, in)
	case PartGrant:
		return grantConcession(s, in)
	}
	if err := needText(in, "say why the concession is refused"); err != nil {
		return s, err
	}
	s.Concession = nil
	return s, nil
}

func askConcession(s Snag, in StepInput) (Snag, error) {
	ask := in.Concession
	if ask.From != 0 {
		var err error
		if ask, err = repeated(s, in); err != nil {
			return s, err
		}
	}
	if strings.TrimSpace(ask.Area) == "" {
		return s, RefuseField(Invalid, "concession.area", "area_missing",
			"say which area it is for, in words and size, such as 2.6 m run of the arris")
	}
	if err := needText(in, "say why the work should be kept as built"); err != nil {
		return s, err
	}
	if ask.Expires != "" {
		if err := checkDay("concession.expires", ask.Expires, in.day()); err != nil {
			return s, err
		}
	}
	if err := coversDeviation(s, ask.Deviation, in.Facts); err != nil {
		return s, err
	}
	s.Concession = &Concession{
		AskedBy: in.By, AskedAt: in.At, Reason: in.Text, Area: ask.Area, Deviation: ask.Deviation, Unit: in.Facts.Unit,
		Conditions: ask.Conditions, Expires: ask.Expires, Document: ask.Document, From: ask.From,
	}
	return s, nil
}

// coversDeviation wants the value that a concession on a measured defect is
// for, and that the defect as measured lies within it.
func coversDeviation(s Snag, deviation *Decimal, f StepFacts) error {
	const field = "concession.deviation"
	if s.Quantity == "" {
		return nil
	}
	if deviation == nil {
		return RefuseField(Invalid, field, "deviation_missing", "state the measured value of "+quantityWords(s.Quantity)+" it is to cover")
	}
	if deviation.Sign() < 0 {
		return RefuseField(Invalid, field, "bad_deviation", "state it without its sign")
	}
	if !within(*deviation, f) {
		return RefuseField(Conflict, field, "deviation_too_small", "it must cover what was measured, "+
			f.Measured.Abs().String()+" "+f.Unit)
	}
	return nil
}

// within reports whether the measured value, when there is one, is no worse
// than a deviation. Short of a lower limit smaller is worse, else larger.
func within(deviation Decimal, f StepFacts) bool {
	switch {
	case f.Measured == nil:
		return true
	case f.Short:
		return !f.Measured.Abs().Less(deviation)
	}
	return !deviation.Less(f.Measured.Abs())
}

// repeated takes the terms of another snag's concession, which bind its own
// area and value only: same kind of defect, same bay and lift, no worse value,
// not expired. Both grants are still asked for anew.
func repeated(s Snag, in StepInput) (ConcessionInput, error) {
	ask, terms := in.Concession, in.Concession.FromTerms
	ref := SnagRef(ask.From)
	refuse := func(why string) (ConcessionInput, error) {
		return ask, RefuseField(Conflict, "concession.from", "outside_concession",
			"the concession of "+ref+" binds its own area and value only: "+why)
	}
	switch {
	case !terms.Granted():
		return ask, RefuseField(Conflict, "concession.from", "concession_not_granted", ref+" has no granted concession to repeat")
	case ask.FromCode != s.Code:
		return refuse(s.Ref() + " is another kind of defect")
	case !sameArea(s.Place, ask.FromPlace):
		return refuse(s.Ref() + " is at " + s.PlaceWords)
	case terms.Expires != "" && in.day() > terms.Expires:
		return refuse("it expired on " + terms.Expires)
	case s.Quantity != "" && (terms.Deviation == nil || in.Facts.Measured == nil):
		return refuse("the value there or here was not measured")
	case terms.Deviation != nil && !within(*terms.Deviation, in.Facts):
		return refuse(in.Facts.Measured.Abs().String() + " " + in.Facts.Unit + " was measured here, it covers " +
			terms.Deviation.String() + " " + terms.Unit)
	}
	ask.Area, ask.Deviation, ask.Expires = terms.Area, terms.Deviation, terms.Expires
	ask.Conditions = joined(terms.Conditions, ask.Conditions)
	if ask.Document == "" {
		ask.Document = terms.Document
	}
	return ask, nil
}

// sameArea is narrower than SamePlace: the bay and lift, or the opening, must
// be known on both sides and be the same.
func sameArea(a, b Place) bool {
	if a.ElevationID != b.ElevationID || a.Bay != b.Bay || a.Lift != b.Lift {
		return false
	}
	return (a.Bay > 0 && a.Lift > 0) || (a.Opening != "" && a.Opening == b.Opening)
}

func grantConcession(s Snag, in StepInput) (Snag, error) {
	c, add := s.Concession, in.Concession
	if err := coversDeviation(s, c.Deviation, in.Facts); err != nil {
		return s, err
	}
	if add.Expires != "" {
		if err := checkDay("concession.expires", add.Expires, in.day()); err != nil {
			return s, err
		}
		if c.Expires == "" || add.Expires < c.Expires {
			c.Expires = add.Expires
		}
	}
	c.Conditions = joined(c.Conditions, add.Conditions)
	if add.Document != "" {
		c.Document = add.Document
	}
	if s.Severity == Critical && in.By.Role == Designer && strings.TrimSpace(c.Document) == "" {
		return s, RefuseField(Invalid, "concession.document", "document_missing", s.Ref()+
			" is critical: name the competent person's written answer")
	}
	if in.By.Role == Designer {
		c.Technical, c.GrantedAt = in.By, in.At
	} else {
		c.Value, c.ValueAt = in.By, in.At
	}
	if c.Granted() {
		s.State, s.ClosedAt, s.FirstSigned = Conceded, in.At, Person{}
	}
	return s, nil
}

// joined adds a condition to earlier ones; none is ever dropped.
func joined(have, more string) string {
	have, more = strings.TrimSpace(have), strings.TrimSpace(more)
	switch {
	case have == "":
		return more
	case more == "" || strings.Contains(have, more):
		return have
	}
	return have + "; " + more
}
