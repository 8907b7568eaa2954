package register

import (
	"context"

	"storeyrod/defects"
)

// StepRequest is what somebody takes a step with; only the fields that the
// step needs are read.
type StepRequest struct {
	Step       defects.Step
	Text       string // instruction, reason, ruling, what was seen
	Due        string // "2006-01-02": instruct, defer
	Gang       string
	PlannedOn  string
	Ground     defects.DisputeGround
	Stands     *bool
	Inspection string // "on-site" or "from-photo"
	MadeGood   defects.MakingGood
	Photos     []string
	ReadingID  string
	Concession defects.ConcessionInput
	Event      string
	Confirmed  bool
}

// StepSnag takes one step with a snag. A lost race answers Stale with the
// present state in Details.
func (r *Register) StepSnag(ctx context.Context, a Actor, siteID string, number, version int, in StepRequest) (defects.Snag, error) {
	return defects.Snag{}, errUnfinished
}
