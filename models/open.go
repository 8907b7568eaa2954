package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"

	"gorm.io/gorm"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Config says which database to open. URL is for PostgreSQL
// ("postgres://…"); when it is empty, Path is the file of a SQLite database,
// made when absent.
type Config struct {
	URL     string
	Path    string
	Logger  *slog.Logger     // slow statements and retries; nil = none
	Clock   func() time.Time // nil = time.Now
	Readers int              // connections for reading at the same time; 0 = a default
	// Observe is told every statement, with placeholders for its arguments; nil
	// = nobody. It is for metrics and for tests that count statements.
	Observe func(sql string)
}

// Store is the database. It is safe for use by many goroutines.
type Store struct {
	read, write *pool
	pg          bool
	log         *slog.Logger
	numbers     highWater
}

var _ register.Store = (*Store)(nil)

// pool is one set of connections with the gorm handle over it.
type pool struct {
	sql  *sql.DB
	gorm *gorm.DB
	opts *sql.TxOptions
}

// Open opens the database and brings its schema up to date, under a lock so
// that several processes may start at once.
func Open(ctx context.Context, c Config) (*Store, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	pg, err := c.postgres()
	switch {
	case err != nil:
		return nil, err
	case pg:
		return openPostgres(ctx, c)
	}
	return openSQLite(ctx, c)
}

// postgres tells which of the two databases is meant.
func (c Config) postgres() (bool, error) {
	switch {
	case strings.HasPrefix(c.URL, "postgres://"), strings.HasPrefix(c.URL, "postgresql://"):
		return true, nil
	case c.URL != "":
		return false, defects.RefuseField(defects.Invalid, "database", "bad_database",
			"the address of a database starts with postgres://; leave it out for the built-in one")
	case c.Path == "":
		return false, defects.RefuseField(defects.Invalid, "database", "bad_database", "neither an address nor a file is named")
	}
	return false, nil
}

// settings are the same for both dialects. Transactions are opened in tx.go
// only, so gorm's own are off. TranslateError stays off: it drops the name of
// the violated constraint, which errors.go needs.
func settings(c Config) *gorm.Config {
	return &gorm.Config{
		SkipDefaultTransaction: true,
		DisableAutomaticPing:   true,
		NowFunc:                c.Clock,
		Logger:                 statementLog{log: c.Logger, observe: c.Observe, slow: slowStatement},
	}
}

// Close ends all connections.
func (s *Store) Close() error {
	var errs []error
	for _, p := range s.pools() {
		errs = append(errs, p.sql.Close())
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("close database: %w", err)
	}
	return nil
}

// Ping reports whether the database answers, for reading and for writing.
func (s *Store) Ping(ctx context.Context) error {
	for _, p := range s.pools() {
		var one int
		if err := p.sql.QueryRowContext(ctx, "SELECT 1").Scan(&one); err != nil {
			return fmt.Errorf("ping database: %w", err)
		}
	}
	return nil
}

// Stats are the connections of a store, as database/sql counts them.
type Stats struct {
	Dialect     string
	Read, Write sql.DBStats
}

// Stats counts connections. On PostgreSQL both kinds share one pool.
func (s *Store) Stats() Stats {
	out := Stats{Dialect: "sqlite", Read: s.read.sql.Stats(), Write: s.write.sql.Stats()}
	if s.pg {
		out.Dialect = "postgres"
	}
	return out
}

func (s *Store) pools() []*pool {
	if s.read.sql == s.write.sql {
		return []*pool{s.write}
	}
	return []*pool{s.read, s.write}
}

// highWater remembers the greatest number this process has given per site, so
// that a number from a transaction that was rolled back is not given again: it
// may already stand in somebody's message.
type highWater struct {
	mu   sync.Mutex
	last map[string]int64
}

func (h *highWater) of(site string) int64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last[site]
}

func (h *highWater) raise(site string, to int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.last == nil {
		h.last = map[string]int64{}
	}
	h.last[site] = max(h.last[site], to)
}
