package defects_test

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// walker takes steps at random: mostly sound ones, some not, by anybody.
type walker struct {
	*rand.Rand
	n int
}

func pick[T any](w *walker, items ...T) T { return items[w.IntN(len(items))] }

func (w *walker) person() defects.Person {
	return pick(w, clerkA, clerkB, installerA, operativeA, auditorA, designerA, managerA, managerB, ownerA)
}

func (w *walker) outcome() defects.Outcome {
	return pick(w, defects.Pass, defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail, defects.NoVerdict)
}

func (w *walker) raise() defects.StepInput {
	edits := []func(*defects.StepInput){pick(w, func(*defects.StepInput) {}, measured, critical, minor)}
	if w.IntN(3) == 0 {
		edits = append(edits, func(in *defects.StepInput) { in.By = w.person() })
	}
	return raising(edits...)
}

func (w *walker) step(s defects.Snag) defects.StepInput {
	w.n++
	now := at(10 * (w.n + 1))
	in := defects.StepInput{
		Step: pick(w, defects.Steps()...), By: w.person(), At: now, Text: pick(w, "", "because", "because"),
		Gang: pick(w, "", "A"), PlannedOn: pick(w, "", "2026-06-04"), Ground: pick(w, "", defects.WithinTolerance),
		Stands: w.IntN(2) == 0, Inspection: pick(w, "", defects.OnSite, defects.OnSite, defects.FromPhoto),
		Due: pick(w, "", "2026-06-04", "2026-01-01"), Event: pick(w, "", "the beads come"),
		MadeGood: defects.MakingGood{Kind: pick(w, defects.Rework, defects.Rework, defects.Repair), Text: "made", ByID: pick(w, "", clerkB.ID)},
		Concession: defects.ConcessionInput{
			Part: pick(w, defects.PartAsk, defects.PartGrant, defects.PartRefuse), Area: pick(w, "", "all of it"),
			Deviation: pick(w, nil, dec("14"), dec("13")), Document: pick(w, "", "letter"),
		},
	}
	if s.Quantity != "" {
		in.Facts.Measured = dec("14")
	}
	if w.IntN(3) > 0 {
		w.sensible(s, &in)
	}
	in.Facts.PeriodEnds = pick(w, "", "2026-12-31", "2026-01-01")
	if w.IntN(4) > 0 {
		in.Photos = []defects.EvidencePhoto{{
			ID: "photo-" + time.Duration(w.n).String(), ElevationID: pick(w, "north", "north", "north", "south"),
			Grade: pick(w, defects.GradeA, defects.GradeA, defects.GradeB, defects.GradeC, defects.GradeX), TakenAt: now.Add(-time.Minute),
		}}
	}
	if s.Quantity != "" && w.IntN(4) > 0 {
		id := pick(w, s.OfferReading, "reading-"+time.Duration(w.n).String())
		in.Reading = &defects.EvidenceReading{
			ID: id, Quantity: s.Quantity, MeasuredAt: now.Add(-time.Minute), Place: bay3lift2, Outcome: w.outcome(), Text: "9 mm",
		}
	}
	return in
}

// sensible makes the step one that its person may take now, where there is any,
// and withdraws seldom: otherwise most walks would end there.
func (w *walker) sensible(s defects.Snag, in *defects.StepInput) {
	for range 8 {
		in.By, in.Text = w.person(), "because"
		c := pick(w, defects.StepsFor(s, in.By)...)
		if c.Step == defects.StepWithdraw && w.IntN(10) > 0 {
			continue
		}
		if c.May {
			in.Step = c.Step
			if len(c.Parts) > 0 && c.Step == defects.StepConcede {
				in.Concession.Part = pick(w, c.Parts...)
			}
			return
		}
	}
}

// holds checks what must be true of a snag after any history.
func holds(t *testing.T, s defects.Snag, events []defects.SnagEvent) {
	t.Helper()
	require.True(t, s.State.Known())
	require.Equal(t, s.State == defects.Closed || s.State == defects.Conceded, !s.ClosedAt.IsZero())
	require.Equal(t, s.State == defects.Disputed, s.DisputeBy.ID != "")
	if s.State == defects.Offered {
		require.NotEmpty(t, s.OfferPhotos)
		require.Equal(t, defects.Installer, s.OfferedBy.Role)
		require.Equal(t, s.Quantity != "", s.OfferReading != "")
	}
	if s.State == defects.Instructed || s.State == defects.Offered || s.State == defects.Disputed {
		require.Positive(t, s.Round)
		require.False(t, s.InstructedAt.IsZero())
		require.NotEmpty(t, s.OwnDue)
	}
	if s.State == defects.Deferred {
		require.NotEqual(t, defects.Critical, s.Severity)
		require.NotEmpty(t, s.DeferUntil)
	}
	if s.FirstSigned.ID != "" {
		require.Equal(t, defects.Critical, s.Severity)
	}
	if s.State == defects.Conceded {
		holdsConceded(t, s)
	}
	if s.State == defects.Closed {
		holdsClosed(t, s, events)
	}
}

