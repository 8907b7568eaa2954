package register_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestABatchGoesOnPastRefusedRows(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		var in []register.ReadingInput
		for i := range 450 { // three chunks
			row := register.ReadingInput{Row: i + 2, Quantity: "joint_width_bed", Value: "10", Unit: "mm", ElevationID: "North", Bay: 1, Lift: 1}
			if i%100 == 50 {
				row.Unit = "inch"
			}
			in = append(in, row)
		}
		results, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, in)
		require.NoError(t, err)
		require.Len(t, results, 450)
		var bad []int
		for i, res := range results {
			require.Equal(t, i+2, res.Row)
			if res.Err != nil {
				require.Equal(t, "unit", res.Err.Field)
				bad = append(bad, res.Row)
			}
		}
		require.Equal(t, []int{52, 152, 252, 352}, bad, "and row 452 is past the end")
		require.Equal(t, 446, b.stored())
		require.Equal(t, 446, b.kinds()["reading.add"])
	})
}

func TestABatchStopsWhenNothingCanBeStored(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	broken := b.with(func(d *register.Deps) { d.Store = noLog{d.Store} })
	in := []register.ReadingInput{
		{Quantity: "joint_width_bed", Value: "10", Unit: "mm"},
		{Quantity: "joint_width_bed", Value: "11", Unit: "mm"},
	}
	results, err := broken.AddReadings(b.ctx(), b.clerk, b.people.site.ID, in)
	require.ErrorIs(t, err, errNoLog)
	require.Len(t, results, 2)
	require.Equal(t, "not_stored", results[0].Err.Code)
	require.NotContains(t, results[0].Err.Error(), errNoLog.Error(), "the cause is for the log alone")
	require.Zero(t, b.stored(), "what is not logged is not done")
}

func TestWhoMayAddReadings(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	in := register.ReadingInput{Quantity: "joint_width_bed", Value: "10", Unit: "mm"}
	for _, role := range defects.Roles() {
		_, err := b.AddReading(b.ctx(), b.people.by(role), b.people.site.ID, in)
		if role.May(defects.AddReading) {
			require.NoError(t, err, role)
			continue
		}
		e := refused(t, err, defects.Forbidden, "role_forbidden")
		require.Contains(t, e.Text, "clerk")
		_, err = b.AddReadings(b.ctx(), b.people.by(role), b.people.site.ID, []register.ReadingInput{in})
		refused(t, err, defects.Forbidden, "role_forbidden")
	}
	_, err := b.AddReading(b.ctx(), b.people.stranger, b.people.site.ID, in)
	refused(t, err, defects.NotFound, "site_not_found")
	_, err = b.AddReading(b.ctx(), register.Actor{}, b.people.site.ID, in)
	require.ErrorIs(t, err, defects.Unauthenticated)
	_, err = b.AddReading(b.ctx(), register.System("desk"), b.people.site.ID, in)
	require.NoError(t, err)
}

func TestAnOperativeKeepsToHisGang(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	in := register.ReadingInput{Quantity: "joint_width_bed", Value: "13.6", Unit: "mm", Expanded: "0.1", ElevationID: b.north.ID}
	site := b.people.site.ID

	own, err := b.AddReading(b.ctx(), b.operative, site, in)
	require.NoError(t, err)
	require.Equal(t, "A", own.Reading.Gang)
	in.Gang = "B"
	_, err = b.AddReading(b.ctx(), b.operative, site, in)
	refused(t, err, defects.Forbidden, "other_gang")
	theirs, err := b.AddReading(b.ctx(), b.clerk, site, in)
	require.NoError(t, err)

	_, err = b.Reading(b.ctx(), b.operative, site, theirs.Reading.ID)
	refused(t, err, defects.NotFound, "reading_not_found")
	_, err = b.Reading(b.ctx(), b.operative, site, own.Reading.ID)
	require.NoError(t, err)
	list := func(f register.ReadingFilter) (ids []string) {
		f.SiteID = site
		page, err := b.ListReadings(b.ctx(), b.operative, f, register.Page{})
		require.NoError(t, err)
		for _, rd := range page.Items {
			ids = append(ids, rd.ID)
		}
		return ids
	}
	require.Equal(t, []string{own.Reading.ID}, list(register.ReadingFilter{}))
	require.Empty(t, list(register.ReadingFilter{Gang: "B"}))
	_, err = b.WithdrawReading(b.ctx(), b.operative, site, theirs.Reading.ID, 1, "not mine")
	refused(t, err, defects.NotFound, "reading_not_found")

	follow, err := b.FollowUps(b.ctx(), b.operative, site, "")
	require.NoError(t, err)
	require.Len(t, follow, 1)
	require.Equal(t, own.Reading.ID, follow[0].ReadingID)
}

