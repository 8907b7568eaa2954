package register_test

import (
	"errors"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// pullOutPeaks are the loads in kN of J2 of the reference.
func pullOutPeaks() []string {
	return []string{
		"0.92", "1.05", "0.88", "1.21", "1.10", "0.79", "0.95", "1.30", "1.02", "0.84", "0.98", "1.15", "0.90", "1.08", "0.97",
	}
}

func (b *readingBed) pullOutSet(name string) defects.Set {
	b.t.Helper()
	set, err := b.CreateSet(b.ctx(), b.clerk, b.people.site.ID, register.NewSet{
		Quantity: "pull_out_load", Name: name, Substrate: "solid brick", Stage: "SV",
		Place: defects.Place{ElevationID: b.walls[1].ID},
	})
	require.NoError(b.t, err)
	return set
}

func (b *readingBed) set(id string) (defects.Set, []defects.Reading) {
	b.t.Helper()
	set, readings, err := b.Set(b.ctx(), b.auditor, b.people.site.ID, id)
	require.NoError(b.t, err)
	return set, readings
}

// J2 of the reference.
func TestPullOutSetIsJudgedAsAWhole(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		b.tool("tester 1", "kN", "0.02", defects.Calibration{Certificate: "T-1", On: "2025-06-02", Due: "2026-06-01"})
		set := b.pullOutSet("east, solid brick")
		require.Equal(t, defects.NoVerdict, set.Verdict.Outcome)
		load := register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", InstrumentID: "tester 1", SetID: set.ID}

		peaks := pullOutPeaks()
		b.all(load, peaks[:14]...)
		now, _ := b.set(set.ID)
		require.Equal(t, 14, now.Readings)
		require.Equal(t, defects.ReasonTooFew, now.Verdict.Reason)
		require.Contains(t, now.Verdict.ReasonText, "1 test short")
		follow, err := b.FollowUps(b.ctx(), b.clerk, b.people.site.ID, b.walls[1].ID)
		require.NoError(t, err)
		require.Len(t, follow, 1, "single loads of a set ask for nothing: %v", follow)
		require.Equal(t, set.ID, follow[0].SetID)
		require.Equal(t, 1, follow[0].Want)

		last := b.all(load, peaks[14])[0]
		require.Nil(t, last.FollowUp)
		require.Equal(t, defects.ReasonJudgedAsSet, last.Reading.Verdict.Reason)
		require.Equal(t, b.walls[1].ID, last.Reading.Place.ElevationID, "the set gives the place")
		require.Equal(t, "SV", last.Reading.Stage)
		now, readings := b.set(set.ID)
		require.Len(t, readings, 15)
		require.Equal(t, "0.92", readings[0].Value.String())
		require.Equal(t, defects.Pass, now.Verdict.Outcome)
		require.Equal(t, "0.5196", now.Result.String())
		require.Contains(t, now.ResultText, "0.52")
		require.Contains(t, now.ResultText, "0.866")
		require.Equal(t, "set.judge", b.last(b.people.site.ID).Kind)
		follow, err = b.FollowUps(b.ctx(), b.clerk, b.people.site.ID, "")
		require.NoError(t, err)
		require.Empty(t, follow)

		gone, err := b.WithdrawReading(b.ctx(), b.clerk, b.people.site.ID, last.Reading.ID, 1, "anchor spun")
		require.NoError(t, err)
		require.NotEmpty(t, gone.Withdrawn)
		now, readings = b.set(set.ID)
		require.Len(t, readings, 15, "a withdrawn reading stays in the register")
		require.Equal(t, 14, now.Readings)
		require.Equal(t, defects.NoVerdict, now.Verdict.Outcome)
		require.Contains(t, now.Verdict.ReasonText, "1 test short")
		require.Equal(t, "set.judge", b.last(b.people.site.ID).Kind)
	}, jobLimits("0.50")...)
}

func TestPullOutSetFailsOnTheUnroundedValue(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		set := b.pullOutSet("east, solid brick")
		b.all(register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", SetID: set.Name}, pullOutPeaks()...)
		now, readings := b.set(set.ID)
		require.Equal(t, defects.Fail, now.Verdict.Outcome, "0.5196 is below 0.52 although it prints as 0.52")
		follow, err := b.FollowUps(b.ctx(), b.clerk, b.people.site.ID, "")
		require.NoError(t, err)
		require.Len(t, follow, 1)
		require.Equal(t, register.FollowRaise, follow[0].Kind)
		require.Equal(t, "SV-03", follow[0].Code)
		require.Equal(t, defects.Critical, follow[0].Severity)
		require.Equal(t, readings[5].ID, follow[0].ReadingID, "the lowest load, 0.79 kN")
		require.Contains(t, follow[0].Text, "0.52 kN")
	}, jobLimits("0.52")...)
}

