package register_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// J3 of the reference: joints of 10 ± 3 mm with a taper gauge of U = 0.5.
func TestReadingsNearTheLimitAreConditional(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		b.tool("taper gauge 2", "mm", "0.5")
		values := []string{"9.5", "12.3", "12.8", "13.2", "13.6", "7.3", "6.8", "6.4"}
		joint := register.ReadingInput{
			Quantity: "joint_width_bed", Unit: "mm", InstrumentID: "taper gauge 2", Stage: "SL",
			ElevationID: "Long Row / North", Bay: 3, Lift: 2,
		}

		results := b.all(joint, values...)
		require.Equal(t, []defects.Outcome{
			defects.Pass, defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail,
			defects.ConditionalPass, defects.ConditionalFail, defects.Fail,
		}, outcomes(results))
		fail := results[4]
		require.Equal(t, register.FollowRaise, fail.FollowUp.Kind)
		require.Equal(t, "SL-07", fail.FollowUp.Code)
		require.Equal(t, defects.Minor, fail.FollowUp.Severity)
		require.Contains(t, fail.FollowUp.Text, "13.6 mm against 7 to 13 mm")
		require.Contains(t, results[2].FollowUp.Text, "calliper")
		require.Nil(t, results[0].FollowUp)
		require.Equal(t, map[string]int{"raise joint_width_bed": 2, "measure-again joint_width_bed": 4}, b.follow())

		// A verdict carries everything that repeats it.
		stored, err := b.Reading(b.ctx(), b.auditor, b.people.site.ID, fail.Reading.ID)
		require.NoError(t, err)
		require.Equal(t, fail.Reading, stored)
		v := stored.Verdict
		require.Equal(t, []string{"7", "13", "0.5", "0.5"}, []string{v.Lower.String(), v.Upper.String(), v.Expanded.String(), v.Guard.String()})
		require.Equal(t, "job-sheet@1", v.Schedule)
		require.Equal(t, defects.Project, v.Basis)
		require.Equal(t, defects.FourWay, v.Rule)
		require.NotNil(t, v.PConform)
		require.Nil(t, stored.Expanded, "the entered U stays as entered: none")

		simple := defects.Simple
		b.change(register.SitePatch{Rule: &simple})
		require.Equal(t, []defects.Outcome{
			defects.Pass, defects.Pass, defects.Pass, defects.Fail, defects.Fail, defects.Pass, defects.Fail, defects.Fail,
		}, outcomes(b.all(joint, values...)))
	})
}

func TestMeasuringAgainWithABetterInstrumentSettlesOneConditionalResult(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	b.tool("taper gauge 2", "mm", "0.5")
	b.tool("calliper 1", "mm", "0.05")
	at := register.ReadingInput{
		Quantity: "joint_width_bed", Unit: "mm", InstrumentID: "taper gauge 2", ElevationID: b.north.ID, Bay: 3, Lift: 2,
	}
	b.all(at, "12.8", "13.2")
	b.clock.add(time.Minute)
	b.all(at, "10") // the same gauge elsewhere in the bay settles nothing
	require.Equal(t, 2, b.follow()["measure-again joint_width_bed"])
	at.InstrumentID = "calliper 1"
	b.clock.add(time.Minute)
	b.all(at, "12.75")
	require.Equal(t, 1, b.follow()["measure-again joint_width_bed"])

	exact := at
	exact.InstrumentID, exact.X, exact.Z, exact.Bay, exact.Lift = "taper gauge 2", "6.100", "2.200", 0, 0
	b.all(exact, "7.2")
	b.clock.add(time.Minute)
	exact.X = "9.100"
	b.all(exact, "8")
	require.Equal(t, 2, b.follow()["measure-again joint_width_bed"], "three metres off is another joint")
	exact.X = "6.120"
	again := b.all(exact, "8")
	require.Equal(t, 1, b.follow()["measure-again joint_width_bed"])
	_, err := b.WithdrawReading(b.ctx(), b.clerk, b.people.site.ID, again[0].Reading.ID, 1, "wrong joint")
	require.NoError(t, err)
	require.Equal(t, 2, b.follow()["measure-again joint_width_bed"])
}

// J15 of the reference, its readings: laps of at least 100 mm, U = 3.
func TestLapsAreJudgedWithTheirUncertainty(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		lap := register.ReadingInput{Quantity: "mesh_lap", Unit: "mm", Expanded: "3", Stage: "BM", ElevationID: b.north.ID, Bay: 2, Lift: 1}
		results := b.all(lap, "110", "104", "95", "88", "102", "98")
		require.Equal(t, []defects.Outcome{
			defects.Pass, defects.Pass, defects.Fail, defects.Fail, defects.ConditionalPass, defects.ConditionalFail,
		}, outcomes(results))
		require.Equal(t, "BM-04", results[2].FollowUp.Code)
		require.Equal(t, "3", results[2].Reading.Expanded.String())
	})
}

