package defects

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Ways to inspect an offer, and kinds of making good.
const (
	OnSite    = "on-site"
	FromPhoto = "from-photo"
	Rework    = "rework" // conforms afterwards
	Repair    = "repair" // usable, though it may not conform
)

// samePlaceMM is how far a new reading may lie from the snag and still speak
// for it, in mm (ours; no standard is claimed).
const samePlaceMM = 1500

func offer(s Snag, in StepInput) (Snag, error) {
	if err := oneRefusal(offerProblems(s, in)); err != nil {
		return s, err
	}
	s.State = Offered
	s.clearOffer()
	s.OfferedBy, s.MadeGood = in.By, in.MadeGood
	for _, p := range in.Photos {
		s.OfferPhotos = append(s.OfferPhotos, p.ID)
	}
	s.Photos = addPhotos(s.Photos, in.Photos)
	if in.Reading != nil {
		s.OfferReading = in.Reading.ID
	}
	return s, nil
}

// offerProblems lists all that an offer lacks, so that it can be mended at
// once: the making good, then each photo, then the reading.
func offerProblems(s Snag, in StepInput) []*Error {
	var out []*Error
	if in.MadeGood.Kind != Rework && in.MadeGood.Kind != Repair {
		out = append(out, RefuseField(Invalid, "made_good.kind", "making_good_kind",
			"say whether it was rework, which conforms, or a repair, which needs a concession to close"))
	}
	if strings.TrimSpace(in.MadeGood.Text) == "" {
		out = append(out, RefuseField(Invalid, "made_good.text", "making_good_missing", "say what was removed and what was used"))
	}
	since, what := s.InstructedAt, "the instruction"
	if in.MadeGood.Started.After(since) {
		since, what = in.MadeGood.Started, "the start of the work"
	}
	out = append(out, photoProblems(s, in.Photos, since, what)...)
	for i, p := range in.Photos {
		if p.ReceivedOnly() && p.ReceivedAt.After(since) && s.Severity != Minor {
			out = append(out, errTimeUnknown(i, since, what))
		}
	}
	out = append(out, gradeProblems(s, in.Photos)...)
	if problem := newReading(s, in, since, what); problem != nil {
		out = append(out, problem)
	}
	return out
}

// oneRefusal makes one refusal of many: the first one's kind, code, field and
// text, with all of them in Details when there are more.
func oneRefusal(problems []*Error) error {
	if len(problems) == 0 {
		return nil
	}
	first := *problems[0]
	if len(problems) > 1 {
		for _, p := range problems {
			first.Details = append(first.Details, Detail{Field: p.Field, Code: p.CodeOrKind(), Text: p.Text})
		}
	}
	return &first
}

// newPhotos wants at least one photo, each never used before as evidence, of
// the snag's elevation, and later than an instant.
func newPhotos(s Snag, photos []EvidencePhoto, since time.Time, what string) error {
	return oneRefusal(photoProblems(s, photos, since, what))
}

func photoProblems(s Snag, photos []EvidencePhoto, since time.Time, what string) []*Error {
	if len(photos) == 0 {
		return []*Error{RefuseField(Invalid, "photos", "photo_missing", "add a photo taken after "+what)}
	}
	var out []*Error
	for i, p := range photos {
		if problem := photoProblem(s, photos[:i], p, since, what); problem != nil {
			problem.Field = photoField(i)
			out = append(out, problem)
		}
	}
	return out
}

func photoField(i int) string { return fmt.Sprintf("photos[%d]", i) }

// photoProblem says what is wrong with one photo, given those before it.
func photoProblem(s Snag, before []EvidencePhoto, p EvidencePhoto, since time.Time, what string) *Error {
	if used := usedBy(s, p); len(used) > 0 {
		return Refuse(Conflict, "photo_reused", "this photo is already evidence for "+orList(used)+"; take a new one")
	}
	if slices.ContainsFunc(before, func(q EvidencePhoto) bool { return q.ID == p.ID }) {
		return Refuse(Conflict, "photo_reused", "the same photo is given twice for "+s.Ref())
	}
	if p.ElevationID != s.Place.ElevationID {
		return Refuse(Conflict, "photo_other_elevation", otherElevation(s, p))
	}
	if at := p.when(); !at.After(since) {
		return Refuse(Conflict, "photo_too_old", fmt.Sprintf("it is of %s, not later than %s at %s",
			at.UTC().Format(time.RFC3339), what, since.UTC().Format(time.RFC3339)))
	}
	return nil
}

