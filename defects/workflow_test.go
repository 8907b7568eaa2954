package defects_test

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

var updateWorkflow = flag.Bool("update-workflow", false, "write testdata/workflow.golden anew")

// The matrix of every step, role and state was read through by hand against
// the transition table; the golden file keeps it from changing unseen.
func TestEveryRoleStepAndState(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	fmt.Fprintf(&b, "%-16s %-10s", "step", "role")
	for _, st := range defects.States() {
		fmt.Fprintf(&b, " %-10s", st)
	}
	b.WriteString("\n")
	for _, rule := range defects.StepRules() {
		if rule.Step == defects.StepRaise {
			continue
		}
		for _, role := range defects.Roles() {
			fmt.Fprintf(&b, "%-16s %-10s", strings.TrimSpace(string(rule.Step)+" "+rule.Part), role)
			for _, st := range defects.States() {
				fmt.Fprintf(&b, " %-10s", verdictOn(t, rule, role, st))
			}
			b.WriteString("\n")
		}
	}
	got := strings.ReplaceAll(b.String(), " \n", "\n")
	for strings.Contains(got, " \n") {
		got = strings.ReplaceAll(got, " \n", "\n")
	}
	const golden = "testdata/workflow.golden"
	if *updateWorkflow {
		require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

// verdictOn applies a step to a snag put into a state: "may" when role and
// state let it through, else what refuses it. StepsFor must agree.
func verdictOn(t *testing.T, rule defects.StepRule, role defects.Role, st defects.State) string {
	t.Helper()
	by := everyone()[role]
	by.ID, by.Name = "nobody-involved", "Nobody Involved"
	s := inState(st, rule.Part)
	in := defects.StepInput{Step: rule.Step, By: by, At: at(500)}
	if rule.Step == defects.StepConcede {
		in.Concession.Part = rule.Part
	}
	_, err := defects.Apply(s, in)
	answer := "may"
	var e *defects.Error
	if err != nil {
		require.ErrorAs(t, err, &e)
		switch e.Code {
		case "role_forbidden":
			answer = "-"
		case "wrong_state":
			answer = "state"
		}
	}
	i := slices.Index(defects.Steps(), rule.Step)
	choice := defects.StepsFor(s, by)[i]
	if rule.Step == defects.StepConcede {
		require.Equal(t, answer == "may", slices.Contains(choice.Parts, rule.Part), "%s %s as %s: %s", rule.Step, rule.Part, role, choice.Why)
	} else {
		require.Equal(t, answer == "may", choice.May, "%s as %s in %s: %s", rule.Step, role, st, choice.Why)
	}
	require.Equal(t, choice.May, choice.Why == "")
	return answer
}

// inState is a snag put into a state, as the part of a step needs it.
func inState(st defects.State, part string) defects.Snag {
	s := defects.Snag{
		Number: 1, Severity: defects.Major, State: st, Round: 1, RaisedBy: clerkA, RaisedAt: at(0), InstructedAt: at(10),
		OfferedBy: installerA, Place: bay3lift2,
	}
	switch part {
	case defects.PartSecond:
		s.Severity, s.FirstSigned = defects.Critical, clerkA
	case defects.PartGrant, defects.PartRefuse:
		s.Concession = &defects.Concession{AskedBy: installerA}
	}
	return s
}

func TestTheWholeWayFromRaisedToClosed(t *testing.T) {
	t.Parallel()
	h := begin(t, measured)
	require.Equal(t, defects.Raised, h.snag.State)
	require.Equal(t, "plumb", h.snag.Quantity)
	require.Equal(t, 0, h.snag.Round)
	require.Equal(t, "14 mm against at most 8 mm", h.snag.ReadingText)

	h.take(instructing(1))
	require.Equal(t, "2026-06-08", h.snag.OwnDue, "a major snag is due five working days on")
	require.Equal(t, 1, h.snag.Round)
	h.take(step(defects.StepAcknowledge, installerA, 2, func(in *defects.StepInput) { in.PlannedOn = "2026-06-03" }))
	require.Equal(t, defects.Instructed, h.snag.State)

	h.take(offering(3, again("9", defects.Fail)))
	require.Equal(t, []string{"before", "after-d"}, h.snag.Photos)
	h.refuses(closing(4, clerkA, h.seen(defects.Fail)), defects.Conflict, "reading_does_not_pass")
	h.take(refusing(4, clerkA, text("still 9 mm")))
	require.Equal(t, defects.Instructed, h.snag.State)
	require.Equal(t, 2, h.snag.Round)
	require.Empty(t, h.snag.OfferPhotos)
	require.Contains(t, h.snag.Photos, "after-d", "a refused offer's photos stay evidence")

	h.take(offering(5, again("7", defects.Pass)))
	h.take(closing(6, clerkA, h.seen(defects.Pass)))
	require.Equal(t, defects.Closed, h.snag.State)
	require.Equal(t, at(60), h.snag.ClosedAt)

	again, err := defects.Replay(h.events)
	require.NoError(t, err)
	require.Equal(t, h.snag, again)
}

func TestTheManagerIsToldOfTheSecondRefusal(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1))
	for n := 2; n < 8; n += 2 {
		h.take(offering(n)).take(refusing(n+1, clerkA, text("not there yet")))
	}
	var told []bool
	for _, e := range h.events {
		if e.Input.Step == defects.StepRefuse {
			told = append(told, e.ForManager())
		}
	}
	require.Equal(t, []bool{false, true, true}, told)
	require.Equal(t, 4, h.snag.Round)
}

