package register_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// J7 of the jobs: four refusals, each naming who may, and a second signature.
func TestJ7SeparationOfDuties(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		s := b.raise(b.clerk, b.seen(3, 2))
		b.instruct(s)
		b.step(b.installer, s, offer(b.photo()))
		_, err := b.try(b.installer, s, onSite(""))
		require.Contains(t, refused(t, err, defects.Forbidden, "role_forbidden").Text, "this is for: clerk")
		b.step(b.installer, s, ask("2 m2", ""))
		_, err = b.try(b.clerk, s, grant())
		require.Contains(t, refused(t, err, defects.Forbidden, "role_forbidden").Text, "designer, owner, manager")
		for _, step := range defects.Steps() {
			_, err = b.try(b.auditor, s, because(step, "x"))
			refused(t, err, defects.Forbidden, "role_forbidden")
		}

		own := b.raise(b.manager, b.seen(4, 2))
		b.instruct(own)
		in := offer(b.photo())
		in.MadeGood.ByID = b.clerk.AccountID
		made := b.step(b.installer, own, in)
		require.Equal(t, b.clerk.Name, made.MadeGood.ByName)
		_, err = b.try(b.clerk, own, onSite(""))
		require.Contains(t, refused(t, err, defects.Forbidden, "own_work").Text, "another clerk")

		fire := b.raise(b.clerk, register.RaiseInput{ElevationID: b.north.ID, Bay: 1, Lift: 1, Code: "FB-01", Text: "no barrier at the floor line"})
		require.Equal(t, defects.Critical, fire.Severity)
		require.Equal(t, "fire", fire.Competent)
		b.instruct(fire)
		_, err = b.try(b.installer, fire, offer(b.photo(graded(defects.GradeB))))
		refused(t, err, defects.Conflict, "photo_grade")
		b.step(b.installer, fire, offer(b.photo()))
		visit := onSite("")
		visit.Inspection = defects.FromPhoto
		_, err = b.try(b.clerk, fire, visit)
		refused(t, err, defects.Conflict, "critical_needs_visit")
		waits := b.step(b.clerk, fire, onSite("barrier tight"))
		require.Equal(t, defects.Offered, waits.State)
		_, err = b.try(b.clerk, fire, onSite("again"))
		refused(t, err, defects.Forbidden, "role_forbidden")
		done := b.step(b.designer, fire, onSite("fire engineer, letter 3"))
		require.Equal(t, defects.Closed, done.State)
		for _, n := range []int{s.Number, own.Number, fire.Number} {
			b.replayed(n)
		}
	})
}

// J8 of the jobs: 14 mm over 2.6 m kept as built; bay 5 with 16 mm is outside.
func TestJ8AcceptAsBuilt(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		raise := func(value string, bay int) defects.Snag {
			rd := b.plumb(value, bay, 2)
			return b.raise(b.clerk, register.RaiseInput{ReadingID: rd.ID, Code: "CR-01", Text: "arris out of plumb"})
		}
		s := raise("14", 3)
		b.instruct(s)
		_, err := b.try(b.installer, s, ask("2.6 m run of the arris", "13"))
		refused(t, err, defects.Conflict, "deviation_too_small")
		b.step(b.installer, s, ask("2.6 m run of the arris", "14"))
		require.Equal(t, defects.Instructed, b.step(b.designer, s, grant()).State)
		b.clock.add(2 * time.Hour)
		done := b.step(b.owner, s, grant())
		require.Equal(t, defects.Conceded, done.State)
		require.Equal(t, "14", done.Concession.Deviation.String())
		require.True(t, done.Concession.ValueAt.Sub(done.Concession.GrantedAt) > 2*time.Hour)
		b.replayed(s.Number)

		copying := ask("", "")
		copying.Concession.From = s.Number
		bay5 := raise("16", 5)
		_, err = b.try(b.installer, bay5, copying)
		refused(t, err, defects.Conflict, "outside_concession")
		worse := raise("16", 3)
		_, err = b.try(b.installer, worse, copying)
		require.Contains(t, refused(t, err, defects.Conflict, "outside_concession").Text, "16 mm")
		forged := copying
		forged.Concession.FromTerms = &defects.Concession{
			Area: "everywhere", Deviation: dec("99"), Technical: defects.Person{ID: "x"}, Value: defects.Person{ID: "y"},
		}
		forged.Concession.FromPlace, forged.Concession.FromCode = bay5.Place, bay5.Code
		_, err = b.try(b.installer, bay5, forged)
		refused(t, err, defects.Conflict, "outside_concession")
		same := raise("12", 3)
		asked := b.step(b.installer, same, copying)
		require.Equal(t, s.Number, asked.Concession.From)
		require.False(t, asked.Concession.Granted())
		b.replayed(same.Number)
	})
}

