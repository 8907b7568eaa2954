package register

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// StepRequest is what somebody takes a step with; only the fields that the
// step needs are read.
type StepRequest struct {
	Step       defects.Step
	Text       string // instruction, reason, ruling, what was seen
	Due        string // "2006-01-02": instruct, defer, refuse
	Gang       string
	PlannedOn  string
	Ground     defects.DisputeGround
	Stands     *bool
	Inspection string // "on-site" or "from-photo"
	MadeGood   defects.MakingGood
	Photos     []string // offer, reopen, refuse, close
	ReadingID  string   // offer
	Concession defects.ConcessionInput
	Event      string // defer
	Access     string // defer past the strike: how the place is reached
	Confirmed  bool
}

// StepSnag takes one step with a snag. A lost race answers Stale with the
// present state in Details.
func (r *Register) StepSnag(ctx context.Context, a Actor, siteID string, number, version int, in StepRequest) (next defects.Snag, err error) {
	if in, err = cleanStep(in); err != nil {
		return next, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.member(ctx, tx, a, siteID)
		if err != nil {
			return err
		}
		s, err := snagFor(ctx, tx, a, m, siteID, number)
		if err != nil {
			return err
		}
		if err := mayNow(s, version, in, person(a, m)); err != nil {
			return err
		}
		step, reading, err := r.stepInput(ctx, tx, a, m, s, in)
		if err != nil {
			return err
		}
		if next, err = defects.Apply(s, step); err != nil {
			return err
		}
		return r.storeStep(ctx, tx, a, m, s, &next, step, reading)
	})
	if err == nil {
		return next, nil
	}
	return defects.Snag{}, r.tellCurrent(ctx, siteID, number, err)
}

// mayNow refuses a role that never takes the step before it looks at the
// version, and the version before the state: who saw an older snag is told so.
func mayNow(s defects.Snag, version int, in StepRequest, by defects.Person) error {
	if err := defects.RoleMay(s, defects.StepInput{Step: in.Step, By: by, Concession: in.Concession}); err != nil {
		return err
	}
	if err := checkVersion(version, s.Version, "snag"); err != nil {
		if errors.Is(err, defects.Stale) {
			return staleSnag(s)
		}
		return err
	}
	return nil
}

func (r *Register) storeStep(ctx context.Context, tx Tx, a Actor, m defects.Membership, s defects.Snag, next *defects.Snag, step defects.StepInput, reading *defects.Reading) error {
	if err := tx.Snags().UpdateSnag(ctx, *next); err != nil {
		return err
	}
	next.Version++
	// A new reading that fails again is answered by this snag, not by another.
	if step.Step == defects.StepOffer && reading != nil && reading.SnagNumber == 0 && reading.Verdict.Outcome != defects.Pass {
		reading.SnagNumber = s.Number
		if err := tx.Readings().UpdateReading(ctx, *reading); err != nil {
			return err
		}
	}
	return r.note(ctx, tx, a, m, s.SiteID, snagEvent(s, *next, step))
}

// staleSnag is the refusal of a step made on an older version.
func staleSnag(s defects.Snag) error {
	return &defects.Error{
		Kind: defects.Stale, Text: s.Ref() + " was changed meanwhile and is now " + string(s.State) + "; look at it again",
		Details: []defects.Detail{
			{Field: "version", Code: "current_version", Text: strconv.Itoa(s.Version)},
			{Field: "state", Code: "current_state", Text: string(s.State)},
			{Field: "round", Code: "current_round", Text: strconv.Itoa(s.Round)},
		},
	}
}

// tellCurrent adds the present state to a race that only the store noticed.
func (r *Register) tellCurrent(ctx context.Context, siteID string, number int, err error) error {
	e, ok := asError(err)
	if !ok || e.Kind != defects.Stale || len(e.Details) > 1 {
		return err
	}
	_ = r.Store.Read(ctx, func(tx Tx) error {
		s, rerr := tx.Snags().Snag(ctx, siteID, number)
		if rerr == nil {
			err = staleSnag(s)
		}
		return nil
	})
	return err
}

