package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func sampleSurvey(siteID, elevation, tool string) defects.Survey {
	worst := defects.SurveyWorst{
		Value: dec("6.000"), Base: dec("2.000000"), At: defects.GridPoint{Column: 1, Row: 2},
		Verdict: defects.Verdict{Outcome: defects.Fail, Upper: dec("5"), Rule: defects.FourWay, Schedule: "a@1", Title: "T", Basis: defects.Read},
	}
	return defects.Survey{
		ID: "s1", SiteID: siteID, ElevationID: elevation, Stage: "SV", Columns: 3, Rows: 2, DX: 500, DZ: 1000, X: 200, Z: -100,
		Offsets: "1,2.50,\n,-4,0", Longest: 4000, Expanded: dec("1"), InstrumentID: tool, Instrument: "laser", MeasuredAt: at,
		ByID: "p", ByName: "Ada", Note: "string line", EnteredBy: "q", EnteredName: "Bo", EnteredAt: at.Add(time.Minute), Withdrawn: "slip",
		Judged: defects.SurveyJudged{
			Schedules: []string{"a@1"}, Rule: defects.FourWay, Guard: defects.MustDecimal("1.5"), Expanded: dec("1"),
			CalibrationExpired: true, Outcome: defects.Fail, Flatness: worst, Plumb: worst,
		},
		Version: 1,
	}
}

func TestASurveyComesBackWholeAndKeepsWhatWasMeasured(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North", "South")
		tool := w.id("tool")
		w.write(func(tx register.Tx) error {
			return tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: tool, SiteID: siteID, Name: "laser"})
		})
		s := sampleSurvey(siteID, e[0], tool)
		filled(w.t, s)
		filled(w.t, s.Judged)
		bare := s
		bare.ID, bare.ElevationID, bare.MeasuredAt, bare.InstrumentID, bare.Expanded, bare.Withdrawn = "s2", e[1], at.Add(time.Hour), "", nil, ""
		bare.Judged = defects.SurveyJudged{
			Rule: defects.Simple, Outcome: defects.NoVerdict,
			Flatness: defects.SurveyWorst{Verdict: defects.Verdict{Outcome: defects.NoVerdict}}, Plumb: defects.SurveyWorst{Verdict: defects.Verdict{Outcome: defects.NoVerdict}},
		}
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Surveys().InsertSurvey(ctx(w), s))
			return tx.Surveys().InsertSurvey(ctx(w), bare)
		})
		w.read(func(tx register.Tx) error {
			got, err := tx.Surveys().Survey(ctx(w), siteID, "s1")
			require.Equal(w.t, s, got)
			require.NoError(w.t, err)
			all, err := tx.Surveys().ListSurveys(ctx(w), register.SurveyFilter{SiteID: siteID}, register.Page{Limit: 1})
			require.NoError(w.t, err)
			require.Equal(w.t, "s2", all[0].ID, "the newest first")
			require.Empty(w.t, all[0].Offsets, "a list does without them")
			all, err = tx.Surveys().ListSurveys(ctx(w), register.SurveyFilter{SiteID: siteID, Whole: true}, register.Page{Limit: 5, After: register.CursorOfSurvey(bare)})
			require.Equal(w.t, []defects.Survey{s}, all)
			require.NoError(w.t, err)
			all, err = tx.Surveys().ListSurveys(ctx(w), register.SurveyFilter{SiteID: siteID, ElevationID: e[1], Stage: "SV", Whole: true}, register.Page{})
			require.Equal(w.t, []defects.Survey{bare}, all)
			return err
		})
		forged := s
		forged.Offsets, forged.X, forged.ByID, forged.DX, forged.MeasuredAt, forged.Withdrawn = "9", 0, "r", 1, at.Add(time.Hour), "other"
		w.write(func(tx register.Tx) error { return tx.Surveys().UpdateSurvey(ctx(w), forged) })
		kept := s
		kept.Withdrawn, kept.Version = "other", 2
		w.read(func(tx register.Tx) error {
			got, err := tx.Surveys().Survey(ctx(w), siteID, "s1")
			require.Equal(w.t, kept, got)
			_, missing := tx.Surveys().Survey(ctx(w), "elsewhere", "s1")
			require.ErrorIs(w.t, missing, defects.NotFound)
			return err
		})
		err := w.store.Write(ctx(w), func(tx register.Tx) error { return tx.Surveys().UpdateSurvey(ctx(w), s) })
		require.ErrorIs(w.t, err, defects.Stale)
	})
}

func TestAWeatherLineComesBackWholeAndKeepsWhatWasTaken(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North", "South")
		line := defects.WeatherLine{
			ID: "w1", SiteID: siteID, ElevationID: e[0], At: at, Air: dec("2.4"), Surface: dec("-1.0"), Humidity: dec("90"), Note: "fog",
			Confirmed: true, InstrumentID: "i1", Instrument: "logger", ByID: "p", ByName: "Ada", EnteredBy: "q", EnteredName: "Bo",
			EnteredAt: at.Add(time.Minute), Withdrawn: "slip", Version: 1,
		}
		filled(w.t, line)
		bare := defects.WeatherLine{ID: "w2", SiteID: siteID, At: at.Add(time.Hour), Air: dec("5"), EnteredAt: at, Version: 1}
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: "i1", SiteID: siteID, Name: "logger"}))
			require.NoError(w.t, tx.Weather().InsertWeather(ctx(w), line))
			return tx.Weather().InsertWeather(ctx(w), bare)
		})
		w.read(func(tx register.Tx) error {
			got, err := tx.Weather().WeatherLine(ctx(w), siteID, "w1")
			require.Equal(w.t, line, got)
			require.NoError(w.t, err)
			find := func(f register.WeatherFilter, page register.Page) []defects.WeatherLine {
				f.SiteID = siteID
				list, err := tx.Weather().ListWeather(ctx(w), f, page)
				require.NoError(w.t, err)
				return list
			}
			require.Equal(w.t, []defects.WeatherLine{bare, line}, find(register.WeatherFilter{}, register.Page{}))
			require.Equal(w.t, []defects.WeatherLine{bare}, find(register.WeatherFilter{ElevationID: e[1]}, register.Page{}), "a line of the site is for every elevation")
			require.Equal(w.t, []defects.WeatherLine{line}, find(register.WeatherFilter{From: at, Until: at}, register.Page{}))
			require.Equal(w.t, []defects.WeatherLine{line}, find(register.WeatherFilter{}, register.Page{After: register.CursorOfWeather(bare)}))
			return nil
		})
		forged := line
		forged.Air, forged.At, forged.ByID, forged.Withdrawn = dec("9"), at.Add(time.Hour), "r", "other"
		w.write(func(tx register.Tx) error { return tx.Weather().UpdateWeather(ctx(w), forged) })
		kept := line
		kept.Withdrawn, kept.Version = "other", 2
		w.read(func(tx register.Tx) error {
			got, err := tx.Weather().WeatherLine(ctx(w), siteID, "w1")
			require.Equal(w.t, kept, got)
			return err
		})
		nothing := bare
		nothing.ID, nothing.Air = "w3", nil
		require.Error(w.t, w.store.Write(ctx(w), func(tx register.Tx) error { return tx.Weather().InsertWeather(ctx(w), nothing) }))
	})
}