// errTimeUnknown refuses an after-photo that may be older than the work: the
// time of receipt only shows that it is no younger.
func errTimeUnknown(i int, since time.Time, what string) *Error {
	return RefuseField(Conflict, photoField(i), "photo_time_unknown", "the photo tells no time, so it is not proven later than "+what+
		" at "+since.UTC().Format(time.RFC3339)+"; give the original file from the phone, which carries the time, or take a new photo")
}

func otherElevation(s Snag, p EvidencePhoto) string {
	if p.ElevationID == "" {
		return "the photo is not placed on an elevation yet; place it on that of " + s.Ref()
	}
	return "the photo shows another elevation than " + s.Ref() + ", which is at " + s.PlaceWords
}

// when is the capture time or, when the photo does not tell one, the time it
// was received, which is never earlier.
func (p EvidencePhoto) when() time.Time {
	if p.TakenAt.IsZero() {
		return p.ReceivedAt
	}
	return p.TakenAt
}

// ReceivedOnly reports that the time of receipt had to stand in for an unknown
// capture time.
func (p EvidencePhoto) ReceivedOnly() bool { return p.TakenAt.IsZero() }

func usedBy(s Snag, p EvidencePhoto) []string {
	var refs []string
	if slices.Contains(s.Photos, p.ID) {
		refs = append(refs, s.Ref())
	}
	for _, n := range p.UsedBy {
		if ref := SnagRef(n); !slices.Contains(refs, ref) {
			refs = append(refs, ref)
		}
	}
	return refs
}

// gradeProblems wants no refused photo and at least one whose grade the severity
// accepts: A for critical, A or B for major, A to C for minor.
func gradeProblems(s Snag, photos []EvidencePhoto) []*Error {
	if len(photos) == 0 {
		return nil // that one is missing is said already
	}
	least := map[Severity]Grade{Critical: GradeA, Major: GradeB, Minor: GradeC}[s.Severity]
	best := GradeX
	var out []*Error
	for i, p := range photos {
		if p.Grade == GradeX || p.Grade == "" {
			out = append(out, RefuseField(Conflict, photoField(i), "photo_grade", "this photo was refused as evidence; see its flags"))
			continue
		}
		best = min(best, p.Grade)
	}
	if best > least && len(out) < len(photos) {
		out = append(out, RefuseField(Conflict, "photos", "photo_grade", fmt.Sprintf(
			"a %s snag needs a photo of grade %s or better; the best one here is %s", s.Severity, least, best)))
	}
	return out
}

// newReading wants, for a measured defect, a reading of the same quantity made
// at the same place after an instant.
func newReading(s Snag, in StepInput, since time.Time, what string) *Error {
	if s.Quantity == "" {
		return nil
	}
	r := in.Reading
	switch {
	case r == nil || r.ID == "":
		return RefuseField(Invalid, "reading", "reading_missing", "measure "+quantityWords(s.Quantity)+" again at "+s.PlaceWords)
	case r.Withdrawn:
		return RefuseField(Conflict, "reading", "reading_withdrawn", "this reading was withdrawn; measure again")
	case r.Quantity != s.Quantity:
		return RefuseField(Invalid, "reading", "reading_missing",
			"this is a reading of "+quantityWords(r.Quantity)+"; measure "+quantityWords(s.Quantity)+" again at "+s.PlaceWords)
	case r.ID == s.ReadingID || !r.MeasuredAt.After(since):
		return RefuseField(Conflict, "reading", "reading_too_old", "the reading must be later than "+what+
			" at "+since.UTC().Format(time.RFC3339))
	case r.MeasuredAt.After(in.At):
		return RefuseField(Invalid, "reading", "reading_in_future", "the reading's time is later than now")
	case !SamePlace(s.Place, r.Place):
		return RefuseField(Conflict, "reading", "reading_elsewhere",
			"the reading is not at the place of "+s.Ref()+", "+s.PlaceWords+", or within 1.5 m of it")
	}
	return nil
}

