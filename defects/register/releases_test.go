package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// J15 of the jobs: laps with U = 3 against at least 100 mm, and H7.
func TestJ15LapsStopH7(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		b := newSnagBedOn(t, f)
		lap := register.ReadingInput{
			Quantity: "mesh_lap", Unit: "mm", Expanded: "3", MeasuredAt: b.Now().Format(time.RFC3339), Stage: "BM",
			ElevationID: b.north.ID, Bay: 3, Lift: 2, Gang: "A",
		}
		got := b.all(lap, "110", "104", "95", "88", "102", "98")
		require.Equal(t, []defects.Outcome{
			defects.Pass, defects.Pass, defects.Fail, defects.Fail, defects.ConditionalPass, defects.ConditionalFail,
		}, outcomes(got))
		h7 := register.ReleaseInput{
			HoldPoint: "H7", ElevationID: b.north.ID, BayFrom: 1, BayTo: 4, LiftFrom: 2, LiftTo: 2, Outcome: defects.Released,
		}
		_, err := b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, h7)
		e := refused(t, err, defects.Conflict, "hold_point_not_ready")
		require.Len(t, e.Details, 4)
		ready, err := b.ReadinessOf(b.ctx(), b.installer, b.people.site.ID, h7)
		require.NoError(t, err)
		require.False(t, ready.Ready)
		require.Equal(t, e.Details, ready.Reasons)

		var snags []defects.Snag
		for _, i := range []int{2, 3, 5} {
			snags = append(snags, b.raise(b.clerk, register.RaiseInput{
				ReadingID: got[i].Reading.ID, Code: "BM-04", Extent: defects.Pattern, Text: "lap short",
			}))
		}
		require.Equal(t, defects.Pattern, snags[0].Extent)
		require.Equal(t, "88 mm against at least 100 mm", snags[1].ReadingText)
		again := b.follow()
		require.Positive(t, again["search mesh_lap"], "a pattern asks for further laps")

		h7.Outcome, h7.Text = defects.ReleasedConditions, "SN-0001 and SN-0002 by Friday"
		_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, h7)
		e = refused(t, err, defects.Conflict, "hold_point_not_ready")
		require.Equal(t, "SN-0003", e.Details[0].Field)
		h7.Text = "SN-0001, SN-0002 and SN-0003 by Friday"
		rel, err := b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, h7)
		require.NoError(t, err)
		list, err := b.Releases(b.ctx(), b.auditor, b.people.site.ID)
		require.NoError(t, err)
		require.Equal(t, []defects.Release{rel}, list)
		require.Equal(t, "hold.release", b.last(b.people.site.ID).Kind)

		other := h7
		other.BayFrom, other.BayTo, other.Outcome, other.Text = 5, 8, defects.Released, ""
		_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, other)
		require.NoError(t, err, "an area without faults is released")
	})
}

func TestHoldPointsAreTheClerks(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	in := register.ReleaseInput{HoldPoint: "H5", ElevationID: b.north.ID, Outcome: defects.ReleaseRefused, Text: "edge zone short of anchors"}
	for _, who := range []register.Actor{b.installer, b.operative, b.auditor, b.designer, b.manager, b.owner} {
		_, err := b.ReleaseHold(b.ctx(), who, b.people.site.ID, in)
		refused(t, err, defects.Forbidden, "role_forbidden")
	}
	_, err := b.ReleaseHold(b.ctx(), b.stranger, b.people.site.ID, in)
	refused(t, err, defects.NotFound, "site_not_found")
	for name, edit := range map[string]func(*register.ReleaseInput){
		"unknown_hold_point":  func(in *register.ReleaseInput) { in.HoldPoint = "H99" },
		"bad_area":            func(in *register.ReleaseInput) { in.ElevationID = "" },
		"elevation_not_found": func(in *register.ReleaseInput) { in.ElevationID = "nowhere" },
		"no_such_bay":         func(in *register.ReleaseInput) { in.BayTo = 99 },
		"reason_missing":      func(in *register.ReleaseInput) { in.Text = " " },
		"unknown_outcome":     func(in *register.ReleaseInput) { in.Outcome = "" },
	} {
		bad := in
		edit(&bad)
		_, err := b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, bad)
		var e *defects.Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, name, e.Code)
	}
	_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, in)
	require.NoError(t, err)
	require.Equal(t, "hold.refuse", b.last(b.people.site.ID).Kind)

	// J23 of the jobs: the refusal of an earlier point stands in the way.
	b.clock.add(time.Minute)
	h7 := register.ReleaseInput{HoldPoint: "H7", ElevationID: b.north.ID, Outcome: defects.Released}
	_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, h7)
	e := refused(t, err, defects.Conflict, "hold_point_not_ready")
	require.Equal(t, "earlier_point_refused", e.Details[0].Code)
	in.Outcome, in.Text = defects.Released, ""
	_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, in)
	require.NoError(t, err)
	_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, h7)
	require.NoError(t, err)
}

func TestWhoMadeGoodInAnAreaReleasesNothingThere(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.manager, b.seen(2, 1))
	b.instruct(s)
	in := offer(b.photo())
	in.MadeGood.ByID = b.clerk.AccountID
	b.step(b.installer, s, in)
	_, err := b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, register.ReleaseInput{
		HoldPoint: "H7", ElevationID: b.north.ID, Outcome: defects.ReleaseRefused, Text: "x",
	})
	refused(t, err, defects.Forbidden, "own_work")
}

func TestACriticalSnagStopsItsArea(t *testing.T) {
	t.Parallel()
	b := newSnagBed(t)
	s := b.raise(b.clerk, register.RaiseInput{ElevationID: b.north.ID, Bay: 2, Lift: 1, Code: "FB-01", Text: "missing"})
	in := register.ReleaseInput{HoldPoint: "H7", ElevationID: b.north.ID, BayFrom: 1, BayTo: 2, Outcome: defects.ReleasedConditions, Text: "but for SN-0001"}
	_, err := b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, in)
	e := refused(t, err, defects.Conflict, "hold_point_not_ready")
	require.Equal(t, "open_critical", e.Details[0].Code)
	b.step(b.manager, s, because(defects.StepWithdraw, "drawing was old"))
	_, err = b.ReleaseHold(b.ctx(), b.clerk, b.people.site.ID, in)
	require.NoError(t, err)
}
