package defects_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func points() []defects.HoldPoint {
	return []defects.HoldPoint{
		{Code: "H5", Name: "Fixings", Stages: []string{"FX"}, Before: []string{"BM"}},
		{Code: "H7", Name: "Base coat ready for finish", Stages: []string{"BM"}, Before: []string{"SL", "FN"}},
	}
}

func h7(edit ...func(*defects.Release)) defects.Release {
	r := defects.Release{
		HoldPoint: "H7", ElevationID: "north", BayFrom: 1, BayTo: 3, LiftFrom: 2, LiftTo: 2, Outcome: defects.Released, By: clerkA, At: at(100),
	}
	for _, e := range edit {
		e(&r)
	}
	return r
}

func conditions(text string) func(*defects.Release) {
	return func(r *defects.Release) { r.Outcome, r.Text = defects.ReleasedConditions, text }
}

func lap(id, value string, o defects.Outcome) defects.Reading {
	low := defects.MustDecimal("100")
	return defects.Reading{
		ID: id, Quantity: "mesh_lap", Unit: "mm", Value: defects.MustDecimal(value), Stage: "BM", Place: bay3lift2,
		MeasuredAt: at(50), Verdict: defects.Verdict{Outcome: o, Lower: &low},
	}
}

func TestWhatStopsAHoldPoint(t *testing.T) {
	t.Parallel()
	snag := func(n int, sev defects.Severity, st defects.State, p defects.Place) defects.Snag {
		return defects.Snag{Number: n, Severity: sev, State: st, Place: p, Code: "BM-04", Title: "Mesh lap short", PlaceWords: "North / bay 3"}
	}
	bay5 := defects.Place{ElevationID: "north", Bay: 5, Lift: 2}
	unclear := defects.Place{ElevationID: "north"}
	fail := lap("r1", "95", defects.Fail)
	answered, withdrawn, later, elsewhere := fail, fail, fail, fail
	answered.SnagNumber = 4
	withdrawn.Withdrawn = "wrong tape"
	later.Stage = "SL"
	elsewhere.Place = bay5
	cond := lap("r2", "102", defects.ConditionalPass)
	passed, passedBefore := lap("r3", "110", defects.Pass), lap("r3", "110", defects.Pass)
	passed.MeasuredAt, passedBefore.MeasuredAt = at(60), at(40)
	for name, c := range map[string]struct {
		release  defects.Release
		snags    []defects.Snag
		readings []defects.Reading
		reasons  []string
	}{
		"nothing open":                   {release: h7()},
		"open critical":                  {release: h7(), snags: []defects.Snag{snag(1, defects.Critical, defects.Offered, bay3lift2)}, reasons: []string{"open_critical SN-0001"}},
		"critical under conditions":      {release: h7(conditions("all but SN-0001")), snags: []defects.Snag{snag(1, defects.Critical, defects.Raised, bay3lift2)}, reasons: []string{"open_critical SN-0001"}},
		"open major":                     {release: h7(), snags: []defects.Snag{snag(2, defects.Major, defects.Raised, bay3lift2)}, reasons: []string{"open_major SN-0002"}},
		"major listed":                   {release: h7(conditions("sn-0002 by Friday")), snags: []defects.Snag{snag(2, defects.Major, defects.Raised, bay3lift2)}},
		"major not listed":               {release: h7(conditions("SN-0003, SN-00021")), snags: []defects.Snag{snag(2, defects.Major, defects.Raised, bay3lift2)}, reasons: []string{"open_major SN-0002"}},
		"major named without conditions": {release: h7(func(r *defects.Release) { r.Text = "SN-0002" }), snags: []defects.Snag{snag(2, defects.Major, defects.Raised, bay3lift2)}, reasons: []string{"open_major SN-0002"}},
		"minor, closed and conceded": {release: h7(), snags: []defects.Snag{
			snag(3, defects.Minor, defects.Raised, bay3lift2), snag(4, defects.Critical, defects.Closed, bay3lift2), snag(5, defects.Major, defects.Conceded, bay3lift2),
		}},
		"in another bay":          {release: h7(), snags: []defects.Snag{snag(6, defects.Critical, defects.Raised, bay5)}},
		"at an unclear place":     {release: h7(), snags: []defects.Snag{snag(6, defects.Critical, defects.Raised, unclear)}, reasons: []string{"open_critical SN-0006"}},
		"failed reading":          {release: h7(), readings: []defects.Reading{fail}, reasons: []string{"failed_reading r1"}},
		"failed, with conditions": {release: h7(conditions("x")), readings: []defects.Reading{fail}, reasons: []string{"failed_reading r1"}},
		"answered, withdrawn, of a later stage, elsewhere": {release: h7(), readings: []defects.Reading{answered, withdrawn, later, elsewhere}},
		"conditional":                  {release: h7(), readings: []defects.Reading{cond}, reasons: []string{"conditional_reading r2"}},
		"conditional, conditions":      {release: h7(conditions("x")), readings: []defects.Reading{cond}},
		"conditional, passed later":    {release: h7(), readings: []defects.Reading{cond, passed}},
		"conditional, passed earlier":  {release: h7(), readings: []defects.Reading{cond, passedBefore}, reasons: []string{"conditional_reading r2"}},
		"conditional fail, conditions": {release: h7(conditions("x")), readings: []defects.Reading{lap("r4", "98", defects.ConditionalFail)}, reasons: []string{"conditional_reading r4"}},
	} {
		got := defects.HoldReasons(c.release, defects.HoldFacts{Snags: c.snags, Readings: c.readings, Points: points()})
		require.Equal(t, c.reasons, refs(got), name)
	}
}

