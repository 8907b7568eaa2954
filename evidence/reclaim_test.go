package evidence_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/evidence"
)

// records stands for the rows that name originals.
type records struct {
	mu    sync.Mutex
	named map[evidence.Ref]bool
	asked int
}

func (r *records) add(ref evidence.Ref) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.named[ref] = true
}

func (r *records) known(_ context.Context, refs []evidence.Ref) (map[evidence.Ref]bool, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.asked++
	known := map[evidence.Ref]bool{}
	for _, ref := range refs {
		known[ref] = r.named[ref]
	}
	return known, nil
}

func kept(t *testing.T, d *evidence.Dir, text string) evidence.Ref {
	t.Helper()
	got, err := d.Put(t.Context(), strings.NewReader(text), oneMiB)
	require.NoError(t, err)
	return got.Ref
}

func TestReclaimTakesOnlyOldOriginalsThatNoRecordNames(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	r := &records{named: map[evidence.Ref]bool{}}
	for i := range 600 { // more than are asked about in one go
		r.add(kept(t, d, fmt.Sprint("named ", i)))
	}
	orphan := kept(t, d, "orphan")
	n, err := d.Reclaim(t.Context(), time.Now().Add(-time.Hour), r.known)
	require.NoError(t, err)
	require.Zero(t, n, "it may be of an intake under way")
	n, err = d.Reclaim(t.Context(), time.Now().Add(time.Hour), r.known)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	_, err = d.Stat(t.Context(), orphan)
	require.ErrorIs(t, err, evidence.ErrNotFound)
	require.Len(t, refsOf(t, d), 600)
	require.Len(t, filesIn(t, root), 600, "nothing is left aside")
}

func TestAReclaimThatWasCutOffIsFinishedByTheNext(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	named, orphan := kept(t, d, "named"), kept(t, d, "orphan")
	for _, ref := range []evidence.Ref{named, orphan} { // as a killed process leaves them
		require.NoError(t, os.Rename(
			filepath.Join(root, string(ref[:2]), string(ref[2:4]), string(ref)), filepath.Join(root, "incoming", "aside-"+string(ref))))
	}
	// Opening the store again, however late, does not touch them.
	d, err := evidence.OpenDir(root, time.Now().Add(48*time.Hour))
	require.NoError(t, err)
	r := &records{named: map[evidence.Ref]bool{named: true}}
	n, err := d.Reclaim(t.Context(), time.Time{}, r.known)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.Equal(t, []evidence.Ref{named}, refsOf(t, d))
	require.Len(t, filesIn(t, root), 1)
}

// The record becomes durable after the original was moved aside: the second
// question finds it.
func TestAnOriginalNamedMeanwhileGoesBack(t *testing.T) {
	t.Parallel()
	d := openDir(t, t.TempDir())
	ref := kept(t, d, "photo")
	r := &records{named: map[evidence.Ref]bool{}}
	n, err := d.Reclaim(t.Context(), time.Now().Add(time.Hour), func(ctx context.Context, refs []evidence.Ref) (map[evidence.Ref]bool, error) {
		known, err := r.known(ctx, refs)
		r.add(ref) // committed right after the first question
		return known, err
	})
	require.NoError(t, err)
	require.Zero(t, n)
	require.Equal(t, []evidence.Ref{ref}, refsOf(t, d))
}

// The record becomes durable after the last question: the intake finds that its
// original is gone and keeps it again.
func TestConfirmKeepsAgainWhatWasReclaimed(t *testing.T) {
	t.Parallel()
	d := openDir(t, t.TempDir())
	staged, err := d.Stage(t.Context(), strings.NewReader("photo"), oneMiB)
	require.NoError(t, err)
	require.ErrorIs(t, staged.Confirm(t.Context()), evidence.ErrSettled)
	_, err = staged.Keep(t.Context())
	require.NoError(t, err)
	n, err := d.Reclaim(t.Context(), time.Now().Add(time.Hour), (&records{}).known)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.NoError(t, staged.Confirm(t.Context()))
	staged.Discard()
	require.Equal(t, []evidence.Ref{staged.Ref()}, refsOf(t, d))
}

func TestReclaimRemovesNothingWhenNobodyCanTell(t *testing.T) {
	t.Parallel()
	d := openDir(t, t.TempDir())
	ref := kept(t, d, "photo")
	down := errors.New("the database is away")
	_, err := d.Reclaim(t.Context(), time.Now().Add(time.Hour), func(context.Context, []evidence.Ref) (map[evidence.Ref]bool, error) {
		return nil, down
	})
	require.ErrorIs(t, err, down)
	require.Equal(t, []evidence.Ref{ref}, refsOf(t, d))
}

// Intakes of the same few photos beside reclaims that take whatever they can:
// whatever was confirmed is there.
func TestReclaimBesideIntakesLosesNothingConfirmed(t *testing.T) {
	t.Parallel()
	d := openDir(t, t.TempDir())
	r := &records{named: map[evidence.Ref]bool{}}
	ctx, stop := context.WithCancel(t.Context())
	var sweeps, intakes sync.WaitGroup
	for range 2 {
		sweeps.Go(func() {
			for ctx.Err() == nil {
				_, err := d.Reclaim(t.Context(), time.Now().Add(time.Hour), r.known)
				require.NoError(t, err)
			}
		})
	}
	for worker := range 4 {
		intakes.Go(func() {
			for i := range 100 {
				staged, err := d.Stage(t.Context(), strings.NewReader(fmt.Sprint("photo ", i, worker/2)), oneMiB)
				require.NoError(t, err)
				_, err = staged.Keep(t.Context())
				require.NoError(t, err)
				r.add(staged.Ref())
				require.NoError(t, staged.Confirm(t.Context()))
				staged.Discard()
			}
		})
	}
	intakes.Wait()
	stop()
	sweeps.Wait()
	require.Len(t, refsOf(t, d), 200)
}
