package register

import (
	"context"
	"errors"
)

var errUnfinished = errors.New("register: not written yet")

// Derive makes the view copies of one photo and notes the result on its row.
func (r *Register) Derive(ctx context.Context, siteID, photoID string) error { return errUnfinished }

// DeriveWaiting makes the view copies of up to limit waiting photos of all
// sites and tells how many it has dealt with.
func (r *Register) DeriveWaiting(ctx context.Context, limit int) (done int, err error) {
	return 0, errUnfinished
}

// RunDeriver makes view copies until ctx ends. The queue is the photo rows
// themselves, so nothing is lost over a restart.
func (r *Register) RunDeriver(ctx context.Context) {}