// J15 of the jobs: laps of 110, 104, 95, 88, 102, 98 with U = 3.
func TestLapsThatFailStopH7(t *testing.T) {
	t.Parallel()
	got := defects.HoldReasons(h7(), defects.HoldFacts{Points: points(), Readings: []defects.Reading{
		lap("110", "110", defects.Pass), lap("104", "104", defects.Pass), lap("95", "95", defects.Fail), lap("88", "88", defects.Fail),
		lap("102", "102", defects.ConditionalPass), lap("98", "98", defects.ConditionalFail),
	}})
	require.Equal(t, []string{"conditional_reading 102", "conditional_reading 98", "failed_reading 88", "failed_reading 95"}, refs(got))
	require.Contains(t, got[0].Text, "95 mm against at least 100 mm")
}

func TestAnEarlierRefusalStandsUntilItIsLifted(t *testing.T) {
	t.Parallel()
	h5 := func(o defects.ReleaseOutcome, minute, from, to int) defects.Release {
		return defects.Release{HoldPoint: "H5", ElevationID: "north", BayFrom: from, BayTo: to, Outcome: o, At: at(minute)}
	}
	refused := []string{"earlier_point_refused H5"}
	for name, c := range map[string]struct {
		releases []defects.Release
		reasons  []string
	}{
		"none":                        {nil, nil},
		"refused":                     {[]defects.Release{h5(defects.ReleaseRefused, 10, 1, 4)}, refused},
		"refused elsewhere":           {[]defects.Release{h5(defects.ReleaseRefused, 10, 4, 6)}, nil},
		"released since":              {[]defects.Release{h5(defects.Released, 20, 1, 4), h5(defects.ReleaseRefused, 10, 1, 4)}, nil},
		"released before":             {[]defects.Release{h5(defects.Released, 5, 1, 4), h5(defects.ReleaseRefused, 10, 1, 4)}, refused},
		"released in part":            {[]defects.Release{h5(defects.ReleaseRefused, 10, 1, 4), h5(defects.Released, 20, 1, 2)}, refused},
		"released for the part asked": {[]defects.Release{h5(defects.ReleaseRefused, 10, 1, 9), h5(defects.Released, 20, 1, 3)}, nil},
		"released for all":            {[]defects.Release{h5(defects.ReleaseRefused, 10, 0, 0), h5(defects.ReleasedConditions, 20, 0, 0)}, nil},
		"refused again":               {[]defects.Release{h5(defects.ReleaseRefused, 30, 2, 2), h5(defects.Released, 20, 1, 4)}, refused},
	} {
		require.Equal(t, c.reasons, refs(defects.HoldReasons(h7(), defects.HoldFacts{Releases: c.releases, Points: points()})), name)
	}
	own := h7(func(r *defects.Release) { r.Outcome, r.At = defects.ReleaseRefused, at(1) })
	require.Empty(t, defects.HoldReasons(h7(), defects.HoldFacts{Releases: []defects.Release{own}, Points: points()}),
		"a point that was refused can be released once it is right")
}

