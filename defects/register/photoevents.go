package register

import (
	"context"
	"sync"

	"storeyrod/defects"
)

// bell wakes everybody who waits for it.
type bell struct {
	mu   sync.Mutex
	rung chan struct{}
}

func newBell() *bell { return &bell{rung: make(chan struct{})} }

// wait gives a channel that is closed when the bell is next rung.
func (b *bell) wait() <-chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.rung
}

func (b *bell) tell() {
	b.mu.Lock()
	defer b.mu.Unlock()
	close(b.rung)
	b.rung = make(chan struct{})
}

// eventsAtOnce bounds what one look at the changes gives.
const eventsAtOnce = 100

// CopiesChanged gives a channel that is closed when this process next changes
// view copies. Changes by other processes are found by looking.
func (r *Register) CopiesChanged() <-chan struct{} { return r.copiesChanged.wait() }

// LastPhotoChange is the number of the site's last change of view copies, from
// which PhotoChanges goes on.
func (r *Register) LastPhotoChange(ctx context.Context, a Actor, siteID string) (last int64, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.ViewSite); err != nil {
			return err
		}
		last, err = tx.Copies().LastChange(ctx, siteID)
		return err
	})
	return last, err
}

// PhotoChanges lists the photos whose view copies changed after a number, in
// that order, as they are now: of several changes the last one shows. An operative
// learns of those he may see. It answers the number to go on from; more tells
// that there are further ones.
func (r *Register) PhotoChanges(ctx context.Context, a Actor, siteID string, after int64) (changed []defects.Photo, last int64, more bool, err error) {
	last = after
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if changed, err = tx.Copies().Changed(ctx, siteID, after, eventsAtOnce); err != nil || len(changed) == 0 {
			return err
		}
		last, more = changed[len(changed)-1].CopiesSeq, len(changed) == eventsAtOnce
		changed, err = photosSeen(ctx, tx, m, changed)
		return err
	})
	return changed, last, more, err
}
