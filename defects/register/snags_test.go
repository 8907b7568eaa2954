package register_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestASnagGoesFromAFailedReadingToClosed(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		bad := b.plumb("14", 3, 2)
		require.Equal(t, defects.Fail, bad.Verdict.Outcome)
		b.clock.add(time.Minute)
		s := b.raise(b.clerk, register.RaiseInput{ReadingID: bad.ID, Code: "CR-01", Severity: defects.Major, Text: "arris waves", Photos: []string{b.photo()}})
		require.Equal(t, 1, s.Number)
		require.Equal(t, "14 mm against -8 to 8 mm", s.ReadingText)
		require.Contains(t, s.Requirement, "plumb -8 to 8 mm (Job sheet of Quarry Terrace (invented)")
		require.Contains(t, s.Requirement, "invented clause 4; agreed for this project")
		require.Equal(t, "Mill Leat House / North / bay 3 / lift 2", s.PlaceWords)
		require.Equal(t, b.load(1), s)

		linked, err := b.Reading(b.ctx(), b.clerk, b.people.site.ID, bad.ID)
		require.NoError(t, err)
		require.Equal(t, 1, linked.SnagNumber)
		_, err = b.RaiseSnag(b.ctx(), b.clerk, b.people.site.ID, register.RaiseInput{ReadingID: bad.ID, Code: "CR-01", Text: "again"})
		e := refused(t, err, defects.Conflict, "already_raised")
		require.Contains(t, e.Text, "SN-0001")

		b.instruct(s)
		b.step(b.installer, s, register.StepRequest{Step: defects.StepAcknowledge, Gang: "A", PlannedOn: "2026-06-03"})
		in := offer(b.photo())
		in.ReadingID = b.plumb("9", 3, 2).ID
		b.step(b.installer, s, in)
		_, err = b.try(b.clerk, s, onSite(""))
		refused(t, err, defects.Conflict, "reading_does_not_pass")
		b.step(b.clerk, s, refusal("still 9 mm"))
		again, err := b.Reading(b.ctx(), b.clerk, b.people.site.ID, in.ReadingID)
		require.NoError(t, err)
		require.Equal(t, 1, again.SnagNumber, "a new reading that fails is answered by the same snag")

		in = offer(b.photo())
		in.ReadingID = b.plumb("5", 3, 2).ID
		b.step(b.installer, s, in)
		closed := b.step(b.clerk, s, onSite("measured with him"))
		require.Equal(t, defects.Closed, closed.State)
		require.Equal(t, 2, closed.Round)
		b.replayed(1)

		last := b.last(b.people.site.ID)
		require.Equal(t, "snag.close", last.Kind)
		require.Equal(t, 1, last.Subject.Number)
		require.Equal(t, "test phone", last.Actor.Device)
		require.Contains(t, string(last.Data), `"before":{"round":2,"state":"offered","version":6}`)
		v, err := b.Snag(b.ctx(), b.auditor, b.people.site.ID, 1)
		require.NoError(t, err)
		require.Len(t, v.History, 7)
		require.Len(t, v.Photos, 3)
		require.Equal(t, "CR-01", v.Kind.Code)
		require.NotEmpty(t, v.Cautions)
		require.Equal(t, bad.ID, v.Reading.ID)
		require.Equal(t, b.north.ID, v.Elevation.ID)
		for _, choice := range v.Steps {
			require.False(t, choice.May, "an auditor takes no step")
		}
	})
}

