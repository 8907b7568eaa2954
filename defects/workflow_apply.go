package defects

import (
	"slices"
	"strings"
	"time"
)

// Days after the instruction by which a snag is due when the instruction does
// not say (common practice, no source): the next day for a critical one,
// working days for the others.
const (
	criticalDays     = 1
	majorWorkingDays = 5
	minorWorkingDays = 10
)

// dayForm is how days are written.
const dayForm = "2006-01-02"

// Apply takes one step with a snag and answers the snag as it then stands. It
// changes nothing of s. Every refusal is an *Error with a stable code. The
// version is left alone: the store counts it.
func Apply(s Snag, in StepInput) (Snag, error) {
	rule, err := ruleFor(s, in)
	if err != nil {
		return s, err
	}
	if err := rule.permits(s, in.By); err != nil {
		return s, err
	}
	next, err := act(copySnag(s), rule, in)
	if err != nil {
		return s, err
	}
	return next, nil
}

// act checks what the step brings and makes the change on its own copy.
func act(s Snag, rule StepRule, in StepInput) (Snag, error) {
	switch in.Step {
	case StepInstruct:
		return instruct(s, in)
	case StepAcknowledge:
		return acknowledge(s, in)
	case StepOffer:
		return offer(s, in)
	case StepRefuse:
		return refuseOffer(s, in)
	case StepClose:
		return signClosed(s, rule, in)
	case StepDispute:
		return dispute(s, in)
	case StepDecide:
		return decide(s, in)
	case StepDefer:
		return deferUntil(s, in)
	case StepConcede:
		return concede(s, rule, in)
	case StepWithdraw:
		return withdraw(s, in)
	default:
		return reopen(s, in)
	}
}

func copySnag(s Snag) Snag {
	s.Photos = slices.Clone(s.Photos)
	s.OfferPhotos = slices.Clone(s.OfferPhotos)
	if s.Concession != nil {
		c := *s.Concession
		s.Concession = &c
	}
	return s
}

func instruct(s Snag, in StepInput) (Snag, error) {
	if in.Due == "" {
		s.OwnDue = DefaultDue(s.Severity, in.day())
	} else if err := checkDay("due", in.Due, in.day()); err != nil {
		return s, err
	} else {
		s.OwnDue = in.Due
	}
	if s.State == Raised || s.Round == 0 {
		s.Round++
	}
	if in.Gang != "" {
		s.Gang = in.Gang
	}
	s.State, s.InstructedAt = Instructed, in.At
	s.DeferUntil, s.PlannedOn = "", ""
	return s, nil
}

func acknowledge(s Snag, in StepInput) (Snag, error) {
	if in.Gang != "" {
		s.Gang = in.Gang
	}
	if s.Gang == "" {
		return s, RefuseField(Invalid, "gang", "gang_missing", "say which gang makes it good")
	}
	if in.PlannedOn == "" {
		return s, RefuseField(Invalid, "planned_on", "planned_date_missing", "say on which day it is planned")
	}
	if err := checkDay("planned_on", in.PlannedOn, in.day()); err != nil {
		return s, err
	}
	s.PlannedOn = in.PlannedOn
	return s, nil
}

func dispute(s Snag, in StepInput) (Snag, error) {
	if !slices.Contains(Grounds(), in.Ground) {
		return s, RefuseField(Invalid, "ground", "ground_missing", "choose a ground: "+orList(Grounds()))
	}
	s.State, s.DisputeBy, s.Ground = Disputed, in.By, in.Ground
	return s, nil
}

func decide(s Snag, in StepInput) (Snag, error) {
	if err := needText(in, "the ruling needs its reasons in writing"); err != nil {
		return s, err
	}
	s.State = Withdrawn
	if in.Stands {
		s.State = Instructed
	}
	s.DisputeBy, s.Ground = Person{}, ""
	return s, nil
}

func deferUntil(s Snag, in StepInput) (Snag, error) {
	if s.Severity == Critical {
		return s, errCriticalDeferred(s)
	}
	if err := needText(in, "say why it is harmless till then"); err != nil {
		return s, err
	}
	event := strings.TrimSpace(in.Event)
	if in.Due == "" && event == "" {
		return s, RefuseField(Invalid, "due", "defer_until_missing", "say until which date or event")
	}
	if in.Due != "" {
		if err := checkDay("due", in.Due, in.day()); err != nil {
			return s, err
		}
	}
	if err := stillReachable(s, in); err != nil {
		return s, err
	}
	s.State, s.DeferUntil = Deferred, in.Due
	if in.Due == "" {
		s.DeferUntil = event
	}
	return s, nil
}

