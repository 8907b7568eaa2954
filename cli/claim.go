package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"

	"storeyrod/evidence"
)

// claimPoll is the time between two tries for a folder that is being swept.
const claimPoll = 20 * time.Millisecond

// claim marks a folder of originals as used by this process. The system lets go
// of the mark when the process ends, however it ends.
type claim struct {
	lock  *flock.Flock
	since time.Time
	alone bool // nobody else used the folder then
}

// claimFolder marks the folder and runs open with the time to judge leftover
// temporary files by. When no other process uses the folder that is more than a
// day ahead, so that what a killed process left goes at once; then nobody else
// gets in before open is done.
func claimFolder(ctx context.Context, folder string, open func(now time.Time) error) (*claim, error) {
	inside := filepath.Join(folder, "incoming")
	if err := os.MkdirAll(inside, folderMode); err != nil {
		return nil, fmt.Errorf("originals: %w", err)
	}
	c := &claim{lock: flock.New(filepath.Join(inside, "in-use.lock"))}
	alone, err := c.lock.TryLock()
	if err != nil {
		return nil, fmt.Errorf("mark the originals as in use: %w", err)
	}
	c.alone, c.since = alone, time.Now()
	now := c.since
	if alone {
		now = now.Add(evidence.AbandonedAfter + time.Minute)
	} else if err := c.share(ctx); err != nil {
		return nil, err
	}
	if err := open(now); err != nil {
		return nil, errors.Join(err, c.release())
	}
	if !alone {
		return c, nil
	}
	if err := c.lock.Unlock(); err != nil {
		return nil, fmt.Errorf("share the originals: %w", err)
	}
	return c, c.share(ctx)
}

// orphaned is the time before which an original without a row is one of an
// intake that has ended: when this process came alone, all intakes before it have.
func (c *claim) orphaned() time.Time {
	if c.alone {
		return c.since
	}
	return c.since.Add(-orphanAge)
}

func (c *claim) share(ctx context.Context) error {
	if _, err := c.lock.TryRLockContext(ctx, claimPoll); err != nil {
		return fmt.Errorf("mark the originals as in use: %w", err)
	}
	return nil
}

func (c *claim) release() error {
	if err := c.lock.Unlock(); err != nil {
		return fmt.Errorf("release the originals: %w", err)
	}
	return nil
}
