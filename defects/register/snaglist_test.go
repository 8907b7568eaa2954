package register_test

import (
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models/modelstest"
)

func numbersOf(l register.SnagList) []int {
	var out []int
	for _, it := range l.Items {
		out = append(out, it.Snag.Number)
	}
	return out
}

// J12 of the jobs: four bays by three lifts, the walk from the top left.
func TestJ12TheWalk(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		var east defects.Elevation
		for _, e := range b.walls {
			if e.Name == "East" {
				east = e
			}
		}
		east, err := b.UpdateElevation(b.ctx(), b.manager, b.people.site.ID, east.ID, east.Version, register.ElevationPatch{
			Bays: &[]defects.MM{2500, 5000, 7500, east.Length}, Lifts: &[]defects.MM{2000, 4000, 6000},
		})
		require.NoError(t, err)
		mm := func(n int64) *defects.MM { v := defects.MM(n); return &v }
		add := func(lift, bay int, edit ...func(*register.RaiseInput)) int {
			in := b.seen(bay, lift)
			in.ElevationID = east.ID
			for _, e := range edit {
				e(&in)
			}
			return b.raise(b.clerk, in).Number
		}
		at := func(x, z int64) func(*register.RaiseInput) {
			return func(in *register.RaiseInput) { in.X, in.Z = mm(x), mm(z) }
		}
		a, bb, c, d, e := add(3, 4), add(3, 1), add(2, 2), add(2, 4), add(1, 1)
		unclear := add(0, 0)
		list, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, east.ID, register.ListFilter{})
		require.NoError(t, err)
		require.Equal(t, []int{bb, a, d, c, e, unclear}, numbersOf(list))
		require.Contains(t, list.Items[5].Snag.PlaceWords, "place unclear")

		right, left, below := add(0, 0, at(2000, 4500)), add(0, 0, at(500, 4500)), add(0, 0, at(500, 4200))
		list, err = b.SnagList(b.ctx(), b.clerk, b.people.site.ID, east.ID, register.ListFilter{})
		require.NoError(t, err)
		require.Equal(t, []int{left, below, right}, numbersOf(list)[:3], "left to right, then top to bottom, inside a bay")
	})
}

func TestTheSameNumbersEverywhere(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	first := b.raise(b.clerk, b.seen(1, 1))
	fire := b.raise(b.clerk, register.RaiseInput{ElevationID: b.north.ID, Bay: 2, Lift: 1, Code: "FB-01", Text: "missing", Gang: "B"})
	gone := b.raise(b.clerk, b.seen(3, 1))
	b.step(b.manager, gone, because(defects.StepWithdraw, "twice on the list"))
	elsewhere := b.seen(1, 1)
	elsewhere.ElevationID = b.walls[0].ID
	b.raise(b.clerk, elsewhere)
	b.instruct(first)
	photo := b.photo()
	b.step(b.installer, first, offer(photo))

	list := func(f register.ListFilter) register.SnagList {
		l, err := b.SnagList(b.ctx(), b.owner, b.people.site.ID, b.north.ID, f)
		require.NoError(t, err)
		return l
	}
	open := list(register.ListFilter{})
	require.Equal(t, []int{first.Number, fire.Number}, numbersOf(open))
	require.Equal(t, map[defects.State]int{defects.Offered: 1, defects.Raised: 1, defects.Withdrawn: 1}, open.Counts)
	require.Equal(t, map[defects.Severity]int{defects.Major: 1, defects.Critical: 1}, open.BySeverity)
	require.Equal(t, []string{photo}, open.Items[0].Thumbs)
	require.Equal(t, defects.Due{On: "2026-06-08", Reason: defects.DueOwn, Text: "as instructed"}, open.Items[0].Due)
	require.Equal(t, b.people.site.ID, open.Site.ID)
	require.Equal(t, "North", open.Elevation.Name)
	require.Equal(t, b.last(b.people.site.ID).Seq, open.Seq)
	require.Equal(t, b.Now(), open.At)

	require.Len(t, list(register.ListFilter{All: true}).Items, 3)
	require.Equal(t, []int{gone.Number}, numbersOf(list(register.ListFilter{States: []defects.State{defects.Withdrawn}})))
	require.Equal(t, []int{fire.Number}, numbersOf(list(register.ListFilter{Severities: []defects.Severity{defects.Critical}})))
	require.Equal(t, []int{fire.Number}, numbersOf(list(register.ListFilter{Stage: "FB"})))
	require.Equal(t, []int{fire.Number}, numbersOf(list(register.ListFilter{Gang: "B"})))
	require.Equal(t, []int{first.Number}, numbersOf(list(register.ListFilter{DueReason: defects.DueOwn})))
	require.Equal(t, open.Counts, list(register.ListFilter{Gang: "B"}).Counts, "a filter narrows the lines, not the counts")

	lists, err := b.SnagLists(b.ctx(), b.owner, b.people.site.ID, register.ListFilter{})
	require.NoError(t, err)
	require.Len(t, lists, 4)
	total := 0
	for i, l := range lists {
		require.Equal(t, b.walls[i].ID, l.Elevation.ID)
		total += len(l.Items)
		if l.Elevation.ID == b.north.ID {
			require.Equal(t, open, l)
		}
	}
	require.Equal(t, 3, total)
	whole, err := b.SnagList(b.ctx(), b.owner, b.people.site.ID, "", register.ListFilter{})
	require.NoError(t, err)
	require.Len(t, whole.Items, 3)
	require.Equal(t, 2, whole.BySeverity[defects.Major])

	_, err = b.SnagList(b.ctx(), b.owner, b.people.site.ID, "nowhere", register.ListFilter{})
	refused(t, err, defects.NotFound, "elevation_not_found")
	_, err = b.SnagLists(b.ctx(), b.stranger, b.people.site.ID, register.ListFilter{})
	refused(t, err, defects.NotFound, "site_not_found")
}

