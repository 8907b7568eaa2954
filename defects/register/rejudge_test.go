package register_test

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// A server that stops in the middle of a decision takes it up again; readings
// entered since are none of its business, and withdrawn ones stay as they are.
func TestADecisionToJudgeAnewIsTakenUpAfterAStop(t *testing.T) {
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		var in []register.ReadingInput
		for i := range 600 {
			in = append(in, register.ReadingInput{Quantity: "mesh_lap", Value: strconv.Itoa(90 + i%20), Unit: "mm", ElevationID: b.north.ID, Note: strconv.Itoa(i), ID: "lap-" + strconv.Itoa(i)})
		}
		results, err := b.AddReadings(b.ctx(), b.clerk, site, in)
		require.NoError(t, err)
		gone, err := b.WithdrawReading(b.ctx(), b.clerk, site, results[0].Reading.ID, 1, "slip")
		require.NoError(t, err)
		b.inForce(defects.Limit{Quantity: "mesh_lap", Kind: defects.FixedLimit, Lower: dec("95")})

		order := register.RejudgeOrder{ElevationID: b.north.ID, Quantity: "mesh_lap"}
		preview, err := b.PreviewRejudge(b.ctx(), b.designer, site, order)
		require.NoError(t, err)
		require.Equal(t, 599, preview.Tally.Total())
		require.Equal(t, 150, preview.Tally.Changed(), "laps of 95 to 99 pass now")

		order.Reason = "laps of 95 agreed"
		_, err = b.DecideRejudge(b.ctx(), b.designer, site, order)
		require.NoError(t, err)
		b.clock.add(time.Minute)
		later, err := b.AddReading(b.ctx(), b.clerk, site, register.ReadingInput{Quantity: "mesh_lap", Value: "97", Unit: "mm", ElevationID: b.north.ID})
		require.NoError(t, err)

		require.NoError(t, b.ContinueRejudging(b.ctx()))
		list, err := b.Rejudgements(b.ctx(), b.designer, site)
		require.NoError(t, err)
		require.Equal(t, defects.RejudgeDone, list[0].State)
		require.Equal(t, preview.Tally, list[0].Tally, "what was counted is what was done")
		require.NoError(t, b.ContinueRejudging(b.ctx()), "and it is done once")

		changed, err := b.Reading(b.ctx(), b.clerk, site, results[5].Reading.ID)
		require.NoError(t, err)
		require.Equal(t, defects.Pass, changed.Verdict.Outcome)
		past, err := b.VerdictHistory(b.ctx(), b.clerk, site, changed.ID)
		require.NoError(t, err)
		require.Len(t, past, 1)
		require.Equal(t, defects.Fail, past[0].Before.Outcome)
		require.Equal(t, "100", past[0].Before.Lower)
		require.Equal(t, "laps of 95 agreed", past[0].Reason)
		require.Empty(t, b.ReplayLog(b.ctx(), t, site), "the log leads to the rows")
		for _, same := range []defects.Reading{gone, later.Reading} {
			now, err := b.Reading(b.ctx(), b.clerk, site, same.ID)
			require.NoError(t, err)
			require.Equal(t, same.Version, now.Version)
		}
	})
}
