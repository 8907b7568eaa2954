package models_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/models"
)

func entry(site, typ, id string) evidence.Entry {
	return evidence.Entry{
		Version: evidence.EntryVersion, Site: site, At: at, Kind: typ + ".changed",
		Actor:   evidence.Actor{ID: "p", Name: "Ada", Role: "clerk", Device: "phone"},
		Subject: evidence.Subject{Type: typ, ID: id, Number: 7},
	}
}

// together runs fn n times at once and waits.
func together(n int, fn func(i int) error) error {
	errs := make([]error, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { errs[i] = fn(i) })
	}
	wg.Wait()
	return errors.Join(errs...)
}

func TestSnagNumbersNeverRepeatUnderEightWriters(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		const writers, each = 8, 15
		boom := errors.New("a later step failed")
		var mu sync.Mutex
		var given []int
		require.NoError(w.t, together(writers, func(i int) error {
			random := rand.New(rand.NewPCG(uint64(i), 1))
			for range each {
				fails := random.IntN(4) == 0
				err := w.store.Write(ctx(w), func(tx register.Tx) error {
					n, err := tx.Snags().NextNumber(ctx(w), siteID)
					if err != nil {
						return err
					}
					mu.Lock()
					given = append(given, n)
					mu.Unlock()
					if err := tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], n)); err != nil {
						return err
					}
					if fails {
						return boom
					}
					return nil
				})
				if err != nil && !errors.Is(err, boom) {
					return err
				}
			}
			return nil
		}))
		require.GreaterOrEqual(w.t, len(given), writers*each)
		slices.Sort(given)
		require.Len(w.t, slices.Compact(given), len(given), "a number was given twice")
		w.refused(defects.NotFound, "site_not_found", func(tx register.Tx) error {
			_, err := tx.Snags().NextNumber(ctx(w), "none")
			return err
		})
	})
}

func TestTheLogHasNoGapsUnderConcurrentWriters(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		other, _ := w.site()
		boom := errors.New("boom")
		const writers, each = 8, 12
		require.NoError(w.t, together(writers, func(i int) error {
			for n := range each {
				err := w.store.Write(ctx(w), func(tx register.Tx) error {
					for _, s := range []string{siteID, register.InstanceLog, other} {
						if _, err := tx.Log().Append(ctx(w), entry(s, "snag", fmt.Sprint(i))); err != nil {
							return err
						}
					}
					if n%4 == 3 {
						return boom
					}
					return nil
				})
				if err != nil && !errors.Is(err, boom) {
					return err
				}
			}
			return nil
		}))
		const want = writers * each * 3 / 4
		for _, s := range []string{siteID, register.InstanceLog, other} {
			w.read(func(tx register.Tx) error {
				texts, err := tx.Log().Entries(ctx(w), s, 1, 0)
				require.NoError(w.t, err)
				require.Len(w.t, texts, want)
				for i, text := range texts {
					e, err := evidence.Decode(text)
					require.NoError(w.t, err)
					require.EqualValues(w.t, i+1, e.Seq)
					require.Equal(w.t, s, e.Site)
				}
				head, err := tx.Log().Head(ctx(w), s)
				require.EqualValues(w.t, want, head)
				return err
			})
		}
		w.read(func(tx register.Tx) error {
			part, err := tx.Log().Entries(ctx(w), siteID, 5, 3)
			require.NoError(w.t, err)
			require.Len(w.t, part, 3)
			of, err := tx.Log().EntriesOf(ctx(w), siteID, "snag", "3")
			require.Len(w.t, of, each*3/4)
			return err
		})
	})
}

func TestEntriesThatCannotBeEncodedLeaveNoGap(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		w.write(func(tx register.Tx) error {
			bad := entry(siteID, "snag", "1")
			bad.Kind = "NOT A KIND"
			_, err := tx.Log().Append(ctx(w), bad)
			require.Error(w.t, err)
			seq, err := tx.Log().Append(ctx(w), entry(siteID, "snag", "1"))
			require.EqualValues(w.t, 1, seq)
			return err
		})
		w.refused(defects.NotFound, "site_not_found", func(tx register.Tx) error {
			_, err := tx.Log().Append(ctx(w), entry("none", "snag", "1"))
			return err
		})
	})
}

