package models_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestFiguresAreReadInTheOrderTheyWereTaken(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		w.write(func(tx register.Tx) error {
			for i := range 5 {
				p := float64(i) / 7
				rd := defects.Reading{
					ID: fmt.Sprintf("r%d", i), SiteID: siteID, Quantity: "plumb", Unit: "mm", Value: *dec(fmt.Sprintf("%d.50", 9-i)),
					Gang: fmt.Sprint("gang ", i%2), MeasuredAt: at.Add(-time.Duration(i) * time.Hour), EnteredAt: at, Verdict: defects.Verdict{
						Outcome: defects.Pass, Lower: dec("-8"), Upper: dec("8.0"), Title: `a "p_conform":0.5, in the title`, PConform: &p,
					},
				}
				if i == 4 {
					rd.Verdict, rd.Withdrawn = defects.Verdict{Outcome: defects.NoVerdict, Reason: defects.ReasonNoLimit}, "wrong wall"
				}
				if err := tx.Readings().InsertReading(ctx(w), rd); err != nil {
					return err
				}
			}
			return tx.Readings().InsertReading(ctx(w), defects.Reading{ID: "other", SiteID: siteID, Quantity: "flatness", Unit: "mm", MeasuredAt: at, EnteredAt: at})
		})
		w.read(func(tx register.Tx) error {
			f := register.ReadingFilter{SiteID: siteID, Quantity: "plumb"}
			list, err := tx.Readings().Figures(ctx(w), f, 10)
			require.NoError(w.t, err)
			require.Len(w.t, list, 5)
			require.Equal(w.t, "r4", list[0].ID, "the oldest first")
			require.True(w.t, list[0].Withdrawn)
			require.Nil(w.t, list[0].Verdict, "a withdrawn one counts for nothing")
			last := list[4]
			require.Equal(w.t, "9.50", last.Value.String())
			require.Equal(w.t, "gang 0", last.Gang)
			require.True(w.t, at.Equal(last.At))
			require.Equal(w.t, "8.0", last.Verdict.Upper.String())
			require.Contains(w.t, last.Verdict.Title, "in the title")
			require.Nil(w.t, last.Verdict.PConform)
			require.Same(w.t, list[1].Verdict, last.Verdict, "alike but for the probability")
			for what, f := range map[string]register.ReadingFilter{
				"r3 r2": {SiteID: siteID, Quantity: "plumb", Since: at.Add(-3 * time.Hour), Until: at.Add(-time.Hour)},
				"r3 r1": {SiteID: siteID, Quantity: "plumb", Gang: "gang 1"},
			} {
				list, err := tx.Readings().Figures(ctx(w), f, 10)
				require.NoError(w.t, err)
				require.Len(w.t, list, 2, what)
				require.Equal(w.t, what, list[0].ID+" "+list[1].ID)
			}
			few, err := tx.Readings().Figures(ctx(w), f, 2)
			require.Len(w.t, few, 2)
			return err
		})
	})
}
