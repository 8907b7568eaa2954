package models_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

func TestUpdatesMadeAgainstAnOlderVersionAreStale(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		a := sampleAccount("a1")
		photo, snag := w.photo(siteID), w.snag(siteID, e[0], 1)
		reading := defects.Reading{ID: "r1", SiteID: siteID, Quantity: "plumb", Version: 1}
		tool := defects.Instrument{ID: "i1", SiteID: siteID, Name: "gauge", Version: 1}
		w.write(func(tx register.Tx) error {
			return errors.Join(tx.People().InsertAccount(ctx(w), a), tx.Photos().InsertPhoto(ctx(w), photo),
				tx.Snags().InsertSnag(ctx(w), snag), tx.Readings().InsertReading(ctx(w), reading),
				tx.Tools().InsertInstrument(ctx(w), tool),
				tx.Readings().SaveSet(ctx(w), defects.Set{ID: "set1", SiteID: siteID}),
				tx.Sites().SaveMilestone(ctx(w), defects.Milestone{ID: "m1", SiteID: siteID, Kind: defects.Strike}))
		})
		updates := map[string]func(tx register.Tx, site, id string, version int) error{
			"account": func(tx register.Tx, _, id string, v int) error {
				c := a
				c.Version, c.ID = v, id
				return tx.People().UpdateAccount(ctx(w), c)
			},
			"photo": func(tx register.Tx, site, id string, v int) error {
				c := photo
				c.Version, c.ID, c.SiteID = v, id, site
				return tx.Photos().UpdatePhoto(ctx(w), c)
			},
			"snag": func(tx register.Tx, site, id string, v int) error {
				c := snag
				c.Version, c.ID, c.SiteID = v, id, site
				return tx.Snags().UpdateSnag(ctx(w), c)
			},
			"reading": func(tx register.Tx, site, id string, v int) error {
				c := reading
				c.Version, c.ID, c.SiteID = v, id, site
				return tx.Readings().UpdateReading(ctx(w), c)
			},
			"instrument": func(tx register.Tx, site, id string, v int) error {
				c := tool
				c.Version, c.ID, c.SiteID = v, id, site
				return tx.Tools().UpdateInstrument(ctx(w), c)
			},
			"set": func(tx register.Tx, site, id string, v int) error {
				return tx.Readings().SaveSet(ctx(w), defects.Set{ID: id, SiteID: site, Version: v})
			},
			"milestone": func(tx register.Tx, site, id string, v int) error {
				return tx.Sites().SaveMilestone(ctx(w), defects.Milestone{ID: id, SiteID: site, Kind: defects.Strike, Version: v})
			},
			"site": func(tx register.Tx, _, id string, v int) error {
				if id != "none" {
					id = siteID
				}
				return tx.Sites().UpdateSite(ctx(w), defects.Site{ID: id, Name: "n", Rule: defects.Simple, Version: v})
			},
			"elevation": func(tx register.Tx, site, id string, v int) error {
				if id != "none" {
					id = e[0]
				}
				return tx.Walls().UpdateElevation(ctx(w), defects.Elevation{ID: id, SiteID: site, Name: "North", Version: v})
			},
		}
		ids := map[string]string{"account": "a1", "photo": photo.ID, "snag": snag.ID, "reading": "r1", "instrument": "i1", "set": "set1", "milestone": "m1"}
		other, _ := w.site()
		for name, update := range updates {
			w.write(func(tx register.Tx) error { return update(tx, siteID, ids[name], 1) })
			w.refused(defects.Stale, "stale", func(tx register.Tx) error { return update(tx, siteID, ids[name], 1) })
			w.refused(defects.NotFound, name+"_not_found", func(tx register.Tx) error { return update(tx, siteID, "none", 1) })
			if name != "account" && name != "site" {
				w.refused(defects.NotFound, name+"_not_found", func(tx register.Tx) error { return update(tx, other, ids[name], 2) })
			}
		}
	})
}

