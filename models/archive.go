package models

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

// archived says how records hold a table.
type archived struct {
	name string
	key  []string // primary key, by which rows are sorted
	site string   // column with the id of the site; "" = belongs to no site
	only string   // condition on the rows that a backup holds; "" = all
	// remade are columns that tell of what no record holds, with what is stored in
	// their place: as for a photo whose copies are still to be made, and for a site
	// without unfinished uploads.
	remade map[string]string
	// later are columns that point to a table further down. They are filled when
	// that one is there.
	later []string
}

// rank puts the columns of the key first and that of the site after them: the
// two schemas do not agree in where these stand.
func (a archived) rank(column string) int {
	if i := slices.Index(a.key, column); i >= 0 {
		return i
	}
	if column == a.site {
		return len(a.key)
	}
	return len(a.key) + 1
}

// archivedTables are the tables of records and backups, each after those it
// points to. A test holds the list to the schema.
func archivedTables() []archived {
	id := []string{"id"}
	return []archived{
		{name: "accounts", key: id},
		// A session or a link of yesterday must not come to life again.
		{name: "keys", key: id, only: "kind = 'token'"},
		{name: "sites", key: id, site: "id"},
		{name: "counters", key: id, site: "site_id"},
		{name: "memberships", key: []string{"site_id", "account_id"}, site: "site_id"},
		{name: "buildings", key: id, site: "site_id"},
		{name: "elevations", key: id, site: "site_id"},
		{name: "milestones", key: id, site: "site_id"},
		{name: "instruments", key: id, site: "site_id"},
		{name: "schedules", key: []string{"site_id", "name", "version"}, site: "site_id"},
		{name: "photos", key: id, site: "site_id", remade: map[string]string{
			"derived": "''", "likeness": "NULL", "copies_at": "received_at",
			"copies_seq": "ROW_NUMBER() OVER (PARTITION BY site_id ORDER BY received_at, id)",
		}},
		{name: "storage", key: []string{"site_id"}, site: "site_id", remade: map[string]string{"reserved_bytes": "0"}},
		{name: "sets", key: id, site: "site_id"},
		{name: "snags", key: id, site: "site_id", later: []string{"reading_id", "offer_reading_id"}},
		{name: "readings", key: id, site: "site_id"},
		{name: "reading_photos", key: []string{"reading_id", "photo_id"}, site: "site_id"},
		{name: "snag_photos", key: []string{"snag_id", "photo_id"}, site: "site_id"},
		{name: "releases", key: id, site: "site_id"},
		{name: "rejudgements", key: id, site: "site_id"},
		{name: "surveys", key: id, site: "site_id"},
		{name: "weather", key: id, site: "site_id"},
		{name: "replies", key: []string{"account_id", "key"}},
	}
}

// transient are the tables that no record holds: what is in them is worthless
// elsewhere or later. The log is held in a form of its own.
func transient() []string {
	return []string{"log", "goose_db_version", "sqlite_sequence", "jobs", "uploads"}
}

func archivedTable(name string) (archived, error) {
	for _, a := range archivedTables() {
		if a.name == name {
			return a, nil
		}
	}
	return archived{}, fmt.Errorf("no record holds the table %q", name)
}

// archive implements register.Archive.
type archive struct{ *tx }

func (a archive) Tables(ctx context.Context, siteID string) (_ []register.Table, err error) {
	defer wrap("tables", &err)
	var out []register.Table
	for _, one := range archivedTables() {
		if siteID != "" && one.site == "" {
			continue
		}
		t := register.Table{Name: one.name}
		if t.Columns, err = a.columns(ctx, one.name); err != nil {
			return nil, err
		}
		slices.SortStableFunc(t.Columns, func(a, b register.Column) int { return one.rank(a.Name) - one.rank(b.Name) })
		t.Site = slices.IndexFunc(t.Columns, func(c register.Column) bool { return c.Name == one.site })
		out = append(out, t)
	}
	return out, nil
}

// columns asks the database for the columns of a table, in their order.
func (a archive) columns(ctx context.Context, table string) (_ []register.Column, err error) {
	text := `SELECT name, type, "notnull" = 0 FROM pragma_table_info(?) ORDER BY cid`
	if a.store.pg {
		text = `SELECT column_name, data_type, is_nullable = 'YES' FROM information_schema.columns
			WHERE table_schema = current_schema() AND table_name = ? ORDER BY ordinal_position`
	}
	rows, err := a.db.WithContext(ctx).Raw(text, table).Rows()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var out []register.Column
	for rows.Next() {
		var c register.Column
		var kind string
		if err := rows.Scan(&c.Name, &kind, &c.Null); err != nil {
			return nil, err
		}
		if c.Kind, err = columnKind(kind); err != nil {
			return nil, fmt.Errorf("column %s.%s: %w", table, c.Name, err)
		}
		out = append(out, c)
	}
	return out, rows.Err()
}

