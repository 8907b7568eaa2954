package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"runtime"
	"time"

	"github.com/gofrs/flock"
	"github.com/libtnb/sqlite"
	"gorm.io/gorm"

	"storeyrod/migrations"
)

const (
	busyMS      = "10000"               // how long a writer waits for one of another process
	lockPoll    = 50 * time.Millisecond // between tries for the migration lock
	lockPatient = 5 * time.Minute       // for another process that migrates
	readersMin  = 4
	cacheKiB    = "8000" // pages kept per connection, filled as they are read
)

// openSQLite opens one connection that writes and several that only read. One
// writer is all SQLite has; a pool of one makes goroutines queue for it in
// order instead of polling, and BEGIN IMMEDIATE takes the write lock at the
// start, so that a transaction never finds half-way that it may not write.
func openSQLite(ctx context.Context, c Config) (_ *Store, err error) {
	path, err := filepath.Abs(c.Path)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	write, err := sqlitePool(ctx, c, sqliteDSN(path, true), 1, nil)
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", c.Path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, write.sql.Close())
		}
	}()
	if err := migrateSQLite(ctx, write.sql, path); err != nil {
		return nil, err
	}
	readers := c.Readers
	if readers == 0 {
		readers = max(readersMin, 2*runtime.GOMAXPROCS(0))
	}
	read, err := sqlitePool(ctx, c, sqliteDSN(path, false), readers, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, fmt.Errorf("open database %s for reading: %w", c.Path, err)
	}
	return &Store{read: read, write: write, log: c.Logger}, nil
}

// sqliteDSN states durability: in WAL mode only synchronous=FULL keeps an
// acknowledged commit through a power cut.
func sqliteDSN(path string, write bool) string {
	q := url.Values{}
	for _, p := range []string{
		"busy_timeout(" + busyMS + ")", "foreign_keys(1)", "journal_mode(WAL)",
		"synchronous(FULL)", "trusted_schema(0)", "cache_size(-" + cacheKiB + ")",
	} {
		q.Add("_pragma", p)
	}
	if write {
		q.Set("_txlock", "immediate")
	} else {
		q.Add("_pragma", "query_only(1)")
	}
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + q.Encode()
}

func sqlitePool(ctx context.Context, c Config, dsn string, size int, opts *sql.TxOptions) (*pool, error) {
	db, err := sql.Open(sqlite.DriverName, dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	if err := db.PingContext(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	g, err := gorm.Open(sqlite.New(sqlite.Config{Conn: db}), settings(c))
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return &pool{sql: db, gorm: g, opts: opts}, nil
}

// migrateSQLite holds a lock on a file beside the database, since SQLite has no
// lock that outlives one transaction.
func migrateSQLite(ctx context.Context, db *sql.DB, path string) (err error) {
	lock := flock.New(path + ".lock")
	ctx, cancel := context.WithTimeout(ctx, lockPatient)
	defer cancel()
	if _, err := lock.TryLockContext(ctx, lockPoll); err != nil {
		return fmt.Errorf("wait for the migration lock: %w", err)
	}
	defer func() {
		if uerr := lock.Unlock(); uerr != nil {
			err = errors.Join(err, fmt.Errorf("release the migration lock: %w", uerr))
		}
	}()
	_, err = migrations.Up(ctx, db, migrations.SQLite)
	return err
}
