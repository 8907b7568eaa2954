package register

import (
	"context"
	"io"

	"storeyrod/defects"
)

type ruleCache struct{}

func (r *Register) AddSchedule(ctx context.Context, a Actor, siteID string, src io.Reader) (defects.Schedule, error) {
	return defects.Schedule{}, errNotYet
}
func (r *Register) SchedulesOf(ctx context.Context, a Actor, siteID string) (inForce, all []defects.Schedule, err error) {
	return nil, nil, errNotYet
}
