package register_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// hollow is a wall with a hollow of 6 mm between high points 2 m apart, plumb
// within 2 mm over 2 m.
const hollow = "2,2,2\n0,-6,0\n0,0,0"

func (b *readingBed) survey(change func(*register.SurveyInput)) (defects.Survey, error) {
	in := register.SurveyInput{ElevationID: b.north.ID, Stage: "SV", DX: "1", DZ: "1", X: "0.5", Offsets: hollow, Note: "from a string line"}
	if change != nil {
		change(&in)
	}
	return b.AddSurvey(b.ctx(), b.clerk, b.people.site.ID, in)
}

// Job J22 with a survey: a limit that is changed afterwards leaves the verdict as
// it is until somebody decides to judge anew.
func TestASurveyKeepsItsVerdictUntilSomebodyJudgesAnew(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		wide := b.tool("laser", "mm", "1", defects.Calibration{Certificate: "C 1", On: "2020-01-01", Due: "2040-01-01"})
		s, err := b.survey(func(in *register.SurveyInput) { in.InstrumentID = "laser" })
		require.NoError(t, err)
		require.Equal(t, wide.ID, s.InstrumentID)
		require.Equal(t, defects.ConditionalPass, s.Judged.Flatness.Verdict.Outcome, "6 of 7 mm over 2 m, U 1.415 of the difference")
		require.Equal(t, "1.415", s.Judged.Flatness.Verdict.Expanded.String())
		require.Equal(t, defects.NoVerdict, s.Judged.Outcome, "no limit for plumb is in force")
		require.Equal(t, defects.ReasonNoLimit, s.Judged.Plumb.Verdict.Reason)
		b.inForce(
			defects.Limit{Quantity: "flatness", Kind: defects.FixedLimit, Upper: dec("3")},
			defects.Limit{Quantity: "plumb", Kind: defects.FixedLimit, Lower: dec("-8"), Upper: dec("8")},
		)
		same, err := b.Survey(b.ctx(), b.auditor, site, s.ID)
		require.NoError(t, err)
		require.Equal(t, s.Judged, same.Judged)
		require.Equal(t, "7", same.Verdict.Flatness[0].Verdict.Upper.String(), "found again by what it was judged by")

		_, err = b.RejudgeSurvey(b.ctx(), b.clerk, site, s.ID, 1, "new limits")
		require.ErrorIs(t, err, defects.Forbidden)
		_, err = b.RejudgeSurvey(b.ctx(), b.designer, site, s.ID, 1, " ")
		require.ErrorIs(t, err, defects.Invalid)
		_, err = b.RejudgeSurvey(b.ctx(), b.designer, site, s.ID, 7, "new limits")
		require.ErrorIs(t, err, defects.Stale)
		fresh, err := b.RejudgeSurvey(b.ctx(), b.designer, site, s.ID, 1, "new limits")
		require.NoError(t, err)
		require.Equal(t, defects.Fail, fresh.Judged.Outcome)
		view, err := b.Survey(b.ctx(), b.auditor, site, s.ID)
		require.NoError(t, err)
		require.Len(t, view.Past, 1)
		require.Equal(t, defects.ConditionalPass, view.Past[0].Before.Flatness.Outcome)
		require.Equal(t, "new limits", view.Past[0].Reason)

		b.inForce(defects.Limit{Quantity: "flatness", Kind: defects.FixedLimit, Upper: dec("10")}, defects.Limit{Quantity: "plumb", Kind: defects.FixedLimit, Upper: dec("8")})
		b.clock.add(time.Minute)
		_, err = b.RejudgeAll(b.ctx(), b.designer, site, register.RejudgeOrder{Quantity: "mesh_lap", Reason: "none of its business"})
		require.NoError(t, err)
		_, err = b.RejudgeAll(b.ctx(), b.designer, site, register.RejudgeOrder{ElevationID: b.north.ID, Quantity: "flatness", Reason: "agreed"})
		require.NoError(t, err)
		view, err = b.Survey(b.ctx(), b.auditor, site, s.ID)
		require.NoError(t, err)
		require.Equal(t, defects.Pass, view.Judged.Outcome)
		require.Len(t, view.Past, 2)
		require.Empty(t, b.ReplayLog(b.ctx(), t, site), "the log leads to the rows")
	})
}

