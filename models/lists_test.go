package models_test

import (
	"errors"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/models/modelstest"
)

func numbers(list []defects.Snag) []int {
	var out []int
	for _, s := range list {
		out = append(out, s.Number)
	}
	return out
}

func (w *world) snagsOf(f register.SnagFilter, page register.Page) []defects.Snag {
	w.t.Helper()
	var list []defects.Snag
	w.read(func(tx register.Tx) (err error) {
		list, err = tx.Snags().ListSnags(ctx(w), f, page)
		return err
	})
	return list
}

// fewSnags makes six snags on two elevations and one without.
func fewSnags(w *world) (siteID string, e []string) {
	siteID, e = w.site("North", "South")
	w.write(func(tx register.Tx) error {
		for i, s := range []struct {
			elevation string
			rank      int64
			state     defects.State
			severity  defects.Severity
			gang      string
		}{
			{e[0], 30, defects.Raised, defects.Minor, "north"},
			{e[1], 10, defects.Closed, defects.Major, "south"},
			{e[0], 10, defects.Instructed, defects.Critical, "north"},
			{"", 5, defects.Raised, defects.Minor, ""},
			{e[0], 10, defects.Withdrawn, defects.Minor, "north"},
			{e[1], 5, defects.Offered, defects.Major, "north"},
		} {
			snag := w.snag(siteID, s.elevation, i+1)
			snag.WalkRank, snag.State, snag.Severity, snag.Gang = s.rank, s.state, s.severity, s.gang
			if i == 5 {
				snag.Code, snag.Stage = "C01", "S2"
			}
			if err := tx.Snags().InsertSnag(ctx(w), snag); err != nil {
				return err
			}
		}
		return nil
	})
	return siteID, e
}

func TestSnagsAreFilteredAndSorted(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := fewSnags(w)
		other, _ := w.site()
		for name, c := range map[string]struct {
			f    register.SnagFilter
			want []int
		}{
			"all by number":             {register.SnagFilter{}, []int{1, 2, 3, 4, 5, 6}},
			"walk of one elevation":     {register.SnagFilter{ElevationID: e[0], Order: register.ByWalk}, []int{3, 5, 1}},
			"walk of all":               {register.SnagFilter{Order: register.ByWalk}, []int{4, 3, 5, 1, 6, 2}},
			"open walk":                 {register.SnagFilter{ElevationID: e[0], OpenOnly: true, Order: register.ByWalk}, []int{3, 1}},
			"open":                      {register.SnagFilter{OpenOnly: true}, []int{1, 3, 4, 6}},
			"states":                    {register.SnagFilter{States: []defects.State{defects.Closed, defects.Offered}}, []int{2, 6}},
			"severities":                {register.SnagFilter{Severities: []defects.Severity{defects.Major, defects.Critical}}, []int{2, 3, 6}},
			"gang":                      {register.SnagFilter{Gang: "north"}, []int{1, 3, 5, 6}},
			"code":                      {register.SnagFilter{Code: "C01"}, []int{6}},
			"stage":                     {register.SnagFilter{Stage: "S2"}, []int{6}},
			"numbers":                   {register.SnagFilter{Numbers: []int{4, 2, 99}}, []int{2, 4}},
			"no numbers":                {register.SnagFilter{Numbers: []int{}}, nil},
			"another site's elevation":  {register.SnagFilter{ElevationID: "elevation-999999"}, nil},
			"several filters come down": {register.SnagFilter{Gang: "north", OpenOnly: true, Severities: []defects.Severity{defects.Minor}}, []int{1}},
		} {
			c.f.SiteID = siteID
			require.Equal(w.t, c.want, numbers(w.snagsOf(c.f, register.Page{})), name)
		}
		require.Empty(w.t, w.snagsOf(register.SnagFilter{SiteID: other}, register.Page{}))
		w.read(func(tx register.Tx) error {
			got, err := tx.Snags().CountSnags(ctx(w), register.SnagFilter{SiteID: siteID, OpenOnly: true})
			require.Equal(w.t, map[register.SnagCount]int{
				{ElevationID: e[0], State: defects.Raised, Severity: defects.Minor}:        1,
				{ElevationID: e[0], State: defects.Instructed, Severity: defects.Critical}: 1,
				{ElevationID: "", State: defects.Raised, Severity: defects.Minor}:          1,
				{ElevationID: e[1], State: defects.Offered, Severity: defects.Major}:       1,
			}, got)
			return err
		})
	})
}

