package register

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// RaiseInput is what somebody raises a snag with.
type RaiseInput struct {
	ElevationID     string // "" with ReadingID = the reading's place
	X, Z            *defects.MM
	Bay, Lift       int
	Opening         string
	Zone            defects.Zone
	Code            string           // "" with ReadingID = the code that the reading shows
	Severity        defects.Severity // "" = the catalogue's; a lower one needs a reason in Text
	Extent          defects.Extent   // "" = single
	Covered         bool
	Requirement     string
	Text            string
	Gang            string
	ReadingID       string
	NoReadingReason string
	Photos          []string
}

// StepOffered tells whether the asker may take a step now and, when not, why.
type StepOffered struct {
	Step  defects.Step
	May   bool
	Parts []string // concede: "ask", "grant", "refuse"; close: "second"
	Why   string   // who may, or what stands in the way
	Needs []string // what must be present, in words
}

// SnagView is one snag with all that its page shows.
type SnagView struct {
	Snag      defects.Snag
	Due       defects.Due   // the date that matters
	Also      []defects.Due // the other dates that apply
	Overdue   int           // days that Due is past, counted in the site's zone; 0 = not
	History   []defects.SnagEvent
	Steps     []StepOffered
	Kind      defects.DefectKind
	Reading   *defects.Reading
	Photos    []defects.Photo         // in the order they were added
	Alike     []defects.AlikeEvidence // what to compare before the offer is accepted
	Elevation defects.Elevation
	Cautions  []defects.Caution
}

// SnagPage is one page of snags. Next is "" on the last page.
type SnagPage struct {
	Items []defects.Snag
	Next  string
}

// RaiseSnag records a defect. From a failed reading it copies requirement and
// values and links both ways; one reading raises one snag.
func (r *Register) RaiseSnag(ctx context.Context, a Actor, siteID string, in RaiseInput) (s defects.Snag, err error) {
	if in, err = cleanRaise(in); err != nil {
		return s, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.RaiseSnag)
		if err != nil {
			return err
		}
		step, reading, err := r.raiseStep(ctx, tx, a, m, siteID, in)
		if err != nil {
			return err
		}
		if s, err = defects.Raise(step); err != nil {
			return err
		}
		// Only now is a number taken: a refusal leaves no gap.
		if s.Number, err = tx.Snags().NextNumber(ctx, siteID); err != nil {
			return err
		}
		s.ID = r.NewID()
		step.Raise.Number, step.Raise.ID = s.Number, s.ID
		return r.storeRaised(ctx, tx, a, m, s, step, reading)
	})
	if err != nil {
		return defects.Snag{}, err
	}
	return s, nil
}

func (r *Register) storeRaised(ctx context.Context, tx Tx, a Actor, m defects.Membership, s defects.Snag, step defects.StepInput, reading *defects.Reading) error {
	if err := tx.Snags().InsertSnag(ctx, s); err != nil {
		return err
	}
	if reading != nil {
		reading.SnagNumber = s.Number
		if err := tx.Readings().UpdateReading(ctx, *reading); err != nil {
			return err
		}
	}
	return r.note(ctx, tx, a, m, s.SiteID, snagEvent(defects.Snag{}, s, step))
}

func cleanRaise(in RaiseInput) (RaiseInput, error) {
	var err error
	for _, f := range []struct {
		name string
		text *string
	}{
		{"requirement", &in.Requirement}, {"text", &in.Text}, {"no_reading_reason", &in.NoReadingReason},
	} {
		if *f.text, err = cleanNote(f.name, *f.text); err != nil {
			return in, err
		}
	}
	if in.Gang, err = cleanText("gang", in.Gang, maxName); err != nil {
		return in, err
	}
	return in, nil
}

// raiseStep looks up all that a raise is decided on.
func (r *Register) raiseStep(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, in RaiseInput) (defects.StepInput, *defects.Reading, error) {
	step := defects.StepInput{Step: defects.StepRaise, By: person(a, m), At: r.Now(), Text: in.Text, Severity: in.Severity}
	site, err := tx.Sites().Site(ctx, siteID)
	if err != nil {
		return step, nil, err
	}
	reading, err := readingToRaise(ctx, tx, m, siteID, in.ReadingID)
	if err != nil {
		return step, nil, err
	}
	if in.Code == "" && reading != nil {
		in.Code = defects.KindForReading(*reading)
	}
	kind, ok := reference.DefectKind(in.Code)
	if !ok {
		return step, nil, defects.RefuseField(defects.Invalid, "code", "unknown_code", "choose a code of the defect catalogue")
	}
	facts := raiseFacts(siteID, m, kind, reading, in)
	elevation, err := locateRaise(ctx, tx, siteID, reading, in, facts)
	if err != nil {
		return step, nil, err
	}
	step.Raise = facts
	if reading != nil {
		seen := evidenceReading(*reading)
		step.Reading = &seen
	}
	if step.Facts.Day, err = dayAt(site, step.At); err != nil {
		return step, nil, err
	}
	step.Photos, err = r.raisePhotos(ctx, tx, m, site, elevation.ID, reading, in.Photos)
	return step, reading, err
}

