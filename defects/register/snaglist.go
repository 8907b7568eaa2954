package register

import (
	"context"
	"time"

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

// SnagItem is one line of a snag list.
type SnagItem struct {
	Snag   defects.Snag
	Due    defects.Due
	Thumbs []string // photo ids: the first one (before) and the last of the offer (after)
}

// SnagList is the list of one elevation, in walking order.
type SnagList struct {
	Site       defects.Site
	Elevation  defects.Elevation
	Items      []SnagItem
	Counts     map[defects.State]int
	BySeverity map[defects.Severity]int
	At         time.Time
	Seq        int64 // position in the site's log at which the list was taken
}

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