func TestReadingsAreWithdrawnNeverEdited(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		in := register.ReadingInput{Quantity: "joint_width_bed", Value: "13.6", Unit: "mm", Expanded: "0.1", ByLogin: "installer.quarry-terrace"}
		res, err := b.AddReading(b.ctx(), b.clerk, site, in)
		require.NoError(t, err)
		id := res.Reading.ID
		require.Equal(t, b.installer.AccountID, res.Reading.ByID)
		require.Equal(t, b.clerk.AccountID, res.Reading.EnteredBy)

		_, err = b.WithdrawReading(b.ctx(), b.other, site, id, 1, "looks bad")
		refused(t, err, defects.Forbidden, "role_forbidden")
		_, err = b.WithdrawReading(b.ctx(), b.auditor, site, id, 1, "looks bad")
		refused(t, err, defects.Forbidden, "role_forbidden")
		_, err = b.WithdrawReading(b.ctx(), b.installer, site, id, 1, " ")
		refused(t, err, defects.Invalid, "reason_missing")
		_, err = b.WithdrawReading(b.ctx(), b.installer, site, id, 0, "wrong wall")
		require.ErrorIs(t, err, defects.VersionNeeded)
		_, err = b.WithdrawReading(b.ctx(), b.installer, site, id, 7, "wrong wall")
		require.ErrorIs(t, err, defects.Stale)
		_, err = b.WithdrawReading(b.ctx(), b.installer, site, "nothing", 1, "wrong wall")
		require.ErrorIs(t, err, defects.NotFound)
		require.Equal(t, 1, b.follow()["raise joint_width_bed"])

		gone, err := b.WithdrawReading(b.ctx(), b.installer, site, id, 1, "wrong wall")
		require.NoError(t, err)
		require.Equal(t, 2, gone.Version)
		stored, err := b.Reading(b.ctx(), b.clerk, site, id)
		require.NoError(t, err)
		require.Equal(t, gone, stored)
		require.Equal(t, "13.6", stored.Value.String())
		require.Equal(t, defects.Fail, stored.Verdict.Outcome)
		require.Empty(t, b.follow())
		e := b.last(site)
		require.Equal(t, "reading.withdraw", e.Kind)
		require.Equal(t, b.installer.AccountID, e.Actor.ID)
		require.Contains(t, string(e.Data), "wrong wall")
		_, err = b.WithdrawReading(b.ctx(), b.clerk, site, id, 2, "again")
		refused(t, err, defects.Conflict, "reading_withdrawn")
	})
}

func TestAnInstrumentOutOfCalibrationTakesTheVerdictAway(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	b.tool("taper gauge 2", "mm", "0.5", defects.Calibration{Certificate: "C-1", On: "2025-06-01", Due: "2026-05-31", Expanded: dec("0.2")})
	in := register.ReadingInput{Quantity: "joint_width_bed", Value: "10", Unit: "mm", InstrumentID: "taper gauge 2"}
	at := func(when string) defects.Reading {
		in.MeasuredAt = when
		res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
		require.NoError(t, err)
		return res.Reading
	}
	// 23:30 UTC is the next day in London in summer.
	last := at("2026-05-31T22:30:00Z")
	require.Equal(t, defects.Pass, last.Verdict.Outcome)
	require.Equal(t, "0.2", last.Verdict.Expanded.String(), "the certificate's U goes before the instrument's")
	late := at("2026-05-31T23:30:00Z")
	require.Equal(t, defects.NoVerdict, late.Verdict.Outcome)
	require.Equal(t, defects.ReasonCalibrationExpired, late.Verdict.Reason)
	early := at("2025-05-31T12:00:00Z")
	require.Equal(t, defects.ReasonCalibrationExpired, early.Verdict.Reason)
}

func TestRejudgingIsADecisionOfItsOwn(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	site := b.people.site.ID
	res, err := b.AddReading(b.ctx(), b.clerk, site, register.ReadingInput{Quantity: "joint_width_bed", Value: "14", Unit: "mm", Expanded: "0.1"})
	require.NoError(t, err)
	id := res.Reading.ID
	b.inForce(defects.Limit{Quantity: "joint_width_bed", Kind: defects.FixedLimit, Lower: dec("6"), Upper: dec("15")})

	stored, err := b.Reading(b.ctx(), b.clerk, site, id)
	require.NoError(t, err)
	require.Equal(t, defects.Fail, stored.Verdict.Outcome, "a new limit changes nothing by itself")
	_, err = b.Rejudge(b.ctx(), b.clerk, site, id, 1, "limit relaxed")
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, err = b.Rejudge(b.ctx(), b.designer, site, id, 1, "")
	refused(t, err, defects.Invalid, "reason_missing")
	_, err = b.Rejudge(b.ctx(), b.designer, site, id, 9, "limit relaxed")
	require.ErrorIs(t, err, defects.Stale)

	after, err := b.Rejudge(b.ctx(), b.designer, site, id, 1, "limit relaxed")
	require.NoError(t, err)
	require.Equal(t, defects.Pass, after.Verdict.Outcome)
	require.Equal(t, "job-sheet@2", after.Verdict.Schedule)
	e := b.last(site)
	require.Equal(t, "reading.rejudge", e.Kind)
	require.Contains(t, string(e.Data), `"before":{`)
	require.Contains(t, string(e.Data), "job-sheet@1")
}

func TestReadingsCanBeListedPageByPage(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		var want []string
		for i := range 7 {
			in := register.ReadingInput{Quantity: "joint_width_bed", Value: "10", Unit: "mm"}
			if i < 4 { // several at one instant
				in.MeasuredAt = "2026-05-30T10:00:00Z"
			}
			res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
			require.NoError(t, err)
			want = append(want, res.Reading.ID)
		}
		slices.Reverse(want)
		var got []string
		page := register.Page{Limit: 2}
		for {
			out, err := b.ListReadings(b.ctx(), b.auditor, register.ReadingFilter{SiteID: b.people.site.ID}, page)
			require.NoError(t, err)
			for _, rd := range out.Items {
				got = append(got, rd.ID)
			}
			if out.Next == "" {
				break
			}
			require.Len(t, out.Items, 2)
			page.After = out.Next
		}
		require.Equal(t, want, got)
		_, err := b.ListReadings(b.ctx(), b.auditor, register.ReadingFilter{SiteID: b.people.site.ID}, register.Page{After: "rubbish"})
		refused(t, err, defects.Invalid, "bad_cursor")
		_, err = b.ListReadings(b.ctx(), b.stranger, register.ReadingFilter{SiteID: b.people.site.ID}, register.Page{})
		require.ErrorIs(t, err, defects.NotFound)
	})
}
