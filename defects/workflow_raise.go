package defects

import (
	"slices"
	"strings"
)

// Raise makes a snag from its first step. in.Raise must be set; Severity, Text,
// Photos and Reading are the step's own. Codes: role_forbidden, place_missing,
// unknown_code, unknown_severity, reason_missing, unknown_extent,
// reading_missing, reading_elsewhere, reading_passes, reading_withdrawn,
// photo_other_elevation, evidence_missing. The version of a new snag is 1.
func Raise(in StepInput) (Snag, error) {
	f := in.Raise
	if f == nil {
		return Snag{}, RefuseField(Invalid, "", "nothing_to_raise", "nothing says what is to be raised")
	}
	rule := rulesOf(StepRaise)[0]
	if !slices.Contains(rule.Roles, in.By.Role) {
		return Snag{}, RefuseRole(string(in.By.Role), "raise a snag", rule.who())
	}
	if err := checkPlaceToRaise(f.Place); err != nil {
		return Snag{}, err
	}
	severity, err := severityToRaise(in)
	if err != nil {
		return Snag{}, err
	}
	extent, err := extentToRaise(f.Extent)
	if err != nil {
		return Snag{}, err
	}
	quantity, err := readingToRaise(in)
	if err != nil {
		return Snag{}, err
	}
	if err := evidenceToRaise(in); err != nil {
		return Snag{}, err
	}
	s := Snag{
		ID: f.ID, SiteID: f.SiteID, Number: f.Number, Code: f.Code, Title: f.Title, Stage: f.Stage,
		Severity: severity, Extent: extent, Covered: f.Covered, Place: f.Place, PlaceWords: f.PlaceWords,
		Requirement: f.Requirement, Text: in.Text, Quantity: quantity, Competent: f.Competent, Gang: f.Gang,
		State: Raised, RaisedBy: in.By, RaisedAt: in.At, WalkRank: f.WalkRank, Version: 1,
	}
	s.Photos = addPhotos(nil, in.Photos)
	if in.Reading != nil {
		s.ReadingID, s.ReadingText = in.Reading.ID, in.Reading.Text
	}
	return s, nil
}

// checkPlaceToRaise wants an elevation, and x with z, bay with lift, or an
// opening on it. Only the bay may stay open: such a snag is listed last, under
// "place unclear".
func checkPlaceToRaise(p Place) error {
	switch {
	case p.ElevationID == "":
		return RefuseField(Invalid, "elevation", "place_missing", "say on which elevation it is, as seen from outside")
	case p.X != nil && p.Z == nil && p.Lift == 0 && p.Opening == "":
		return RefuseField(Invalid, "z", "place_missing", "x needs z, the height above the base line, or the lift")
	case p.Bay > 0 && p.Lift == 0 && p.Z == nil && p.Opening == "":
		return RefuseField(Invalid, "lift", "place_missing", "the bay needs its lift")
	}
	return nil
}

func severityToRaise(in StepInput) (Severity, error) {
	f := in.Raise
	if f.Code == "" || !f.Severity.Known() {
		return "", RefuseField(Invalid, "code", "unknown_code", "choose a code of the defect catalogue")
	}
	s := in.Severity
	if s == "" {
		return f.Severity, nil
	}
	if !s.Known() {
		return "", RefuseField(Invalid, "severity", "unknown_severity", "must be "+orList(Severities()))
	}
	if f.Severity.Outranks(s) && strings.TrimSpace(in.Text) == "" {
		return "", RefuseField(Invalid, "text", "reason_missing",
			f.Code+" is "+string(f.Severity)+" by the catalogue; a lower severity needs a written reason")
	}
	return s, nil
}

func extentToRaise(e Extent) (Extent, error) {
	switch e {
	case "":
		return Single, nil
	case Single, Several, Pattern:
		return e, nil
	}
	return "", RefuseField(Invalid, "extent", "unknown_extent", "must be single, several or pattern")
}

// readingToRaise checks the reading a snag is raised from and tells the
// quantity that a later offer must measure again.
func readingToRaise(in StepInput) (string, error) {
	f, r := in.Raise, in.Reading
	if r == nil {
		if len(f.Quantities) == 0 {
			return "", nil
		}
		if strings.TrimSpace(f.NoReadingReason) == "" {
			return "", RefuseField(Invalid, "reading", "reading_missing", f.Code+
				" is a measured defect: give the reading of "+orList(quantitiesWords(f.Quantities))+", or the reason why there is none")
		}
		return f.Quantities[0], nil
	}
	switch {
	case r.Withdrawn:
		return "", RefuseField(Conflict, "reading", "reading_withdrawn", "this reading was withdrawn")
	case len(f.Quantities) > 0 && !slices.Contains(f.Quantities, r.Quantity):
		return "", RefuseField(Invalid, "reading", "reading_missing", f.Code+" needs a reading of "+
			orList(quantitiesWords(f.Quantities))+"; this one is of "+quantityWords(r.Quantity))
	case r.Outcome == Pass || r.Outcome == ConditionalPass:
		return "", RefuseField(Conflict, "reading", "reading_passes", r.Text+" is judged a "+string(r.Outcome)+
			"; no snag follows from it")
	case r.Place.ElevationID != f.Place.ElevationID:
		return "", RefuseField(Conflict, "reading", "reading_elsewhere", "the reading is of another elevation")
	}
	return r.Quantity, nil
}

// evidenceToRaise wants something that shows or tells what was seen.
func evidenceToRaise(in StepInput) error {
	for _, p := range in.Photos {
		if p.ElevationID != "" && p.ElevationID != in.Raise.Place.ElevationID {
			return RefuseField(Conflict, "photos", "photo_other_elevation", "the photo shows another elevation")
		}
	}
	if len(in.Photos) == 0 && in.Reading == nil && strings.TrimSpace(in.Text) == "" {
		return RefuseField(Invalid, "photos", "evidence_missing",
			"add a photo or a reading, or say in writing what was seen and why there is no photo")
	}
	return nil
}