func TestPullOutSetIsVoidWithAnExpiredTester(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		b.tool("tester 1", "kN", "0.02", defects.Calibration{Certificate: "T-1", On: "2025-06-01", Due: "2026-05-31"})
		b.tool("tester 2", "kN", "0.02", defects.Calibration{Certificate: "T-2", On: "2026-01-01", Due: "2026-12-31"})
		set := b.pullOutSet("east, solid brick")
		good := register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", InstrumentID: "tester 2", SetID: set.ID}
		b.all(good, pullOutPeaks()...)
		now, _ := b.set(set.ID)
		require.Equal(t, defects.Pass, now.Verdict.Outcome)

		expired := good
		expired.InstrumentID = "tester 1"
		one := b.all(expired, "2.5")[0]
		now, _ = b.set(set.ID)
		require.Equal(t, defects.NoVerdict, now.Verdict.Outcome, "whatever the values")
		require.Equal(t, defects.ReasonCalibrationExpired, now.Verdict.Reason)
		require.Contains(t, now.Verdict.ReasonText, "void")

		_, err := b.WithdrawReading(b.ctx(), b.clerk, b.people.site.ID, one.Reading.ID, 1, "tester out of calibration")
		require.NoError(t, err)
		now, _ = b.set(set.ID)
		require.Equal(t, defects.Pass, now.Verdict.Outcome)
		require.Equal(t, 15, now.Readings)
	}, jobLimits("0.50")...)
}

func TestSetVerdictIsLoggedOnlyWhenItChanges(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t, jobLimits("0.50")...)
	set := b.pullOutSet("east, solid brick")
	load := register.ReadingInput{Quantity: "pull_out_load", Unit: "kN", SetID: set.ID}
	b.all(load, pullOutPeaks()...)
	require.Equal(t, 1, b.kinds()["set.judge"], "one batch, one verdict")
	b.all(load, "1.40")
	require.Equal(t, 1, b.kinds()["set.judge"], "the five lowest are the same")
	b.all(load, "0.60")
	require.Equal(t, 2, b.kinds()["set.judge"])
	require.Equal(t, 17, b.kinds()["reading.add"])
}

func TestSetsAreRefusedWithFieldAndCode(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	site := b.people.site.ID
	_, err := b.CreateSet(b.ctx(), b.clerk, site, register.NewSet{Quantity: "load", Name: "x"})
	require.Equal(t, "quantity", refused(t, err, defects.Invalid, "unknown_quantity").Field)
	_, err = b.CreateSet(b.ctx(), b.clerk, site, register.NewSet{Quantity: "pull_out_load"})
	require.Equal(t, "name", refused(t, err, defects.Invalid, "name_empty").Field)
	_, err = b.CreateSet(b.ctx(), b.clerk, site, register.NewSet{Quantity: "pull_out_load", Name: "x", Place: defects.Place{ElevationID: "none"}})
	refused(t, err, defects.Invalid, "elevation_not_found")
	_, err = b.CreateSet(b.ctx(), b.auditor, site, register.NewSet{Quantity: "pull_out_load", Name: "x"})
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, _, err = b.Set(b.ctx(), b.clerk, site, "none")
	require.ErrorIs(t, err, defects.NotFound)
	b.pullOutSet("one")
	b.pullOutSet("two")
	sets, err := b.Sets(b.ctx(), b.owner, site)
	require.NoError(t, err)
	require.Len(t, sets, 2)
	_, err = b.Sets(b.ctx(), b.stranger, site)
	require.ErrorIs(t, err, defects.NotFound)
}

func TestTwoPeopleCanAddToOneSetAtOnce(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		set := b.pullOutSet("east, solid brick")
		peaks := pullOutPeaks()
		var wait sync.WaitGroup
		errs := make([]error, len(peaks))
		for i, peak := range peaks {
			wait.Go(func() {
				_, errs[i] = b.AddReading(b.ctx(), b.clerk, b.people.site.ID, register.ReadingInput{
					Quantity: "pull_out_load", Unit: "kN", Value: peak, SetID: set.ID,
				})
			})
		}
		wait.Wait()
		require.NoError(t, errors.Join(errs...))
		now, readings := b.set(set.ID)
		require.Len(t, readings, 15)
		require.Equal(t, 15, now.Readings, "none was lost from the count")
		require.Equal(t, defects.Pass, now.Verdict.Outcome)
	}, jobLimits("0.50")...)
}