// J10 of the jobs: two blocks with their own dates.
func TestJ10TheEndOfThePeriodIsTheBuildings(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	otherWalls := b.fixture.walls(b.people, "Block B")
	closed := func(elevation string) defects.Snag {
		in := b.seen(0, 0)
		in.ElevationID = elevation
		s := b.raise(b.clerk, in)
		b.instruct(s)
		b.step(b.installer, s, offer(b.photo(func(p *defects.Photo) { p.Place.ElevationID = elevation })))
		return b.step(b.clerk, s, onSite(""))
	}
	a, other := closed(b.north.ID), closed(otherWalls[0].ID)
	complete := func(elevation, on string) {
		buildings, err := b.Buildings(b.ctx(), b.manager, b.people.site.ID)
		require.NoError(t, err)
		e, err := b.Elevation(b.ctx(), b.manager, b.people.site.ID, elevation)
		require.NoError(t, err)
		for _, bl := range buildings {
			if bl.ID == e.BuildingID {
				_, err = b.UpdateBuilding(b.ctx(), b.manager, b.people.site.ID, bl.ID, bl.Version, register.BuildingPatch{CompletedOn: &on})
				require.NoError(t, err)
			}
		}
	}
	complete(b.north.ID, "2025-06-10")
	complete(otherWalls[0].ID, "2026-01-30")
	reopen := func(s defects.Snag, elevation string) error {
		in := because(defects.StepReopen, "cracked again")
		in.Photos = []string{b.photo(func(p *defects.Photo) { p.Place.ElevationID = elevation })}
		_, err := b.StepSnag(b.ctx(), b.owner, b.people.site.ID, s.Number, b.load(s.Number).Version, in)
		return err
	}
	b.clock.add(18 * 24 * time.Hour) // 19 June 2026, nine days after the first period's end
	e := refused(t, reopen(a, b.north.ID), defects.Conflict, "period_over")
	require.Contains(t, e.Text, "schedule of defects")
	b.clock.add(20 * 24 * time.Hour)
	e = refused(t, reopen(a, b.north.ID), defects.Conflict, "period_over")
	require.Contains(t, e.Text, "warranty claim")
	require.NoError(t, reopen(other, otherWalls[0].ID))
	require.Equal(t, defects.Raised, b.load(other.Number).State)
	b.replayed(other.Number)
}

func TestAPhotoServesOnce(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s, other := b.raise(b.clerk, b.seen(1, 1)), b.raise(b.clerk, b.seen(2, 1))
	old := b.photo()
	b.clock.add(time.Minute)
	b.instruct(s)
	b.instruct(other)
	_, err := b.try(b.installer, s, offer(old))
	refused(t, err, defects.Conflict, "photo_too_old")
	_, err = b.try(b.installer, s, offer(b.photo(func(p *defects.Photo) { p.Place.ElevationID = b.walls[0].ID })))
	refused(t, err, defects.Conflict, "photo_other_elevation")
	first := b.photo()
	b.step(b.installer, s, offer(first))
	_, err = b.try(b.installer, other, offer(first))
	require.Contains(t, refused(t, err, defects.Conflict, "photo_reused").Text, s.Ref())
	b.step(b.clerk, s, refusal("edge lifts"))
	_, err = b.try(b.installer, s, offer(first))
	require.Contains(t, refused(t, err, defects.Conflict, "photo_reused").Text, s.Ref())
	_, err = b.try(b.installer, s, offer(b.photo(), "nowhere"))
	require.Equal(t, "photos[1]", refused(t, err, defects.NotFound, "photo_not_found").Field)
	b.step(b.installer, s, offer(b.photo(func(p *defects.Photo) { p.Grade, p.Overruled = defects.GradeB, "" })))
	b.replayed(s.Number)
}

func TestAnOverruledPhotoIsAnIllustration(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	in := b.seen(1, 1)
	in.Severity, in.Text = defects.Minor, "hardly seen from the ground"
	s := b.raise(b.clerk, in)
	b.instruct(s)
	_, err := b.try(b.installer, s, offer(b.photo(graded(defects.GradeX))))
	refused(t, err, defects.Conflict, "photo_grade")
	b.step(b.installer, s, offer(b.photo(func(p *defects.Photo) { p.Grade, p.Overruled = defects.GradeX, "clock was wrong" })))
}

