package register

import (
	"context"
	"errors"
	"time"

	"storeyrod/evidence"
)

const (
	sweepBatch = 200
	// orphanAge is how long a part without an upload is left alone: its upload
	// may be ending this moment.
	orphanAge = time.Hour
)

// SweepUploads drops the bytes of uploads whose time is over, of finished ones
// and of none, and forgets old ones. It tells how many it has dealt with; what
// another holds this moment waits for the next time.
func (r *Register) SweepUploads(ctx context.Context) (int, error) {
	n, err := r.expireUploads(ctx)
	if err != nil {
		return n, err
	}
	orphans, err := r.sweepParts(ctx)
	return n + orphans, err
}

func (r *Register) expireUploads(ctx context.Context) (done int, err error) {
	now := r.Now()
	for {
		var list []Upload
		err := r.Store.Read(ctx, func(tx Tx) (err error) {
			list, err = tx.Uploads().UploadsExpired(ctx, now, now.Add(-uploadMemory), sweepBatch)
			return err
		})
		if err != nil {
			return done, err
		}
		swept := 0
		for _, u := range list {
			ok, err := r.expire(ctx, u, now)
			if err != nil {
				return done, err
			}
			if ok {
				swept++
			}
		}
		done += swept
		if len(list) < sweepBatch || swept == 0 {
			return done, nil
		}
	}
}

// expire ends one upload, or forgets it when it is over for long. One that is
// held is not, whatever its row said a moment ago.
func (r *Register) expire(ctx context.Context, u Upload, now time.Time) (bool, error) {
	part, err := r.Parts.OpenPart(ctx, u.ID)
	if errors.Is(err, evidence.ErrBusy) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	swept := false
	err = r.Store.Write(ctx, func(tx Tx) error {
		swept = false
		still, err := tx.Uploads().UploadsByID(ctx, []string{u.ID})
		if err != nil || len(still) == 0 || !still[0].ExpiresAt.Equal(u.ExpiresAt) || still[0].State != u.State {
			return err
		}
		swept = true
		if u.ExpiresAt.Before(now.Add(-uploadMemory)) {
			return tx.Uploads().DeleteUpload(ctx, u)
		}
		u.State = UploadExpired
		return tx.Uploads().UpdateUpload(ctx, u)
	})
	if err == nil && swept {
		err = part.Drop()
	}
	return swept && err == nil, errors.Join(err, part.Close())
}

// sweepParts drops bytes that no open upload names.
func (r *Register) sweepParts(ctx context.Context) (done int, err error) {
	var ids []string
	err = r.Parts.ListParts(ctx, func(id string, written time.Time) error {
		if time.Since(written) > orphanAge { // by the clock of the folder, not of the register
			ids = append(ids, id)
		}
		return nil
	})
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	for _, id := range ids {
		ok, err := r.sweepPart(ctx, id)
		if err != nil {
			return done, err
		}
		if ok {
			done++
		}
	}
	return done, nil
}

func (r *Register) sweepPart(ctx context.Context, id string) (bool, error) {
	part, err := r.Parts.OpenPart(ctx, id)
	if errors.Is(err, evidence.ErrBusy) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	var found []Upload
	err = r.Store.Read(ctx, func(tx Tx) (err error) {
		found, err = tx.Uploads().UploadsByID(ctx, []string{id})
		return err
	})
	orphan := err == nil && (len(found) == 0 || found[0].State != UploadOpen)
	if orphan {
		err = part.Drop()
	}
	return orphan && err == nil, errors.Join(err, part.Close())
}
