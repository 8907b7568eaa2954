package migrations

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed sqlite/*.sql postgres/*.sql
var files embed.FS

// Dialect names a kind of database; it is also the folder of its files.
type Dialect string

// The dialects.
const (
	SQLite   Dialect = "sqlite"
	Postgres Dialect = "postgres"
)

// Waiting for another process that migrates: every 2 s, 150 times, so up to
// five minutes.
const (
	lockEverySeconds = 2
	lockTries        = 150
)

// State is one migration and whether the database has it.
type State struct {
	Number  int64
	File    string
	Applied bool
}

// Files gives the embedded files of a dialect.
func Files(d Dialect) (fs.FS, error) {
	sub, err := fs.Sub(files, string(d))
	if err != nil {
		return nil, fmt.Errorf("migrations of %s: %w", d, err)
	}
	return sub, nil
}

// Up applies what is missing, in order, each file in a transaction of its own,
// and answers how many were applied. On PostgreSQL it holds an advisory lock
// meanwhile, so that several instances may start at once; SQLite has none, and
// the caller holds a file lock instead.
func Up(ctx context.Context, db *sql.DB, d Dialect) (int, error) {
	p, err := provider(db, d)
	if err != nil {
		return 0, err
	}
	done, err := p.Up(ctx)
	if err != nil {
		return len(done), fmt.Errorf("migrate %s up: %w", d, err)
	}
	return len(done), nil
}

// DownTo takes migrations back until only those up to number are left; 0 takes
// back all. Data goes with the tables: it is there for tests and for a person
// who knows.
func DownTo(ctx context.Context, db *sql.DB, d Dialect, number int64) error {
	p, err := provider(db, d)
	if err != nil {
		return err
	}
	if _, err := p.DownTo(ctx, number); err != nil {
		return fmt.Errorf("migrate %s down to %d: %w", d, number, err)
	}
	return nil
}

// Status lists all migrations and whether the database has them.
func Status(ctx context.Context, db *sql.DB, d Dialect) ([]State, error) {
	p, err := provider(db, d)
	if err != nil {
		return nil, err
	}
	found, err := p.Status(ctx)
	if err != nil {
		return nil, fmt.Errorf("migration status of %s: %w", d, err)
	}
	states := make([]State, len(found))
	for i, f := range found {
		states[i] = State{Number: f.Source.Version, File: f.Source.Path, Applied: f.State == goose.StateApplied}
	}
	return states, nil
}

// provider is made per call and not closed: closing it would close the
// database, which belongs to the caller.
func provider(db *sql.DB, d Dialect) (*goose.Provider, error) {
	sub, err := Files(d)
	if err != nil {
		return nil, err
	}
	options := []goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}
	dialect := goose.DialectSQLite3
	if d == Postgres {
		dialect = goose.DialectPostgres
		locker, err := lock.NewPostgresSessionLocker(lock.WithLockTimeout(lockEverySeconds, lockTries))
		if err != nil {
			return nil, fmt.Errorf("migration lock: %w", err)
		}
		options = append(options, goose.WithSessionLocker(locker))
	}
	p, err := goose.NewProvider(dialect, db, sub, options...)
	if err != nil {
		return nil, fmt.Errorf("migrations of %s: %w", d, err)
	}
	return p, nil
}