func TestAnotherSitesRowsAreNotFound(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		other, _ := w.site()
		photo := w.photo(siteID)
		w.write(func(tx register.Tx) error {
			return errors.Join(tx.Photos().InsertPhoto(ctx(w), photo), tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)),
				tx.Readings().InsertReading(ctx(w), defects.Reading{ID: "r1", SiteID: siteID}),
				tx.Readings().SaveSet(ctx(w), defects.Set{ID: "set1", SiteID: siteID}),
				tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: "i1", SiteID: siteID}))
		})
		finders := map[string]func(tx register.Tx, site string) error{
			"elevation": func(tx register.Tx, site string) error {
				_, err := tx.Walls().Elevation(ctx(w), site, e[0])
				return err
			},
			"photo": func(tx register.Tx, site string) error {
				_, err := tx.Photos().Photo(ctx(w), site, photo.ID)
				return err
			},
			"reading": func(tx register.Tx, site string) error {
				_, err := tx.Readings().Reading(ctx(w), site, "r1")
				return err
			},
			"set": func(tx register.Tx, site string) error { _, err := tx.Readings().Set(ctx(w), site, "set1"); return err },
			"instrument": func(tx register.Tx, site string) error {
				_, err := tx.Tools().Instrument(ctx(w), site, "i1")
				return err
			},
			"snag": func(tx register.Tx, site string) error { _, err := tx.Snags().Snag(ctx(w), site, 1); return err },
		}
		for name, find := range finders {
			w.read(func(tx register.Tx) error { return find(tx, siteID) })
			w.refused(defects.NotFound, name+"_not_found", func(tx register.Tx) error { return find(tx, other) })
		}
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().PhotosByID(ctx(w), other, []string{photo.ID})
			require.Empty(w.t, got)
			require.NoError(w.t, err)
			got, err = tx.Photos().PhotosByHash(ctx(w), other, []string{photo.SHA256})
			require.Empty(w.t, got)
			return err
		})
	})
}

func TestRowsCannotPointIntoAnotherSite(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		_, foreign := w.site("North")
		s := w.snag(siteID, foreign[0], 1)
		w.refused(defects.Invalid, "unknown_reference", func(tx register.Tx) error { return tx.Snags().InsertSnag(ctx(w), s) })
		s.Place.ElevationID, s.Photos = "", []string{"none"}
		w.refused(defects.Invalid, "unknown_reference", func(tx register.Tx) error { return tx.Snags().InsertSnag(ctx(w), s) })
		w.refused(defects.Invalid, "unknown_reference", func(tx register.Tx) error {
			return tx.People().SetMembership(ctx(w), defects.Membership{SiteID: siteID, AccountID: "none", Role: defects.Clerk})
		})
	})
}