// J7 of the jobs: four refusals, each naming who may; a critical snag waits for
// its second signature.
func TestDutiesStaySeparate(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1)).take(offering(2))
	e := h.refuses(closing(3, installerA), defects.Forbidden, "role_forbidden")
	require.Contains(t, e.Text, "clerk")

	h.take(conceding(defects.PartAsk, installerA, 3))
	e = h.refuses(conceding(defects.PartGrant, clerkA, 4), defects.Forbidden, "role_forbidden")
	require.Contains(t, e.Text, "designer, owner, manager")

	own := begin(t).take(instructing(1)).take(offering(2, func(in *defects.StepInput) {
		in.MadeGood.ByID, in.MadeGood.ByName = clerkA.ID, clerkA.Name
	}))
	e = own.refuses(closing(3, clerkA), defects.Forbidden, "own_work")
	require.Contains(t, e.Text, "another clerk")
	own.refuses(step(defects.StepRefuse, clerkA, 3, text("x")), defects.Forbidden, "own_work")
	own.take(closing(3, clerkB))

	named := begin(t).take(instructing(1)).take(offering(2, func(in *defects.StepInput) { in.MadeGood.ByName = " ann clerk" }))
	named.refuses(closing(3, clerkA), defects.Forbidden, "own_work")

	for _, s := range defects.Steps() {
		for _, st := range defects.States() {
			_, err := defects.Apply(inState(st, ""), defects.StepInput{Step: s, By: auditorA, Concession: defects.ConcessionInput{Part: "ask"}})
			refusedAs(t, err, defects.Forbidden, "role_forbidden")
		}
	}
}

func TestACriticalSnagNeedsTwoSignaturesOnSite(t *testing.T) {
	t.Parallel()
	h := begin(t, critical).take(instructing(1))
	require.Equal(t, "2026-06-02", h.snag.OwnDue)
	h.refuses(offering(2, func(in *defects.StepInput) { in.Photos[0].Grade = defects.GradeB }), defects.Conflict, "photo_grade")
	h.take(offering(2))
	h.refuses(closing(3, clerkA, func(in *defects.StepInput) { in.Inspection = defects.FromPhoto }), defects.Conflict, "critical_needs_visit")
	h.refuses(closing(3, managerA), defects.Forbidden, "role_forbidden")
	h.take(closing(3, clerkA))
	require.Equal(t, defects.Offered, h.snag.State, "it waits for the second signature")
	require.Equal(t, clerkA, h.snag.FirstSigned)
	e := h.refuses(closing(4, clerkB), defects.Forbidden, "role_forbidden")
	require.Contains(t, e.Text, "second signature")
	h.refuses(closing(4, designerA), defects.Invalid, "reason_missing")
	sameMan := clerkA
	sameMan.Role = defects.Designer
	h.refuses(closing(4, sameMan, text("fire engineer, letter 7")), defects.Forbidden, "own_work")
	h.take(closing(4, designerA, text("fire engineer, letter 7")))
	require.Equal(t, defects.Closed, h.snag.State)

	refused := begin(t, critical).take(instructing(1)).take(offering(2)).take(closing(3, clerkA)).
		take(refusing(4, clerkB, text("gap behind the pipe")))
	require.Empty(t, refused.snag.FirstSigned)
}

func TestADisputeIsDecidedByNeitherParty(t *testing.T) {
	t.Parallel()
	h := begin(t, func(in *defects.StepInput) { in.By = managerA }).take(instructing(1))
	h.refuses(step(defects.StepDispute, installerA, 2), defects.Invalid, "ground_missing")
	h.take(step(defects.StepDispute, installerA, 2, func(in *defects.StepInput) { in.Ground = defects.WithinTolerance }))
	stands := func(yes bool) func(*defects.StepInput) {
		return func(in *defects.StepInput) { in.Stands = yes; in.Text = "measured together: 95 mm" }
	}
	h.refuses(step(defects.StepDecide, managerA, 3, stands(true)), defects.Forbidden, "party_to_dispute")
	h.refuses(step(defects.StepDecide, managerB, 3), defects.Invalid, "reason_missing")
	falls := *h
	falls.take(step(defects.StepDecide, designerA, 3, stands(false)))
	require.Equal(t, defects.Withdrawn, falls.snag.State)
	h.take(step(defects.StepDecide, managerB, 3, stands(true)))
	require.Equal(t, defects.Instructed, h.snag.State)
	require.Equal(t, 1, h.snag.Round)
}

