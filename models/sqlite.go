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
	write, err := firstOpening(ctx, c, path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, write.sql.Close())
		}
	}()
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

// firstOpening opens the writing connection and migrates, one process at a time
// by a lock on a file beside the database: SQLite has no lock that outlives a
// transaction, and it answers busy at once, without waiting, when two turn a new
// file to WAL together.
func firstOpening(ctx context.Context, c Config, path string) (write *pool, err error) {
	unlock, err := lockBeside(ctx, path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if uerr := unlock(); uerr != nil {
			err = errors.Join(err, uerr)
			if write != nil {
				err = errors.Join(err, write.sql.Close())
			}
		}
	}()
	write, err = sqlitePool(ctx, c, sqliteDSN(path, true), 1, nil)
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", c.Path, err)
	}
	if _, err := migrations.Up(ctx, write.sql, migrations.SQLite); err != nil {
		return nil, errors.Join(err, write.sql.Close())
	}
	return write, nil
}

// lockBeside waits for the lock and answers how to let go of it.
func lockBeside(ctx context.Context, path string) (unlock func() error, err error) {
	lock := flock.New(path + ".lock")
	ctx, cancel := context.WithTimeout(ctx, lockPatient)
	defer cancel()
	if _, err := lock.TryLockContext(ctx, lockPoll); err != nil {
		return nil, fmt.Errorf("wait for the migration lock: %w", err)
	}
	return func() error {
		if err := lock.Unlock(); err != nil {
			return fmt.Errorf("release the migration lock: %w", err)
		}
		return nil
	}, nil
}
