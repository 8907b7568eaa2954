package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"

	"storeyrod/migrations"
)

const (
	pgConnections = 16
	pgIdle        = 5 * time.Minute
)

// openPostgres opens one pool for both kinds of transaction.
//
// Readers run REPEATABLE READ READ ONLY: one snapshot, and never a failure,
// since they write nothing.
//
// Writers run READ COMMITTED and lock the counter row of the site they work on
// before their first look at it (tx.enter). All they read of the site after
// that is the newest committed state and nobody else can change it, which is as
// strong as SERIALIZABLE within a site, the unit of every decision, and as
// SQLite's one writer. SERIALIZABLE itself would make every pair of writers
// that log on one site fail and start again, since both raise the same log
// counter: waiting is cheaper than repeating. Different sites write in
// parallel. What is left to retry is a deadlock of two transactions that touch
// two sites in opposite order.
func openPostgres(ctx context.Context, c Config) (_ *Store, err error) {
	config, err := pgx.ParseConfig(c.URL)
	if err != nil {
		return nil, fmt.Errorf("address of the database: %w", err)
	}
	db := stdlib.OpenDB(*config)
	defer func() {
		if err != nil {
			err = errors.Join(err, db.Close())
		}
	}()
	size := c.Readers
	if size == 0 {
		size = pgConnections
	}
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	db.SetConnMaxIdleTime(pgIdle)
	if err := db.PingContext(ctx); err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	if _, err := migrations.Up(ctx, db, migrations.Postgres); err != nil {
		return nil, err
	}
	g, err := gorm.Open(postgres.New(postgres.Config{Conn: db}), settings(c))
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	return &Store{
		read:  &pool{sql: db, gorm: g, opts: &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}},
		write: &pool{sql: db, gorm: g, opts: &sql.TxOptions{Isolation: sql.LevelReadCommitted}},
		pg:    true,
		log:   c.Logger,
	}, nil
}
