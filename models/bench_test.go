package models_test

import (
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models"
)

const (
	benchSnags      = 100_000
	benchElevations = 50
)

// bigSite fills a database with one site of 100,000 snags on 50 elevations,
// invented data, once for all benchmarks.
func bigSite(b *testing.B) (s *models.Store, path, siteID, elevation string) {
	b.Helper()
	path = filepath.Join(b.TempDir(), "big.db")
	s, err := models.Open(b.Context(), models.Config{Path: path})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, s.Close()) })
	require.NoError(b, s.Write(b.Context(), func(tx register.Tx) error {
		c := b.Context()
		err := errors.Join(tx.Sites().InsertSite(c, defects.Site{ID: "site", Name: "Invented", Rule: defects.FourWay}),
			tx.Walls().InsertBuilding(c, defects.Building{ID: "b", SiteID: "site", Name: "A"}))
		for i := range benchElevations {
			err = errors.Join(err, tx.Walls().InsertElevation(c, defects.Elevation{
				ID: fmt.Sprintf("e%03d", i), SiteID: "site", BuildingID: "b", Name: fmt.Sprint(i),
			}))
		}
		return err
	}))
	const batch = 5000
	states, severities := defects.States(), defects.Severities()
	for from := 0; from < benchSnags; from += batch {
		require.NoError(b, s.Write(b.Context(), func(tx register.Tx) error {
			for i := from; i < from+batch; i++ {
				x, z := defects.MM(i*37%12_000), defects.MM(i*91%9000)
				err := tx.Snags().InsertSnag(b.Context(), defects.Snag{
					ID: fmt.Sprintf("s%07d", i), SiteID: "site", Number: i + 1, Code: "J03", Title: "Uneven bed joints", Stage: "S7",
					Severity: severities[i%3], Extent: defects.Single, State: states[i%len(states)], Gang: fmt.Sprintf("gang %d", i%9),
					Place:      defects.Place{ElevationID: fmt.Sprintf("e%03d", i%benchElevations), X: &x, Z: &z, Bay: 1 + i%4, Lift: 1 + i%5},
					PlaceWords: "Block A / North / bay 3 / lift 2", Requirement: "joint width 7 to 13 mm, source and edition",
					Text: "wider than the gauge over four courses", ReadingText: "13.6 mm against 7 to 13 mm",
					Quantity: "joint_width_bed", RaisedBy: defects.Person{ID: "p", Name: "Ada Invented", Role: defects.Clerk},
					RaisedAt: at.Add(time.Duration(i) * time.Second), WalkRank: int64(i*7919) % 1_000_003,
				})
				if err != nil {
					return err
				}
			}
			return nil
		}))
	}
	return s, path, "site", "e017"
}

// plainSnagList is the statement ListSnags runs for the open snags of an
// elevation in walking order, and plainSnag takes a row of it.
const plainSnagList = `SELECT id, site_id, number, code, title, stage, severity, extent, covered, elevation_id, x_mm, z_mm, bay,
	lift, opening, zone, place_words, requirement, text, reading_id, reading_text, quantity, competent, gang, state,
	is_open, round, raised_by_id, raised_by_name, raised_by_role, raised_at, instructed_at, own_due, planned_on,
	defer_until, offered_by, made_good, offer_photos, offer_reading_id, first_signed, closed_at, dispute_by, ground,
	concession, photos, walk_rank, version FROM snags
	WHERE site_id = ? AND elevation_id = ? AND is_open ORDER BY walk_rank, number`

type plainSnag struct {
	id, siteID, code, title, stage, severity, extent, opening, zone, placeWords, requirement, text, readingText string
	quantity, competent, gang, state, raisedByID, raisedByName, raisedByRole, ownDue, plannedOn, deferUntil     string
	offeredBy, madeGood, offerPhotos, firstSigned, disputeBy, ground, concession, photos                        string
	elevationID, readingID, offerReadingID                                                                      sql.NullString
	x, z, instructedAt, closedAt                                                                                sql.NullInt64
	number, bay, lift, round, raisedAt, walkRank, version                                                       int64
	covered, isOpen                                                                                             bool
}