func TestMilestonesRuleTheDueDate(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	in4, in7 := b.raise(b.clerk, b.seen(4, 2)), b.raise(b.clerk, b.seen(7, 2))
	for _, m := range []defects.Milestone{
		{Kind: defects.Strike, ElevationID: b.north.ID, BayFrom: 1, BayTo: 4, On: "2026-06-05"},
		{Kind: defects.CoverUp, Stage: "SL", ElevationID: b.north.ID, BayFrom: 5, BayTo: 8, On: "2026-06-04"},
		{Kind: defects.CoverUp, Stage: "FX", ElevationID: b.north.ID, On: "2026-06-02"},
	} {
		m.SiteID = b.people.site.ID
		_, err := b.SetMilestone(b.ctx(), b.manager, m)
		require.NoError(t, err)
	}
	b.instruct(in4)
	b.instruct(in7)
	by := func(reason defects.DueReason) register.SnagList {
		l, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, b.north.ID, register.ListFilter{DueReason: reason})
		require.NoError(t, err)
		return l
	}
	require.Equal(t, []int{in4.Number}, numbersOf(by(defects.DueStrike)))
	require.Equal(t, "scaffold strike, bays 1–4", by(defects.DueStrike).Items[0].Due.Text)
	require.Equal(t, []int{in7.Number}, numbersOf(by(defects.DueCoverUp)))
	require.Equal(t, "2026-06-04", by(defects.DueCoverUp).Items[0].Due.On)
	require.Len(t, by(defects.DueOwn).Items, 2, "an earlier date hides no later one")
}

