package register

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"storeyrod/defects"
)

const (
	lease       = 30 * time.Second // renewed meanwhile; a job whose holder died is taken again after it
	firstWait   = 5 * time.Second  // after a fault of the machine; doubled each time
	longestWait = time.Hour        // between two tries
	mostTries   = 16               // some seven hours of faults
	mostLost    = 3                // a photo that ends the process as often is left alone
	idleTick    = 2 * time.Second  // how long a photo of another process waits unseen
	settleTime  = 10 * time.Second // for noting a result while the program ends
	quickTurns  = 4                // one worker takes no job with a greater turn
)

// DeriveWaiting works on up to limit jobs that are free now and tells how many
// photos it has dealt with. The error is the first fault of the machine; its
// photo waits for another try.
func (r *Register) DeriveWaiting(ctx context.Context, limit int) (done int, err error) {
	var (
		workers sync.WaitGroup
		mu      sync.Mutex
	)
	next := func() bool {
		mu.Lock()
		defer mu.Unlock()
		limit--
		return limit >= 0 && ctx.Err() == nil
	}
	for range min(runtime.GOMAXPROCS(0), max(limit, 0)) {
		workers.Go(func() {
			for next() {
				worked, fault := r.deriveNext(ctx, LastTurn)
				mu.Lock()
				if fault != nil {
					err = errors.Join(err, fault)
				} else if worked {
					done++
				}
				mu.Unlock()
				if !worked {
					return
				}
			}
		})
	}
	workers.Wait()
	return done, err
}

// RunDeriver makes view copies until ctx ends, in as many workers as there are
// processors and one more, which is kept for senders with little waiting: a long
// import does not hold up a phone's photo. Several processes may run it over one
// database.
func (r *Register) RunDeriver(ctx context.Context) {
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() { r.deriveUntil(ctx, LastTurn, r.wake) })
	}
	workers.Go(func() { r.deriveUntil(ctx, quickTurns, r.wakeQuick) })
	workers.Wait()
}

func (r *Register) deriveUntil(ctx context.Context, turns int, wake chan struct{}) {
	tick := time.NewTicker(idleTick)
	defer tick.Stop()
	for ctx.Err() == nil {
		worked, err := r.deriveNext(ctx, turns)
		if err != nil && ctx.Err() == nil {
			r.Logger.ErrorContext(ctx, "view copies wait", "error", err)
		}
		if worked {
			continue
		}
		select {
		case <-ctx.Done():
		case <-wake:
		case <-tick.C:
		}
	}
}

// wakeDeriver lets the workers look at the queue, or leaves them a note to.
func (r *Register) wakeDeriver() {
	for _, wake := range []chan struct{}{r.wake, r.wakeQuick} {
		select {
		case wake <- struct{}{}:
		default:
		}
	}
}

// deriveNext takes one job, when one is free, and brings it to an end. An error
// is a fault of the machine.
func (r *Register) deriveNext(ctx context.Context, turns int) (worked bool, err error) {
	job, err := r.claim(ctx, turns)
	if err != nil {
		if errors.Is(err, defects.NotFound) {
			err = nil
		}
		return false, err
	}
	r.wakeDeriver() // there may be more, for a worker that sleeps
	if job.Lost >= mostLost {
		return true, r.finish(ctx, job, "process_died", nil)
	}
	likeness, err := r.underLease(ctx, job)
	switch {
	case err == nil:
		return true, r.finish(ctx, job, "", &likeness)
	case photoFault(err) != "":
		r.Logger.WarnContext(ctx, "no view copies", "photo", job.PhotoID, "error", err)
		return true, r.finish(ctx, job, photoFault(err), nil)
	}
	return true, errors.Join(fmt.Errorf("make view copies of photo %s: %w", job.PhotoID, err), r.postpone(ctx, job, err))
}

// claim looks before it writes, so that an idle server writes nothing.
func (r *Register) claim(ctx context.Context, turns int) (job Job, err error) {
	now := r.Now()
	err = r.Store.Read(ctx, func(tx Tx) error {
		free, err := tx.Jobs().Free(ctx, now, turns)
		if err == nil && !free {
			err = defects.Refuse(defects.NotFound, "job_not_found", "nothing waits")
		}
		return err
	})
	if err != nil {
		return job, err
	}
	holder := r.NewID()
	err = r.Store.Write(ctx, func(tx Tx) error {
		job, err = tx.Jobs().Claim(ctx, now, now.Add(lease), turns, holder)
		return err
	})
	return job, err
}

