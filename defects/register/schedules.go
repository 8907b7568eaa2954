package register

import (
	"context"
	"io"

	"storeyrod/defects"
)

type ruleCache struct{}

// rules gives the compiled schedules in force on a site, the governing one
// first.
func (r *Register) rules(ctx context.Context, tx Tx, site defects.Site) ([]*defects.Limits, error) {
	return nil, errUnfinished
}

// AddSchedule stores a project's own schedule as the next version of its name.
func (r *Register) AddSchedule(ctx context.Context, a Actor, siteID string, src io.Reader) (defects.Schedule, error) {
	return defects.Schedule{}, errUnfinished
}

// SchedulesOf lists the schedules in force on a site and all it can choose from.
func (r *Register) SchedulesOf(ctx context.Context, a Actor, siteID string) (inForce, all []defects.Schedule, err error) {
	return nil, nil, errUnfinished
}
