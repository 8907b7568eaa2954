package register

import (
	"context"

	"storeyrod/defects"
)

// FollowUp is what a reading or a pattern asks for next.
type FollowUp struct {
	Kind       string // "raise", "measure-again", "search" or "opening-up"; "" = the text alone
	Text       string
	ReadingID  string
	Code       string // proposed defect code, for "raise"
	Title      string
	Severity   defects.Severity
	SnagNumber int // the snag whose pattern asks, for "search"
	Want       int // how many readings are still wanted
}

// FollowUps lists what the readings of a site, or of one elevation, still ask
// for: snags to raise, readings to take again, and the search around a pattern.
func (r *Register) FollowUps(ctx context.Context, a Actor, siteID, elevationID string) ([]FollowUp, error) {
	return nil, errUnfinished
}
