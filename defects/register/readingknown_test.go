package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// A file whose import was ended half way is simply sent again.
func TestATableSentAgainWritesOnlyWhatIsMissing(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		row := register.ReadingInput{
			Quantity: "joint_width_bed", Value: "9.5", Unit: "mm", ElevationID: "Long Row / North", Bay: 3, Lift: 2,
			MeasuredAt: b.Now().Format(time.RFC3339),
		}
		other, named := row, row
		other.Value, named.ID = "9.6", "gauge-17"
		file := []register.ReadingInput{row, row, other, named} // two equal joints in one bay are two readings
		first, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, file[:2])
		require.NoError(t, err)
		require.Equal(t, 2, b.stored())

		all, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, file)
		require.NoError(t, err)
		require.Equal(t, []bool{true, true, false, false}, known(all))
		require.Equal(t, first[0].Reading.ID, all[0].Reading.ID)
		require.Equal(t, first[1].Reading.ID, all[1].Reading.ID)
		require.Equal(t, 4, b.stored())
		again, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, file)
		require.NoError(t, err)
		require.Equal(t, []bool{true, true, true, true}, known(again))
		require.Equal(t, 4, b.stored())
		require.Equal(t, 4, b.kinds()["reading.add"])

		// Without a stated time nothing shows that it is the same reading.
		row.MeasuredAt = ""
		untimed, err := b.AddReadings(b.ctx(), b.clerk, b.people.site.ID, []register.ReadingInput{row})
		require.NoError(t, err)
		require.Equal(t, []bool{false}, known(untimed))
	})
}

func known(results []register.ReadingResult) []bool {
	out := make([]bool, len(results))
	for i, r := range results {
		out[i] = r.Known && r.Err == nil
	}
	return out
}

func TestAClientIDNamesOneReadingOfASite(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		in := register.ReadingInput{ID: "phone-1", Quantity: "mesh_lap", Value: "110", Unit: "mm", ElevationID: b.north.ID, Bay: 1, Lift: 1}
		first, err := b.AddReading(b.ctx(), b.installer, b.people.site.ID, in)
		require.NoError(t, err)
		require.False(t, first.Known)
		require.Equal(t, "phone-1", first.Reading.ClientID)
		b.clock.add(time.Hour)
		again, err := b.AddReading(b.ctx(), b.installer, b.people.site.ID, in)
		require.NoError(t, err)
		require.True(t, again.Known)
		require.Equal(t, first.Reading, again.Reading)
		in.Value = "111"
		_, err = b.AddReading(b.ctx(), b.installer, b.people.site.ID, in)
		refused(t, err, defects.Conflict, "id_taken")
		in.Value = "110"
		_, err = b.AddReading(b.ctx(), b.otherOperative, b.people.site.ID, in)
		e := refused(t, err, defects.Conflict, "id_taken")
		require.NotContains(t, e.Error(), "110", "nothing of another gang's reading is told")
		require.Equal(t, 1, b.stored())
	})
}

func TestNobodySignsAReadingInTheNameOfWhoJudgesIt(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	add := func(who register.Actor, login string) (defects.Reading, error) {
		res, err := b.AddReading(b.ctx(), who, b.people.site.ID, register.ReadingInput{
			Quantity: "mesh_lap", Value: "110", Unit: "mm", ByLogin: login,
		})
		return res.Reading, err
	}
	for _, role := range []string{"clerk", "auditor", "designer", "owner"} {
		for _, who := range []register.Actor{b.installer, b.operative} {
			_, err := add(who, role+".quarry-terrace")
			require.Equal(t, "by", refused(t, err, defects.Forbidden, "by_other_role").Field)
		}
	}
	_, err := add(b.clerk, "stranger.quarry-terrace")
	refused(t, err, defects.Invalid, "person_not_found")
	rd, err := add(b.manager, "clerk.quarry-terrace")
	require.NoError(t, err)
	require.Equal(t, []string{b.clerk.AccountID, b.manager.AccountID, b.manager.Name}, []string{rd.ByID, rd.EnteredBy, rd.EnteredName})
	require.Contains(t, string(b.last(b.people.site.ID).Data), `"entered_name":"`+b.manager.Name+`"`)
	rd, err = add(b.installer, "operative.quarry-terrace")
	require.NoError(t, err)
	require.Equal(t, b.operative.AccountID, rd.ByID)
	_, err = add(b.clerk, "clerk.quarry-terrace")
	require.NoError(t, err)
}

func TestAMeasuredValueWithoutUncertaintyIsAskedAbout(t *testing.T) {
	t.Parallel()
	b := newReadingBed(t)
	in := register.ReadingInput{Quantity: "mesh_lap", Value: "110", Unit: "mm", Expanded: "0"}
	_, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
	refused(t, err, defects.Question, "no_uncertainty")
	in.Confirmed = true
	res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
	require.NoError(t, err)
	require.True(t, res.Reading.Confirmed)
	_, err = b.AddReading(b.ctx(), b.clerk, b.people.site.ID, register.ReadingInput{
		Quantity: "fixing_count_board", Value: "6", Unit: "count", Expanded: "0", Zone: "field",
	})
	require.NoError(t, err, "what is counted has none")
}