func (p *plainSnag) into() []any {
	return []any{
		&p.id, &p.siteID, &p.number, &p.code, &p.title, &p.stage, &p.severity, &p.extent, &p.covered,
		&p.elevationID, &p.x, &p.z, &p.bay, &p.lift, &p.opening, &p.zone, &p.placeWords, &p.requirement, &p.text,
		&p.readingID, &p.readingText, &p.quantity, &p.competent, &p.gang, &p.state, &p.isOpen, &p.round, &p.raisedByID,
		&p.raisedByName, &p.raisedByRole, &p.raisedAt, &p.instructedAt, &p.ownDue, &p.plannedOn, &p.deferUntil,
		&p.offeredBy, &p.madeGood, &p.offerPhotos, &p.offerReadingID, &p.firstSigned, &p.closedAt, &p.disputeBy,
		&p.ground, &p.concession, &p.photos, &p.walkRank, &p.version,
	}
}

func plainList(b *testing.B, db *sql.DB, siteID, elevation string) int {
	b.Helper()
	tx, err := db.BeginTx(b.Context(), &sql.TxOptions{ReadOnly: true})
	require.NoError(b, err)
	rows, err := tx.QueryContext(b.Context(), plainSnagList, siteID, elevation)
	require.NoError(b, err)
	var list []plainSnag
	var p plainSnag
	into := p.into()
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			b.Fatal(err)
		}
		list = append(list, p)
	}
	require.NoError(b, rows.Err())
	require.NoError(b, rows.Close())
	require.NoError(b, tx.Commit())
	return len(list)
}

// BenchmarkSnagList lists the open snags of one elevation of a site with
// 100,000 snags, through the store and as the same SQL through the plain
// driver on the same file, in turns. "ratio" is the first over the second.
func BenchmarkSnagList(b *testing.B) {
	s, path, siteID, elevation := bigSite(b)
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=query_only(1)&_pragma=cache_size(-8000)")
	require.NoError(b, err)
	defer db.Close()
	f := register.SnagFilter{SiteID: siteID, ElevationID: elevation, OpenOnly: true, Order: register.ByWalk}
	ours := func() (n int) {
		require.NoError(b, s.Read(b.Context(), func(tx register.Tx) error {
			list, err := tx.Snags().ListSnags(b.Context(), f, register.Page{})
			n = len(list)
			return err
		}))
		return n
	}
	require.Equal(b, plainList(b, db, siteID, elevation), ours())
	var a, p time.Duration
	var rows int
	for b.Loop() {
		start := time.Now()
		rows = ours()
		middle := time.Now()
		plainList(b, db, siteID, elevation)
		a += middle.Sub(start)
		p += time.Since(middle)
	}
	b.ReportMetric(float64(rows), "rows")
	b.ReportMetric(float64(a.Microseconds())/float64(b.N), "store-µs")
	b.ReportMetric(float64(p.Microseconds())/float64(b.N), "plain-µs")
	b.ReportMetric(a.Seconds()/p.Seconds(), "ratio")
}

// BenchmarkRaise writes snags by eight goroutines, each in a durable
// transaction of its own with its number and its log entry.
func BenchmarkRaise(b *testing.B) {
	path := filepath.Join(b.TempDir(), "raise.db")
	s, err := models.Open(b.Context(), models.Config{Path: path})
	require.NoError(b, err)
	defer func() { require.NoError(b, s.Close()) }()
	require.NoError(b, s.Write(b.Context(), func(tx register.Tx) error {
		return tx.Sites().InsertSite(b.Context(), defects.Site{ID: "site", Name: "Invented", Rule: defects.FourWay})
	}))
	b.ResetTimer()
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for i := g; i < b.N; i += 8 {
				err := s.Write(b.Context(), func(tx register.Tx) error {
					n, err := tx.Snags().NextNumber(b.Context(), "site")
					if err != nil {
						return err
					}
					snag := defects.Snag{
						ID: fmt.Sprint(n), SiteID: "site", Number: n, Severity: defects.Minor, Extent: defects.Single,
						State: defects.Raised, RaisedAt: at,
					}
					if err := tx.Snags().InsertSnag(b.Context(), snag); err != nil {
						return err
					}
					_, err = tx.Log().Append(b.Context(), entry("site", "snag", snag.ID))
					return err
				})
				if err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
}