// SamePlace reports whether a new reading lies where the snag does: within
// 1.5 m when both are known by x and z, else in the same bay and lift, else at
// the same opening. A snag whose own place is unclear asks for no more than its
// elevation.
func SamePlace(snag, reading Place) bool {
	if snag.ElevationID != reading.ElevationID {
		return false
	}
	if snag.X != nil && snag.Z != nil && reading.X != nil && reading.Z != nil {
		dx, dz := int64(*snag.X-*reading.X), int64(*snag.Z-*reading.Z)
		return dx*dx+dz*dz <= samePlaceMM*samePlaceMM
	}
	if snag.Bay > 0 && snag.Lift > 0 {
		return snag.Bay == reading.Bay && snag.Lift == reading.Lift
	}
	if snag.Opening != "" {
		return snag.Opening == reading.Opening
	}
	return (snag.Bay == 0 || snag.Bay == reading.Bay) && (snag.Lift == 0 || snag.Lift == reading.Lift)
}

func refuseOffer(s Snag, in StepInput) (Snag, error) {
	if err := needText(in, "say what is still wrong"); err != nil {
		return s, err
	}
	if in.Inspection != OnSite && in.Inspection != FromPhoto {
		return s, errInspection()
	}
	if in.Due != "" {
		if err := checkDay("due", in.Due, in.day()); err != nil {
			return s, err
		}
		s.OwnDue = in.Due
	}
	s.State, s.InstructedAt = Instructed, in.At
	s.Round++
	s.PlannedOn = ""
	s.clearOffer()
	s.Photos = addPhotos(s.Photos, in.Photos)
	return s, nil
}

// signClosed is the close of an ordinary snag, and the first or second
// signature of a critical one.
func signClosed(s Snag, rule StepRule, in StepInput) (Snag, error) {
	if rule.Part == PartSecond {
		if err := needText(in, "name your competence and the document that covers "+competence(s)); err != nil {
			return s, err
		}
	} else if err := inspected(s, in); err != nil {
		return s, err
	}
	if err := stillPasses(s, in); err != nil {
		return s, err
	}
	s.Photos = addPhotos(s.Photos, in.Photos)
	if s.Severity == Critical && rule.Part != PartSecond {
		s.FirstSigned = in.By
		return s, nil
	}
	s.State, s.ClosedAt = Closed, in.At
	return s, nil
}

func competence(s Snag) string {
	if s.Competent == "" {
		return "this"
	}
	return "the " + s.Competent + " side"
}

func inspected(s Snag, in StepInput) error {
	switch {
	case in.Inspection != OnSite && in.Inspection != FromPhoto:
		return errInspection()
	case s.Severity == Critical && in.Inspection == FromPhoto:
		return RefuseField(Conflict, "inspection", "critical_needs_visit",
			s.Ref()+" is critical: it is closed on site, never from a photo")
	case s.MadeGood.Kind == Repair:
		return Refuse(Conflict, "repair_needs_concession", s.Ref()+
			" was repaired and may not conform; it needs a concession, not a close")
	}
	return nil
}

func errInspection() error {
	return RefuseField(Invalid, "inspection", "inspection_missing",
		`say how it was inspected: "on-site" or "from-photo"`)
}

// stillPasses looks at the offered reading as it is judged now.
func stillPasses(s Snag, in StepInput) error {
	if s.Quantity == "" {
		return nil
	}
	r := in.Reading
	if r == nil || r.ID != s.OfferReading || r.Withdrawn {
		return RefuseField(Conflict, "reading", "reading_does_not_pass",
			"the offered reading no longer stands; measure again, or a concession is needed")
	}
	switch {
	case r.Outcome == Pass:
		return nil
	case r.Outcome == ConditionalPass && strings.TrimSpace(in.Text) != "":
		return nil
	case r.Outcome == ConditionalPass:
		return RefuseField(Conflict, "text", "reading_does_not_pass", r.Text+
			" is a conditional pass: give a written reason, a better reading, or a concession")
	}
	return RefuseField(Conflict, "reading", "reading_does_not_pass",
		fmt.Sprintf("%s is judged %q; it needs a reading that passes, or a concession", r.Text, r.Outcome))
}
