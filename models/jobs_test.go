package models_test

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// queued adds a photo with a job of a sender.
func (w *world) queued(siteID, sender string, after time.Duration) string {
	w.t.Helper()
	p := w.photo(siteID)
	w.write(func(tx register.Tx) error {
		if err := tx.Photos().InsertPhoto(ctx(w), p); err != nil {
			return err
		}
		return tx.Jobs().Enqueue(ctx(w), register.Job{PhotoID: p.ID, SiteID: siteID, Sender: sender, QueuedAt: at.Add(after)})
	})
	return p.ID
}

// claim leases the next job for a minute, "" when none is free.
func (w *world) claim(now time.Time, turns int, holder string) register.Job {
	w.t.Helper()
	var job register.Job
	err := w.store.Write(ctx(w), func(tx register.Tx) (err error) {
		job, err = tx.Jobs().Claim(ctx(w), now, now.Add(time.Minute), turns, holder)
		return err
	})
	if err != nil {
		require.ErrorIs(w.t, err, defects.NotFound)
	}
	return job
}

func TestWhoHasLittleWaitingComesFirst(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site("North")
		var bulk []string
		for i := range 5 {
			bulk = append(bulk, w.queued(siteID, "import", time.Duration(i)*time.Second))
		}
		phone := w.queued(siteID, "phone", time.Hour)
		now := at.Add(2 * time.Hour)
		require.Equal(w.t, bulk[0], w.claim(now, register.LastTurn, "h1").PhotoID, "of equal turns the oldest")
		require.Equal(w.t, phone, w.claim(now, register.LastTurn, "h2").PhotoID)
		require.Equal(w.t, bulk[1], w.claim(now, 1, "h3").PhotoID)
		require.Empty(w.t, w.claim(now, 1, "h4").PhotoID, "a worker for quick turns leaves the rest")
		require.Equal(w.t, bulk[2], w.claim(now, register.LastTurn, "h5").PhotoID)
	})
}

func TestALeaseIsOnesOwnUntilItRunsOut(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site("North")
		id := w.queued(siteID, "phone", 0)
		first := w.claim(at, register.LastTurn, "first")
		require.Equal(w.t, id, first.PhotoID)
		require.Zero(w.t, first.Lost)
		require.Empty(w.t, w.claim(at.Add(59*time.Second), register.LastTurn, "early").PhotoID)
		w.write(func(tx register.Tx) error { return tx.Jobs().Extend(ctx(w), first, at.Add(2*time.Minute)) })
		require.Empty(w.t, w.claim(at.Add(90*time.Second), register.LastTurn, "early").PhotoID)
		second := w.claim(at.Add(2*time.Minute), register.LastTurn, "second")
		require.Equal(w.t, id, second.PhotoID)
		require.Equal(w.t, 1, second.Lost, "the first one died")
		for name, do := range map[string]func(register.Jobs) error{
			"extend":  func(j register.Jobs) error { return j.Extend(ctx(w), first, at.Add(time.Hour)) },
			"release": func(j register.Jobs) error { return j.Release(ctx(w), first) },
			"done":    func(j register.Jobs) error { return j.Done(ctx(w), first) },
		} {
			e := w.refused(defects.Stale, "lease_lost", func(tx register.Tx) error { return do(tx.Jobs()) })
			require.NotEmpty(w.t, e.Text, name)
		}
		second.Tries, second.Fault, second.FreeAt = 2, "store_full", at.Add(time.Hour)
		w.write(func(tx register.Tx) error { return tx.Jobs().Release(ctx(w), second) })
		require.Empty(w.t, w.claim(at.Add(59*time.Minute), register.LastTurn, "early").PhotoID)
		third := w.claim(at.Add(time.Hour), register.LastTurn, "third")
		require.Equal(w.t, []any{2, 1, "store_full"}, []any{third.Tries, third.Lost, third.Fault}, "a lease given back was not lost")
		w.write(func(tx register.Tx) error { return tx.Jobs().Done(ctx(w), third) })
		w.refused(defects.NotFound, "job_not_found", func(tx register.Tx) error {
			_, err := tx.Jobs().Job(ctx(w), siteID, id)
			return err
		})
	})
}

func TestNoTwoClaimTheSameJob(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site("North")
		const jobs = 24
		for range jobs {
			w.queued(siteID, "phone", 0)
		}
		var mu sync.Mutex
		claimed := map[string]int{}
		var all sync.WaitGroup
		for range 6 {
			all.Go(func() {
				for {
					job := w.claim(at, register.LastTurn, w.id("holder"))
					if job.PhotoID == "" {
						return
					}
					mu.Lock()
					claimed[job.PhotoID]++
					mu.Unlock()
				}
			})
		}
		all.Wait()
		require.Len(w.t, claimed, jobs)
		for id, n := range claimed {
			require.Equal(w.t, 1, n, id)
		}
	})
}

func TestChangesOfCopiesAreNumberedInEachSite(t *testing.T) {
	contract(t, func(w *world) {
		north, _ := w.site("North")
		south, _ := w.site("South")
		a, b := w.queued(north, "phone", 0), w.queued(north, "phone", 0)
		w.queued(south, "phone", 0)
		likeness := uint64(0x8000_0000_0000_0001)
		w.write(func(tx register.Tx) error {
			return tx.Copies().SetCopies(ctx(w), north, a, register.CopiesState{Derived: "ready", Likeness: &likeness, At: at})
		})
		w.read(func(tx register.Tx) error {
			changed, err := tx.Copies().Changed(ctx(w), north, 1, 10)
			require.NoError(w.t, err)
			require.Equal(w.t, []string{b, a}, []string{changed[0].ID, changed[1].ID})
			require.Equal(w.t, likeness, *changed[1].Likeness, "all 64 bits")
			last, err := tx.Copies().LastChange(ctx(w), south)
			require.Equal(w.t, int64(1), last)
			require.NoError(w.t, err)
			known, err := tx.Copies().Likenesses(ctx(w), north, 0, 10)
			require.Equal(w.t, []register.Likeness{{Seq: 3, Bits: likeness}}, known)
			require.NoError(w.t, err)
			found, err := tx.Copies().PhotosAt(ctx(w), north, []int64{1, 3})
			require.Len(w.t, found, 1, "number 1 was replaced by 3")
			require.Equal(w.t, a, found[0].ID)
			return err
		})
	})
}
