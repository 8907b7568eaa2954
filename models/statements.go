package models

import (
	"context"
	"errors"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// row is what the helpers below need of a row type.
type row interface{ schema.Tabler }

// from begins a query over all columns of a row type, by name.
func from[R row](t *tx) *query {
	var r R
	stmt := &gorm.Statement{DB: t.db}
	if err := stmt.Parse(&r); err != nil {
		panic("models: row type " + r.TableName() + ": " + err.Error()) // a fault of this package, found by any test
	}
	return sqlText("SELECT " + strings.Join(stmt.Schema.DBNames, ", ") + " FROM " + r.TableName())
}

// list runs a query and gives its rows. Here and below gorm's classic calls are
// used, each on a fresh session: its generic ones are compiled once more for
// every row type and made the program 5 MB larger.
func list[R row](ctx context.Context, t *tx, q *query) ([]R, error) {
	var rows []R
	return rows, t.db.WithContext(ctx).Raw(q.text(), q.args...).Find(&rows).Error
}

// one runs a query that gives one row or none; none is not found.
func one[R row](ctx context.Context, t *tx, what string, q *query) (R, error) {
	var r R
	err := t.db.WithContext(ctx).Raw(q.text(), q.args...).Take(&r).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return r, notFound(what)
	}
	return r, err
}

// insert stores one new row with all its columns.
func insert[R row](ctx context.Context, t *tx, r R) error {
	return t.guarded(ctx, func() error { return t.db.WithContext(ctx).Create(&r).Error })
}

// change updates all columns of r but the kept ones, where the row still has
// the version it was read with. r carries the next version.
func change[R row](ctx context.Context, t *tx, what, siteID, id string, version int, r R, keep ...string) error {
	where, args := "id = ? AND version = ?", []any{id, version}
	known := &query{}
	known.add("SELECT id FROM "+r.TableName()+" WHERE id = ?", id)
	if siteID != "" {
		where, args = where+" AND site_id = ?", append(args, siteID)
		known.add(" AND site_id = ?", siteID)
	}
	n := int64(0)
	err := t.guarded(ctx, func() error {
		done := t.db.WithContext(ctx).Model(new(R)).Where(where, args...).Select("*").Omit(append(keep, "id")...).Updates(r)
		n = done.RowsAffected
		return done.Error
	})
	if err != nil || n == 1 {
		return err
	}
	if _, err := one[R](ctx, t, what, known); err != nil {
		return err
	}
	return defects.Refuse(defects.Stale, "", "somebody else changed this "+what+" in the meantime; load it again")
}

// exec runs a statement and tells how many rows it changed.
func exec(ctx context.Context, t *tx, q *query) (n int64, err error) {
	err = t.guarded(ctx, func() error {
		done := t.db.WithContext(ctx).Exec(q.text(), q.args...)
		n = done.RowsAffected
		return done.Error
	})
	return n, err
}

// guarded keeps a transaction usable after a refused statement. SQLite takes
// back the statement alone; PostgreSQL needs a savepoint for that.
func (t *tx) guarded(ctx context.Context, fn func() error) error {
	if !t.store.pg || !t.write {
		return fn()
	}
	db := t.db.WithContext(ctx)
	if err := db.SavePoint("one_statement").Error; err != nil {
		return err
	}
	if err := fn(); err != nil {
		if rerr := db.RollbackTo("one_statement").Error; rerr != nil {
			return errors.Join(err, rerr)
		}
		return err
	}
	return db.Exec("RELEASE SAVEPOINT one_statement").Error
}

// query is SQL text that grows with its arguments, so that the two stay in
// step. A slice given for "IN ?" is spread by gorm.
type query struct {
	sql  strings.Builder
	args []any
}

func sqlText(text string, args ...any) *query {
	q := &query{}
	q.add(text, args...)
	return q
}

func (q *query) add(text string, args ...any) {
	q.sql.WriteString(text)
	q.args = append(q.args, args...)
}

// and adds a condition to a WHERE that already has one.
func (q *query) and(cond string, args ...any) { q.add(" AND "+cond, args...) }

// andEqual adds column = value unless the value is empty.
func (q *query) andEqual(column, value string) {
	if value != "" {
		q.and(column+" = ?", value)
	}
}

// limit adds a LIMIT; zero and below mean all rows.
func (q *query) limit(n int) {
	if n > 0 {
		q.add(" LIMIT ?", n)
	}
}

// after sorts by a column of time and then id, both descending, and goes on
// behind a cursor; "" begins at the newest.
func (q *query) after(column, cursor string) error {
	if cursor != "" {
		at, id, err := register.ParseTimeCursor(cursor)
		if err != nil {
			return err
		}
		q.and("("+column+", id) < (?, ?)", micros(at), id)
	}
	q.add(" ORDER BY " + column + " DESC, id DESC")
	return nil
}

func (q *query) text() string { return q.sql.String() }

// idsAtOnce bounds the arguments of one statement, below the limits of both
// databases.
const idsAtOnce = 10_000

// inChunks runs fn on parts of a long list of ids.
func inChunks(ids []string, fn func([]string) error) error {
	for part := range slices.Chunk(ids, idsAtOnce) {
		if err := fn(part); err != nil {
			return err
		}
	}
	return nil
}

// convert turns rows into values, stopping at the first that cannot be read.
func convert[R, V any](rows []R, to func(R) (V, error)) ([]V, error) {
	out := make([]V, 0, len(rows))
	for _, r := range rows {
		v, err := to(r)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}