// J25 of the reference: 6 mm under a straightedge means nothing without the
// distance between the high points; DIN 18202 table 3 line 6, as read there.
func TestFlatnessNeedsItsBaseLength(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		simple := defects.Simple
		b.change(register.SitePatch{Rule: &simple})
		gap := register.ReadingInput{Quantity: "flatness", Value: "6", Unit: "mm", ElevationID: b.north.ID, Bay: 4, Lift: 1}
		by := func(who register.Actor, base string) register.ReadingResult {
			in := gap
			in.BaseLength = base
			res, err := b.AddReading(b.ctx(), who, b.people.site.ID, in)
			require.NoError(t, err)
			return res
		}
		clerk := by(b.clerk, "1.0")
		require.Equal(t, defects.Fail, clerk.Reading.Verdict.Outcome)
		require.Equal(t, "5", clerk.Reading.Verdict.Upper.String())
		installer := by(b.installer, "2.0")
		require.Equal(t, defects.Pass, installer.Reading.Verdict.Outcome)
		require.Equal(t, "7", installer.Reading.Verdict.Upper.String(), "5 + 5/3 = 6.67, in whole millimetres")
		bare := by(b.clerk, "")
		require.Equal(t, defects.NoVerdict, bare.Reading.Verdict.Outcome)
		require.Equal(t, defects.ReasonBaseLengthMissing, bare.Reading.Verdict.Reason)
		require.Empty(t, bare.FollowUp.Kind)
		require.Contains(t, bare.FollowUp.Text, "base length")
		require.Equal(t, 3, b.stored(), "both parties' readings stay")
	})
}

// J28 of the reference: a slip of typing is asked about and never mended.
func TestImplausibleValuesAreAskedAboutNeverChanged(t *testing.T) {
	t.Parallel()
	cases := []struct{ quantity, value, unit, guess, asks string }{
		{"pull_out_load", "920", "kN", "0.92", "920 N"},
		{"joint_width_bed", "102", "mm", "10.2", "10.2 mm"},
	}
	onEachBed(t, func(t *testing.T, b *readingBed) {
		for i, c := range cases {
			in := register.ReadingInput{Quantity: c.quantity, Value: c.value, Unit: c.unit, ElevationID: b.north.ID}
			_, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
			e := refused(t, err, defects.Question, "implausible")
			require.Equal(t, "value", e.Field)
			require.Contains(t, e.Text, c.asks)
			require.Len(t, e.Details, 1)
			require.Equal(t, "suggestion", e.Details[0].Code)
			require.Zero(t, defects.MustDecimal(c.guess).Cmp(defects.MustDecimal(e.Details[0].Text)))
			require.Equal(t, i, b.stored())

			in.Confirmed = true
			res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
			require.NoError(t, err)
			require.Equal(t, c.value, res.Reading.Value.String())
			require.True(t, res.Reading.Confirmed)
		}
		in := register.ReadingInput{Quantity: "joint_width_bed", Value: "9.50", Unit: "mm", Confirmed: true}
		res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
		require.NoError(t, err)
		require.False(t, res.Reading.Confirmed, "a plausible value needs no confirming")
		require.Equal(t, "9.50", res.Reading.Value.String())
	})
}

