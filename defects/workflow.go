package defects

import (
	"fmt"
	"slices"
	"strings"
)

// Parts of the steps that are taken by more than one person. A step without
// parts, and the first signature of a close, have the empty part.
const (
	PartAsk    = "ask"    // concede: put the question
	PartGrant  = "grant"  // concede: one of the two grants
	PartRefuse = "refuse" // concede: say no
	PartSecond = "second" // close: the second signature of a critical snag
)

// StepRule is one row of the transition table: who may take a step, from which
// states, and what it must bring. Guards, pages and refusals read the same row.
type StepRule struct {
	Step   Step
	Part   string
	From   []State
	Roles  []Role
	Raiser bool     // whoever raised the snag may as well, whatever the role
	Needs  []string // what must be present, in plain words
}

// StepRules is the transition table, a new slice at each call. Raise comes
// first and has no From.
func StepRules() []StepRule {
	return append(workRules(), decisionRules()...)
}

// workRules are the steps of the ordinary way from raised to closed.
func workRules() []StepRule {
	return []StepRule{
		{Step: StepRaise, Roles: WhoMay(RaiseSnag), Needs: []string{
			"place", "code", "reading or the reason why there is none", "photo, reading or written account",
		}},
		{Step: StepInstruct, From: []State{Raised, Deferred}, Roles: []Role{Clerk, Manager}},
		{Step: StepAcknowledge, From: []State{Instructed}, Roles: []Role{Installer}, Needs: []string{"gang", "planned date"}},
		{Step: StepOffer, From: []State{Instructed}, Roles: []Role{Installer}, Needs: []string{
			"what was done, as rework or repair", "new after-photo of that elevation",
			"for a measured defect a new reading at the same place",
		}},
		{Step: StepRefuse, From: []State{Offered}, Roles: []Role{Clerk}, Needs: []string{
			"reason", "inspection, on site or from the photo",
		}},
		{Step: StepClose, From: []State{Offered}, Roles: []Role{Clerk}, Needs: []string{
			"inspection, on site or from the photo", "for a measured defect a reading that passes",
		}},
		{Step: StepClose, Part: PartSecond, From: []State{Offered}, Roles: []Role{Designer, Manager}, Needs: []string{
			"competence and document of the second person",
		}},
		{Step: StepReopen, From: []State{Closed, Conceded}, Roles: []Role{Clerk, Manager, Owner}, Needs: []string{
			"new photo", "reason",
		}},
	}
}

// decisionRules are the steps in which somebody rules on the snag itself.
func decisionRules() []StepRule {
	askable := []State{Raised, Instructed, Offered, Deferred}
	return []StepRule{
		{Step: StepDispute, From: []State{Instructed}, Roles: []Role{Installer}, Needs: []string{"ground"}},
		{Step: StepDecide, From: []State{Disputed}, Roles: []Role{Manager, Designer}, Needs: []string{"ruling", "reasons"}},
		{Step: StepDefer, From: []State{Raised, Instructed, Deferred}, Roles: []Role{Manager}, Needs: []string{
			"date or event", "reason why it is harmless till then",
		}},
		{Step: StepConcede, Part: PartAsk, From: askable, Roles: []Role{Installer, Manager}, Needs: []string{
			"area", "reason", "for a measured defect the deviation",
		}},
		{Step: StepConcede, Part: PartGrant, From: askable, Roles: []Role{Designer, Owner, Manager}, Needs: []string{
			"designer's technical grant", "owner's or manager's grant of value",
			"for a critical snag the competent person's document",
		}},
		{Step: StepConcede, Part: PartRefuse, From: askable, Roles: []Role{Designer, Owner, Manager}, Needs: []string{"reason"}},
		{
			Step: StepWithdraw, From: []State{Raised, Instructed, Offered, Disputed, Deferred}, Roles: []Role{Manager},
			Raiser: true, Needs: []string{"reason"},
		},
	}
}

// rulesOf lists the rows of one step.
func rulesOf(step Step) []StepRule {
	return slices.DeleteFunc(StepRules(), func(r StepRule) bool { return r.Step != step })
}

// ruleFor finds the row that a step with s falls under.
func ruleFor(s Snag, in StepInput) (StepRule, error) {
	part := ""
	switch in.Step {
	case StepConcede:
		part = in.Concession.Part
	case StepClose:
		if s.FirstSigned.ID != "" {
			part = PartSecond
		}
	}
	rows := rulesOf(in.Step)
	if len(rows) == 0 || in.Step == StepRaise {
		return StepRule{}, errUnknownStep(in.Step)
	}
	for _, r := range rows {
		if r.Part == part {
			return r, nil
		}
	}
	return StepRule{}, RefuseField(Invalid, "concession.part", "unknown_part",
		`must be "ask", "grant" or "refuse", not `+quoted(part))
}

