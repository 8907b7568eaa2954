package models

import (
	"database/sql"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestConstraintsAreNamedFromSQLitesMessages(t *testing.T) {
	t.Parallel()
	for message, want := range map[string]string{
		"constraint failed: UNIQUE constraint failed: accounts.login (2067)":                  "accounts_login_key",
		"constraint failed: UNIQUE constraint failed: photos.site_id, photos.sha256 (2067)":   "photos_site_id_sha256_key",
		"constraint failed: UNIQUE constraint failed: replies.account_id, replies.key (1555)": "replies_account_id_key_key",
		"something else": "",
	} {
		require.Equal(t, want, sqliteConstraint(message, "UNIQUE constraint failed: "))
	}
	require.Equal(t, "snags_state_check",
		sqliteConstraint("constraint failed: CHECK constraint failed: snags_state_check (275)", "CHECK constraint failed: "))
}

func TestErrorsThatNobodyCausedKeepTheirCause(t *testing.T) {
	t.Parallel()
	cause := errors.New("disk on fire")
	err := wrapped("insert snag", cause)
	require.EqualError(t, err, "insert snag: disk on fire")
	require.ErrorIs(t, err, cause)
	refused := defects.Refuse(defects.Stale, "", "")
	require.Same(t, refused, wrapped("update snag", refused))
	require.Nil(t, refusal(cause))
}

func TestOnlyDeadlocksAndSerialisationFailuresRunAgain(t *testing.T) {
	t.Parallel()
	for code, want := range map[string]bool{pgDeadlock: true, pgSerialisation: true, pgUnique: false, "57014": false} {
		require.Equal(t, want, retryable(wrapped("commit", &pgconn.PgError{Code: code})), code)
	}
	require.False(t, retryable(errors.New("no")))
}

func TestABusyDatabaseIsUnavailable(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "busy.db")
	s, err := Open(t.Context(), Config{Path: path})
	require.NoError(t, err)
	defer s.Close()
	impatient, err := sql.Open("sqlite", "file:"+path+"?_txlock=immediate")
	require.NoError(t, err)
	defer impatient.Close()
	require.NoError(t, s.Write(t.Context(), func(register.Tx) error {
		_, err := impatient.BeginTx(t.Context(), nil)
		require.Error(t, err)
		require.ErrorIs(t, wrapped("begin", err), defects.Unavailable)
		return nil
	}))
}

// plan tells how SQLite runs a query.
func plan(t *testing.T, s *Store, q *query) string {
	t.Helper()
	rows, err := s.read.sql.Query("EXPLAIN QUERY PLAN "+q.text(), q.args...)
	require.NoError(t, err)
	defer rows.Close()
	var lines []string
	for rows.Next() {
		var id, parent, unused int
		var detail string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &detail))
		lines = append(lines, detail)
	}
	require.NoError(t, rows.Err())
	return strings.Join(lines, "; ")
}

// A list must walk an index in its own order: sorting a site's rows for every
// page would make page time grow with the site.
func TestListsWalkAnIndexAndSortNothing(t *testing.T) {
	t.Parallel()
	s, err := Open(t.Context(), Config{Path: filepath.Join(t.TempDir(), "plan.db")})
	require.NoError(t, err)
	defer s.Close()
	for index, text := range map[string]string{
		"snags_open_walk ":    "SELECT id FROM snags WHERE site_id = 's' AND elevation_id = 'e' AND is_open ORDER BY walk_rank, number",
		"snags_walk ":         "SELECT text FROM snags WHERE site_id = 's' AND elevation_id = 'e' ORDER BY walk_rank, number",
		"sqlite_autoindex":    "SELECT text FROM snags WHERE site_id = 's' AND number > 7 ORDER BY number LIMIT 50",
		"photos_newest ":      "SELECT note FROM photos WHERE site_id = 's' AND (received_at, id) < (7, 'x') ORDER BY received_at DESC, id DESC",
		"photos_elevation ":   "SELECT note FROM photos WHERE site_id = 's' AND elevation_id = 'e' ORDER BY received_at DESC, id DESC",
		"photos_copies ":      "SELECT note FROM photos WHERE site_id = 's' AND copies_seq > 7 ORDER BY copies_seq LIMIT 100",
		"jobs_next ":          "SELECT * FROM jobs WHERE free_at <= 7 AND turn <= 100 ORDER BY turn, queued_at, photo_id LIMIT 1",
		"readings_elevation ": "SELECT note FROM readings WHERE site_id = 's' AND elevation_id = 'e' ORDER BY measured_at DESC, id DESC",
		"readings_newest ":    "SELECT note FROM readings WHERE site_id = 's' ORDER BY measured_at DESC, id DESC",
		"snags_totals ": "SELECT COALESCE(elevation_id, '') AS elevation_id, state, severity, COUNT(*) AS count FROM snags" +
			" WHERE site_id = 's' AND elevation_id = 'e' GROUP BY state, severity",
		"log_subject ":       "SELECT entry FROM log WHERE site_id = 's' AND subject_type = 't' AND subject_id = 'i' ORDER BY seq",
		"snag_photos_photo ": "SELECT snag_id FROM snag_photos WHERE site_id = 's' AND photo_id IN ('a', 'b')",
	} {
		got := plan(t, s, sqlText(text))
		require.Contains(t, got, strings.TrimSpace(index), text)
		require.NotContains(t, got, "TEMP B-TREE", text)
	}
}

func TestMigrationsAreListed(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "a.db")
	before, err := Migrations(t.Context(), Config{Path: path})
	require.NoError(t, err)
	require.NotEmpty(t, before)
	require.False(t, before[0].Applied)
	s, err := Open(t.Context(), Config{Path: path})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	after, err := Migrations(t.Context(), Config{Path: path})
	require.NoError(t, err)
	for _, m := range after {
		require.True(t, m.Applied, m.File)
	}
}

func TestFiguresStoredBeforeKindsWereAreReadFromTheirRows(t *testing.T) {
	t.Parallel()
	s, err := Open(t.Context(), Config{Path: filepath.Join(t.TempDir(), "old.db")})
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, s.Write(t.Context(), func(tx register.Tx) error {
		if err := tx.Sites().InsertSite(t.Context(), defects.Site{ID: "s", Name: "Invented Close", Rule: defects.Simple}); err != nil {
			return err
		}
		for _, rd := range []defects.Reading{
			{ID: "a", Verdict: defects.Verdict{Outcome: defects.Pass}},
			{ID: "b", Verdict: defects.Verdict{Outcome: defects.Fail}},
			{ID: "c", Verdict: defects.Verdict{Outcome: defects.Fail}, Withdrawn: "wrong wall"},
		} {
			rd.SiteID, rd.Quantity, rd.Unit = "s", "plumb", "mm"
			if err := tx.Readings().InsertReading(t.Context(), rd); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, s.write.gorm.Exec("UPDATE readings SET verdict_kind = 0 WHERE id <> 'a'").Error)
	require.NoError(t, s.Read(t.Context(), func(tx register.Tx) error {
		list, err := tx.Readings().Figures(t.Context(), register.ReadingFilter{SiteID: "s"}, 10)
		require.NoError(t, err)
		require.Len(t, list, 3)
		require.Equal(t, defects.Pass, list[0].Verdict.Outcome)
		require.Equal(t, defects.Fail, list[1].Verdict.Outcome)
		require.Equal(t, []bool{false, false, true}, []bool{list[0].Withdrawn, list[1].Withdrawn, list[2].Withdrawn})
		return nil
	}))
}