// columnKind reads the type of a column as either database names it. SQLite
// has no truth values of its own, and both hold them as 0 and 1 in a record.
func columnKind(name string) (register.ColumnKind, error) {
	switch strings.ToLower(name) {
	case "text":
		return register.TextColumn, nil
	case "integer", "bigint":
		return register.WholeColumn, nil
	case "boolean":
		return register.TruthColumn, nil
	case "blob", "bytea":
		return register.BytesColumn, nil
	}
	return "", fmt.Errorf("type %q is held by no record", name)
}

func (a archive) Rows(ctx context.Context, t register.Table, siteID string, each func(register.Row) error) (err error) {
	defer wrap("rows of "+t.Name, &err)
	one, err := archivedTable(t.Name)
	if err != nil {
		return err
	}
	picked := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		picked[i] = c.Name
		if constant, ok := one.remade[c.Name]; ok {
			picked[i] = constant
		}
	}
	q := sqlText("SELECT " + strings.Join(picked, ", ") + " FROM " + t.Name + " WHERE 1 = 1")
	if siteID != "" {
		q.and(one.site+" = ?", siteID)
	}
	if one.only != "" {
		q.and(one.only)
	}
	q.add(" ORDER BY " + strings.Join(one.key, ", "))
	rows, err := a.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		row, err := scanRow(rows, t.Columns)
		if err == nil {
			err = each(row)
		}
		if err != nil {
			return err
		}
	}
	return rows.Err()
}

func scanRow(rows *sql.Rows, columns []register.Column) (register.Row, error) {
	row := make(register.Row, len(columns))
	into := make([]any, len(columns))
	for i := range row {
		into[i] = &row[i]
	}
	if err := rows.Scan(into...); err != nil {
		return nil, err
	}
	for i, c := range columns {
		switch v := row[i].(type) {
		case bool:
			row[i] = int64(0)
			if v {
				row[i] = int64(1)
			}
		case []byte:
			if c.Kind == register.TextColumn {
				row[i] = string(v)
			}
		case nil, int64, string:
		default:
			return nil, fmt.Errorf("column %s holds a %T: %w", c.Name, v, errStored)
		}
	}
	return row, nil
}

func (a archive) Logs(ctx context.Context) (_ []string, err error) {
	defer wrap("logs", &err)
	rows, err := list[counterRow](ctx, a.tx, sqlText("SELECT id FROM counters ORDER BY id"))
	ids := make([]string, len(rows))
	for i, r := range rows {
		ids[i] = r.ID
	}
	return ids, err
}

func (a archive) Schema(ctx context.Context) (number int64, err error) {
	defer wrap("schema", &err)
	err = a.db.WithContext(ctx).Raw("SELECT MAX(version_id) FROM goose_db_version").Row().Scan(&number)
	return number, err
}

func (a archive) Clear(ctx context.Context) (err error) {
	defer wrap("clear", &err)
	names := []string{"log"}
	for _, one := range archivedTables() {
		names = append(names, one.name)
	}
	for _, name := range names {
		where := ""
		if name == "counters" {
			where = " WHERE id <> 'instance' OR log_seq <> 0"
		}
		var n int64
		if err := a.db.WithContext(ctx).Raw("SELECT COUNT(*) FROM " + name + where).Row().Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			return defects.Refuse(defects.Conflict, "not_empty", "the database is in use ("+name+" holds something); a backup goes into a new one only")
		}
	}
	_, err = exec(ctx, a.tx, sqlText("DELETE FROM counters"))
	return err
}

func (a archive) FillLog(ctx context.Context, siteID string, entries [][]byte) (err error) {
	defer wrap("fill log", &err)
	for _, text := range entries {
		e, err := evidence.Decode(text)
		if err != nil {
			return err
		}
		if e.Site != siteID {
			return fmt.Errorf("entry %d belongs to the log of %s, not of %s", e.Seq, e.Site, siteID)
		}
		if err := insert(ctx, a.tx, toLogRow(e, text)); err != nil {
			return err
		}
	}
	return nil
}
