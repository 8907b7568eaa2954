package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// J15 of the reference, its search: a pattern of short laps asks for six
// further readings in the area.
func TestAPatternAsksForFurtherReadings(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		lap := register.ReadingInput{Quantity: "mesh_lap", Unit: "mm", Expanded: "3", Stage: "BM", ElevationID: b.north.ID, Bay: 2, Lift: 1}
		short := b.all(lap, "95", "88")
		require.Equal(t, map[string]int{"raise mesh_lap": 2}, b.follow())

		before := b.take(b.clerk, picture(t, 1, shot(9, 178, 5)), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID}})
		close := b.take(b.clerk, picture(t, 2, shot(9, 178, 5)), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID}, ScaleSeen: true})
		snag, err := b.RaiseSnag(b.ctx(), b.clerk, site, register.RaiseInput{
			ElevationID: b.north.ID, Bay: 2, Lift: 1, Code: "BM-04", Extent: defects.Pattern, Requirement: "laps of at least 100 mm",
			Text: "laps short beside the downpipe", Gang: "A", ReadingID: short[0].Reading.ID, Photos: []string{before.ID, close.ID},
		})
		require.NoError(t, err)
		wanted := func() (int, register.FollowUp) {
			list, err := b.FollowUps(b.ctx(), b.clerk, site, b.north.ID)
			require.NoError(t, err)
			for _, f := range list {
				if f.Kind == register.FollowSearch {
					return f.Want, f
				}
			}
			return 0, register.FollowUp{}
		}
		want, f := wanted()
		require.Equal(t, 6, want)
		require.Equal(t, snag.Number, f.SnagNumber)
		require.Contains(t, f.Text, "6 of 6")
		require.Equal(t, 1, b.follow()["raise mesh_lap"], "the other short lap still wants its snag")

		b.clock.add(time.Hour)
		elsewhere := lap
		elsewhere.Bay = 5
		b.all(elsewhere, "120")
		want, _ = wanted()
		require.Equal(t, 6, want, "another bay is not the area")
		search := b.all(lap, "120", "118")
		want, _ = wanted()
		require.Equal(t, 4, want)
		_, err = b.WithdrawReading(b.ctx(), b.clerk, site, search[0].Reading.ID, 1, "tape slipped")
		require.NoError(t, err)
		want, _ = wanted()
		require.Equal(t, 5, want)
		b.all(lap, "120", "118", "119", "121", "104")
		want, _ = wanted()
		require.Zero(t, want)

		_, err = b.FollowUps(b.ctx(), b.stranger, site, "")
		require.ErrorIs(t, err, defects.NotFound)
		_, err = b.FollowUps(b.ctx(), b.clerk, site, "none")
		require.ErrorIs(t, err, defects.NotFound)
		south, err := b.FollowUps(b.ctx(), b.clerk, site, b.walls[0].ID)
		require.NoError(t, err)
		require.Empty(t, south)
	})
}

func TestAReadingKeepsAllThatWasSaidOfIt(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		tool := b.tool("tape 3", "mm", "1")
		p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
		in := register.ReadingInput{
			ID: "phone-17", Quantity: "movement_joint_width", Value: "-0", Unit: "mm", Expanded: "0.50", BaseLength: "2.40", Courses: 4,
			FailurePlane: "insulation", Mode: "wood", Nominal: "12.0", Area: "0.72", Dolly: "50 mm round", InstrumentID: "TAPE 3",
			MeasuredAt: "2026-06-01T10:30:00+01:00", ByLogin: "Operative.Quarry-Terrace", Gang: "A", Batch: "K44", Stage: "MJ",
			ElevationID: "long row / north", X: "5.125", Z: "2.5", Zone: "edge", Photos: []string{p.ID, p.ID}, Note: "raking light\r\nfrom the west",
		}
		res, err := b.AddReading(b.ctx(), b.clerk, b.people.site.ID, in)
		require.NoError(t, err)
		got, err := b.Reading(b.ctx(), b.clerk, b.people.site.ID, res.Reading.ID)
		require.NoError(t, err)
		require.Equal(t, res.Reading, got)
		require.Equal(t, tool.ID, got.InstrumentID)
		require.Equal(t, "tape 3", got.Instrument)
		require.Equal(t, time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC), got.MeasuredAt)
		require.Equal(t, b.operative.AccountID, got.ByID)
		require.Equal(t, []string{p.ID}, got.Photos)
		require.Equal(t, "raking light\nfrom the west", got.Note)
		require.Equal(t, defects.Edge, got.Place.Zone)
		require.Equal(t, 3, got.Place.Bay, "5.125 m along bays of 2.5 m")
		require.Equal(t, 2, got.Place.Lift)
		require.Equal(t, []string{"0.50", "2.40", "12.0", "0.72"},
			[]string{got.Expanded.String(), got.BaseLength.String(), got.Nominal.String(), got.Area.String()})
		data := string(b.last(b.people.site.ID).Data)
		for _, said := range []string{`"client_id":"phone-17"`, `"expanded_uncertainty":"0.50"`, `"x_mm":5125`, `"batch":"K44"`, `"nominal":"12.0"`} {
			require.Contains(t, data, said)
		}
	})
}
