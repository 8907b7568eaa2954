package defects

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestTheWorkOfAShiftIsWhatWasMeasuredAndPhotographedInIt(t *testing.T) {
	t.Parallel()
	start := time.Date(2025, 11, 18, 14, 0, 0, 0, time.UTC)
	shift := Shift{Start: start, End: start.Add(2 * time.Hour)}
	place := func(wall string, bay, lift int) Place { return Place{ElevationID: wall, Bay: bay, Lift: lift} }
	readings := []Reading{
		{Stage: "BM", Place: place("north", 3, 1), MeasuredAt: start},
		{Stage: "BM", Place: place("north", 2, 0), MeasuredAt: shift.End},
		{Stage: "BM", Place: place("north", 9, 9), MeasuredAt: shift.End.Add(time.Second)},
		{Stage: "BM", Place: place("north", 9, 9), MeasuredAt: start, Withdrawn: "wrong wall"},
		{Stage: "SL", Place: place("north", 9, 9), MeasuredAt: start},
		{Stage: "BM", Place: place("south", 9, 9), MeasuredAt: start},
	}
	photo := func(kind, local string, grade Grade, bay int) Photo {
		return Photo{Kind: kind, Stage: "BM", Grade: grade, Place: place("north", bay, 2), Capture: Capture{TakenLocal: local}}
	}
	photos := []Photo{
		photo("detail", "2025-11-18T15:00:00", GradeB, 5),
		photo("detail", "2025-11-18T15:00:00", GradeX, 9),
		photo("detail", "", GradeC, 9),
		photo(" Protection ", "2025-11-19T08:00:00", GradeC, 9), // the second morning hour, 16 h after
	}
	w := WorkOf("north", "BM", shift, readings, photos, time.UTC)
	require.Equal(t, ShiftWork{Area: Area{"north", 2, 5, 1, 2}, Readings: 2, Photos: 1}, w)
	require.Equal(t, "bays 2–5, lifts 1–2", w.Area.Words())
	photos[3].Capture.TakenLocal = "2025-11-19T07:59:00"
	require.True(t, WorkOf("north", "BM", shift, readings, photos, time.UTC).Sheeted)
	require.Equal(t, 3, WorkOf("north", "", shift, readings, nil, time.UTC).Readings, "any stage")
}

func TestFrostOverUnsheetedWorkProposesTwoDefects(t *testing.T) {
	t.Parallel()
	codes := func(v WeatherVerdict, work *ShiftWork) (out []string) {
		for _, c := range WeatherConsequences(v, "BM", work) {
			require.NotEmpty(t, c.Why)
			out = append(out, c.Code)
		}
		return out
	}
	look := func(o Outcome, reason string) WeatherVerdict {
		return WeatherVerdict{Looks: []WeatherLook{{Outcome: Pass}, {Outcome: o, Reason: reason}}}
	}
	frost := look(Fail, ReasonFrostAfterwards)
	require.Equal(t, []string{"BM-08", "CL-03"}, codes(frost, &ShiftWork{}))
	require.Equal(t, []string{"BM-08"}, codes(frost, &ShiftWork{Sheeted: true}))
	require.Equal(t, []string{"BM-08"}, codes(frost, nil), "sheeting of no elevation in particular is not looked for")
	require.Equal(t, []string{"BM-08"}, codes(look(Fail, ReasonTooCold), &ShiftWork{}))
	require.Empty(t, codes(look(NoVerdict, ReasonFrostNotExcluded), &ShiftWork{}))
}