// permits refuses a person whom the row does not name, a state it does not
// start from, and a person who would judge his own work, in this order.
func (r StepRule) permits(s Snag, by Person) error {
	if !r.names(s, by) {
		return r.refuseRole(by)
	}
	if !slices.Contains(r.From, s.State) {
		return Refuse(Conflict, "wrong_state", fmt.Sprintf("%s is %s; to %s it must be %s",
			s.Ref(), s.State, r.words(), orList(r.From)))
	}
	return r.duty(s, by)
}

// RoleMay refuses a person whom no row of a step names, whatever the state of
// the snag; Apply asks the rest. An unknown step is refused with unknown_step.
func RoleMay(s Snag, in StepInput) error {
	rows := rulesOf(in.Step)
	if len(rows) == 0 || in.Step == StepRaise {
		return errUnknownStep(in.Step)
	}
	asked := slices.IndexFunc(rows, func(r StepRule) bool {
		return in.Step == StepConcede && r.Part == in.Concession.Part
	})
	if asked >= 0 {
		rows = rows[asked : asked+1]
	}
	for _, r := range rows {
		if r.names(s, in.By) {
			return nil
		}
	}
	return rows[0].refuseRole(in.By)
}

// names reports whether the row is for a person.
func (r StepRule) names(s Snag, by Person) bool {
	byRaiser := r.Raiser && by.ID != "" && by.ID == s.RaisedBy.ID && by.Role != Auditor
	return byRaiser || slices.Contains(r.Roles, by.Role)
}

func (r StepRule) refuseRole(by Person) error {
	return RefuseRole(string(by.Role), r.words(), r.who())
}

func errUnknownStep(step Step) error {
	return RefuseField(Invalid, "step", "unknown_step", "there is no step "+quoted(string(step)))
}

// duty keeps the duties apart: who did the work offers it and never accepts it.
func (r StepRule) duty(s Snag, by Person) error {
	switch {
	case r.Step == StepRefuse, r.Step == StepClose && r.Part == "":
		if madeGood(s, by) {
			return Refuse(Forbidden, "own_work", by.Name+" made "+s.Ref()+
				" good or offered it and may not judge it; this is for: another clerk")
		}
	case r.Part == PartSecond:
		if madeGood(s, by) || by.ID == s.FirstSigned.ID {
			return Refuse(Forbidden, "own_work", "the second signature on "+s.Ref()+
				" must be another competent person's, designer or manager, who is no party to it")
		}
	case r.Step == StepDecide:
		if by.ID == s.RaisedBy.ID || by.ID == s.DisputeBy.ID || madeGood(s, by) {
			return Refuse(Forbidden, "party_to_dispute", by.Name+
				" is a party to this dispute; this is for: another manager or designer")
		}
	case r.Part == PartGrant:
		return grantDuty(s, by)
	}
	return nil
}

// grantDuty keeps the two grants of a concession apart from each other, from
// the asker and from who offered the work.
func grantDuty(s Snag, by Person) error {
	c := s.Concession
	if c == nil {
		return Refuse(Conflict, "concession_not_asked", "nobody has asked for a concession on "+s.Ref())
	}
	if by.ID == c.AskedBy.ID || madeGood(s, by) {
		return Refuse(Forbidden, "own_work", by.Name+
			" asked for this concession or did the work; this is for: designer, and owner or another manager")
	}
	taken, other := c.Value, c.Technical
	if by.Role == Designer {
		taken, other = c.Technical, c.Value
	}
	if taken.ID != "" {
		return Refuse(Conflict, "already_granted", taken.Name+" has given this grant; the other one is still open")
	}
	if other.ID == by.ID {
		return Refuse(Forbidden, "own_work", "the two grants of a concession must come from two people")
	}
	return nil
}

// madeGood reports whether a person offered the snag or did the making good. A
// name without an account counts too: who is not known to be another may not
// judge.
func madeGood(s Snag, by Person) bool {
	same := func(id string) bool { return id != "" && id == by.ID }
	named := s.MadeGood.ByID == "" && by.Name != "" &&
		strings.EqualFold(strings.TrimSpace(s.MadeGood.ByName), strings.TrimSpace(by.Name))
	return same(s.OfferedBy.ID) || same(s.MadeGood.ByID) || named
}

// words says the step as it reads after "you may not".
func (r StepRule) words() string {
	switch {
	case r.Part == PartAsk:
		return "ask for a concession"
	case r.Part == PartGrant:
		return "grant a concession"
	case r.Part == PartRefuse:
		return "refuse a concession"
	case r.Part == PartSecond:
		return "give the second signature"
	case r.Step == StepDecide:
		return "decide a dispute"
	}
	return string(r.Step)
}

// who lists the people of the row.
func (r StepRule) who() string {
	if r.Raiser {
		return RoleNames(r.Roles) + ", whoever raised it"
	}
	return RoleNames(r.Roles)
}

func orList[T ~string](items []T) string {
	words := make([]string, len(items))
	for i, it := range items {
		words[i] = string(it)
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

func quoted(s string) string { return fmt.Sprintf("%q", clip(s, 40)) }
