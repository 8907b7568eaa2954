package register

import (
	"context"
	"testing"

	"storeyrod/defects"
)

// Rows as the log keeps them, for tests that rebuild the state from the log.

func SiteRow(s defects.Site) any             { return siteEvent(nil, &s).After }
func BuildingRow(b defects.Building) any     { return buildingEvent(nil, &b).After }
func ElevationRow(e defects.Elevation) any   { return elevationEvent(nil, &e).After }
func MilestoneRow(m defects.Milestone) any   { return milestoneEvent(nil, &m).After }
func InstrumentRow(i defects.Instrument) any { return instrumentEvent(nil, &i).After }

// DecideRejudge decides without carrying anything out, as a server does that
// stops right after.
func (r *Register) DecideRejudge(ctx context.Context, a Actor, siteID string, o RejudgeOrder) (defects.Rejudgement, error) {
	return r.decideRejudge(ctx, a, siteID, o)
}

// ReplayLog says in which rows a site is not what its log leads to.
func (r *Register) ReplayLog(ctx context.Context, t *testing.T, siteID string) (out []string) {
	t.Helper()
	err := r.Store.Read(ctx, func(tx Tx) error {
		found, err := replayLog(ctx, tx, siteID)
		for _, m := range found {
			out = append(out, m.table+" "+m.id+" "+m.text)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
