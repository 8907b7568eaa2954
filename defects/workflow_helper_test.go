package defects_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// The people of the invented site that the tests of the workflow share.
var (
	clerkA     = defects.Person{ID: "clerk-a", Name: "Ann Clerk", Role: defects.Clerk}
	clerkB     = defects.Person{ID: "clerk-b", Name: "Bo Clerk", Role: defects.Clerk}
	installerA = defects.Person{ID: "inst-a", Name: "Ian Installer", Role: defects.Installer}
	operativeA = defects.Person{ID: "op-a", Name: "Oda Operative", Role: defects.Operative}
	auditorA   = defects.Person{ID: "aud-a", Name: "Ada Auditor", Role: defects.Auditor}
	designerA  = defects.Person{ID: "des-a", Name: "Dee Designer", Role: defects.Designer}
	managerA   = defects.Person{ID: "man-a", Name: "Max Manager", Role: defects.Manager}
	managerB   = defects.Person{ID: "man-b", Name: "Mia Manager", Role: defects.Manager}
	ownerA     = defects.Person{ID: "own-a", Name: "Olu Owner", Role: defects.Owner}
)

func everyone() map[defects.Role]defects.Person {
	return map[defects.Role]defects.Person{
		defects.Clerk: clerkA, defects.Installer: installerA, defects.Operative: operativeA, defects.Auditor: auditorA,
		defects.Designer: designerA, defects.Manager: managerA, defects.Owner: ownerA,
	}
}

// at is noon UTC some minutes into Monday 1 June 2026.
func at(minutes int) time.Time {
	return time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC).Add(time.Duration(minutes) * time.Minute)
}

func mm(n int64) *defects.MM { v := defects.MM(n); return &v }

func dec(s string) *defects.Decimal { d := defects.MustDecimal(s); return &d }

var bay3lift2 = defects.Place{ElevationID: "north", Bay: 3, Lift: 2}

// raising is a sound raise of a seen, major snag in bay 3, lift 2.
func raising(edit ...func(*defects.StepInput)) defects.StepInput {
	in := defects.StepInput{
		Step: defects.StepRaise, By: clerkA, At: at(0), Text: "no diagonal patch at the head",
		Photos: []defects.EvidencePhoto{{ID: "before", ElevationID: "north", Grade: defects.GradeA, ReceivedAt: at(0)}},
		Raise: &defects.RaiseFacts{
			ID: "snag-1", SiteID: "site", Number: 112, Code: "BM-05", Title: "No diagonal patch", Stage: "BM",
			Severity: defects.Major, Place: bay3lift2, PlaceWords: "North / bay 3 / lift 2", Gang: "A",
		},
	}
	for _, e := range edit {
		e(&in)
	}
	return in
}

// measured makes a raise one of a failed reading of plumb.
func measured(in *defects.StepInput) {
	in.Raise.Code, in.Raise.Quantities = "CR-01", []string{"plumb"}
	in.Reading = &defects.EvidenceReading{
		ID: "first", Quantity: "plumb", MeasuredAt: at(-60), Place: bay3lift2, Outcome: defects.Fail,
		Value: defects.MustDecimal("14"), Text: "14 mm against at most 8 mm",
	}
}

func critical(in *defects.StepInput) {
	in.Raise.Code, in.Raise.Severity, in.Raise.Competent = "FB-01", defects.Critical, "fire"
}

func minor(in *defects.StepInput) { in.Raise.Severity = defects.Minor }

// history applies steps one after another, every one of which must be taken.
type history struct {
	t      *testing.T
	snag   defects.Snag
	events []defects.SnagEvent
}

func begin(t *testing.T, edit ...func(*defects.StepInput)) *history {
	t.Helper()
	in := raising(edit...)
	s, err := defects.Raise(in)
	require.NoError(t, err)
	return &history{t: t, snag: s, events: []defects.SnagEvent{{Input: in, After: s.State}}}
}

func (h *history) take(in defects.StepInput) *history {
	h.t.Helper()
	next, err := defects.Apply(h.snag, in)
	require.NoError(h.t, err)
	h.events = append(h.events, defects.SnagEvent{Input: in, Before: h.snag.State, After: next.State, Round: next.Round})
	next.Version++
	h.snag = next
	return h
}