func cleanStep(in StepRequest) (StepRequest, error) {
	var err error
	for _, f := range []struct {
		name string
		text *string
	}{
		{"text", &in.Text},
		{"event", &in.Event},
		{"access", &in.Access},
		{"made_good.text", &in.MadeGood.Text},
		{"concession.area", &in.Concession.Area},
		{"concession.conditions", &in.Concession.Conditions},
		{"concession.document", &in.Concession.Document},
	} {
		if *f.text, err = cleanNote(f.name, *f.text); err != nil {
			return in, err
		}
	}
	for _, f := range []struct {
		name string
		text *string
	}{
		{"gang", &in.Gang},
		{"made_good.product", &in.MadeGood.Product},
		{"made_good.batch", &in.MadeGood.Batch},
		{"made_good.by", &in.MadeGood.ByName},
	} {
		if *f.text, err = cleanText(f.name, *f.text, maxName); err != nil {
			return in, err
		}
	}
	if !in.MadeGood.Started.IsZero() {
		in.MadeGood.Started = in.MadeGood.Started.UTC().Truncate(time.Microsecond)
	}
	for field, day := range map[string]string{"due": in.Due, "planned_on": in.PlannedOn, "concession.expires": in.Concession.Expires} {
		if err := checkDate(field, day); err != nil {
			return in, err
		}
	}
	return in, nil
}

// stepInput looks up all that a step is decided on. The reading it answers is
// the one newly offered.
func (r *Register) stepInput(ctx context.Context, tx Tx, a Actor, m defects.Membership, s defects.Snag, in StepRequest) (defects.StepInput, *defects.Reading, error) {
	step := defects.StepInput{
		Step: in.Step, By: person(a, m), At: r.Now(), Text: in.Text, Due: in.Due, Gang: in.Gang, PlannedOn: in.PlannedOn,
		Ground: in.Ground, Inspection: in.Inspection, Event: in.Event, Access: in.Access, Confirmed: in.Confirmed,
	}
	site, err := tx.Sites().Site(ctx, s.SiteID)
	if err != nil {
		return step, nil, err
	}
	if step.Facts.Day, err = dayAt(site, step.At); err != nil {
		return step, nil, err
	}
	switch in.Step {
	case defects.StepOffer:
		return r.offerInput(ctx, tx, m, site, s, in, step)
	case defects.StepRefuse, defects.StepReopen:
		step.Photos, err = evidencePhotos(ctx, tx, m, site, in.Photos)
		if err == nil && in.Step == defects.StepReopen {
			step.Facts.PeriodEnds, err = periodEnds(ctx, tx, s)
		}
	case defects.StepClose:
		if step.Photos, err = evidencePhotos(ctx, tx, m, site, in.Photos); err == nil {
			step.Reading, err = readingSeen(ctx, tx, s.SiteID, s.OfferReading)
		}
	case defects.StepDecide:
		if in.Stands == nil {
			err = defects.RefuseField(defects.Invalid, "stands", "ruling_missing", "say whether the defect stands or falls")
		} else {
			step.Stands = *in.Stands
		}
	case defects.StepDefer:
		err = coverFacts(ctx, tx, s, &step)
	case defects.StepConcede:
		err = concedeInput(ctx, tx, s, in, &step)
	}
	return step, nil, err
}

func (r *Register) offerInput(ctx context.Context, tx Tx, m defects.Membership, site defects.Site, s defects.Snag, in StepRequest, step defects.StepInput) (defects.StepInput, *defects.Reading, error) {
	var err error
	if step.Photos, err = evidencePhotos(ctx, tx, m, site, in.Photos); err != nil {
		return step, nil, err
	}
	step.MadeGood = in.MadeGood
	if id := in.MadeGood.ByID; id != "" {
		members, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: s.SiteID, AccountID: id})
		if err != nil {
			return step, nil, err
		}
		if len(members) == 0 {
			return step, nil, defects.RefuseField(defects.NotFound, "made_good.by", "member_not_found", "nobody of this site has that account")
		}
		step.MadeGood.ByName = members[0].Name
	}
	if in.ReadingID == "" {
		return step, nil, nil
	}
	rd, err := tx.Readings().Reading(ctx, s.SiteID, in.ReadingID)
	if err != nil {
		return step, nil, inField(err, "reading")
	}
	if err := mayRead(m, rd); err != nil {
		return step, nil, err
	}
	if err := ownWord(ctx, tx, rd); err != nil {
		return step, nil, err
	}
	seen := evidenceReading(rd)
	step.Reading = &seen
	return step, &rd, nil
}