// What must be done before a strike is all that the strike takes away, whatever
// else comes before it.
func TestAFilterByDateFindsAllThatTheDateAppliesTo(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	site := b.people.site.ID
	in4, in7 := b.raise(b.clerk, b.seen(4, 2)), b.raise(b.clerk, b.seen(7, 2))
	plan := func(m defects.Milestone) string {
		m.SiteID = site
		m, err := b.SetMilestone(b.ctx(), b.manager, m)
		require.NoError(t, err)
		return m.ID
	}
	strike := plan(defects.Milestone{Kind: defects.Strike, ElevationID: b.north.ID, On: "2026-06-20"})
	slips := plan(defects.Milestone{Kind: defects.CoverUp, Stage: "SL", ElevationID: b.north.ID, BayFrom: 1, BayTo: 4, On: "2026-06-15"})
	own := plan(defects.Milestone{Kind: defects.CoverUp, Stage: "BM", ElevationID: b.north.ID, On: "2026-06-14"})
	b.instruct(in4) // due 8 June, before all of them

	list := func(f register.ListFilter) register.SnagList {
		l, err := b.SnagList(b.ctx(), b.clerk, site, b.north.ID, f)
		require.NoError(t, err)
		page, err := b.ListItems(b.ctx(), b.clerk, site, b.north.ID, f, register.Page{})
		require.NoError(t, err)
		require.ElementsMatch(t, l.Items, page.Items, "the list by number answers the same question the same way")
		return l
	}
	both := []int{in7.Number, in4.Number}
	require.ElementsMatch(t, both, numbersOf(list(register.ListFilter{DueReason: defects.DueStrike})))
	require.ElementsMatch(t, both, numbersOf(list(register.ListFilter{Milestone: strike})))
	require.Equal(t, []int{in4.Number}, numbersOf(list(register.ListFilter{DueReason: defects.DueCoverUp})))
	require.Empty(t, list(register.ListFilter{Milestone: own}).Items, "a stage does not hide itself")

	item := list(register.ListFilter{Milestone: slips}).Items[0]
	require.Equal(t, "2026-06-08", item.Due.On, "the date shown stays the earliest")
	require.Equal(t, defects.DueOwn, item.Due.Reason)
	require.Len(t, item.Also, 2)
	require.Equal(t, []string{slips, strike}, []string{item.Also[0].MilestoneID, item.Also[1].MilestoneID})

	dates, err := b.PlannedDates(b.ctx(), b.clerk, site)
	require.NoError(t, err)
	open := map[string]int{}
	for _, d := range dates {
		open[d.ID] = d.Open
	}
	require.Equal(t, map[string]int{strike: 2, slips: 1, own: 0}, open)

	_, err = b.SnagList(b.ctx(), b.clerk, site, b.north.ID, register.ListFilter{Milestone: "nothing"})
	refused(t, err, defects.NotFound, "milestone_not_found")
	_, err = b.ListItems(b.ctx(), b.clerk, site, "", register.ListFilter{Milestone: "nothing"}, register.Page{})
	refused(t, err, defects.NotFound, "milestone_not_found")
}

func TestOverdueIsCountedByTheSitesOwnDay(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	late, open := b.raise(b.clerk, b.seen(1, 1)), b.raise(b.clerk, b.seen(2, 1))
	b.instruct(late) // due Monday 8 June
	site, err := b.Site(b.ctx(), b.clerk, b.people.site.ID)
	require.NoError(t, err)
	zone, err := time.LoadLocation(site.TimeZone)
	require.NoError(t, err)
	overdue := func() []register.SnagItem {
		l, err := b.SnagList(b.ctx(), b.clerk, site.ID, b.north.ID, register.ListFilter{Overdue: true})
		require.NoError(t, err)
		return l.Items
	}
	at := func(day, hour, minute int) {
		b.clock.add(time.Date(2026, 6, day, hour, minute, 0, 0, zone).Sub(b.Now()))
	}
	at(8, 23, 0)
	require.Empty(t, overdue(), "the day itself is still in time")
	at(9, 0, 30)
	require.Len(t, overdue(), 1)
	require.Equal(t, 1, overdue()[0].Overdue)
	at(28, 12, 0)
	require.Equal(t, 20, overdue()[0].Overdue)
	v, err := b.Snag(b.ctx(), b.clerk, site.ID, late.Number)
	require.NoError(t, err)
	require.Equal(t, 20, v.Overdue)
	v, err = b.Snag(b.ctx(), b.clerk, site.ID, open.Number)
	require.NoError(t, err)
	require.Zero(t, v.Overdue, "without a date nothing is late")
}

func TestListsAreNarrowedByPlaceAndCode(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	a, c := b.raise(b.clerk, b.seen(1, 1)), b.raise(b.clerk, b.seen(2, 3))
	fire := b.raise(b.clerk, register.RaiseInput{ElevationID: b.north.ID, Bay: 2, Lift: 1, Code: "FB-01", Text: "missing", Gang: "Z"})
	for name, x := range map[string]struct {
		f    register.ListFilter
		want []int
	}{
		"bay":             {register.ListFilter{Bay: 2}, []int{c.Number, fire.Number}},
		"lift":            {register.ListFilter{Lift: 1}, []int{a.Number, fire.Number}},
		"bay and lift":    {register.ListFilter{Bay: 2, Lift: 1}, []int{fire.Number}},
		"stage of a code": {register.ListFilter{Code: "BM"}, []int{a.Number, c.Number}},
		"exact code":      {register.ListFilter{Code: "FB-01"}, []int{fire.Number}},
		"part of a code":  {register.ListFilter{Code: "FB-0"}, nil},
		"wild card":       {register.ListFilter{Code: "%"}, nil},
	} {
		l, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, b.north.ID, x.f)
		require.NoError(t, err)
		require.ElementsMatch(t, x.want, numbersOf(l), name)
	}
	gangs, err := b.Gangs(b.ctx(), b.clerk, b.people.site.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"A", "B", "Z"}, gangs, "those of people and those of snags")
	gangs, err = b.Gangs(b.ctx(), b.operative, b.people.site.ID)
	require.NoError(t, err)
	require.Equal(t, []string{"A"}, gangs, "an operative sees his own gang's work")
}

