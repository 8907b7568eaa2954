package register_test

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

func (b *readingBed) job(id string) (register.Job, bool) {
	b.t.Helper()
	job, ok, err := b.CopiesJob(b.ctx(), b.clerk, b.people.site.ID, id)
	require.NoError(b.t, err)
	return job, ok
}

func TestAFaultOfTheMachineIsTriedAgainAtGrowingWaitsAndThenShown(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	full := b.with(func(d *register.Deps) { d.Derived = fullDerived{d.Derived} })
	var waits []time.Duration
	for range 15 {
		_, err := full.DeriveWaiting(b.ctx(), 10)
		require.ErrorIs(t, err, evidence.ErrFull)
		job, waiting := b.job(p.ID)
		require.True(t, waiting)
		require.Equal(t, "store_full", job.Fault)
		waits = append(waits, job.FreeAt.Sub(b.clock.Now()))
		b.clock.add(waits[len(waits)-1] - time.Second)
		done, err := b.DeriveWaiting(b.ctx(), 10)
		require.NoError(t, err)
		require.Zero(t, done, "it waits to the end")
		b.clock.add(time.Second)
	}
	require.Equal(t, []time.Duration{5 * time.Second, 10 * time.Second, 20 * time.Second}, waits[:3])
	require.Equal(t, time.Hour, waits[14])
	require.Empty(t, b.photo(p.ID).Derived)
	_, err := full.DeriveWaiting(b.ctx(), 10)
	require.ErrorIs(t, err, evidence.ErrFull)
	require.Equal(t, "failed: store_full", b.photo(p.ID).Derived)
	require.Contains(t, b.photo(p.ID).CopiesReason(), "no room")
	_, waiting := b.job(p.ID)
	require.False(t, waiting)
	require.Equal(t, 1, b.photo(p.ID).Version, "a full disk says nothing about the photo")
}

func TestAnotherTryIsForThoseWhoPlacePhotos(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	site := b.people.site.ID
	_, err := b.with(func(d *register.Deps) { d.Blobs = withoutOne{d.Blobs, evidence.Ref(p.SHA256)} }).DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, "failed: original_missing", b.photo(p.ID).Derived)
	entries := len(b.logged(site))
	for _, role := range defects.Roles() {
		_, err := b.RetryCopies(b.ctx(), b.people.by(role), site, p.ID)
		if role.May(defects.PlacePhoto) {
			require.NoError(t, err, role)
		} else {
			refused(t, err, defects.Forbidden, "role_forbidden")
		}
	}
	_, err = b.RetryCopies(b.ctx(), b.people.stranger, site, p.ID)
	refused(t, err, defects.NotFound, "site_not_found")
	done, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done, "asked for thrice, made once")
	require.Equal(t, "ready", b.photo(p.ID).Derived)
	require.Len(t, b.logged(site), entries, "view copies are not logged")
	_, err = b.RetryCopies(b.ctx(), b.clerk, site, p.ID)
	refused(t, err, defects.Conflict, "copies_ready")
}

// dying is a store of originals in which whoever opens one dies: he never comes
// back to note what became of his job.
func dying(b *readingBed) {
	b.t.Helper()
	require.NoError(b.t, b.Store.Write(b.ctx(), func(tx register.Tx) error {
		_, err := tx.Jobs().Claim(b.ctx(), b.clock.Now(), b.clock.Now().Add(time.Minute), register.LastTurn, b.NewID())
		return err
	}))
}

func TestAJobThatDiedWithItsProcessIsTakenAgainAfterItsLease(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	dying(b)
	done, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Zero(t, done, "somebody holds it")
	b.clock.add(time.Minute)
	done, err = b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done)
	require.Equal(t, "ready", b.photo(p.ID).Derived)
}

func TestAPhotoThatEndsTheProcessEachTimeIsLeftAlone(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	for range 3 {
		dying(b)
		b.clock.add(time.Minute)
	}
	_, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, "failed: process_died", b.photo(p.ID).Derived)
}

// counting counts how often originals are opened.
type counting struct {
	evidence.Store
	opened *atomic.Int64
}

func (s counting) Open(ctx context.Context, ref evidence.Ref) (body readSeekCloser, size int64, err error) {
	s.opened.Add(1)
	return s.Store.Open(ctx, ref)
}

func TestTwoProcessesOverOneDatabaseMakeEachCopyOnce(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		p := f.site("Quarry Terrace")
		var opened atomic.Int64
		var running []*register.Register
		for range 2 {
			running = append(running, f.with(func(d *register.Deps) { d.Blobs = counting{d.Blobs, &opened} }))
		}
		ctx, stop := context.WithCancel(f.ctx())
		ended := make(chan struct{}, len(running))
		for _, r := range running {
			go func() {
				r.RunDeriver(ctx)
				ended <- struct{}{}
			}()
		}
		const photos = 12
		var last defects.Photo
		for i := range photos {
			taken, _, err := running[i%2].TakePhoto(f.ctx(), p.clerk, p.site.ID, pictureReader(t, uint64(i+1)), register.PhotoInput{})
			require.NoError(t, err)
			last = taken
		}
		require.Eventually(t, func() bool {
			page, err := f.ListPhotos(f.ctx(), p.clerk, register.PhotoFilter{SiteID: p.site.ID, Derived: "ready"}, register.Page{Limit: 50})
			return err == nil && len(page.Items) == photos
		}, time.Minute, 20*time.Millisecond)
		require.Equal(t, int64(photos), opened.Load())
		changed, seq, more, err := f.PhotoChanges(f.ctx(), p.clerk, p.site.ID, last.CopiesSeq)
		require.NoError(t, err)
		require.False(t, more)
		require.NotEmpty(t, changed)
		require.Equal(t, int64(2*photos), seq, "each was taken and made")
		stop()
		for range running {
			<-ended
		}
	})
}

func TestAWorkerToldToStopGivesItsJobBack(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	ctx, stop := context.WithCancel(b.ctx())
	r := b.with(func(d *register.Deps) { d.Blobs = stopping{d.Blobs, stop} })
	_, err := r.DeriveWaiting(ctx, 1)
	require.ErrorIs(t, err, context.Canceled)
	job, waiting := b.job(p.ID)
	require.True(t, waiting)
	require.Equal(t, []any{"", 0, ""}, []any{job.Holder, job.Tries, job.Fault}, "at once free, and no fault")
	done, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done)
}

// stopping is a store of originals that is asked while the program ends.
type stopping struct {
	evidence.Store
	stop func()
}

func (s stopping) Open(ctx context.Context, ref evidence.Ref) (readSeekCloser, int64, error) {
	s.stop()
	return s.Store.Open(ctx, ref)
}