// ownWord keeps an offer from resting on a reading that carries the name of one
// who judges it, but was entered by another: it would look like his own look.
// Entry refuses such a reading already; roles may have changed since.
func ownWord(ctx context.Context, tx Tx, rd defects.Reading) error {
	if rd.ByID == rd.EnteredBy || rd.EnteredBy == SystemID {
		return nil
	}
	members, err := tx.People().Memberships(ctx, MembershipFilter{SiteID: rd.SiteID})
	if err != nil {
		return err
	}
	role := func(id string) defects.Role {
		at := slices.IndexFunc(members, func(m defects.Membership) bool { return m.AccountID == id })
		if at < 0 {
			return ""
		}
		return members[at].Role
	}
	if accepting(role(rd.ByID)) && !namesOthers(role(rd.EnteredBy)) {
		return defects.RefuseField(defects.Conflict, "reading", "reading_by_other",
			"this reading names "+rd.ByName+", who judges the work, but "+rd.EnteredName+" entered it; it proves no independent measurement")
	}
	return nil
}

func readingSeen(ctx context.Context, tx Tx, siteID, id string) (*defects.EvidenceReading, error) {
	if id == "" {
		return nil, nil
	}
	rd, err := tx.Readings().Reading(ctx, siteID, id)
	if err != nil {
		return nil, err
	}
	seen := evidenceReading(rd)
	return &seen, nil
}

func periodEnds(ctx context.Context, tx Tx, s defects.Snag) (string, error) {
	e, err := tx.Walls().Elevation(ctx, s.SiteID, s.Place.ElevationID)
	if err != nil {
		return "", err
	}
	buildings, err := tx.Walls().Buildings(ctx, s.SiteID)
	if err != nil {
		return "", err
	}
	for _, b := range buildings {
		if b.ID == e.BuildingID {
			return defects.PeriodEnds(b), nil
		}
	}
	return "", fmt.Errorf("building %s of elevation %s is not on site %s", e.BuildingID, e.ID, s.SiteID)
}

func coverFacts(ctx context.Context, tx Tx, s defects.Snag, step *defects.StepInput) error {
	milestones, err := tx.Sites().Milestones(ctx, s.SiteID)
	if err != nil {
		return err
	}
	f := &step.Facts
	f.CoveredOn, f.CoveredBy = defects.NextCoverUp(s.Stage, s.Place, f.Day, milestones, reference.Stages())
	f.StrikeOn = defects.NextStrike(s.Place, f.Day, milestones)
	return nil
}

// concedeInput looks up the latest measured value of the defect and the terms
// of a concession that is to be repeated. Neither is taken from the asker.
func concedeInput(ctx context.Context, tx Tx, s defects.Snag, in StepRequest, step *defects.StepInput) error {
	c := in.Concession
	c.FromTerms, c.FromPlace, c.FromCode = nil, defects.Place{}, ""
	if c.From != 0 {
		from, err := tx.Snags().Snag(ctx, s.SiteID, c.From)
		if err != nil {
			return inField(err, "concession.from")
		}
		c.FromPlace, c.FromCode = from.Place, from.Code
		if from.State == defects.Conceded {
			c.FromTerms = from.Concession
		}
	}
	step.Concession = c
	id := s.ReadingID
	if s.State == defects.Offered && s.OfferReading != "" {
		id = s.OfferReading
	}
	if id == "" {
		return nil
	}
	rd, err := tx.Readings().Reading(ctx, s.SiteID, id)
	if err != nil {
		return err
	}
	value := rd.Value
	step.Facts.Measured, step.Facts.Short, step.Facts.Unit = &value, defects.FallsShort(rd), rd.Unit
	return nil
}
