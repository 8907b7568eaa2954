package models

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"storeyrod/defects"
)

// PostgreSQL's codes for what can go wrong with a statement (appendix A of its
// manual).
const (
	pgForeignKey    = "23503"
	pgUnique        = "23505"
	pgCheck         = "23514"
	pgSerialisation = "40001"
	pgDeadlock      = "40P01"
)

// wrap is deferred by every store method: it turns what a user caused into a
// *defects.Error and puts the operation's name before the rest.
func wrap(operation string, err *error) {
	if *err != nil {
		*err = wrapped(operation, *err)
	}
}

func wrapped(operation string, err error) error {
	if e := (*defects.Error)(nil); errors.As(err, &e) {
		return err
	}
	if e := refusal(err); e != nil {
		return e
	}
	return fmt.Errorf("%s: %w", operation, err)
}

// refusal gives the *defects.Error of a driver's error, or nil when a user can
// do nothing about it.
func refusal(err error) *defects.Error {
	e := pgRefusal(err)
	if e == nil {
		e = sqliteRefusal(err)
	}
	if e != nil {
		e.Err = err
	}
	return e
}

func pgRefusal(err error) *defects.Error {
	pg := (*pgconn.PgError)(nil)
	if !errors.As(err, &pg) {
		return nil
	}
	switch pg.Code {
	case pgUnique:
		return taken(pg.ConstraintName)
	case pgForeignKey:
		return unknownReference()
	case pgCheck:
		return badValue(pg.ConstraintName)
	}
	return nil
}

func sqliteRefusal(err error) *defects.Error {
	lite := (*sqlite.Error)(nil)
	if !errors.As(err, &lite) {
		return nil
	}
	switch lite.Code() {
	case sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY:
		return taken(sqliteConstraint(lite.Error(), "UNIQUE constraint failed: "))
	case sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return unknownReference()
	case sqlite3.SQLITE_CONSTRAINT_CHECK:
		return badValue(sqliteConstraint(lite.Error(), "CHECK constraint failed: "))
	}
	if lite.Code()&0xff == sqlite3.SQLITE_BUSY {
		return defects.Refuse(defects.Unavailable, "database_busy", "another program is writing; try again shortly")
	}
	return nil
}

// sqliteConstraint finds the constraint in SQLite's message. A CHECK is named;
// a UNIQUE one is told by its columns, "photos.site_id, photos.sha256", from
// which the name in our schema follows: photos_site_id_sha256_key.
func sqliteConstraint(message, after string) string {
	_, rest, _ := strings.Cut(message, after)
	rest, _, _ = strings.Cut(rest, " (")
	columns := strings.Split(rest, ", ")
	table, _, dotted := strings.Cut(columns[0], ".")
	if !dotted {
		return rest
	}
	for i, c := range columns {
		columns[i] = strings.TrimPrefix(c, table+".")
	}
	return table + "_" + strings.Join(columns, "_") + "_key"
}

// taken names a unique constraint as a person sees it.
func taken(constraint string) *defects.Error {
	switch constraint {
	case "accounts_login_key":
		return defects.RefuseField(defects.Conflict, "login", "login_taken", "another account has this login")
	case "sites_name_key", "buildings_site_id_name_key", "elevations_building_id_name_key", "instruments_site_id_name_key":
		return defects.RefuseField(defects.Conflict, "name", "name_taken", "this name is taken")
	case "photos_site_id_sha256_key":
		return defects.Refuse(defects.Conflict, "photo_known", "the site already has these bytes")
	case "snags_site_id_number_key":
		return defects.Refuse(defects.Conflict, "number_taken", "the snag number is taken")
	case "schedules_pkey", "schedules_site_id_name_version_key":
		return defects.RefuseField(defects.Conflict, "version", "version_taken", "this version of the schedule is there already")
	case "replies_pkey", "replies_account_id_key_key":
		return defects.Refuse(defects.Conflict, "reply_known", "the request was answered already")
	}
	return defects.Refuse(defects.Conflict, "id_taken", "the id is taken")
}

func unknownReference() *defects.Error {
	return defects.Refuse(defects.Invalid, "unknown_reference", "something it refers to does not exist on this site")
}

// badValue names the column of a CHECK: its name is table_column_check, and no
// table has an underscore in front of a checked column.
func badValue(constraint string) *defects.Error {
	_, column, _ := strings.Cut(strings.TrimSuffix(constraint, "_check"), "_")
	return defects.RefuseField(defects.Invalid, column, "bad_value", "is not one of the values it can have")
}

// retryable reports whether the whole transaction may succeed when run again.
func retryable(err error) bool {
	pg := (*pgconn.PgError)(nil)
	return errors.As(err, &pg) && (pg.Code == pgSerialisation || pg.Code == pgDeadlock) &&
		!errors.Is(err, context.Canceled)
}

func notFound(what string) *defects.Error {
	return defects.Refuse(defects.NotFound, strings.ReplaceAll(what, " ", "_")+"_not_found", "no such "+what)
}
