package reference_test

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

func TestBuiltInSchedulesCompileAndNameTheirSources(t *testing.T) {
	t.Parallel()
	list := reference.Schedules()
	require.True(t, slices.IsSortedFunc(list, func(a, b defects.Schedule) int { return strings.Compare(a.Name, b.Name) }))
	for _, name := range []string{
		"din-18202-t2", "din-18202-t3-line5", "din-18202-t3-line6", "din-18202-t3-line7", "nhbc-2011-fair-faced",
		"nhbc-2019-fair-faced", "labc-v7-fair-faced", "en-1996-2-2006", "ewi-common-practice", "sia-266-fair-faced",
		"dtu-20-1-2020",
	} {
		s, ok := reference.Schedule(name)
		require.True(t, ok, name)
		pinned, ok := reference.Schedule(name + "@1")
		require.True(t, ok, name)
		require.Equal(t, s, pinned)
		_, ok = reference.Schedule(name + "@2")
		require.False(t, ok, name)
	}
	for _, s := range list {
		_, err := defects.Compile(s)
		require.NoError(t, err, s.Name)
		require.NotEmpty(t, s.Notes, s.Name)
		for _, l := range s.Limits {
			if l.Stage != "" {
				require.True(t, defects.KnownStage(l.Stage), s.Name)
			}
		}
	}
	_, ok := reference.Schedule("no-such")
	require.False(t, ok)
}

func TestRecalledLimitsSaySo(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]defects.Basis{
		"en-1996-2-2006": defects.Memory, "labc-v7-fair-faced": defects.Read, "din-18202-t2": defects.Secondary,
		"ewi-common-practice": defects.CommonPractice,
	} {
		s, ok := reference.Schedule(name)
		require.True(t, ok)
		require.Equal(t, want, s.Basis, name)
	}
	s, _ := reference.Schedule("ewi-common-practice")
	require.Equal(t, "common practice, no source", s.Title)
}

func TestASchedulesFileReadsBackToTheSameValue(t *testing.T) {
	t.Parallel()
	for _, s := range reference.Schedules() {
		text, err := reference.EncodeSchedule(s)
		require.NoError(t, err)
		again, err := reference.ParseSchedule(bytes.NewReader(text))
		require.NoError(t, err, s.Name)
		require.Equal(t, s, again, s.Name)
	}
}

func TestListedCharacteristicValuesAreReadAndWritten(t *testing.T) {
	t.Parallel()
	const file = `{"name":"s","version":1,"title":"invented","basis":"project","limits":[{"quantity":"pull_out_load","kind":"pull-out",
"pull_out":{"factor":"0.6","lowest":5,"cap_kN":"1.5","min_tests":15,"gamma":"2.0","steps_kN":["0.3",0.40,"0.5"]}}]}`
	s, err := reference.ParseSchedule(strings.NewReader(file))
	require.NoError(t, err)
	require.Equal(t, "0.3 0.40 0.5", defects.StepWords(s.Limits[0].PullOut.Steps))
	text, err := reference.EncodeSchedule(s)
	require.NoError(t, err)
	require.Contains(t, string(text), "steps_kN")
	again, err := reference.ParseSchedule(bytes.NewReader(text))
	require.NoError(t, err)
	require.Equal(t, s, again)
	_, err = reference.ParseSchedule(strings.NewReader(strings.Replace(file, `"0.3"`, `"0"`, 1)))
	require.ErrorIs(t, err, defects.Invalid)
}

const oneLimit = `{"name":"s","version":1,"title":"invented","basis":"project","limits":[{"quantity":"mesh_lap","kind":"fixed","lower":%}]}`

func TestAFigureIsTakenDigitByDigit(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{`"100.10"`: "100.10", `100.10`: "100.10", `0.1`: "0.1"} {
		s, err := reference.ParseSchedule(strings.NewReader(strings.Replace(oneLimit, "%", in, 1)))
		require.NoError(t, err)
		require.Equal(t, want, s.Limits[0].Lower.String())
	}
}

func TestAScheduleFileWithAFaultIsRefused(t *testing.T) {
	t.Parallel()
	good := strings.Replace(oneLimit, "%", "100", 1)
	for name, text := range map[string]string{
		"empty":          "",
		"not JSON":       "lower: 100",
		"unknown field":  strings.Replace(good, `"lower"`, `"lowest"`, 1),
		"two documents":  good + good,
		"trailing":       good + "x",
		"an exponent":    strings.Replace(oneLimit, "%", "1e2", 1),
		"huge exponent":  strings.Replace(oneLimit, "%", "1e400", 1),
		"a word":         strings.Replace(oneLimit, "%", `"many"`, 1),
		"a list":         "[" + good + "]",
		"no source":      strings.Replace(good, `"title":"invented",`, "", 1),
		"wrong quantity": strings.Replace(good, "mesh_lap", "mesh_lop", 1),
		"truncated":      good[:60],
	} {
		_, err := reference.ParseSchedule(strings.NewReader(text))
		var refused *defects.Error
		require.True(t, errors.As(err, &refused), name)
		require.Equal(t, "bad_schedule", refused.Code, name)
	}
	_, err := reference.ParseSchedule(strings.NewReader(good + strings.Repeat(" ", reference.MaxScheduleBytes)))
	require.ErrorIs(t, err, defects.TooLarge)
	_, err = reference.ParseSchedule(strings.NewReader(good + "\n"))
	require.NoError(t, err)
}

func FuzzParseSchedule(f *testing.F) {
	for _, s := range reference.Schedules() {
		text, err := reference.EncodeSchedule(s)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(strings.Replace(oneLimit, "%", "1e400", 1)))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := reference.ParseSchedule(bytes.NewReader(text))
		if err != nil {
			var refused *defects.Error
			require.True(t, errors.As(err, &refused), "%v", err)
			return
		}
		l, err := defects.Compile(s)
		require.NoError(t, err)
		for _, lim := range s.Limits {
			q, _ := defects.QuantityByName(lim.Quantity)
			one := defects.DecimalOf(1)
			in := defects.Input{
				Quantity: q.Name, Value: defects.DecimalOf(9_000_000_000), Unit: q.Unit, Expanded: &one, BaseLength: &one,
				Zone: defects.Edge, Stage: "BM", Courses: 4, FailurePlane: "x", Mode: "m", Nominal: &one, Area: &one,
			}
			v := defects.Judge(in, l, defects.FourWay, one)
			require.NotEmpty(t, v.Outcome)
			set := defects.SetInput{Input: in, Values: slices.Repeat([]defects.Decimal{one}, 20)}
			require.NotEmpty(t, defects.JudgeSet(set, l, defects.FourWay, one).Verdict.Outcome)
		}
		encoded, err := reference.EncodeSchedule(s)
		require.NoError(t, err)
		again, err := reference.ParseSchedule(bytes.NewReader(encoded))
		require.NoError(t, err)
		require.Equal(t, s.Name, again.Name)
		require.Len(t, again.Limits, len(s.Limits))
	})
}