func TestSnagPagesGoOnWhereTheLastEnded(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := fewSnags(w)
		for _, f := range []register.SnagFilter{
			{SiteID: siteID},
			{SiteID: siteID, Order: register.ByWalk},
			{SiteID: siteID, ElevationID: e[0], Order: register.ByWalk},
			{SiteID: siteID, OpenOnly: true, Order: register.ByWalk},
		} {
			all := w.snagsOf(f, register.Page{})
			for size := 1; size <= 4; size++ {
				var got []int
				page := register.Page{Limit: size}
				for {
					part := w.snagsOf(f, page)
					got = append(got, numbers(part)...)
					if len(part) < size {
						break
					}
					page.After = register.CursorOfSnag(f.Order, part[len(part)-1])
				}
				require.Equal(w.t, numbers(all), got, "%+v by %d", f, size)
			}
		}
	})
}

func TestForgedCursorsAreRefused(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		byNumber := register.CursorOfSnag(register.ByNumber, defects.Snag{Number: 3})
		for _, after := range []string{"x", "n.", "n.-1", "w.1.2", "w.zz zz.1.e", "n.99999999999999", "' OR 1=1", "w.-1.1.e", strings.Repeat("z", 300)} {
			for _, order := range []register.SnagOrder{register.ByNumber, register.ByWalk} {
				w.refused(defects.Invalid, "bad_cursor", func(tx register.Tx) error {
					_, err := tx.Snags().ListSnags(ctx(w), register.SnagFilter{SiteID: siteID, Order: order}, register.Page{After: after})
					return err
				})
			}
		}
		w.refused(defects.Invalid, "bad_cursor", func(tx register.Tx) error {
			_, err := tx.Snags().ListSnags(ctx(w), register.SnagFilter{SiteID: siteID, Order: register.ByWalk}, register.Page{After: byNumber})
			return err
		})
		w.refused(defects.Invalid, "bad_cursor", func(tx register.Tx) error {
			_, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: siteID}, register.Page{After: "!"})
			return err
		})
		w.refused(defects.Invalid, "bad_cursor", func(tx register.Tx) error {
			_, err := tx.Readings().ListReadings(ctx(w), register.ReadingFilter{SiteID: siteID}, register.Page{After: "!"})
			return err
		})
	})
}

func TestPhotoPagesStayWholeWhilePhotosComeIn(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		want := map[string]bool{}
		add := func(received time.Time) string {
			p := w.photo(siteID)
			p.ReceivedAt = received
			w.write(func(tx register.Tx) error { return tx.Photos().InsertPhoto(ctx(w), p) })
			return p.ID
		}
		for i := range 25 {
			want[add(at.Add(time.Duration(i/4)*time.Second))] = true
		}
		seen := map[string]bool{}
		page := register.Page{Limit: 4}
		var last defects.Photo
		for i := 0; ; i++ {
			var part []defects.Photo
			w.read(func(tx register.Tx) (err error) {
				part, err = tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: siteID}, page)
				return err
			})
			for _, p := range part {
				require.False(w.t, seen[p.ID], "twice: %s", p.ID)
				require.True(w.t, last.ID == "" || !p.ReceivedAt.After(last.ReceivedAt))
				seen[p.ID], last = true, p
			}
			if len(part) < page.Limit {
				break
			}
			page.After = register.CursorOfPhoto(last)
			add(at.Add(time.Hour)) // newer ones belong before the first page
		}
		require.Equal(w.t, want, seen)
	})
}