// underLease makes the copies and renews the lease meanwhile. When the lease is
// lost all the same, the work is given up.
func (r *Register) underLease(ctx context.Context, job Job) (likeness uint64, err error) {
	var p defects.Photo
	err = r.Store.Read(ctx, func(tx Tx) (err error) {
		p, err = tx.Photos().Photo(ctx, job.SiteID, job.PhotoID)
		return err
	})
	if err != nil {
		return 0, err
	}
	ctx, cancel := context.WithCancel(ctx)
	var renewing sync.WaitGroup
	renewing.Go(func() {
		tick := time.NewTicker(lease / 3)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			err := r.Store.Write(ctx, func(tx Tx) error { return tx.Jobs().Extend(ctx, job, r.Now().Add(lease)) })
			if errors.Is(err, defects.Stale) {
				cancel()
			}
		}
	})
	defer renewing.Wait()
	defer cancel()
	return r.makeCopies(ctx, p)
}

// finish notes the end of a job, with the code of what was wrong with the photo
// or "". Somebody else's result is not written over.
func (r *Register) finish(ctx context.Context, job Job, code string, likeness *uint64) error {
	state := CopiesState{Derived: derivedReady, Likeness: likeness}
	if code != "" {
		state.Derived = defects.CopiesFailed + code
	}
	return r.settle(ctx, func(ctx context.Context, tx Tx) error {
		if err := tx.Jobs().Done(ctx, job); err != nil {
			return err
		}
		state.At = r.Now()
		if err := tx.Copies().SetCopies(ctx, job.SiteID, job.PhotoID, state); err != nil {
			return err
		}
		if code == codeDamaged {
			return r.capDamaged(ctx, tx, job.SiteID, job.PhotoID)
		}
		return nil
	})
}

// postpone gives a job back after a fault of the machine. A worker told to stop
// has met none.
func (r *Register) postpone(ctx context.Context, job Job, fault error) error {
	job.FreeAt = r.Now()
	if ctx.Err() == nil {
		job.Fault = machineFault(fault)
		job.FreeAt = job.FreeAt.Add(min(firstWait<<min(job.Tries, 20), longestWait))
		job.Tries++
		if job.Tries >= mostTries {
			return r.finish(ctx, job, job.Fault, nil)
		}
	}
	return r.settle(ctx, func(ctx context.Context, tx Tx) error { return tx.Jobs().Release(ctx, job) })
}

// settle writes a result even while the program ends. A lost lease is no fault:
// whoever has it writes his own result.
func (r *Register) settle(ctx context.Context, fn func(context.Context, Tx) error) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), settleTime)
	defer cancel()
	err := r.Store.Write(ctx, func(tx Tx) error { return fn(ctx, tx) })
	r.copiesChanged.tell()
	if errors.Is(err, defects.Stale) {
		return nil
	}
	return err
}

// enqueue asks for view copies. The sender is a session or token rather than a
// person, so that an import does not hold up the same person's phone.
func (r *Register) enqueue(ctx context.Context, tx Tx, a Actor, siteID, photoID string) error {
	sender := a.KeyID
	if sender == "" {
		sender = a.AccountID
	}
	return tx.Jobs().Enqueue(ctx, Job{PhotoID: photoID, SiteID: siteID, Sender: sender, QueuedAt: r.Now()})
}

// again asks for view copies once more.
func (r *Register) again(ctx context.Context, tx Tx, a Actor, p defects.Photo) error {
	if err := tx.Copies().SetCopies(ctx, p.SiteID, p.ID, CopiesState{Derived: derivedWaiting, At: r.Now()}); err != nil {
		return err
	}
	return r.enqueue(ctx, tx, a, p.SiteID, p.ID)
}

// RetryCopies asks for another try at a photo's view copies, at once. It is not
// logged: it changes nothing that is on record.
func (r *Register) RetryCopies(ctx context.Context, a Actor, siteID, photoID string) (p defects.Photo, err error) {
	err = r.Store.Write(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.PlacePhoto); err != nil {
			return err
		}
		if p, err = tx.Photos().Photo(ctx, siteID, photoID); err != nil {
			return err
		}
		if p.Derived == derivedReady {
			return defects.Refuse(defects.Conflict, "copies_ready", "the view copies are there already")
		}
		if err := r.again(ctx, tx, a, p); err != nil {
			return err
		}
		p, err = tx.Photos().Photo(ctx, siteID, photoID)
		return err
	})
	if err != nil {
		return defects.Photo{}, err
	}
	r.wakeDeriver()
	r.copiesChanged.tell()
	return p, nil
}

// CopiesJob is how the work on a photo's view copies stands; ok is false when
// none is waiting.
func (r *Register) CopiesJob(ctx context.Context, a Actor, siteID, photoID string) (job Job, ok bool, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, _, err := r.seenPhoto(ctx, tx, a, siteID, photoID); err != nil {
			return err
		}
		job, err = tx.Jobs().Job(ctx, siteID, photoID)
		return err
	})
	if e, refused := asError(err); refused && e.CodeOrKind() == "job_not_found" {
		return Job{}, false, nil
	}
	return job, err == nil, err
}