func readingToRaise(ctx context.Context, tx Tx, m defects.Membership, siteID, id string) (*defects.Reading, error) {
	if id == "" {
		return nil, nil
	}
	rd, err := tx.Readings().Reading(ctx, siteID, id)
	if err != nil {
		return nil, inField(err, "reading")
	}
	if err := mayRead(m, rd); err != nil {
		return nil, err
	}
	if rd.SnagNumber != 0 {
		return nil, defects.RefuseField(defects.Conflict, "reading", "already_raised",
			defects.SnagRef(rd.SnagNumber)+" answers this reading already")
	}
	return &rd, nil
}

func raiseFacts(siteID string, m defects.Membership, kind defects.DefectKind, reading *defects.Reading, in RaiseInput) *defects.RaiseFacts {
	f := &defects.RaiseFacts{
		SiteID: siteID, Code: kind.Code, Title: kind.Name, Stage: kind.Stage, Severity: kind.Severity,
		Quantities: slices.Clone(kind.Quantities), Competent: kind.NeedsCompetent, Extent: in.Extent, Covered: in.Covered,
		Requirement: in.Requirement, Gang: in.Gang, NoReadingReason: in.NoReadingReason,
	}
	if reading != nil {
		if words := defects.RequirementWords(*reading); words != "" {
			f.Requirement = words
			if in.Requirement != "" {
				f.Requirement += "; " + in.Requirement
			}
		}
		if f.Gang == "" {
			f.Gang = reading.Gang
		}
	}
	if f.Gang == "" || m.Role == defects.Operative {
		f.Gang = m.Gang
	}
	return f
}

// locateRaise settles the place: the one given, or else that of the reading.
func locateRaise(ctx context.Context, tx Tx, siteID string, reading *defects.Reading, in RaiseInput, f *defects.RaiseFacts) (defects.Elevation, error) {
	place := defects.Place{
		ElevationID: in.ElevationID, X: in.X, Z: in.Z, Bay: in.Bay, Lift: in.Lift, Opening: in.Opening, Zone: in.Zone,
	}
	bare := in.X == nil && in.Z == nil && in.Bay == 0 && in.Lift == 0 && in.Opening == ""
	if reading != nil && bare && (in.ElevationID == "" || in.ElevationID == reading.Place.ElevationID) {
		place = reading.Place
	}
	if place.ElevationID == "" {
		return defects.Elevation{}, defects.RefuseField(defects.Invalid, "elevation", "place_missing",
			"say on which elevation it is, as seen from outside")
	}
	e, err := tx.Walls().Elevation(ctx, siteID, place.ElevationID)
	if err != nil {
		return e, inField(err, "elevation")
	}
	if place, err = defects.Locate(e, place); err != nil {
		return e, err
	}
	f.Place, f.PlaceWords, f.WalkRank = place, defects.PlaceWords(e.Building, e, place), defects.WalkRank(e, place)
	return e, nil
}

// raisePhotos are the photos given and those of the reading that show the same
// elevation.
func (r *Register) raisePhotos(ctx context.Context, tx Tx, m defects.Membership, site defects.Site, elevationID string, reading *defects.Reading, ids []string) ([]defects.EvidencePhoto, error) {
	photos, err := evidencePhotos(ctx, tx, m, site, ids)
	if err != nil || reading == nil || len(reading.Photos) == 0 {
		return photos, err
	}
	more, err := evidencePhotos(ctx, tx, m, site, reading.Photos)
	if err != nil {
		return nil, err
	}
	for _, p := range more {
		if p.ElevationID == elevationID && !slices.Contains(ids, p.ID) {
			photos = append(photos, p)
		}
	}
	return photos, nil
}

