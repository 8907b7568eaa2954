package models_test

import (
	"database/sql"
	"path/filepath"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // driver "pgx"
	"github.com/stretchr/testify/require"

	"storeyrod/defects/register"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

// plain opens a store and the same database once more through its driver alone.
func plain(t *testing.T, dialect string) (*models.Store, *sql.DB) {
	t.Helper()
	config, driver, address := models.Config{Path: filepath.Join(t.TempDir(), "a.db")}, "sqlite", ""
	if dialect == "postgres" {
		config, driver = models.Config{URL: modelstest.PostgresURL(t)}, "pgx"
	}
	address = config.Path + config.URL
	s, err := models.Open(t.Context(), config)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	db, err := sql.Open(driver, address)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	return s, db
}

func TestTheLogRefusesChangesEvenByPlainSQL(t *testing.T) {
	t.Parallel()
	for dialect, more := range map[string][]string{
		"sqlite":   {"INSERT OR REPLACE INTO log SELECT * FROM log WHERE seq = 1", "REPLACE INTO log SELECT * FROM log"},
		"postgres": {"TRUNCATE log", "INSERT INTO log SELECT * FROM log ON CONFLICT (site_id, seq) DO UPDATE SET kind = 'x'"},
	} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			s, db := plain(t, dialect)
			require.NoError(t, s.Write(t.Context(), func(tx register.Tx) error {
				for range 2 {
					if _, err := tx.Log().Append(t.Context(), entry(register.InstanceLog, "account", "a")); err != nil {
						return err
					}
				}
				return nil
			}))
			for _, statement := range append(more, "UPDATE log SET kind = 'x'", "DELETE FROM log", "DELETE FROM log WHERE seq = 2",
				"INSERT INTO log SELECT site_id, seq + 5, at, kind, subject_type, subject_id, subject_number, actor_id, entry FROM log") {
				_, err := db.ExecContext(t.Context(), statement)
				require.ErrorContains(t, err, "the log", statement)
			}
			require.NoError(t, s.Read(t.Context(), func(tx register.Tx) error {
				got, err := tx.Log().Entries(t.Context(), register.InstanceLog, 0, 0)
				require.Len(t, got, 2)
				return err
			}))
		})
	}
}

func TestValuesSpoiltInTheDatabaseAreAnErrorNotAPanic(t *testing.T) {
	t.Parallel()
	for _, dialect := range []string{"sqlite", "postgres"} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			s, db := plain(t, dialect)
			w := &world{t: t, store: s}
			siteID, e := w.site("North")
			photo := w.photo(siteID)
			w.write(func(tx register.Tx) error {
				if err := tx.Photos().InsertPhoto(ctx(w), photo); err != nil {
					return err
				}
				return tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1))
			})
			for statement, read := range map[string]func(tx register.Tx) error{
				"UPDATE sites SET guard = '1e400'":        func(tx register.Tx) error { _, err := tx.Sites().Site(ctx(w), siteID); return err },
				"UPDATE elevations SET bays = '{'":        func(tx register.Tx) error { _, err := tx.Walls().Elevations(ctx(w), siteID); return err },
				"UPDATE photos SET capture = '[1]'":       func(tx register.Tx) error { _, err := tx.Photos().Photo(ctx(w), siteID, photo.ID); return err },
				"UPDATE snags SET concession = 'granted'": func(tx register.Tx) error { _, err := tx.Snags().Snag(ctx(w), siteID, 1); return err },
			} {
				_, err := db.ExecContext(t.Context(), statement)
				require.NoError(t, err)
				require.ErrorContains(t, s.Read(t.Context(), read), "cannot be read", statement)
			}
		})
	}
}

func TestAcknowledgedWritesAreSyncedToDisk(t *testing.T) {
	t.Parallel()
	s, db := plain(t, "sqlite")
	require.Equal(t, "sqlite", s.Stats().Dialect)
	require.Equal(t, 1, s.Stats().Write.MaxOpenConnections)
	var mode string
	require.NoError(t, db.QueryRow("PRAGMA journal_mode").Scan(&mode))
	require.Equal(t, "wal", mode)
}