func TestRefusedRaisesStoreNothing(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	for name, c := range map[string]struct {
		who  register.Actor
		edit func(*register.RaiseInput)
		kind defects.Kind
		code string
	}{
		"unknown code":       {b.clerk, func(in *register.RaiseInput) { in.Code = "ZZ-99" }, defects.Invalid, "unknown_code"},
		"no place":           {b.clerk, func(in *register.RaiseInput) { in.ElevationID = "" }, defects.Invalid, "place_missing"},
		"foreign elevation":  {b.clerk, func(in *register.RaiseInput) { in.ElevationID = "elsewhere" }, defects.NotFound, "elevation_not_found"},
		"no such bay":        {b.clerk, func(in *register.RaiseInput) { in.Bay = 99 }, defects.Invalid, "no_such_bay"},
		"no such photo":      {b.clerk, func(in *register.RaiseInput) { in.Photos = []string{"nowhere"} }, defects.NotFound, "photo_not_found"},
		"no such reading":    {b.clerk, func(in *register.RaiseInput) { in.ReadingID = "nowhere" }, defects.NotFound, "reading_not_found"},
		"measured, no value": {b.clerk, func(in *register.RaiseInput) { in.Code = "CR-01" }, defects.Invalid, "reading_missing"},
		"auditor":            {b.auditor, func(*register.RaiseInput) {}, defects.Forbidden, "role_forbidden"},
		"stranger":           {b.stranger, func(*register.RaiseInput) {}, defects.NotFound, "site_not_found"},
		"nobody":             {register.Actor{}, func(*register.RaiseInput) {}, defects.Unauthenticated, "unauthenticated"},
		"hidden characters":  {b.clerk, func(in *register.RaiseInput) { in.Text = "a\x00b" }, defects.Invalid, "bad_text"},
	} {
		in := b.seen(1, 1)
		c.edit(&in)
		_, err := b.RaiseSnag(b.ctx(), c.who, b.people.site.ID, in)
		require.Error(t, err, name)
		refused(t, err, c.kind, c.code)
	}
	require.Zero(t, b.kinds()["snag.raise"])
	require.Equal(t, 1, b.raise(b.clerk, b.seen(1, 1)).Number, "a refused raise takes no number")
}

func TestNothingIsDoneThatCannotBeLogged(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.clerk, b.seen(1, 1))
	deaf := b.with(func(d *register.Deps) { d.Store = noLog{d.Store} })
	_, err := deaf.RaiseSnag(b.ctx(), b.clerk, b.people.site.ID, b.seen(2, 1))
	require.ErrorIs(t, err, errNoLog)
	_, err = deaf.StepSnag(b.ctx(), b.clerk, b.people.site.ID, s.Number, s.Version, register.StepRequest{Step: defects.StepInstruct})
	require.ErrorIs(t, err, errNoLog)
	_, err = deaf.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, register.ReleaseInput{
		HoldPoint: "H7", ElevationID: b.north.ID, Outcome: defects.ReleaseRefused, Text: "wet",
	})
	require.ErrorIs(t, err, errNoLog)
	require.Equal(t, s, b.load(s.Number))
	page, err := b.ListSnags(b.ctx(), b.clerk, register.SnagFilter{SiteID: b.people.site.ID}, register.Page{})
	require.NoError(t, err)
	require.Len(t, page.Items, 1)
	list, err := b.Releases(b.ctx(), b.clerk, b.people.site.ID)
	require.NoError(t, err)
	require.Empty(t, list)
}

func TestOperativesSeeTheirOwnGangsSnags(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	mine := b.raise(b.clerk, b.seen(1, 1))
	inB := b.seen(2, 1)
	inB.Gang = "B"
	theirs := b.raise(b.clerk, inB)
	own := b.raise(b.otherOperative, b.seen(3, 1))
	require.Equal(t, "B", own.Gang, "an operative raises for his own gang")
	moved := b.step(b.clerk, own, register.StepRequest{Step: defects.StepInstruct, Gang: "A"})

	_, err := b.Snag(b.ctx(), b.operative, b.people.site.ID, theirs.Number)
	refused(t, err, defects.NotFound, "snag_not_found")
	_, err = b.StepSnag(b.ctx(), b.operative, b.people.site.ID, theirs.Number, theirs.Version, because(defects.StepWithdraw, "x"))
	refused(t, err, defects.NotFound, "snag_not_found")
	_, err = b.Snag(b.ctx(), b.otherOperative, b.people.site.ID, moved.Number)
	require.NoError(t, err, "who raised it sees it in another gang as well")

	page, err := b.ListSnags(b.ctx(), b.operative, register.SnagFilter{SiteID: b.people.site.ID}, register.Page{})
	require.NoError(t, err)
	require.Len(t, page.Items, 2)
	require.Equal(t, mine.Number, page.Items[0].Number)
	_, err = b.ListSnags(b.ctx(), b.operative, register.SnagFilter{SiteID: b.people.site.ID, Gang: "B"}, register.Page{})
	refused(t, err, defects.Forbidden, "other_gang")
	list, err := b.SnagList(b.ctx(), b.operative, b.people.site.ID, b.north.ID, register.ListFilter{})
	require.NoError(t, err)
	require.Len(t, list.Items, 2)
	require.Equal(t, 2, list.BySeverity[defects.Major])
	all, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, b.north.ID, register.ListFilter{})
	require.NoError(t, err)
	require.Len(t, all.Items, 3)
}

