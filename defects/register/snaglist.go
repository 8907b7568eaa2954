package register

import (
	"context"

	"storeyrod/defects"
)

// ListFilter narrows a snag list; zero fields do not narrow.
type ListFilter struct {
	States     []defects.State
	All        bool // closed, conceded and withdrawn ones as well
	Severities []defects.Severity
	Stage      string
	Gang       string
	DueReason  defects.DueReason
}

// The list itself is a value of package defects, so that reports can write it.
type (
	SnagItem = defects.SnagItem
	SnagList = defects.SnagList
)

// SnagList is the snag list of one elevation in walking order, taken with a
// constant number of statements.
func (r *Register) SnagList(ctx context.Context, a Actor, siteID, elevationID string, f ListFilter) (SnagList, error) {
	return SnagList{}, errUnfinished
}

// SnagLists is the snag list of every elevation of a site that has any, in the
// order of the elevations.
func (r *Register) SnagLists(ctx context.Context, a Actor, siteID string, f ListFilter) ([]SnagList, error) {
	return nil, errUnfinished
}