func (h *history) refuses(in defects.StepInput, kind defects.Kind, code string) *defects.Error {
	h.t.Helper()
	before := h.snag
	after, err := defects.Apply(h.snag, in)
	require.Equal(h.t, before, after, "a refused step changes nothing")
	return refusedAs(h.t, err, kind, code)
}

func refusedAs(t *testing.T, err error, kind defects.Kind, code string) *defects.Error {
	t.Helper()
	var e *defects.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, code, e.CodeOrKind(), e.Error())
	require.Equal(t, kind, e.Kind, e.Error())
	require.NotEmpty(t, e.Text)
	return e
}

// Sound inputs of each step, ten minutes apart by n.
func step(s defects.Step, by defects.Person, n int, edit ...func(*defects.StepInput)) defects.StepInput {
	in := defects.StepInput{Step: s, By: by, At: at(10 * n)}
	for _, e := range edit {
		e(&in)
	}
	return in
}

func text(s string) func(*defects.StepInput) { return func(in *defects.StepInput) { in.Text = s } }

func instructing(n int, edit ...func(*defects.StepInput)) defects.StepInput {
	return step(defects.StepInstruct, clerkA, n, edit...)
}

func offering(n int, edit ...func(*defects.StepInput)) defects.StepInput {
	in := step(defects.StepOffer, installerA, n)
	in.MadeGood = defects.MakingGood{Kind: defects.Rework, Text: "patch cut in and coated"}
	in.Photos = []defects.EvidencePhoto{{
		ID: "after-" + string(rune('a'+n)), ElevationID: "north", Grade: defects.GradeA, TakenAt: at(10*n - 1), TakenSure: true,
		ReceivedAt: at(10 * n),
	}}
	for _, e := range edit {
		e(&in)
	}
	return in
}

// again adds a new reading of plumb with an outcome to an offer.
func again(value string, o defects.Outcome) func(*defects.StepInput) {
	return func(in *defects.StepInput) {
		in.Reading = &defects.EvidenceReading{
			ID: "again-" + in.At.Format("1504"), Quantity: "plumb", MeasuredAt: in.At.Add(-time.Minute), Place: bay3lift2,
			Outcome: o, Value: defects.MustDecimal(value), Text: value + " mm against at most 8 mm",
		}
	}
}

func closing(n int, by defects.Person, edit ...func(*defects.StepInput)) defects.StepInput {
	in := step(defects.StepClose, by, n, edit...)
	if in.Inspection == "" {
		in.Inspection = defects.OnSite
	}
	return in
}

// refusing is a clerk's refusal after a look on site.
func refusing(n int, by defects.Person, edit ...func(*defects.StepInput)) defects.StepInput {
	in := step(defects.StepRefuse, by, n, text("edge lifts"))
	in.Inspection = defects.OnSite
	for _, e := range edit {
		e(&in)
	}
	return in
}

// seen gives a close the reading that was offered.
func (h *history) seen(o defects.Outcome) func(*defects.StepInput) {
	return func(in *defects.StepInput) {
		in.Reading = &defects.EvidenceReading{ID: h.snag.OfferReading, Quantity: h.snag.Quantity, Outcome: o, Text: "7 mm against at most 8 mm"}
	}
}

func conceding(part string, by defects.Person, n int, edit ...func(*defects.StepInput)) defects.StepInput {
	in := step(defects.StepConcede, by, n, text("cannot be straightened without taking the layer off"))
	in.Concession = defects.ConcessionInput{Part: part, Area: "2.6 m run of the arris"}
	for _, e := range edit {
		e(&in)
	}
	return in
}

func deviation(asked, found string) func(*defects.StepInput) {
	return func(in *defects.StepInput) {
		if asked != "" {
			in.Concession.Deviation = dec(asked)
		}
		in.Facts.Measured, in.Facts.Unit = dec(found), "mm"
	}
}

func refs(details []defects.Detail) []string {
	var out []string
	for _, d := range details {
		out = append(out, d.Code+" "+d.Field)
	}
	slices.Sort(out)
	return out
}