func TestDeferringLooksAtTheProgramme(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.clerk, b.seen(3, 2))
	_, err := b.SetMilestone(b.ctx(), b.manager, defects.Milestone{
		SiteID: b.people.site.ID, Kind: defects.CoverUp, Stage: "SL", ElevationID: b.north.ID, BayFrom: 1, BayTo: 4, LiftFrom: 2, LiftTo: 2, On: "2026-06-15",
	})
	require.NoError(t, err)
	in := because(defects.StepDefer, "dry until then")
	in.Due = "2026-06-15"
	_, err = b.try(b.manager, s, in)
	require.Contains(t, refused(t, err, defects.Conflict, "would_be_covered").Text, "2026-06-15")
	in.Due = "2026-06-14"
	got := b.step(b.manager, s, in)
	require.Equal(t, defects.Deferred, got.State)
	v, err := b.Snag(b.ctx(), b.clerk, b.people.site.ID, s.Number)
	require.NoError(t, err)
	require.Equal(t, defects.Due{On: "2026-06-14", Reason: defects.DueOwn, Text: "deferred until then"}, v.Due)
	b.instruct(s)
	v, err = b.Snag(b.ctx(), b.clerk, b.people.site.ID, s.Number)
	require.NoError(t, err)
	require.Equal(t, "2026-06-08", v.Due.On)
	b.replayed(s.Number)
}

func TestAWithdrawnReadingNoLongerCloses(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.clerk, register.RaiseInput{ReadingID: b.plumb("14", 3, 2).ID, Code: "CR-01", Text: "arris"})
	b.instruct(s)
	in := offer(b.photo())
	_, err := b.try(b.installer, s, in)
	refused(t, err, defects.Invalid, "reading_missing")
	in.ReadingID = b.plumb("5", 4, 2).ID
	_, err = b.try(b.installer, s, in)
	refused(t, err, defects.Conflict, "reading_elsewhere")
	good := b.plumb("5", 3, 2)
	in.ReadingID = good.ID
	b.step(b.installer, s, in)
	_, err = b.WithdrawReading(b.ctx(), b.clerk, b.people.site.ID, good.ID, good.Version, "plumb line was bent")
	require.NoError(t, err)
	_, err = b.try(b.clerk, s, onSite(""))
	refused(t, err, defects.Conflict, "reading_does_not_pass")
}

// TestTheLogGivesEverySnagAgain takes steps at random through the register and
// holds, after each, that the log alone gives the stored row.
func TestTheLogGivesEverySnagAgain(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	rnd := rand.New(rand.NewPCG(3, 9))
	actors := []register.Actor{b.clerk, b.installer, b.designer, b.manager, b.owner, b.other}
	taken, refusedSteps := 0, 0
	for n := range 6 {
		rd := b.plumb("14", 1+n, 2)
		s := b.raise(b.clerk, register.RaiseInput{ReadingID: rd.ID, Code: "CR-01", Text: "arris", Photos: []string{b.photo()}, Severity: defects.Severities()[n%3]})
		for range 25 {
			who := actors[rnd.IntN(len(actors))]
			in := b.randomStep(rnd, 1+n)
			if _, err := b.try(who, s, in); err != nil {
				var e *defects.Error
				require.ErrorAs(t, err, &e, "%s", in.Step)
				refusedSteps++
				continue
			}
			b.clock.add(time.Minute)
			taken++
			b.replayed(s.Number)
		}
	}
	require.Greater(t, taken, 15)
	require.Greater(t, refusedSteps, 15)
	require.Equal(t, taken+6, countSnagEntries(b))
}

func countSnagEntries(b *snagBed) int {
	n := 0
	for kind, c := range b.kinds() {
		if len(kind) > 5 && kind[:5] == "snag." {
			n += c
		}
	}
	return n
}

func (b *snagBed) randomStep(rnd *rand.Rand, bay int) register.StepRequest {
	steps := []defects.Step{
		defects.StepInstruct, defects.StepInstruct, defects.StepAcknowledge, defects.StepOffer, defects.StepOffer, defects.StepRefuse,
		defects.StepClose, defects.StepDispute, defects.StepDecide, defects.StepDefer, defects.StepConcede, defects.StepReopen,
	}
	stands := rnd.IntN(4) > 0
	in := register.StepRequest{
		Step: steps[rnd.IntN(len(steps))], Text: "because\nof this", PlannedOn: "2026-06-30", Ground: defects.ByDesign, Stands: &stands,
		Inspection: defects.OnSite, Event: "the beads come",
		MadeGood: defects.MakingGood{Kind: defects.Rework, Text: "made", Batch: "B7", ByName: "A. Hand", Started: b.Now().Add(-time.Second)},
	}
	in.Concession = defects.ConcessionInput{
		Part: []string{defects.PartAsk, defects.PartGrant, defects.PartRefuse}[rnd.IntN(3)], Area: "all of it", Deviation: dec("14.50"),
		Document: "letter", Conditions: "none else", Expires: "2030-01-01",
	}
	switch in.Step {
	case defects.StepOffer:
		in.Photos = []string{b.photo()}
		in.ReadingID = b.plumb([]string{"5", "6.5", "14"}[rnd.IntN(3)], bay, 2).ID
	case defects.StepReopen:
		in.Photos = []string{b.photo()}
	}
	return in
}