func TestTakenNamesAreConflictsWithTheirCode(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North", "South")
		photo := w.photo(siteID)
		snag := w.snag(siteID, e[0], 1)
		key := defects.Key{ID: "k1", Hash: "h", Kind: defects.LinkKey}
		w.write(func(tx register.Tx) error {
			return errors.Join(tx.People().InsertAccount(ctx(w), sampleAccount("a1")), tx.Photos().InsertPhoto(ctx(w), photo),
				tx.Snags().InsertSnag(ctx(w), snag), tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: "i1", SiteID: siteID, Name: "g"}),
				tx.Keys().InsertKey(ctx(w), key))
		})
		cases := map[string]struct {
			field string
			do    func(tx register.Tx) error
		}{
			"login_taken": {"login", func(tx register.Tx) error {
				a := sampleAccount("a2")
				a.Login = sampleAccount("a1").Login
				return tx.People().InsertAccount(ctx(w), a)
			}},
			"photo_known": {"", func(tx register.Tx) error {
				p := w.photo(siteID)
				p.SHA256 = photo.SHA256
				return tx.Photos().InsertPhoto(ctx(w), p)
			}},
			"number_taken": {"", func(tx register.Tx) error { return tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)) }},
			"id_taken": {"", func(tx register.Tx) error {
				p := w.photo(siteID)
				p.ID = photo.ID
				return tx.Photos().InsertPhoto(ctx(w), p)
			}},
		}
		for code, c := range cases {
			require.Equal(w.t, c.field, w.refused(defects.Conflict, code, c.do).Field)
		}
		names := []func(tx register.Tx) error{
			func(tx register.Tx) error {
				return tx.Sites().InsertSite(ctx(w), defects.Site{ID: "x", Name: "Invented terrace " + siteID, Rule: defects.Simple})
			},
			func(tx register.Tx) error {
				return tx.Walls().InsertBuilding(ctx(w), defects.Building{ID: "x", SiteID: siteID, Name: "Block A"})
			},
			func(tx register.Tx) error {
				return tx.Walls().UpdateElevation(ctx(w), defects.Elevation{ID: e[1], SiteID: siteID, Name: "North", Version: 1})
			},
			func(tx register.Tx) error {
				return tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: "x", SiteID: siteID, Name: "g"})
			},
		}
		for _, do := range names {
			require.Equal(w.t, "name", w.refused(defects.Conflict, "name_taken", do).Field)
		}
	})
}

func TestARefusedStatementLeavesTheTransactionUsable(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		photo := w.photo(siteID)
		w.write(func(tx register.Tx) error { return tx.Photos().InsertPhoto(ctx(w), photo) })
		again := w.photo(siteID)
		again.SHA256 = photo.SHA256
		w.write(func(tx register.Tx) error {
			require.ErrorIs(w.t, tx.Photos().InsertPhoto(ctx(w), again), defects.Conflict)
			got, err := tx.Photos().PhotoBySHA(ctx(w), siteID, photo.SHA256)
			require.Equal(w.t, photo.ID, got.ID)
			return errors.Join(err, tx.Photos().InsertPhoto(ctx(w), w.photo(siteID)))
		})
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: siteID}, register.Page{})
			require.Len(w.t, got, 2)
			return err
		})
	})
}

func TestValuesOutsideAClosedListAreInvalidAndNamed(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		for field, spoil := range map[string]func(*defects.Snag){
			"state":    func(s *defects.Snag) { s.State = "lost" },
			"severity": func(s *defects.Snag) { s.Severity = "fatal" },
			"extent":   func(s *defects.Snag) { s.Extent = "huge" },
			"ground":   func(s *defects.Snag) { s.Ground = "mood" },
			"zone":     func(s *defects.Snag) { s.Place.Zone = "roof" },
			"number":   func(s *defects.Snag) { s.Number = 0 },
		} {
			s := w.snag(siteID, e[0], 1)
			spoil(&s)
			got := w.refused(defects.Invalid, "bad_value", func(tx register.Tx) error { return tx.Snags().InsertSnag(ctx(w), s) })
			require.Equal(w.t, field, got.Field)
			require.Error(w.t, got.Err, "the cause is kept for the log")
		}
		require.Equal(w.t, "placed_by", w.refused(defects.Invalid, "bad_value", func(tx register.Tx) error {
			p := w.photo(siteID)
			p.PlacedBy = "wind"
			return tx.Photos().InsertPhoto(ctx(w), p)
		}).Field)
	})
}

func TestARolledBackTransactionLeavesNothing(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		boom := errors.New("boom")
		err := w.store.Write(ctx(w), func(tx register.Tx) error {
			require.NoError(w.t, tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)))
			_, err := tx.Log().Append(ctx(w), entry(siteID, "snag", "x"))
			require.NoError(w.t, err)
			return boom
		})
		require.Same(w.t, boom, err)
		require.Panics(w.t, func() {
			_ = w.store.Write(ctx(w), func(tx register.Tx) error {
				require.NoError(w.t, tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 2)))
				panic("in the middle")
			})
		})
		w.write(func(tx register.Tx) error {
			list, err := tx.Snags().ListSnags(ctx(w), register.SnagFilter{SiteID: siteID}, register.Page{})
			require.NoError(w.t, err)
			require.Empty(w.t, list)
			head, err := tx.Log().Head(ctx(w), siteID)
			require.Zero(w.t, head)
			return err
		})
	})
}

