package register

import "context"

// Archive reads and writes whole tables, for records and backups. It knows the
// columns from the database itself, so that a new one cannot be forgotten.
type Archive interface {
	// Tables lists the tables that belong to a site, or with "" all that a
	// backup holds, in an order in which they can be filled. The log is not
	// among them: its entries are their own form.
	Tables(ctx context.Context, siteID string) ([]Table, error)
	// Rows calls each with every row of a table, of one site unless siteID is "",
	// in the order of its key. each must not use the transaction.
	Rows(ctx context.Context, t Table, siteID string, each func(Row) error) error
	// Fill inserts rows.
	Fill(ctx context.Context, t Table, rows []Row) error
	// FillLog inserts encoded entries of a site as they are, in their order.
	FillLog(ctx context.Context, siteID string, entries [][]byte) error
	// Settle stores what points from one table to a later one, when all are filled.
	Settle(ctx context.Context) error
	// Clear makes room for a backup in an instance that was never used; anything
	// else is Conflict "not_empty".
	Clear(ctx context.Context) error
	// Logs lists the ids that have a log: those of the sites, and InstanceLog.
	Logs(ctx context.Context) ([]string, error)
	// Schema is the number of the last migration.
	Schema(ctx context.Context) (int64, error)
}

// Table is a table as records hold it.
type Table struct {
	Name    string
	Columns []Column
	Site    int // which column holds the id of the site; -1 = none
}

// Column is one column of a table.
type Column struct {
	Name string
	Kind ColumnKind
	Null bool // may be NULL
}

// ColumnKind is what a column holds, the same on either database.
type ColumnKind string

// The kinds.
const (
	TextColumn  ColumnKind = "text"  // string
	WholeColumn ColumnKind = "whole" // int64
	TruthColumn ColumnKind = "truth" // int64, 0 or 1
	BytesColumn ColumnKind = "bytes" // []byte
)

// Row holds a value for each column: nil, string, int64 or []byte.
type Row []any
