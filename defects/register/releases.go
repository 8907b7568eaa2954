package register

import (
	"context"

	"storeyrod/defects"
)

// ReleaseInput is an answer to a hold point for an area. Zero bays or lifts
// mean all of them.
type ReleaseInput struct {
	HoldPoint        string // "H7"
	ElevationID      string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	Outcome          defects.ReleaseOutcome
	Text             string // conditions, or reasons of a refusal
}

// Readiness says whether a hold point may be released, and what stands in the
// way.
type Readiness struct {
	Ready   bool
	Reasons []defects.Detail
}

// ReadinessOf says whether a hold point may be released now.
func (r *Register) ReadinessOf(ctx context.Context, a Actor, siteID string, in ReleaseInput) (Readiness, error) {
	return Readiness{}, errUnfinished
}

// ReleaseHold records an answer to a hold point. A release of what is not
// ready answers Conflict hold_point_not_ready with the reasons in Details.
func (r *Register) ReleaseHold(ctx context.Context, a Actor, siteID string, in ReleaseInput) (defects.Release, error) {
	return defects.Release{}, errUnfinished
}

// Releases lists a site's answers to hold points, newest first.
func (r *Register) Releases(ctx context.Context, a Actor, siteID string) ([]defects.Release, error) {
	return nil, errUnfinished
}