func TestReadersSeeOneSnapshot(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		count := func(tx register.Tx) int {
			list, err := tx.Snags().ListSnags(ctx(w), register.SnagFilter{SiteID: siteID}, register.Page{})
			require.NoError(w.t, err)
			return len(list)
		}
		w.read(func(tx register.Tx) error {
			require.Equal(w.t, 0, count(tx))
			w.write(func(other register.Tx) error { return other.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)) })
			require.Equal(w.t, 0, count(tx), "what was committed after the snapshot is not seen")
			return nil
		})
		w.read(func(tx register.Tx) error { require.Equal(w.t, 1, count(tx)); return nil })
	})
}

func TestReadingTransactionsCannotWrite(t *testing.T) {
	contract(t, func(w *world) {
		err := w.store.Read(ctx(w), func(tx register.Tx) error { return tx.People().InsertAccount(ctx(w), sampleAccount("a")) })
		require.Error(w.t, err)
		require.ErrorContains(w.t, err, "insert account: ")
		w.read(func(tx register.Tx) error {
			all, err := tx.People().Accounts(ctx(w))
			require.Empty(w.t, all)
			return err
		})
	})
}

func TestACancelledContextEndsTheWork(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		stopped, stop := context.WithCancel(ctx(w))
		err := w.store.Write(stopped, func(tx register.Tx) error {
			require.NoError(w.t, tx.Photos().InsertPhoto(stopped, w.photo(siteID)))
			stop()
			return tx.Photos().InsertPhoto(stopped, w.photo(siteID))
		})
		require.ErrorIs(w.t, err, context.Canceled)
		require.ErrorIs(w.t, w.store.Read(stopped, func(register.Tx) error { return nil }), context.Canceled)
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: siteID}, register.Page{})
			require.Empty(w.t, got)
			return err
		})
		w.write(func(tx register.Tx) error { return tx.Photos().InsertPhoto(ctx(w), w.photo(siteID)) })
	})
}

func TestABrokenConnectionIsAWrappedErrorNotARefusal(t *testing.T) {
	t.Parallel()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) {
		s := open()
		require.NoError(t, s.Ping(t.Context()))
		require.NoError(t, s.Close())
		require.Error(t, s.Ping(t.Context()))
		for _, run := range []func(context.Context, func(register.Tx) error) error{s.Read, s.Write} {
			err := run(t.Context(), func(register.Tx) error { t.Error("ran on a closed store"); return nil })
			require.ErrorContains(t, err, "begin: ")
			require.False(t, errors.As(err, new(*defects.Error)))
		}
	})
}

func TestAUnusableAddressIsRefused(t *testing.T) {
	t.Parallel()
	_, err := models.Open(t.Context(), models.Config{})
	require.ErrorIs(t, err, defects.Invalid)
	_, err = models.Open(t.Context(), models.Config{URL: "mysql://x"})
	require.ErrorIs(t, err, defects.Invalid)
	_, err = models.Open(t.Context(), models.Config{Path: t.TempDir()})
	require.ErrorContains(t, err, "open database")
	short, cancel := context.WithTimeout(t.Context(), 3*time.Second)
	defer cancel()
	_, err = models.Open(short, models.Config{URL: "postgres://nobody@127.0.0.1:1/none"})
	require.ErrorContains(t, err, "open database")
	require.NotContains(t, err.Error(), "panic")
}

func TestStatsNameTheDialect(t *testing.T) {
	t.Parallel()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) {
		require.True(t, strings.HasSuffix(t.Name(), open().Stats().Dialect))
	})
}
