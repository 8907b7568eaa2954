package models_test

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

// at is a fixed instant with microseconds, which both databases keep.
var at = time.Date(2026, 3, 14, 9, 26, 53, 589793000, time.UTC)

// world is one open store with the helpers the contract is written in.
type world struct {
	t     *testing.T
	store *models.Store
	ids   atomic.Int64
}

// contract runs fn on both databases with a store of its own.
func contract(t *testing.T, fn func(w *world), options ...modelstest.Option) {
	t.Helper()
	t.Parallel()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) {
		fn(&world{t: t, store: open(options...)})
	})
}

func (w *world) id(kind string) string { return fmt.Sprintf("%s-%06d", kind, w.ids.Add(1)) }

func (w *world) write(fn func(tx register.Tx) error) {
	w.t.Helper()
	require.NoError(w.t, w.store.Write(w.t.Context(), fn))
}

func (w *world) read(fn func(tx register.Tx) error) {
	w.t.Helper()
	require.NoError(w.t, w.store.Read(w.t.Context(), fn))
}

// refused asserts that a write is refused with a kind and a code, and that
// nothing of it stays.
func (w *world) refused(kind defects.Kind, code string, fn func(tx register.Tx) error) *defects.Error {
	w.t.Helper()
	err := w.store.Write(w.t.Context(), fn)
	require.ErrorIs(w.t, err, kind)
	e := (*defects.Error)(nil)
	require.ErrorAs(w.t, err, &e)
	require.Equal(w.t, code, e.CodeOrKind())
	return e
}

func ctx(w *world) context.Context { return w.t.Context() }

// site makes a site with one building and its elevations.
func (w *world) site(elevations ...string) (siteID string, elevationIDs []string) {
	w.t.Helper()
	siteID = w.id("site")
	building := w.id("building")
	w.write(func(tx register.Tx) error {
		err := tx.Sites().InsertSite(ctx(w), defects.Site{
			ID: siteID, Name: "Invented terrace " + siteID, TimeZone: "Europe/London", Rule: defects.FourWay,
			Guard: defects.MustDecimal("0.50"), CreatedAt: at, Version: 1,
		})
		if err != nil || len(elevations) == 0 {
			return err
		}
		err = tx.Walls().InsertBuilding(ctx(w), defects.Building{ID: building, SiteID: siteID, Name: "Block A", Height: 6000, Version: 1})
		for i, name := range elevations {
			e := defects.Elevation{
				ID: w.id("elevation"), SiteID: siteID, BuildingID: building, Name: name, Order: i, Edge: i,
				Length: 12_000, Height: 6000, Bays: []defects.MM{6000, 12_000}, Lifts: []defects.MM{2000, 4000, 6000}, Version: 1,
			}
			elevationIDs = append(elevationIDs, e.ID)
			err = errors.Join(err, tx.Walls().InsertElevation(ctx(w), e))
		}
		return err
	})
	return siteID, elevationIDs
}

// snag is a valid snag for tests that care about little of it.
func (w *world) snag(siteID, elevationID string, number int) defects.Snag {
	return defects.Snag{
		ID: w.id("snag"), SiteID: siteID, Number: number, Code: "J03", Title: "Uneven joints", Stage: "S7",
		Severity: defects.Minor, Extent: defects.Single, State: defects.Raised, Gang: "north gang",
		Place: defects.Place{ElevationID: elevationID}, RaisedBy: defects.Person{ID: "p", Name: "Ada", Role: defects.Clerk},
		RaisedAt: at, WalkRank: int64(number), Version: 1,
	}
}

func (w *world) photo(siteID string) defects.Photo {
	id := w.id("photo")
	return defects.Photo{ID: id, SiteID: siteID, SHA256: "sha-" + id, Size: 10, ReceivedAt: at, AddedBy: "p", Version: 1}
}

// filled fails when a field of v was left at its zero value: a sample that
// fills every field finds a column that is not stored.
func filled(t *testing.T, v any, except ...string) {
	t.Helper()
	value := reflect.ValueOf(v)
	skip := map[string]bool{}
	for _, e := range except {
		skip[e] = true
	}
	for i := range value.NumField() {
		name := value.Type().Field(i).Name
		if !skip[name] {
			require.False(t, value.Field(i).IsZero(), "the sample leaves %T.%s empty", v, name)
		}
	}
}

func mm(n int64) *defects.MM { v := defects.MM(n); return &v }

func dec(s string) *defects.Decimal { d := defects.MustDecimal(s); return &d }

func num(f float64) *float64 { return &f }

func later(d time.Duration) *time.Time { t := at.Add(d); return &t }

func place(elevation string) defects.Place {
	return defects.Place{ElevationID: elevation, X: mm(2410), Z: mm(-120), Bay: 1, Lift: 2, Opening: "W07", Zone: defects.Edge}
}