func TestReadingsAreRefusedWithFieldAndCode(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	other := b.fixture.site("Tanyard Lane")
	foreign := b.fixture.walls(other, "Far Row")[0]
	set, err := b.CreateSet(b.ctx(), b.clerk, b.people.site.ID, register.NewSet{
		Quantity: "pull_out_load", Name: "solid brick", Place: defects.Place{ElevationID: b.walls[1].ID},
	})
	require.NoError(t, err)
	good := register.ReadingInput{Quantity: "joint_width_bed", Value: "10", Unit: "mm", ElevationID: b.north.ID, Bay: 1, Lift: 1}
	cases := map[string]struct {
		spoil       func(*register.ReadingInput)
		field, code string
	}{
		"huge number":         {func(in *register.ReadingInput) { in.Value = "1e400" }, "value", "bad_number"},
		"no number":           {func(in *register.ReadingInput) { in.Value = "" }, "value", "bad_number"},
		"decimal comma":       {func(in *register.ReadingInput) { in.Value = "9,5" }, "value", "bad_number"},
		"not a number":        {func(in *register.ReadingInput) { in.Value = "NaN" }, "value", "bad_number"},
		"unknown quantity":    {func(in *register.ReadingInput) { in.Quantity = "joint" }, "quantity", "unknown_quantity"},
		"wrong unit":          {func(in *register.ReadingInput) { in.Unit = "cm" }, "unit", "wrong_unit"},
		"no unit":             {func(in *register.ReadingInput) { in.Unit = "" }, "unit", "wrong_unit"},
		"negative U":          {func(in *register.ReadingInput) { in.Expanded = "-1" }, "expanded_uncertainty", "bad_number"},
		"base length of zero": {func(in *register.ReadingInput) { in.BaseLength = "0" }, "base_length_m", "bad_number"},
		"courses":             {func(in *register.ReadingInput) { in.Courses = -4 }, "courses", "bad_number"},
		"unknown stage":       {func(in *register.ReadingInput) { in.Stage = "XX" }, "stage", "unknown_stage"},
		"unknown zone":        {func(in *register.ReadingInput) { in.Zone = "middle" }, "zone", "unknown_zone"},
		"zone on no wall": {func(in *register.ReadingInput) {
			in.ElevationID, in.Bay, in.Lift, in.Zone = "", 0, 0, "middle"
		}, "zone", "unknown_zone"},
		"foreign elevation":  {func(in *register.ReadingInput) { in.ElevationID = foreign.ID }, "elevation", "elevation_not_found"},
		"unknown elevation":  {func(in *register.ReadingInput) { in.ElevationID = "Upwards" }, "elevation", "elevation_not_found"},
		"bay on no wall":     {func(in *register.ReadingInput) { in.ElevationID = "" }, "elevation", "elevation_missing"},
		"no such bay":        {func(in *register.ReadingInput) { in.Bay = 99 }, "bay", "no_such_bay"},
		"off the wall":       {func(in *register.ReadingInput) { in.X = "400" }, "x", "outside_elevation"},
		"finer than 1 mm":    {func(in *register.ReadingInput) { in.X = "1.0001" }, "x_m", "too_fine"},
		"z is text":          {func(in *register.ReadingInput) { in.Z = "high" }, "z_m", "bad_number"},
		"no such opening":    {func(in *register.ReadingInput) { in.Opening = "W99" }, "opening", "no_such_opening"},
		"unknown instrument": {func(in *register.ReadingInput) { in.InstrumentID = "ruler" }, "instrument", "instrument_not_found"},
		"time without zone":  {func(in *register.ReadingInput) { in.MeasuredAt = "2026-06-01 10:00" }, "measured_at", "bad_time"},
		"in the future":      {func(in *register.ReadingInput) { in.MeasuredAt = "2026-06-01T12:05:01Z" }, "measured_at", "in_the_future"},
		"unknown person":     {func(in *register.ReadingInput) { in.ByLogin = "nobody" }, "by", "person_not_found"},
		"stranger":           {func(in *register.ReadingInput) { in.ByLogin = "stranger.quarry-terrace" }, "by", "person_not_found"},
		"unknown photo":      {func(in *register.ReadingInput) { in.Photos = []string{"p1"} }, "photos", "photo_not_found"},
		"unknown set":        {func(in *register.ReadingInput) { in.SetID = "s1" }, "set", "set_not_found"},
		"set of another":     {func(in *register.ReadingInput) { in.SetID = set.ID }, "set", "set_of_other_quantity"},
		"set elsewhere": {func(in *register.ReadingInput) {
			in.Quantity, in.Unit, in.SetID = "pull_out_load", "kN", set.ID
		}, "elevation", "set_elsewhere"},
		"note too long":     {func(in *register.ReadingInput) { in.Note = strings.Repeat("x", 2001) }, "note", "text_too_long"},
		"hidden characters": {func(in *register.ReadingInput) { in.Batch = "K\u202e44" }, "batch", "bad_text"},
	}
	before := len(b.logged(b.people.site.ID))
	for name, c := range cases {
		in := good
		c.spoil(&in)
		_, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
		e := refused(t, err, defects.Invalid, c.code)
		require.Equal(t, c.field, e.Field, name)
		require.NotEmpty(t, e.Text, name)
	}
	require.Zero(t, b.stored())
	require.Len(t, b.logged(b.people.site.ID), before, "what was refused is not in the log")

	_, err = b.AddReading(b.ctx(), b.clerk, b.people.site.ID, register.ReadingInput{Quantity: "joint_width_bed", Value: "10", Unit: "cm"})
	require.ErrorContains(t, err, "mm")
	require.ErrorContains(t, err, "cm")
	require.NoError(t, func() error {
		in := good
		in.MeasuredAt = "2026-06-01T13:04:59+01:00" // a clock may run five minutes ahead
		_, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
		return err
	}())
}