func TestDeferring(t *testing.T) {
	t.Parallel()
	deferring := func(edit ...func(*defects.StepInput)) defects.StepInput {
		return step(defects.StepDefer, managerA, 1, append([]func(*defects.StepInput){text("out of the rain")}, edit...)...)
	}
	until := func(day string) func(*defects.StepInput) { return func(in *defects.StepInput) { in.Due = day } }
	begin(t, critical).refuses(deferring(until("2026-07-01")), defects.Conflict, "critical_not_deferred")
	h := begin(t)
	h.refuses(deferring(), defects.Invalid, "defer_until_missing")
	h.refuses(deferring(until("2026-07-01"), text(" ")), defects.Invalid, "reason_missing")
	h.refuses(deferring(until("2026-05-31")), defects.Invalid, "date_past")
	h.refuses(deferring(until("31 May")), defects.Invalid, "bad_date")

	covered := func(in *defects.StepInput) { in.Facts.CoveredOn, in.Facts.CoveredBy = "2026-06-20", "Slips starts" }
	e := h.refuses(deferring(until("2026-06-20"), covered), defects.Conflict, "would_be_covered")
	require.Contains(t, e.Text, "Slips starts")
	h.refuses(deferring(covered, func(in *defects.StepInput) { in.Event = "delivery of beads" }), defects.Conflict, "would_be_covered")

	// J24 of the jobs: past the strike only with a named means of access.
	struck := func(in *defects.StepInput) { in.Facts.StrikeOn = "2026-06-18" }
	h.refuses(deferring(until("2026-07-01"), struck), defects.Conflict, "access_missing")
	low := begin(t, func(in *defects.StepInput) {
		in.Raise.Place = defects.Place{ElevationID: "north", X: mm(1000), Z: mm(1999), Bay: 1, Lift: 1}
	})
	low.take(deferring(until("2026-07-01"), struck))
	withLift := *h
	withLift.take(deferring(until("2026-07-01"), struck, func(in *defects.StepInput) { in.Access = "mobile platform from the car park" }))

	h.take(deferring(until("2026-06-19"), covered))
	require.Equal(t, defects.Deferred, h.snag.State)
	h.take(instructing(2))
	require.Equal(t, 1, h.snag.Round)
	require.Empty(t, h.snag.DeferUntil)
}

func TestWithdrawing(t *testing.T) {
	t.Parallel()
	own := begin(t, func(in *defects.StepInput) { in.By = operativeA })
	own.refuses(step(defects.StepWithdraw, operativeA, 1), defects.Invalid, "reason_missing")
	e := own.refuses(step(defects.StepWithdraw, clerkA, 1, text("mistake")), defects.Forbidden, "role_forbidden")
	require.Contains(t, e.Text, "whoever raised it")
	asAuditor := operativeA
	asAuditor.Role = defects.Auditor
	own.refuses(step(defects.StepWithdraw, asAuditor, 1, text("mistake")), defects.Forbidden, "role_forbidden")
	own.take(step(defects.StepWithdraw, operativeA, 1, text("mistake")))
	require.Equal(t, defects.Withdrawn, own.snag.State)
	closed := begin(t).take(instructing(1)).take(offering(2)).take(closing(3, clerkA))
	closed.refuses(step(defects.StepWithdraw, managerA, 4, text("mistake")), defects.Conflict, "wrong_state")
}

