package register

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"sync"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// States of a photo's view copies, as its row keeps them. A failure is
// derivedFailed with the code of what was wrong.
const (
	derivedWaiting = ""
	derivedReady   = "ready"
	derivedFailed  = "failed: "
)

const (
	deriveBatch = 50               // photos between two looks at the queue
	deriveTick  = 30 * time.Second // how long a photo of another process may wait unseen
)

// Derive makes the view copies of one photo and notes the result on its row. A
// photo that cannot be decoded is noted as failed, which is no error; an error
// leaves it waiting.
func (r *Register) Derive(ctx context.Context, siteID, photoID string) error {
	var p defects.Photo
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		p, err = tx.Photos().Photo(ctx, siteID, photoID)
		return err
	})
	if err != nil {
		return err
	}
	return r.derive(ctx, p)
}

func (r *Register) derive(ctx context.Context, p defects.Photo) error {
	status := derivedReady
	if err := r.makeCopies(ctx, p); err != nil {
		code := failureCode(err)
		if code == "" {
			return fmt.Errorf("make view copies of photo %s: %w", p.ID, err)
		}
		r.Logger.WarnContext(ctx, "no view copies", "photo", p.ID, "error", err)
		status = derivedFailed + code
	}
	if status == derivedFailed+codeDamaged {
		return r.capDamaged(ctx, p, status)
	}
	return r.setDerived(ctx, p.ID, status)
}

// codeDamaged is the code of a photo whose pixels cannot be decoded.
const codeDamaged = "damaged_file"

// capDamaged notes on a photo that its pixels are damaged, and lowers its grade
// to C at most. Its data may say rightly where and when it was taken, but nobody
// can look at it, so it cannot prove what a wall was like; the original stays,
// since another program may still read part of it.
func (r *Register) capDamaged(ctx context.Context, p defects.Photo, status string) error {
	return r.Store.Write(ctx, func(tx Tx) error {
		if err := tx.Photos().SetDerived(ctx, p.ID, status); err != nil {
			return err
		}
		before, err := tx.Photos().Photo(ctx, p.SiteID, p.ID)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(before.Flags, isDamaged) {
			return nil
		}
		after := before
		after.Flags = append(slices.Clone(before.Flags), defects.Flag{Code: flagPixelsDamaged, Text: noteText(flagPixelsDamaged)})
		after.Grade = cappedGrade(after)
		if err := tx.Photos().UpdatePhoto(ctx, after); err != nil {
			return err
		}
		after.Version++
		program := Actor{AccountID: SystemID, Name: "view copies"}
		return r.note(ctx, tx, program, defects.Membership{}, p.SiteID, updatedEvent(before, after))
	})
}

// flagPixelsDamaged marks a photo of which no view copy can be made because its
// picture data are damaged.
const flagPixelsDamaged = "pixels_damaged"

func isDamaged(f defects.Flag) bool { return f.Code == flagPixelsDamaged }

// cappedGrade is a photo's grade, C at most when its pixels are damaged.
func cappedGrade(p defects.Photo) defects.Grade {
	if slices.ContainsFunc(p.Flags, isDamaged) && (p.Grade == defects.GradeA || p.Grade == defects.GradeB) {
		return defects.GradeC
	}
	return p.Grade
}

// failureCode is the word for a fault of the photo itself, and "" for one of
// the machine, which another attempt may not meet.
func failureCode(err error) string {
	switch {
	case errors.Is(err, evidence.ErrNotFound):
		return "original_missing"
	case errors.Is(err, evidence.ErrDamaged):
		return "original_damaged"
	}
	if e, ok := asError(err); ok && e.Kind != defects.Unavailable {
		return e.CodeOrKind()
	}
	return ""
}

func (r *Register) makeCopies(ctx context.Context, p defects.Photo) error {
	file, _, err := r.Blobs.Open(ctx, evidence.Ref(p.SHA256))
	if err != nil {
		return err
	}
	defer file.Close()
	head, err := imaging.CheckHeader(file, r.Limits)
	if err != nil {
		return err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	var copies imaging.Copies
	err = r.Pool.Do(ctx, head.Weight(), func() error {
		copies, err = imaging.Derive(ctx, file, p.Capture, imaging.DeriveOptions{Limits: r.Limits})
		return err
	})
	if err != nil {
		return err
	}
	ref := evidence.Ref(p.SHA256)
	if err := r.Derived.PutDerived(ctx, ref, Preview.kind(), copies.Preview.JPEG); err != nil {
		return err
	}
	return r.Derived.PutDerived(ctx, ref, Thumb.kind(), copies.Thumb.JPEG)
}

func (r *Register) setDerived(ctx context.Context, id, status string) error {
	return r.Store.Write(ctx, func(tx Tx) error { return tx.Photos().SetDerived(ctx, id, status) })
}

// DeriveWaiting makes the view copies of up to limit waiting photos of all
// sites and tells how many it has dealt with. Photos that met a fault of the
// machine stay waiting; the first such fault is the error.
func (r *Register) DeriveWaiting(ctx context.Context, limit int) (done int, err error) {
	waiting, err := r.waitingPhotos(ctx, limit)
	if err != nil || len(waiting) == 0 {
		return 0, err
	}
	queue := make(chan defects.Photo)
	var (
		workers sync.WaitGroup
		mu      sync.Mutex
	)
	for range min(runtime.GOMAXPROCS(0), len(waiting)) {
		workers.Go(func() {
			for p := range queue {
				fault := r.derive(ctx, p)
				mu.Lock()
				if fault == nil {
					done++
				} else if err == nil {
					err = fault
				}
				mu.Unlock()
			}
		})
	}
	for _, p := range waiting {
		if ctx.Err() != nil {
			break
		}
		queue <- p
	}
	close(queue)
	workers.Wait()
	return done, err
}

func (r *Register) waitingPhotos(ctx context.Context, limit int) (waiting []defects.Photo, err error) {
	if limit <= 0 {
		return nil, nil
	}
	err = r.Store.Read(ctx, func(tx Tx) error {
		waiting, err = tx.Photos().ListPhotos(ctx, PhotoFilter{Derived: "waiting"}, Page{Limit: min(limit, largestPage)})
		return err
	})
	return waiting, err
}

// RunDeriver makes view copies until ctx ends. The queue is the photo rows
// themselves, so nothing is lost over a restart; a photo taken by another
// process is found by the slow tick.
func (r *Register) RunDeriver(ctx context.Context) {
	tick := time.NewTicker(deriveTick)
	defer tick.Stop()
	for ctx.Err() == nil {
		done, err := r.DeriveWaiting(ctx, deriveBatch)
		if err != nil && ctx.Err() == nil {
			r.Logger.ErrorContext(ctx, "view copies wait", "error", err)
		}
		if done > 0 {
			continue
		}
		select {
		case <-ctx.Done():
		case <-r.wake:
		case <-tick.C:
		}
	}
}

// wakeDeriver lets the deriver look at the queue, or leaves it a note to.
func (r *Register) wakeDeriver() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}