func TestASurveyWithAnInstrumentOutOfCalibrationHasNoVerdict(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		b.tool("old laser", "mm", "1", defects.Calibration{Certificate: "C 1", On: "2019-01-01", Due: "2020-01-01"})
		s, err := b.survey(func(in *register.SurveyInput) { in.InstrumentID = "old laser" })
		require.NoError(t, err)
		require.True(t, s.Judged.CalibrationExpired)
		require.Equal(t, defects.NoVerdict, s.Judged.Flatness.Verdict.Outcome)
		require.Equal(t, defects.ReasonCalibrationExpired, s.Judged.Flatness.Verdict.Reason)
		require.NotNil(t, s.Judged.Flatness.Value, "the figures are kept")
	})
}

func TestASurveyIsWithdrawnWithAReasonAndStays(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		s, err := b.survey(nil)
		require.NoError(t, err)
		_, err = b.WithdrawSurvey(b.ctx(), b.auditor, site, s.ID, 1, "no")
		require.ErrorIs(t, err, defects.Forbidden)
		gone, err := b.WithdrawSurvey(b.ctx(), b.clerk, site, s.ID, 1, "string line sagged")
		require.NoError(t, err)
		require.Equal(t, "string line sagged", gone.Withdrawn)
		_, err = b.WithdrawSurvey(b.ctx(), b.clerk, site, s.ID, 2, "again")
		require.ErrorIs(t, err, defects.Conflict)
		_, err = b.RejudgeSurvey(b.ctx(), b.designer, site, s.ID, 2, "again")
		require.ErrorIs(t, err, defects.Conflict)
		page, err := b.ListSurveys(b.ctx(), b.auditor, register.SurveyFilter{SiteID: site, ElevationID: b.north.ID}, register.Page{})
		require.NoError(t, err)
		require.Len(t, page.Items, 1)
		require.Empty(t, b.ReplayLog(b.ctx(), t, site))
		require.Equal(t, 1, b.kinds()["survey.withdraw"])
	})
}

func TestASurveyThatCannotBeIsRefused(t *testing.T) {
	b := newReadingBed(t)
	for code, change := range map[string]func(*register.SurveyInput){
		"no_offsets":           func(in *register.SurveyInput) { in.Offsets = " " },
		"survey_too_large":     func(in *register.SurveyInput) { in.Offsets = strings.Repeat("1,", defects.MaxSurveyBytes) },
		"length_missing":       func(in *register.SurveyInput) { in.DX = "" },
		"bad_grid":             func(in *register.SurveyInput) { in.DX = "0.01" },
		"too_fine":             func(in *register.SurveyInput) { in.DZ = "0.5001" },
		"outside_elevation":    func(in *register.SurveyInput) { in.X = "99" },
		"elevation_missing":    func(in *register.SurveyInput) { in.ElevationID = "" },
		"elevation_not_found":  func(in *register.SurveyInput) { in.ElevationID = "Moon side" },
		"instrument_not_found": func(in *register.SurveyInput) { in.InstrumentID = "eye" },
		"unknown_stage":        func(in *register.SurveyInput) { in.Stage = "XX" },
		"in_the_future":        func(in *register.SurveyInput) { in.MeasuredAt = "2090-01-01T00:00:00Z" },
		"person_not_found":     func(in *register.SurveyInput) { in.ByLogin = "nobody" },
		"bad_value":            func(in *register.SurveyInput) { in.Straightedge = "20" },
	} {
		_, err := b.survey(change)
		var e *defects.Error
		require.ErrorAs(t, err, &e, code)
		require.Equal(t, code, e.CodeOrKind())
	}
	require.Zero(t, b.kinds()["survey.add"])
}