// stillReachable refuses a deferral past the day on which the place is hidden
// or, without a named way to reach it, past the strike of its scaffold. An
// event without a date may come after either.
func stillReachable(s Snag, in StepInput) error {
	f := in.Facts
	before := func(day string) bool { return day != "" && (in.Due == "" || day <= in.Due) }
	if before(f.CoveredOn) {
		return RefuseField(Conflict, "due", "would_be_covered", s.Ref()+" would be hidden by then: "+f.CoveredBy+
			" is planned for "+f.CoveredOn+"; defer it to an earlier date, or move that one")
	}
	if before(f.StrikeOn) && !fromGround(s.Place) && strings.TrimSpace(in.Access) == "" {
		return RefuseField(Conflict, "access", "access_missing", "the scaffold at "+s.Ref()+" is to be struck on "+
			f.StrikeOn+"; say by what means the place is reached after that")
	}
	return nil
}

// fromGround reports whether a place is reached without a scaffold: below 2 m
// (common practice, no source).
func fromGround(p Place) bool { return p.Z != nil && *p.Z < 2000 }

func errCriticalDeferred(s Snag) error {
	return Refuse(Conflict, "critical_not_deferred", s.Ref()+" is critical and cannot be deferred")
}

func withdraw(s Snag, in StepInput) (Snag, error) {
	if err := needText(in, "say why it is taken back; it stays in the register"); err != nil {
		return s, err
	}
	s.State = Withdrawn
	s.DisputeBy, s.Ground, s.FirstSigned = Person{}, "", Person{}
	return s, nil
}

func reopen(s Snag, in StepInput) (Snag, error) {
	if end := in.Facts.PeriodEnds; end != "" && in.day() > end {
		return s, errPeriodOver(s, in.day(), end)
	}
	if err := needText(in, "say what has come back"); err != nil {
		return s, err
	}
	if err := newPhotos(s, in.Photos, s.ClosedAt, "the close"); err != nil {
		return s, err
	}
	s.State = Raised
	s.clearOffer()
	s.Photos = addPhotos(s.Photos, in.Photos)
	s.ClosedAt, s.InstructedAt, s.Concession = time.Time{}, time.Time{}, nil
	s.OwnDue, s.PlannedOn = "", ""
	return s, nil
}

// errPeriodOver sends what comes too late to reopen on its way. The end of the
// period ends no liability, so the text speaks of none. The employer's schedule
// within 14 days: JCT, read at second hand.
func errPeriodOver(s Snag, day, end string) error {
	last := addDays(end, 14)
	text := "the defects period ended on " + end + ", so " + s.Ref() + " is not reopened; "
	if day <= last {
		text += "put the fault on the schedule of defects, which can be issued until " + last
	} else {
		text += "record it as a latent defect or a warranty claim that refers to " + s.Ref()
	}
	return Refuse(Conflict, "period_over", text)
}

// clearOffer takes the present offer off the snag; the history keeps it.
func (s *Snag) clearOffer() {
	s.OfferedBy, s.MadeGood, s.FirstSigned = Person{}, MakingGood{}, Person{}
	s.OfferPhotos, s.OfferReading = nil, ""
}

// day is the day of the step at the site.
func (in StepInput) day() string {
	if in.Facts.Day != "" {
		return in.Facts.Day
	}
	return in.At.UTC().Format(dayForm)
}

func needText(in StepInput, what string) error {
	if strings.TrimSpace(in.Text) == "" {
		return RefuseField(Invalid, "text", "reason_missing", what)
	}
	return nil
}

func checkDay(field, day, today string) error {
	if _, err := time.Parse(dayForm, day); err != nil {
		return RefuseField(Invalid, field, "bad_date", quoted(day)+" is no date; write it as 2026-03-14")
	}
	if day < today {
		return RefuseField(Invalid, field, "date_past", day+" is past")
	}
	return nil
}

func addPhotos(have []string, more []EvidencePhoto) []string {
	for _, p := range more {
		if !slices.Contains(have, p.ID) {
			have = append(have, p.ID)
		}
	}
	return have
}
