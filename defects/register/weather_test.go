package register_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestAWeatherLogIsTakenInOnceAndItsLinesStay(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		b.clock.add(time.Date(2026, 11, 20, 12, 0, 0, 0, time.UTC).Sub(b.clock.Now()))
		rows, refused, err := register.ParseWeatherCSV(strings.NewReader(
			"at,air_c,surface_c,relative_humidity,elevation,note\n2026-11-18 08:30,2.4,,80,,\n2026-11-18T09:00:00Z,3.1,3,79,North,fog\n2026-11-18 09:00,,,,,\n,4,,,,\n2026-11-18 10:00,4o,,,,\n"), 1<<20)
		require.NoError(t, err)
		require.Len(t, refused, 1, "a line without its time")
		got, err := b.AddWeather(b.ctx(), b.clerk, site, rows)
		require.NoError(t, err)
		require.Len(t, got, 4)
		require.Nil(t, got[0].Err)
		require.Equal(t, 2, got[0].Row)
		require.Equal(t, "nothing_taken", got[2].Err.Code)
		require.Equal(t, "air_c", got[3].Err.Field)
		again, err := b.AddWeather(b.ctx(), b.clerk, site, rows)
		require.NoError(t, err)
		require.True(t, again[0].Known)
		require.True(t, again[1].Known)
		require.Equal(t, 2, b.kinds()["weather.add"])

		odd := register.WeatherInput{Air: "140"}
		got, err = b.AddWeather(b.ctx(), b.clerk, site, []register.WeatherInput{odd})
		require.NoError(t, err)
		require.ErrorIs(t, got[0].Err, defects.Question)
		odd.Confirmed = true
		got, err = b.AddWeather(b.ctx(), b.clerk, site, []register.WeatherInput{odd, {Humidity: "101", Confirmed: true}, {At: "2026-10-25 01:30", Air: "5"}, {At: "2090-01-01T00:00:00Z", Air: "5"}})
		require.NoError(t, err)
		require.True(t, got[0].Line.Confirmed)
		require.Equal(t, "bad_humidity", got[1].Err.Code)
		require.Equal(t, "unclear_time", got[2].Err.Code, "the clocks pass it twice")
		require.Equal(t, "at", got[3].Err.Field)

		_, err = b.WithdrawWeather(b.ctx(), b.auditor, site, got[0].Line.ID, 1, "no")
		require.ErrorIs(t, err, defects.Forbidden)
		gone, err := b.WithdrawWeather(b.ctx(), b.clerk, site, got[0].Line.ID, 1, "a slip")
		require.NoError(t, err)
		require.Equal(t, "a slip", gone.Withdrawn)
		_, err = b.WithdrawWeather(b.ctx(), b.clerk, site, got[0].Line.ID, 2, "a slip")
		require.ErrorIs(t, err, defects.Conflict)
		page, err := b.ListWeather(b.ctx(), b.auditor, register.WeatherFilter{SiteID: site}, register.Page{Limit: 2})
		require.NoError(t, err)
		require.Len(t, page.Items, 2)
		require.NotEmpty(t, page.Next)
		require.Empty(t, b.ReplayLog(b.ctx(), t, site), "the log leads to the rows")
	}, defects.Limit{Quantity: "air_temperature", Kind: defects.FixedLimit, Lower: dec("5")})
}

func TestAShiftIsJudgedFromTheLogInTheSitesOwnTime(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		b.clock.add(time.Date(2026, 7, 20, 12, 0, 0, 0, time.UTC).Sub(b.clock.Now()))
		b.tool("logger", "degC", "0.5")
		got, err := b.AddWeather(b.ctx(), b.clerk, site, []register.WeatherInput{
			{At: "2026-07-18 08:00", Air: "5.2", Surface: "6", Humidity: "90", InstrumentID: "logger"}, // 07:00 UTC
			{At: "2026-07-18 16:30", Air: "15"},
			{At: "2026-07-18 12:10", Air: "3"},
			{At: "2026-07-18 12:00", Surface: "9", ElevationID: "South"},
		})
		require.NoError(t, err)
		q := register.ShiftQuery{Day: "2026-07-18", Start: "08:00", End: "16:30", Stage: "BM", ElevationID: b.north.ID, FrostHours: 12}
		v, err := b.JudgeShift(b.ctx(), b.auditor, site, q)
		require.NoError(t, err)
		require.Equal(t, defects.Fail, v.Outcome)
		require.Equal(t, "BM-08", v.Proposed[0].Code)
		require.Equal(t, []string{"start", "noon", "end", "after"}, []string{v.Looks[0].Name, v.Looks[1].Name, v.Looks[2].Name, v.Looks[3].Name})
		require.Equal(t, defects.ConditionalPass, v.Looks[0].Outcome, "closer to the limit than U")
		require.Equal(t, "job-sheet@1", v.Looks[0].Findings[0].Verdict.Schedule)
		require.Equal(t, defects.ReasonTooCold, v.Looks[1].Reason)
		require.Equal(t, defects.ReasonFrostNotExcluded, v.Looks[3].Reason)
		require.Equal(t, 3, v.Lines, "the wall of another elevation is not looked at")

		_, err = b.WithdrawWeather(b.ctx(), b.clerk, site, got[2].Line.ID, 1, "thermometer in the shade of a van")
		require.NoError(t, err)
		v, err = b.JudgeShift(b.ctx(), b.auditor, site, q)
		require.NoError(t, err)
		require.Equal(t, defects.NoVerdict, v.Outcome)
		require.Equal(t, "the log has no entry within 1 h of 12:00 (noon)", v.Looks[1].Text, "a gap is named")
		for field, bad := range map[string]func(*register.ShiftQuery){
			"frost_hours": func(q *register.ShiftQuery) { q.FrostHours = 1000 },
			"start":       func(q *register.ShiftQuery) { q.Start = "8 o'clock" },
			"stage":       func(q *register.ShiftQuery) { q.Stage = "XX" },
			"elevation":   func(q *register.ShiftQuery) { q.ElevationID = "Moon" },
		} {
			wrong := q
			bad(&wrong)
			_, err := b.JudgeShift(b.ctx(), b.auditor, site, wrong)
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, field, e.Field)
		}
		q.Start, q.End = "22:00", "02:00"
		v, err = b.JudgeShift(b.ctx(), b.auditor, site, q)
		require.NoError(t, err)
		require.Equal(t, 4*time.Hour, v.Shift.End.Sub(v.Shift.Start), "over midnight")
		require.True(t, v.Shift.Noon.IsZero())
	}, defects.Limit{Quantity: "air_temperature", Kind: defects.FixedLimit, Lower: dec("5")})
}

func FuzzParseWeatherCSV(f *testing.F) {
	for _, text := range []string{"at,air_c\n2026-11-18 08:30,2.4\n", "at\n", "", "\ufeffat,air_c,confirmed\r\n2026-11-18T08:30,\"2\n4\",yes\n", "at;air_c\n"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		rows, refused, err := register.ParseWeatherCSV(bytes.NewReader(text), 1<<16)
		if err != nil {
			require.ErrorAs(t, err, new(*defects.Error))
			require.Empty(t, rows)
			return
		}
		for _, r := range rows {
			require.NotEmpty(t, r.At)
			require.Greater(t, r.Row, 1)
		}
		for _, r := range refused {
			require.NotNil(t, r.Err)
		}
	})
}