func TestPhotosAreFiltered(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		snag := w.snag(siteID, e[0], 1)
		var ids []string
		w.write(func(tx register.Tx) error {
			for i := range 4 {
				p := w.photo(siteID)
				p.ReceivedAt = at.Add(time.Duration(-i) * time.Second)
				ids = append(ids, p.ID)
				switch i {
				case 0:
					p.Place.ElevationID = e[0]
				case 1:
					p.Stage, p.Derived = "S2", "ready"
				case 2:
					p.AddedBy, p.Gang, p.Derived = "q", "south", "failed: broken"
				}
				if err := tx.Photos().InsertPhoto(ctx(w), p); err != nil {
					return err
				}
			}
			snag.Photos, snag.OfferPhotos = ids[1:2], ids[1:3]
			return tx.Snags().InsertSnag(ctx(w), snag)
		})
		for name, c := range map[string]struct {
			f    register.PhotoFilter
			want []string
		}{
			"all":       {register.PhotoFilter{SiteID: siteID}, ids},
			"elevation": {register.PhotoFilter{SiteID: siteID, ElevationID: e[0]}, ids[:1]},
			"unplaced":  {register.PhotoFilter{SiteID: siteID, Unplaced: true}, ids[1:]},
			"stage":     {register.PhotoFilter{SiteID: siteID, Stage: "S2"}, ids[1:2]},
			"added by":  {register.PhotoFilter{SiteID: siteID, AddedBy: "q"}, ids[2:3]},
			"gang":      {register.PhotoFilter{SiteID: siteID, Gang: "south"}, ids[2:3]},
			"failed":    {register.PhotoFilter{SiteID: siteID, Derived: "failed"}, ids[2:3]},
			"ready":     {register.PhotoFilter{SiteID: siteID, Derived: "ready"}, ids[1:2]},
			"waiting":   {register.PhotoFilter{SiteID: siteID, Derived: "waiting"}, []string{ids[0], ids[3]}},
			"snag":      {register.PhotoFilter{SiteID: siteID, SnagID: snag.ID}, ids[1:3]},
		} {
			w.read(func(tx register.Tx) error {
				list, err := tx.Photos().ListPhotos(ctx(w), c.f, register.Page{})
				var got []string
				for _, p := range list {
					got = append(got, p.ID)
				}
				require.Equal(w.t, c.want, got, name)
				return err
			})
		}
		w.refused(defects.Invalid, "filter_needed", func(tx register.Tx) error {
			_, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{}, register.Page{})
			return err
		})
		w.refused(defects.NotFound, "photo_not_found", func(tx register.Tx) error {
			return tx.Copies().SetCopies(ctx(w), siteID, "none", register.CopiesState{Derived: "ready"})
		})
	})
}

