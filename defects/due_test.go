package defects_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func namedStages() []defects.Stage {
	return []defects.Stage{{Code: "BM", Name: "Base coat & mesh"}, {Code: "SL", Name: "Slips & adhesive"}}
}

func TestTheEarliestClockCounts(t *testing.T) {
	t.Parallel()
	snag := defects.Snag{
		State: defects.Instructed, Stage: "BM", Place: bay3lift2, RaisedAt: at(0), OwnDue: "2026-06-20",
	}
	cover := func(stage, on string) defects.Milestone {
		return defects.Milestone{Kind: defects.CoverUp, Stage: stage, ElevationID: "north", BayFrom: 1, BayTo: 4, LiftFrom: 2, LiftTo: 2, On: on}
	}
	strike := defects.Milestone{Kind: defects.Strike, ElevationID: "north", BayFrom: 1, BayTo: 4, On: "2026-06-18"}
	completion := defects.Milestone{Kind: defects.Completion, On: "2026-06-25"}
	for name, c := range map[string]struct {
		edit       func(*defects.Snag)
		milestones []defects.Milestone
		on         string
		reason     defects.DueReason
		text       string
	}{
		"own date alone":          {nil, nil, "2026-06-20", defects.DueOwn, "as instructed"},
		"cover-up before it":      {nil, []defects.Milestone{completion, strike, cover("SL", "2026-06-10")}, "2026-06-10", defects.DueCoverUp, "Slips & adhesive starts, bays 1–4, lift 2"},
		"strike before it":        {nil, []defects.Milestone{completion, strike}, "2026-06-18", defects.DueStrike, "scaffold strike, bays 1–4"},
		"own date before all":     {nil, []defects.Milestone{completion, cover("SL", "2026-06-21")}, "2026-06-20", defects.DueOwn, "as instructed"},
		"same day, harder clock":  {nil, []defects.Milestone{cover("SL", "2026-06-20")}, "2026-06-20", defects.DueCoverUp, "Slips & adhesive starts, bays 1–4, lift 2"},
		"its own stage hides not": {nil, []defects.Milestone{cover("BM", "2026-06-10"), cover("IB", "2026-06-11")}, "2026-06-20", defects.DueOwn, "as instructed"},
		"another lift":            {func(s *defects.Snag) { s.Place.Lift = 3 }, []defects.Milestone{cover("SL", "2026-06-10")}, "2026-06-20", defects.DueOwn, "as instructed"},
		"another bay":             {func(s *defects.Snag) { s.Place.Bay = 5 }, []defects.Milestone{strike}, "2026-06-20", defects.DueOwn, "as instructed"},
		"another elevation":       {func(s *defects.Snag) { s.Place.ElevationID = "south" }, []defects.Milestone{strike}, "2026-06-20", defects.DueOwn, "as instructed"},
		"place unclear":           {func(s *defects.Snag) { s.Place.Bay = 0 }, []defects.Milestone{strike}, "2026-06-18", defects.DueStrike, "scaffold strike, bays 1–4"},
		"past when raised":        {nil, []defects.Milestone{cover("SL", "2026-05-30")}, "2026-06-20", defects.DueOwn, "as instructed"},
		"completion alone":        {func(s *defects.Snag) { s.OwnDue = "" }, []defects.Milestone{completion}, "2026-06-25", defects.DueCompletion, "practical completion"},
		"nothing known":           {func(s *defects.Snag) { s.OwnDue = "" }, nil, "", defects.NoDue, ""},
		"closed":                  {func(s *defects.Snag) { s.State = defects.Closed }, []defects.Milestone{strike}, "", defects.NoDue, ""},
		"deferred": {func(s *defects.Snag) {
			s.State, s.DeferUntil = defects.Deferred, "2026-06-12"
		}, []defects.Milestone{strike}, "2026-06-12", defects.DueOwn, "deferred until then"},
		"deferred to an event": {func(s *defects.Snag) {
			s.State, s.DeferUntil = defects.Deferred, "the beads come"
		}, []defects.Milestone{strike}, "2026-06-18", defects.DueStrike, "scaffold strike, bays 1–4"},
	} {
		s := snag
		if c.edit != nil {
			c.edit(&s)
		}
		require.Equal(t, defects.Due{On: c.on, Reason: c.reason, Text: c.text}, defects.DueOf(s, c.milestones, namedStages()), name)
	}
}

