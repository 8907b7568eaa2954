package register

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"storeyrod/defects"
)

// PastVerdict is one time that a reading was judged anew: what stood before and
// what stood then. Limits are as the log keeps them, exact text.
type PastVerdict struct {
	At     time.Time
	By     string
	Role   string
	Reason string
	Before JudgedThen
	After  JudgedThen
}

// JudgedThen is a verdict as it was.
type JudgedThen struct {
	Outcome  defects.Outcome
	Lower    string
	Upper    string
	Schedule string
	Title    string
	Edition  string
	Clause   string
	Basis    defects.Basis
}

// VerdictHistory lists how often a reading was judged anew, oldest first, from
// the log. Whoever may see the reading may see it.
func (r *Register) VerdictHistory(ctx context.Context, a Actor, siteID, id string) (out []PastVerdict, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		rd, err := tx.Readings().Reading(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := mayRead(m, rd); err != nil {
			return err
		}
		encoded, err := tx.Log().EntriesOf(ctx, siteID, "reading", id)
		if err != nil {
			return err
		}
		entries, err := decodeEntries(encoded)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if e.Kind != "reading.rejudge" {
				continue
			}
			var d struct {
				Reason        string
				Before, After verdictData
			}
			if err := json.Unmarshal(e.Data, &d); err != nil {
				return fmt.Errorf("verdict in log entry %d: %w", e.Seq, err)
			}
			out = append(out, PastVerdict{
				At: e.At, By: e.Actor.Name, Role: e.Actor.Role, Reason: d.Reason, Before: d.Before.then(), After: d.After.then(),
			})
		}
		return nil
	})
	return out, err
}

func (d verdictData) then() JudgedThen {
	return JudgedThen{
		Outcome: defects.Outcome(d.Outcome), Lower: d.Lower, Upper: d.Upper, Schedule: d.Schedule,
		Title: d.Title, Edition: d.Edition, Clause: d.Clause, Basis: defects.Basis(d.Basis),
	}
}