func TestReadingsAreFilteredAndPaged(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		w.write(func(tx register.Tx) error {
			err := errors.Join(tx.Readings().SaveSet(ctx(w), defects.Set{ID: "set1", SiteID: siteID}),
				tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)))
			for i, r := range []defects.Reading{
				{ID: "a", Quantity: "plumb", Verdict: defects.Verdict{Outcome: defects.Fail}},
				{ID: "b", Quantity: "plumb", Verdict: defects.Verdict{Outcome: defects.Fail}, SnagNumber: 1},
				{ID: "c", Quantity: "flatness", Verdict: defects.Verdict{Outcome: defects.ConditionalPass}, Gang: "north"},
				{ID: "d", Verdict: defects.Verdict{Outcome: defects.ConditionalFail}, Withdrawn: "slip of the pen", Stage: "S2"},
				{ID: "e", Verdict: defects.Verdict{Outcome: defects.Pass}, SetID: "set1", Place: defects.Place{ElevationID: e[0]}},
			} {
				r.SiteID, r.MeasuredAt = siteID, at.Add(-time.Duration(i)*time.Minute)
				err = errors.Join(err, tx.Readings().InsertReading(ctx(w), r))
			}
			return err
		})
		ids := func(f register.ReadingFilter, page register.Page) (out string) {
			f.SiteID = siteID
			w.read(func(tx register.Tx) error {
				list, err := tx.Readings().ListReadings(ctx(w), f, page)
				for _, r := range list {
					out += r.ID
					page.After = register.CursorOfReading(r)
				}
				return err
			})
			return out
		}
		require.Equal(w.t, "abcde", ids(register.ReadingFilter{}, register.Page{}))
		require.Equal(w.t, "ac", ids(register.ReadingFilter{Unanswered: true}, register.Page{}))
		require.Equal(w.t, "ab", ids(register.ReadingFilter{Quantity: "plumb"}, register.Page{}))
		require.Equal(w.t, "ab", ids(register.ReadingFilter{Outcome: defects.Fail}, register.Page{}))
		require.Equal(w.t, "d", ids(register.ReadingFilter{Stage: "S2"}, register.Page{}))
		require.Equal(w.t, "e", ids(register.ReadingFilter{SetID: "set1"}, register.Page{}))
		require.Equal(w.t, "e", ids(register.ReadingFilter{ElevationID: e[0]}, register.Page{}))
		require.Equal(w.t, "c", ids(register.ReadingFilter{Gang: "north"}, register.Page{}))
		require.Equal(w.t, "bd", ids(register.ReadingFilter{IDs: []string{"d", "b", "z"}}, register.Page{}))
		require.Empty(w.t, ids(register.ReadingFilter{IDs: []string{}}, register.Page{}))
		after := register.CursorOfReading(defects.Reading{ID: "b", MeasuredAt: at.Add(-time.Minute)})
		require.Equal(w.t, "cd", ids(register.ReadingFilter{}, register.Page{Limit: 2, After: after}))
	})
}

func TestListsTakeAConstantNumberOfStatements(t *testing.T) {
	t.Parallel()
	for _, dialect := range []string{"sqlite", "postgres"} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			var n atomic.Int64
			observe := modelstest.Observe(func(string) { n.Add(1) })
			w := &world{t: t}
			if dialect == "sqlite" {
				w.store = modelstest.Open(t, observe)
			} else {
				w.store = modelstest.OpenPostgres(t, observe)
			}
			siteID, e := w.site("North")
			grow := func(from, to int) {
				w.write(func(tx register.Tx) error {
					for i := from; i < to; i++ {
						p := w.photo(siteID)
						s := w.snag(siteID, e[0], i+1)
						s.Photos = []string{p.ID}
						err := errors.Join(tx.Photos().InsertPhoto(ctx(w), p), tx.Snags().InsertSnag(ctx(w), s),
							tx.Readings().InsertReading(ctx(w), defects.Reading{ID: w.id("r"), SiteID: siteID, Photos: s.Photos}))
						if err != nil {
							return err
						}
					}
					return nil
				})
			}
			lists := func(want int) int64 {
				before := n.Load()
				w.read(func(tx register.Tx) error {
					a, err := tx.Snags().ListSnags(ctx(w), register.SnagFilter{SiteID: siteID, ElevationID: e[0], Order: register.ByWalk}, register.Page{})
					require.NoError(t, err)
					require.Len(t, a, want)
					b, err := tx.Photos().ListPhotos(ctx(w), register.PhotoFilter{SiteID: siteID}, register.Page{})
					require.NoError(t, err)
					require.Len(t, b, want)
					c, err := tx.Readings().ListReadings(ctx(w), register.ReadingFilter{SiteID: siteID}, register.Page{})
					require.NoError(t, err)
					require.Len(t, c, want)
					_, err = tx.Walls().Elevations(ctx(w), siteID)
					return err
				})
				return n.Load() - before
			}
			grow(0, 2)
			require.EqualValues(t, 4, lists(2))
			grow(2, 60)
			require.EqualValues(t, 4, lists(60))
		})
	}
}