// Snag is one snag with its history and the steps open to the asker.
func (r *Register) Snag(ctx context.Context, a Actor, siteID string, number int) (v SnagView, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if v.Snag, err = snagFor(ctx, tx, a, m, siteID, number); err != nil {
			return err
		}
		for _, c := range defects.StepsFor(v.Snag, person(a, m)) {
			v.Steps = append(v.Steps, StepOffered(c))
		}
		if err := r.fillView(ctx, tx, &v); err != nil {
			return err
		}
		v.Alike, err = r.alikeEvidence(ctx, tx, m, v.Snag, v.Photos)
		return err
	})
	if err != nil {
		return SnagView{}, err
	}
	return v, nil
}

func (r *Register) fillView(ctx context.Context, tx Tx, v *SnagView) error {
	s := v.Snag
	v.Kind, _ = reference.DefectKind(s.Code)
	v.Cautions = reference.CautionsFor(s.Stage)
	if err := r.fillDates(ctx, tx, v); err != nil {
		return err
	}
	var err error
	if v.Elevation, err = tx.Walls().Elevation(ctx, s.SiteID, s.Place.ElevationID); err != nil {
		return err
	}
	if v.History, err = snagHistory(ctx, tx, s); err != nil {
		return err
	}
	if s.ReadingID != "" {
		rd, err := tx.Readings().Reading(ctx, s.SiteID, s.ReadingID)
		if err != nil {
			return err
		}
		v.Reading = &rd
	}
	if len(s.Photos) == 0 {
		return nil
	}
	photos, err := tx.Photos().PhotosByID(ctx, s.SiteID, s.Photos)
	if err != nil {
		return err
	}
	v.Photos = inOrder(s.Photos, photos, func(p defects.Photo) string { return p.ID })
	return nil
}

func (r *Register) fillDates(ctx context.Context, tx Tx, v *SnagView) error {
	site, err := tx.Sites().Site(ctx, v.Snag.SiteID)
	if err != nil {
		return err
	}
	dates, err := datesOf(ctx, tx, site, r.Now(), "")
	if err != nil {
		return err
	}
	item, _ := dates.item(v.Snag, ListFilter{})
	v.Due, v.Also, v.Overdue = item.Due, item.Also, item.Overdue
	return nil
}

// inOrder puts items into the order of their ids.
func inOrder[T any](ids []string, items []T, id func(T) string) []T {
	at := make(map[string]int, len(ids))
	for i, s := range ids {
		at[s] = i
	}
	slices.SortStableFunc(items, func(x, y T) int { return at[id(x)] - at[id(y)] })
	return items
}

// snagFor loads a snag that the asker may see. An operative sees his gang's and
// those he raised himself.
func snagFor(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, number int) (defects.Snag, error) {
	s, err := tx.Snags().Snag(ctx, siteID, number)
	if err != nil {
		return s, err
	}
	if !snagSeen(m, s) {
		return defects.Snag{}, defects.RefuseField(defects.NotFound, "snag", "snag_not_found", "no such snag, or not one of your gang's")
	}
	return s, nil
}

// ownGang forces an operative's lists to his gang.
func ownGang(m defects.Membership, gang string) (string, error) {
	if m.Role != defects.Operative {
		return gang, nil
	}
	if m.Gang == "" || (gang != "" && gang != m.Gang) {
		return "", defects.RefuseField(defects.Forbidden, "gang", "other_gang", "an operative sees the snags of his own gang")
	}
	return m.Gang, nil
}

// ListSnags lists a site's snags in the order asked for; operatives see their
// own gang's only.
func (r *Register) ListSnags(ctx context.Context, a Actor, f SnagFilter, page Page) (SnagPage, error) {
	var out SnagPage
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite)
		if err != nil {
			return err
		}
		f := f
		if f.Gang, err = ownGang(m, f.Gang); err != nil {
			return err
		}
		out.Items, out.Next, err = pageOf(page,
			func(p Page) ([]defects.Snag, error) { return tx.Snags().ListSnags(ctx, f, p) },
			func(s defects.Snag) string { return CursorOfSnag(f.Order, s) })
		return err
	})
	return out, err
}

// snagHistory reads a snag's events back from the log.
func snagHistory(ctx context.Context, tx Tx, s defects.Snag) ([]defects.SnagEvent, error) {
	encoded, err := tx.Log().EntriesOf(ctx, s.SiteID, "snag", s.ID)
	if err != nil {
		return nil, err
	}
	entries, err := decodeEntries(encoded)
	if err != nil {
		return nil, err
	}
	var events []defects.SnagEvent
	for _, e := range entries {
		event, err := readSnagEvent(e)
		if errors.Is(err, errNotAStep) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("history of %s: %w", s.Ref(), err)
		}
		events = append(events, event)
	}
	return events, nil
}
