package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/libtnb/sqlite"

	"storeyrod/migrations"
)

// Migrations lists the migrations there are and whether the database has them,
// without applying any. A SQLite file that does not exist has none and is not
// made.
func Migrations(ctx context.Context, c Config) (_ []migrations.State, err error) {
	db, dialect, err := closedDatabase(c)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return migrations.Status(ctx, db, dialect)
}

func closedDatabase(c Config) (*sql.DB, migrations.Dialect, error) {
	if c.URL != "" {
		config, err := pgx.ParseConfig(c.URL)
		if err != nil {
			return nil, "", fmt.Errorf("address of the database: %w", err)
		}
		return stdlib.OpenDB(*config), migrations.Postgres, nil
	}
	path, err := filepath.Abs(c.Path)
	if err != nil {
		return nil, "", fmt.Errorf("open database: %w", err)
	}
	dsn := sqliteDSN(path, true)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		dsn = ":memory:"
	}
	db, err := sql.Open(sqlite.DriverName, dsn)
	if err != nil {
		return nil, "", fmt.Errorf("open database %s: %w", c.Path, err)
	}
	db.SetMaxOpenConns(1)
	return db, migrations.SQLite, nil
}