func TestSnagsAreFoundByPlaceAndByTheStageOfTheirCode(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		w.write(func(tx register.Tx) error {
			for i, s := range []struct {
				code, gang string
				bay, lift  int
			}{{"BM-05", "Rowan", 1, 2}, {"BM-11", "Larch", 2, 2}, {"BMX-1", "Rowan", 2, 1}, {"SL-07", "", 0, 1}} {
				snag := w.snag(siteID, e[0], i+1)
				snag.Code, snag.Gang, snag.Place.Bay, snag.Place.Lift = s.code, s.gang, s.bay, s.lift
				if err := tx.Snags().InsertSnag(ctx(w), snag); err != nil {
					return err
				}
			}
			return nil
		})
		for name, c := range map[string]struct {
			f    register.SnagFilter
			want []int
		}{
			"stage":        {register.SnagFilter{CodeOrStage: "BM"}, []int{1, 2}},
			"exact code":   {register.SnagFilter{CodeOrStage: "BM-05"}, []int{1}},
			"part of one":  {register.SnagFilter{CodeOrStage: "BM-0"}, nil},
			"wild card":    {register.SnagFilter{CodeOrStage: "%"}, nil},
			"bay":          {register.SnagFilter{Bay: 2}, []int{2, 3}},
			"lift":         {register.SnagFilter{Lift: 2}, []int{1, 2}},
			"bay and lift": {register.SnagFilter{Bay: 2, Lift: 1}, []int{3}},
		} {
			c.f.SiteID = siteID
			require.Equal(w.t, c.want, numbers(w.snagsOf(c.f, register.Page{})), name)
		}
		w.read(func(tx register.Tx) error {
			gangs, err := tx.Snags().Gangs(ctx(w), siteID)
			require.Equal(w.t, []string{"Larch", "Rowan"}, gangs)
			return err
		})
	})
}

func TestTheLogIsSearched(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		other, _ := w.site()
		w.write(func(tx register.Tx) error {
			for i, typ := range []string{"snag", "photo", "snag", "reading"} {
				e := entry(siteID, typ, strconv.Itoa(i))
				e.At, e.Subject.Number = at.Add(time.Duration(i)*time.Hour), i
				e.Actor.ID = "p" + strconv.Itoa(i%2)
				if _, err := tx.Log().Append(ctx(w), e); err != nil {
					return err
				}
			}
			_, err := tx.Log().Append(ctx(w), entry(other, "snag", "x"))
			return err
		})
		for name, c := range map[string]struct {
			f     register.LogFilter
			limit int
			want  []int64
		}{
			"all":     {register.LogFilter{}, 10, []int64{4, 3, 2, 1}},
			"few":     {register.LogFilter{}, 2, []int64{4, 3}},
			"before":  {register.LogFilter{Before: 3}, 10, []int64{2, 1}},
			"oldest":  {register.LogFilter{Oldest: true, From: 2}, 2, []int64{2, 3}},
			"since":   {register.LogFilter{Since: at.Add(time.Hour), Until: at.Add(3 * time.Hour)}, 10, []int64{3, 2}},
			"kind":    {register.LogFilter{Kind: "snag.changed"}, 10, []int64{3, 1}},
			"subject": {register.LogFilter{SubjectType: "snag", Number: 2}, 10, []int64{3}},
			"person":  {register.LogFilter{ByID: "p1"}, 10, []int64{4, 2}},
		} {
			c.f.SiteID = siteID
			var got []int64
			w.read(func(tx register.Tx) error {
				encoded, err := tx.Log().Search(ctx(w), c.f, c.limit)
				for _, raw := range encoded {
					e, derr := evidence.Decode(raw)
					require.NoError(w.t, derr)
					got = append(got, e.Seq)
				}
				return err
			})
			require.Equal(w.t, c.want, got, name)
		}
	})
}