func TestListsComeInPages(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	for n := range 7 {
		b.raise(b.clerk, b.seen(1+n, 1+n%3))
	}
	for _, order := range []register.SnagOrder{register.ByNumber, register.ByWalk} {
		f := register.SnagFilter{SiteID: b.people.site.ID, Order: order}
		whole, err := b.ListSnags(b.ctx(), b.clerk, f, register.Page{})
		require.NoError(t, err)
		require.Len(t, whole.Items, 7)
		require.Empty(t, whole.Next)
		var got []defects.Snag
		page := register.Page{Limit: 3}
		for range 3 {
			p, err := b.ListSnags(b.ctx(), b.clerk, f, page)
			require.NoError(t, err)
			got = append(got, p.Items...)
			page.After = p.Next
		}
		require.Empty(t, page.After)
		require.Equal(t, whole.Items, got)
	}
	_, err := b.ListSnags(b.ctx(), b.clerk, register.SnagFilter{SiteID: b.people.site.ID}, register.Page{After: "nonsense"})
	refused(t, err, defects.Invalid, "bad_cursor")
}

func TestALostRaceIsToldTheCurrentState(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		s := b.raise(b.clerk, b.seen(1, 1))
		_, err := b.StepSnag(b.ctx(), b.clerk, b.people.site.ID, s.Number, 0, register.StepRequest{Step: defects.StepInstruct})
		refused(t, err, defects.VersionNeeded, "version_needed")
		b.instruct(s)
		_, err = b.StepSnag(b.ctx(), b.manager, b.people.site.ID, s.Number, s.Version, register.StepRequest{Step: defects.StepInstruct})
		e := refused(t, err, defects.Stale, "stale")
		require.Contains(t, e.Details, defects.Detail{Field: "state", Code: "current_state", Text: "instructed"})
		require.Contains(t, e.Details, defects.Detail{Field: "version", Code: "current_version", Text: "2"})

		fresh := b.raise(b.clerk, b.seen(2, 1))
		var wg sync.WaitGroup
		errs := make([]error, 8)
		for i := range errs {
			wg.Go(func() {
				_, errs[i] = b.StepSnag(b.ctx(), b.clerk, b.people.site.ID, fresh.Number, fresh.Version, register.StepRequest{Step: defects.StepInstruct})
			})
		}
		wg.Wait()
		won := 0
		for _, err := range errs {
			if err == nil {
				won++
				continue
			}
			refused(t, err, defects.Stale, "stale")
		}
		require.Equal(t, 1, won)
		require.Equal(t, 2, b.load(fresh.Number).Version)
		b.replayed(fresh.Number)
	})
}

func TestNumbersNeverComeTwice(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	var wg sync.WaitGroup
	numbers := make([]int, 12)
	for i := range numbers {
		wg.Go(func() {
			s, err := b.RaiseSnag(b.ctx(), b.clerk, b.people.site.ID, b.seen(1, 1))
			if err == nil {
				numbers[i] = s.Number
			}
		})
	}
	wg.Wait()
	seen := map[int]bool{}
	for _, n := range numbers {
		require.Positive(t, n)
		require.False(t, seen[n])
		seen[n] = true
	}
}