func TestEveryDateOfASnagIsTold(t *testing.T) {
	t.Parallel()
	snag := defects.Snag{State: defects.Instructed, Stage: "BM", Place: bay3lift2, RaisedAt: at(0), OwnDue: "2026-06-09"}
	all := defects.DuesOf(snag, []defects.Milestone{
		{ID: "done", Kind: defects.Completion, On: "2026-06-25"},
		{ID: "strike", Kind: defects.Strike, ElevationID: "north", BayFrom: 1, BayTo: 4, On: "2026-06-18"},
		{ID: "elsewhere", Kind: defects.Strike, ElevationID: "south", On: "2026-06-18"},
		{ID: "own stage", Kind: defects.CoverUp, Stage: "BM", On: "2026-06-18"},
		{ID: "slips", Kind: defects.CoverUp, Stage: "SL", On: "2026-06-18"},
	}, namedStages())
	require.Equal(t, []defects.Due{
		{On: "2026-06-09", Reason: defects.DueOwn, Text: "as instructed"},
		{On: "2026-06-18", Reason: defects.DueCoverUp, Text: "Slips & adhesive starts", MilestoneID: "slips"},
		{On: "2026-06-18", Reason: defects.DueStrike, Text: "scaffold strike, bays 1–4", MilestoneID: "strike"},
		{On: "2026-06-25", Reason: defects.DueCompletion, Text: "practical completion", MilestoneID: "done"},
	}, all)
	snag.State = defects.Closed
	require.Empty(t, defects.DuesOf(snag, []defects.Milestone{{Kind: defects.Completion, On: "2026-06-25"}}, nil))
}

func TestOverdueIsCountedInDays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		due, today string
		days       int
	}{
		{"2026-06-05", "2026-06-05", 0},
		{"2026-06-05", "2026-06-06", 1},
		{"2026-06-05", "2026-06-04", 0},
		{"2026-03-28", "2026-03-30", 2}, // the clocks change between them
		{"2024-02-28", "2024-03-01", 2},
		{"2025-12-12", "2026-01-31", 50},
		{"", "2026-06-06", 0},
		{"the beads come", "2026-06-06", 0},
	} {
		require.Equal(t, c.days, defects.OverdueDays(c.due, c.today), "%s on %s", c.due, c.today)
	}
}

func TestDefaultDueDatesSkipTheWeekend(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		severity defects.Severity
		day, due string
	}{
		{defects.Critical, "2026-06-05", "2026-06-06"}, // Friday: the next day, working or not
		{defects.Major, "2026-06-05", "2026-06-12"},
		{defects.Major, "2026-06-06", "2026-06-12"}, // Saturday
		{defects.Minor, "2026-06-01", "2026-06-15"},
		{defects.Minor, "2026-12-30", "2027-01-13"},
	} {
		require.Equal(t, c.due, defects.DefaultDue(c.severity, c.day), "%s from %s", c.severity, c.day)
	}
}

func TestTheDefectsPeriodEndsByTheCalendar(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		completed string
		months    int
		ends      string
	}{
		{"2025-03-14", 0, "2026-03-14"},
		{"2025-06-30", 12, "2026-06-30"},
		{"2025-08-31", 6, "2026-02-28"},
		{"2024-02-29", 12, "2025-02-28"},
		{"2025-12-31", 2, "2026-02-28"},
		{"", 12, ""},
	} {
		require.Equal(t, c.ends, defects.PeriodEnds(defects.Building{CompletedOn: c.completed, DefectsMonths: c.months}), c.completed)
	}
}

func TestTheNextCoverUpAndStrike(t *testing.T) {
	t.Parallel()
	ms := []defects.Milestone{
		{Kind: defects.CoverUp, Stage: "SL", On: "2026-07-10"},
		{Kind: defects.CoverUp, Stage: "SL", ElevationID: "north", On: "2026-07-01"},
		{Kind: defects.CoverUp, Stage: "SL", ElevationID: "north", On: "2026-05-01"},
		{Kind: defects.Strike, ElevationID: "north", On: "2026-07-20"},
		{Kind: defects.Strike, On: "2026-07-19"},
	}
	on, what := defects.NextCoverUp("BM", bay3lift2, "2026-06-01", ms, namedStages())
	require.Equal(t, "2026-07-01", on)
	require.Equal(t, "Slips & adhesive starts", what)
	on, _ = defects.NextCoverUp("PT", bay3lift2, "2026-06-01", ms, namedStages())
	require.Empty(t, on)
	require.Equal(t, "2026-07-19", defects.NextStrike(bay3lift2, "2026-06-01", ms))
	require.Empty(t, defects.NextStrike(bay3lift2, "2026-08-01", ms))
}