// J10 of the jobs: completed 14 March 2025, twelve months.
func TestReopeningEndsWithTheDefectsPeriod(t *testing.T) {
	t.Parallel()
	h := begin(t).take(instructing(1)).take(offering(2)).take(closing(3, clerkA))
	photo := func(in *defects.StepInput) {
		in.Text = "cracked again at the same corner"
		in.Photos = []defects.EvidencePhoto{{ID: "crack", ElevationID: "north", Grade: defects.GradeB, TakenAt: at(35)}}
	}
	on := func(day, completed string) func(*defects.StepInput) {
		return func(in *defects.StepInput) {
			in.Facts.Day = day
			in.Facts.PeriodEnds = defects.PeriodEnds(defects.Building{CompletedOn: completed})
		}
	}
	h.refuses(step(defects.StepReopen, ownerA, 4, on("2026-03-12", "2025-03-14")), defects.Invalid, "reason_missing")
	h.refuses(step(defects.StepReopen, ownerA, 4, text("x")), defects.Invalid, "photo_missing")
	h.refuses(step(defects.StepReopen, ownerA, 4, photo, func(in *defects.StepInput) { in.Photos[0].ID = "before" }), defects.Conflict, "photo_reused")
	h.refuses(step(defects.StepReopen, ownerA, 4, photo, func(in *defects.StepInput) { in.Photos[0].TakenAt = at(30) }), defects.Conflict, "photo_too_old")

	schedule := h.refuses(step(defects.StepReopen, ownerA, 4, photo, on("2026-03-20", "2025-03-14")), defects.Conflict, "period_over")
	require.Contains(t, schedule.Text, "schedule of defects")
	require.Contains(t, schedule.Text, "2026-03-28")
	late := h.refuses(step(defects.StepReopen, ownerA, 4, photo, on("2026-04-02", "2025-03-14")), defects.Conflict, "period_over")
	require.Contains(t, late.Text, "latent defect or a warranty claim")
	for _, e := range []*defects.Error{schedule, late} {
		require.NotContains(t, strings.ToLower(e.Text), "liab")
	}
	otherBlock := *h
	otherBlock.take(step(defects.StepReopen, ownerA, 4, photo, on("2026-04-02", "2025-06-30")))

	h.take(step(defects.StepReopen, ownerA, 4, photo, on("2026-03-12", "2025-03-14")))
	require.Equal(t, defects.Raised, h.snag.State)
	require.Zero(t, h.snag.ClosedAt)
	h.take(instructing(5))
	require.Equal(t, 2, h.snag.Round, "reopened work starts a new round")
	replayed, err := defects.Replay(h.events)
	require.NoError(t, err)
	require.Equal(t, h.snag, replayed)
}

func TestInstructingAndAcknowledging(t *testing.T) {
	t.Parallel()
	h := begin(t, minor)
	h.refuses(instructing(1, func(in *defects.StepInput) { in.Due = "2026-05-30" }), defects.Invalid, "date_past")
	h.refuses(instructing(1, func(in *defects.StepInput) { in.Due = "soon" }), defects.Invalid, "bad_date")
	dated := *h
	dated.take(instructing(1, func(in *defects.StepInput) { in.Due = "2026-06-05"; in.Gang = "B" }))
	require.Equal(t, "2026-06-05", dated.snag.OwnDue)
	require.Equal(t, "B", dated.snag.Gang)
	h.take(instructing(1))
	require.Equal(t, "2026-06-15", h.snag.OwnDue, "a minor snag is due ten working days on")
	h.refuses(step(defects.StepAcknowledge, installerA, 2), defects.Invalid, "planned_date_missing")
	noGang := begin(t, func(in *defects.StepInput) { in.Raise.Gang = "" }).take(instructing(1))
	noGang.refuses(step(defects.StepAcknowledge, installerA, 2, func(in *defects.StepInput) { in.PlannedOn = "2026-06-02" }), defects.Invalid, "gang_missing")
	_, err := defects.Apply(h.snag, defects.StepInput{Step: "explode", By: clerkA})
	refusedAs(t, err, defects.Invalid, "unknown_step")
	_, err = defects.Apply(h.snag, conceding("perhaps", managerA, 2))
	refusedAs(t, err, defects.Invalid, "unknown_part")
}

func TestWhoMayIsSaidOnce(t *testing.T) {
	t.Parallel()
	why := func(s defects.Snag, p defects.Person, step defects.Step) defects.StepChoice {
		for _, c := range defects.StepsFor(s, p) {
			if c.Step == step {
				return c
			}
		}
		return defects.StepChoice{}
	}
	s := inState(defects.Offered, "")
	require.Equal(t, "as clerk you may do none of these; ask for a concession: installer, manager; "+
		"grant a concession: designer, owner, manager; refuse a concession: designer, owner, manager", why(s, clerkA, defects.StepConcede).Why)
	require.Equal(t, "as owner you may not close; this is for: clerk", why(s, ownerA, defects.StepClose).Why)
	require.Equal(t, []string{"ask"}, why(s, managerA, defects.StepConcede).Parts)
	require.Equal(t, "nobody has asked for a concession on SN-0001", why(s, designerA, defects.StepConcede).Why)
	require.Equal(t, "SN-0001 is offered; to instruct it must be raised or deferred", why(s, clerkA, defects.StepInstruct).Why)
	s.Severity, s.State = defects.Critical, defects.Raised
	require.Equal(t, "SN-0001 is critical and cannot be deferred", why(s, managerA, defects.StepDefer).Why)
}
