package register

import (
	"context"

	"storeyrod/defects"
)

// NewSet is a group of readings that will be judged together.
type NewSet struct {
	Quantity  string
	Name      string
	Substrate string
	Stage     string
	Place     defects.Place
}

// CreateSet starts a set; readings join it by naming its id.
func (r *Register) CreateSet(ctx context.Context, a Actor, siteID string, n NewSet) (defects.Set, error) {
	return defects.Set{}, errUnfinished
}

// Set is one set with all its readings, withdrawn ones too, oldest first.
func (r *Register) Set(ctx context.Context, a Actor, siteID, id string) (defects.Set, []defects.Reading, error) {
	return defects.Set{}, nil, errUnfinished
}

// Sets lists the sets of a site.
func (r *Register) Sets(ctx context.Context, a Actor, siteID string) ([]defects.Set, error) {
	return nil, errUnfinished
}