func TestAnswersToAHoldPoint(t *testing.T) {
	t.Parallel()
	made := defects.Snag{Number: 9, State: defects.Closed, Place: bay3lift2, MadeGood: defects.MakingGood{ByID: clerkA.ID}}
	f := defects.HoldFacts{Points: points()}
	for name, c := range map[string]struct {
		edit  func(*defects.Release)
		facts defects.HoldFacts
		kind  defects.Kind
		code  string
	}{
		"sound":                 {func(*defects.Release) {}, f, "", ""},
		"unknown point":         {func(r *defects.Release) { r.HoldPoint = "H99" }, f, defects.Invalid, "unknown_hold_point"},
		"no elevation":          {func(r *defects.Release) { r.ElevationID = "" }, f, defects.Invalid, "bad_area"},
		"bays the wrong way":    {func(r *defects.Release) { r.BayFrom, r.BayTo = 3, 1 }, f, defects.Invalid, "bad_area"},
		"unknown outcome":       {func(r *defects.Release) { r.Outcome = "fine" }, f, defects.Invalid, "unknown_outcome"},
		"refused, no reason":    {func(r *defects.Release) { r.Outcome = defects.ReleaseRefused }, f, defects.Invalid, "reason_missing"},
		"no conditions":         {conditions(" "), f, defects.Invalid, "conditions_missing"},
		"lapsed":                {func(r *defects.Release) { r.Outcome = defects.LapsedAfterNotice }, f, "", ""},
		"who made good in it":   {func(*defects.Release) {}, defects.HoldFacts{Points: points(), Snags: []defects.Snag{made}}, defects.Forbidden, "own_work"},
		"who made good outside": {func(r *defects.Release) { r.LiftFrom, r.LiftTo = 1, 1 }, defects.HoldFacts{Points: points(), Snags: []defects.Snag{made}}, "", ""},
	} {
		err := defects.CheckRelease(h7(c.edit), c.facts)
		if c.code == "" {
			require.NoError(t, err, name)
			continue
		}
		refusedAs(t, err, c.kind, c.code)
	}
}

func TestColdWorkIsTestedBeforeConditionsLetItThrough(t *testing.T) {
	t.Parallel()
	cold := defects.Snag{
		Number: 7, Code: "BM-08", Stage: "BM", Severity: defects.Major, State: defects.Instructed, Place: bay3lift2, RaisedAt: at(50),
		Title: "Applied below minimum temperature", PlaceWords: "North / bay 3",
	}
	bond := func(minute int, o defects.Outcome) defects.Reading {
		return defects.Reading{ID: "b", Quantity: "bond_strength", Place: bay3lift2, MeasuredAt: at(minute), FailurePlane: "insulation", Verdict: defects.Verdict{Outcome: o}}
	}
	for name, c := range map[string]struct {
		readings []defects.Reading
		want     []string
	}{
		"untested":          {nil, []string{"weather_untested"}},
		"tested":            {[]defects.Reading{bond(60, defects.Pass)}, nil},
		"tested before":     {[]defects.Reading{bond(40, defects.Pass)}, []string{"weather_untested"}},
		"tested, too weak":  {[]defects.Reading{bond(60, defects.Fail)}, []string{"weather_untested", "failed_reading"}},
		"tested, withdrawn": {[]defects.Reading{{Quantity: "bond_strength", Place: bay3lift2, MeasuredAt: at(60), Verdict: defects.Verdict{Outcome: defects.Pass}, Withdrawn: "dolly slipped"}}, []string{"weather_untested"}},
	} {
		var codes []string
		facts := defects.HoldFacts{Points: points(), Snags: []defects.Snag{cold}, Readings: c.readings}
		for _, d := range defects.HoldReasons(h7(conditions("SN-0007 by Friday")), facts) {
			codes = append(codes, d.Code)
		}
		require.Equal(t, c.want, codes, name)
	}
	closed := cold
	closed.State = defects.Closed
	require.Empty(t, defects.HoldReasons(h7(), defects.HoldFacts{Points: points(), Snags: []defects.Snag{closed}}), "closing it took its own evidence")
}
