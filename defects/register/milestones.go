package register

import (
	"context"

	"storeyrod/defects"
)

func (r *Register) SetMilestone(ctx context.Context, a Actor, m defects.Milestone) (defects.Milestone, error) {
	return m, errUnfinished
}
func (r *Register) DeleteMilestone(ctx context.Context, a Actor, siteID, id string) error {
	return errUnfinished
}
func (r *Register) Milestones(ctx context.Context, a Actor, siteID string) ([]defects.Milestone, error) {
	return nil, errUnfinished
}