func holdsConceded(t *testing.T, s defects.Snag) {
	t.Helper()
	c := s.Concession
	require.True(t, c.Granted())
	require.Equal(t, defects.Designer, c.Technical.Role)
	require.Contains(t, []defects.Role{defects.Owner, defects.Manager}, c.Value.Role)
	for _, granter := range []defects.Person{c.Technical, c.Value} {
		require.NotEqual(t, c.AskedBy.ID, granter.ID)
		require.NotEqual(t, s.OfferedBy.ID, granter.ID)
	}
	if s.Quantity != "" {
		require.False(t, c.Deviation.Less(defects.MustDecimal("14")), "it covers what was measured")
	}
	if s.Severity == defects.Critical {
		require.NotEmpty(t, c.Document)
	}
}

func holdsClosed(t *testing.T, s defects.Snag, events []defects.SnagEvent) {
	t.Helper()
	require.Equal(t, defects.Rework, s.MadeGood.Kind, "a repair is conceded, never closed")
	last := events[len(events)-1].Input
	require.NotEqual(t, s.OfferedBy.ID, last.By.ID)
	require.NotEqual(t, s.MadeGood.ByID, last.By.ID)
	if s.Quantity != "" {
		require.Contains(t, []defects.Outcome{defects.Pass, defects.ConditionalPass}, last.Reading.Outcome)
	}
	if s.Severity != defects.Critical {
		require.Equal(t, defects.Clerk, last.By.Role)
		return
	}
	require.Equal(t, defects.Clerk, s.FirstSigned.Role)
	require.Contains(t, []defects.Role{defects.Designer, defects.Manager}, last.By.Role)
	require.NotEqual(t, s.FirstSigned.ID, last.By.ID)
}

// walk takes many steps at random and checks the snag after each. It answers
// how many were taken.
func walk(t *testing.T, seed uint64, steps int, reached map[defects.State]int) int {
	t.Helper()
	w := &walker{Rand: rand.New(rand.NewPCG(seed, 7))}
	first := w.raise()
	s, err := defects.Raise(first)
	if err != nil {
		return 0
	}
	events := []defects.SnagEvent{{Input: first, After: s.State}}
	for range steps {
		in := w.step(s)
		before := deepCopy(s)
		next, err := defects.Apply(s, in)
		require.True(t, reflect.DeepEqual(before, s), "Apply changed the snag it was given: %s", in.Step)
		if err != nil {
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.NotEmpty(t, e.Code)
			require.Equal(t, s, next)
			continue
		}
		require.GreaterOrEqual(t, next.Round, s.Round)
		require.True(t, slices.Equal(s.Photos, next.Photos[:len(s.Photos)]), "evidence is never dropped")
		events = append(events, defects.SnagEvent{Input: in, Before: s.State, After: next.State, Round: next.Round})
		next.Version++
		s = next
		reached[s.State]++
		holds(t, s, events)
		if s.State == defects.Withdrawn && len(events) > steps/4 {
			break // nothing leads out of it
		}
	}
	replayed, err := defects.Replay(events)
	require.NoError(t, err)
	require.Equal(t, s, replayed)
	return len(events)
}

func deepCopy(s defects.Snag) defects.Snag {
	s.Photos = append([]string(nil), s.Photos...)
	s.OfferPhotos = append([]string(nil), s.OfferPhotos...)
	if s.Concession != nil {
		c := *s.Concession
		s.Concession = &c
	}
	return s
}

func TestNoSequenceOfStepsReachesAnImpossibleState(t *testing.T) {
	t.Parallel()
	reached := map[defects.State]int{}
	for seed := range uint64(60) {
		walk(t, seed, 250, reached)
	}
	for _, st := range defects.States() {
		require.Positive(t, reached[st], "the walk never came to %s, so it proves nothing of it", st)
	}
}

func FuzzSteps(f *testing.F) {
	f.Add(uint64(1), uint16(50))
	f.Fuzz(func(t *testing.T, seed uint64, steps uint16) {
		walk(t, seed, int(steps%500), map[defects.State]int{})
	})
}

func TestReplayRefusesAHistoryThatCannotHaveBeen(t *testing.T) {
	t.Parallel()
	_, err := defects.Replay(nil)
	refusedAs(t, err, defects.NotFound, "no_history")
	h := begin(t).take(instructing(1))
	_, err = defects.Replay(append(h.events, defects.SnagEvent{Input: closing(2, clerkA)}))
	require.ErrorIs(t, err, defects.Conflict)
	_, err = defects.Replay(h.events[1:])
	require.ErrorIs(t, err, defects.Invalid)
}