func TestPagesByDateGoOnWithoutLossOrRepeat(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	var want []int
	for i := range 7 {
		s := b.raise(b.clerk, b.seen(1+i%8, 1))
		if i%2 == 0 {
			b.instruct(s)
			want = append(want, s.Number)
		}
	}
	var got []int
	for page := (register.Page{Limit: 3}); ; {
		part, err := b.ListItems(b.ctx(), b.clerk, b.people.site.ID, "", register.ListFilter{DueReason: defects.DueOwn}, page)
		require.NoError(t, err)
		for _, item := range part.Items {
			got = append(got, item.Snag.Number)
		}
		if page.After = part.Next; part.Next == "" {
			break
		}
	}
	require.Equal(t, want, got)
}

func TestAListTakesAsManyStatementsHoweverLongItIs(t *testing.T) {
	t.Parallel()
	var n atomic.Int64
	b := newSnagBedOn(t, newFixtureOn(t, modelstest.Open(t, modelstest.Observe(func(string) { n.Add(1) }))))
	count := func(elevation string) int64 {
		n.Store(0)
		l, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, elevation, register.ListFilter{All: true})
		require.NoError(t, err)
		require.NotEmpty(t, l.Items)
		return n.Load()
	}
	// others counts the statements of what stands beside the lists.
	others := func() []int64 {
		var out []int64
		for _, ask := range []func() error{
			func() error {
				_, err := b.ListItems(b.ctx(), b.clerk, b.people.site.ID, "", register.ListFilter{Overdue: true}, register.Page{})
				return err
			},
			func() error { _, err := b.PlannedDates(b.ctx(), b.clerk, b.people.site.ID); return err },
			func() error { _, err := b.Gangs(b.ctx(), b.clerk, b.people.site.ID); return err },
			func() error {
				_, _, err := b.SearchLog(b.ctx(), b.clerk, register.LogFilter{SiteID: b.people.site.ID}, 100)
				return err
			},
		} {
			n.Store(0)
			require.NoError(t, ask())
			out = append(out, n.Load())
		}
		return out
	}
	b.raise(b.clerk, b.seen(1, 1))
	few := others()
	one, all := count(b.north.ID), count("")
	require.Positive(t, one)
	require.Less(t, one, int64(15))
	for i := range 40 {
		in := b.seen(1+i%8, 1+i%3)
		in.Photos = []string{b.photo()}
		b.raise(b.clerk, in)
	}
	require.Equal(t, one, count(b.north.ID))
	require.Equal(t, all, count(""))
	require.Equal(t, few, others())
}

func TestTheWalkFollowsTheWall(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	x1, x2, z := defects.MM(3000), defects.MM(12000), defects.MM(5000)
	in := b.seen(0, 0)
	in.X, in.Z = &x2, &z
	right := b.raise(b.clerk, in)
	in.X = &x1
	left := b.raise(b.clerk, in)
	named := b.raise(b.clerk, b.seen(1, 3))
	e, err := b.UpdateElevation(b.ctx(), b.manager, b.people.site.ID, b.north.ID, b.north.Version, register.ElevationPatch{
		Bays: &[]defects.MM{10000, b.north.Length}, Lifts: &[]defects.MM{1500, 3000, 4500, 6000},
	})
	require.NoError(t, err)
	require.Equal(t, 1, b.load(left.Number).Place.Bay)
	require.Equal(t, 4, b.load(left.Number).Place.Lift)
	require.Equal(t, 2, b.load(right.Number).Place.Bay)
	require.Contains(t, b.load(right.Number).PlaceWords, "bay 2 / lift 4")
	require.Equal(t, 3, b.load(named.Number).Place.Lift, "a lift that somebody named stays as named")
	list, err := b.SnagList(b.ctx(), b.clerk, b.people.site.ID, e.ID, register.ListFilter{})
	require.NoError(t, err)
	require.Equal(t, []int{left.Number, right.Number, named.Number}, numbersOf(list))
	v, err := b.Snag(b.ctx(), b.clerk, b.people.site.ID, right.Number)
	require.NoError(t, err)
	require.Len(t, v.History, 1, "it is no step of the snag's life")
	require.Equal(t, 2, v.Snag.Version)
	require.Equal(t, 3, b.kinds()["snag-place.update"])
}
