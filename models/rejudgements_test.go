package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestADecisionToJudgeAnewComesBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		j := defects.Rejudgement{
			ID: "j1", SiteID: siteID, ElevationID: e[0], Stage: "SL", Quantity: "plumb", Schedules: []string{"a@1", "b@2"},
			Rule: defects.FourWay, Guard: defects.MustDecimal("1.5"), Reason: "agreed", By: defects.Person{ID: "p", Name: "Ada", Role: defects.Designer},
			Device: "desk", At: at, State: defects.RejudgeRunning, Place: "cursor",
			Tally: defects.Tally{
				Lines: []defects.TallyLine{{Before: defects.Fail, After: defects.Pass, N: 3}},
				Sets:  []defects.TallyLine{{Before: defects.Pass, After: defects.Pass, N: 2}}, Surveys: []defects.TallyLine{{Before: defects.NoVerdict, After: defects.Fail, N: 1}}, Snags: []int{7},
			}, Version: 1,
		}
		filled(w.t, j)
		w.write(func(tx register.Tx) error { return tx.Rejudgements().InsertRejudgement(ctx(w), j) })
		w.read(func(tx register.Tx) error {
			got, err := tx.Rejudgements().Rejudgement(ctx(w), siteID, "j1")
			require.Equal(w.t, j, got)
			running, rerr := tx.Rejudgements().Rejudgements(ctx(w), "", 10)
			require.NoError(w.t, rerr)
			require.Len(w.t, running, 1)
			return err
		})
		later := j
		later.ID, later.At = "j2", at.Add(time.Hour)
		done := j
		done.State = defects.RejudgeDone
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Rejudgements().InsertRejudgement(ctx(w), later))
			return tx.Rejudgements().UpdateRejudgement(ctx(w), done)
		})
		w.read(func(tx register.Tx) error {
			all, err := tx.Rejudgements().Rejudgements(ctx(w), siteID, 10)
			require.NoError(w.t, err)
			require.Equal(w.t, "j2", all[0].ID, "the newest first")
			running, err := tx.Rejudgements().Rejudgements(ctx(w), "", 10)
			require.Len(w.t, running, 1)
			require.Equal(w.t, "j2", running[0].ID)
			return err
		})
		err := w.store.Write(ctx(w), func(tx register.Tx) error { return tx.Rejudgements().UpdateRejudgement(ctx(w), j) })
		require.ErrorIs(w.t, err, defects.Stale)
	})
}