// Two writers who both look before they act: the second must see what the
// first did, or one photo would prove two snags.
func TestWritersOfOneSiteTakeTurns(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		photo := w.photo(siteID)
		w.write(func(tx register.Tx) error { return tx.Photos().InsertPhoto(ctx(w), photo) })
		errUsed := errors.New("used")
		won := make([]bool, 6)
		require.NoError(w.t, together(len(won), func(i int) error {
			err := w.store.Write(ctx(w), func(tx register.Tx) error {
				use, err := tx.Snags().EvidenceUse(ctx(w), siteID, []string{photo.ID})
				if err != nil {
					return err
				}
				if len(use) > 0 {
					return errUsed
				}
				s := w.snag(siteID, e[0], i+1)
				s.Photos = []string{photo.ID}
				return tx.Snags().InsertSnag(ctx(w), s)
			})
			won[i] = err == nil
			if errors.Is(err, errUsed) {
				return nil
			}
			return err
		}))
		n := 0
		for _, yes := range won {
			if yes {
				n++
			}
		}
		require.Equal(w.t, 1, n)
	})
}

func TestAOneTimeLinkIsUsedOnce(t *testing.T) {
	contract(t, func(w *world) {
		w.write(func(tx register.Tx) error {
			return tx.Keys().InsertKey(ctx(w), defects.Key{ID: "k", Hash: "h", Kind: defects.LinkKey, ExpiresAt: at})
		})
		var mu sync.Mutex
		used := 0
		require.NoError(w.t, together(6, func(int) error {
			return w.store.Write(ctx(w), func(tx register.Tx) error {
				k, err := tx.Keys().KeyByHash(ctx(w), "h")
				if err != nil || k.Revoked {
					return err
				}
				if err := tx.Keys().RevokeKey(ctx(w), k.ID); err != nil {
					return err
				}
				mu.Lock()
				defer mu.Unlock()
				used++
				return nil
			})
		}))
		require.Equal(w.t, 1, used)
	})
}

// Transactions that touch two sites in opposite order block each other on
// PostgreSQL; the loser runs again.
func TestDeadlocksAreRetried(t *testing.T) {
	contract(t, func(w *world) {
		a, _ := w.site()
		b, _ := w.site()
		require.NoError(w.t, together(2, func(i int) error {
			order := []string{a, b}
			if i == 1 {
				order = []string{b, a}
			}
			for range 5 {
				err := w.store.Write(ctx(w), func(tx register.Tx) error {
					for _, s := range order {
						if err := tx.Photos().InsertPhoto(ctx(w), w.photo(s)); err != nil {
							return err
						}
					}
					return nil
				})
				if err != nil {
					return err
				}
			}
			return nil
		}))
		for _, s := range []string{a, b} {
			w.read(func(tx register.Tx) error {
				got, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: s}, register.Page{})
				require.Len(w.t, got, 10)
				return err
			})
		}
	})
}

func TestSeveralProcessesMayOpenANewDatabaseAtOnce(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "new %41 ? base.db")
	stores := make([]*models.Store, 4)
	require.NoError(t, together(len(stores), func(i int) (err error) {
		stores[i], err = models.Open(t.Context(), models.Config{Path: path})
		return err
	}))
	require.FileExists(t, path)
	require.NoError(t, stores[0].Write(t.Context(), func(tx register.Tx) error {
		return tx.People().InsertAccount(t.Context(), sampleAccount("a"))
	}))
	for _, s := range stores {
		require.NoError(t, s.Read(t.Context(), func(tx register.Tx) error {
			_, err := tx.People().Account(t.Context(), "a")
			return err
		}))
		require.NoError(t, s.Close())
	}
}
