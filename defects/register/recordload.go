package register

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// load fills the tables and the log from a record and holds them to each other.
// What is wrong goes into the sum; then the error is errRefused and the
// transaction must end. It starts afresh each time it is run.
func (r *Register) load(ctx context.Context, tx Tx, a Actor, rec *recordReader) error {
	rec.sum = RecordSum{SiteID: rec.about.Site, SiteName: rec.about.Name, Missing: len(rec.about.Missing)}
	rec.given = map[string]int64{}
	for _, step := range []func(context.Context, Tx, Actor, *recordReader) error{
		r.makeRoom, r.loadPeople, r.loadTables, r.loadLogs, r.checkLoaded,
	} {
		if err := step(ctx, tx, a, rec); err != nil {
			return err
		}
		if rec.refused() {
			return errRefused
		}
	}
	return r.noteLoaded(ctx, tx, a, rec)
}

// makeRoom refuses what is here already.
func (r *Register) makeRoom(ctx context.Context, tx Tx, _ Actor, rec *recordReader) error {
	schema, err := tx.Archive().Schema(ctx)
	if err != nil {
		return err
	}
	if schema != rec.about.Schema {
		return rec.wrong(aboutName, defects.Refuse(defects.Conflict, "other_schema", fmt.Sprintf(
			"was written at step %d of the database and this program is at step %d: take it in with the program that wrote it, then migrate", rec.about.Schema, schema)))
	}
	if rec.about.Scope == scopeInstance {
		return tx.Archive().Clear(ctx)
	}
	switch _, err := tx.Sites().Site(ctx, rec.about.Site); {
	case err == nil:
		return rec.wrong(aboutName, defects.Refuse(defects.Conflict, "site_known", "this instance has the site "+shorten(rec.about.Site, 80)+" already"))
	case !notFound(err):
		return err
	}
	return nil
}

// loadPeople gives those an account who have none here.
func (r *Register) loadPeople(ctx context.Context, tx Tx, a Actor, rec *recordReader) error {
	if rec.about.Scope != scopeSite {
		return nil
	}
	return rec.rows(peopleName, peopleTable(), func(rows []Row) error {
		for _, row := range rows {
			acc := defects.Account{Disabled: true, Version: 1}
			acc.ID, _ = row[0].(string)
			acc.Login, _ = row[1].(string)
			acc.Name, _ = row[2].(string)
			created, _ := row[3].(int64)
			acc.CreatedAt = time.UnixMicro(created).UTC()
			if err := r.loadPerson(ctx, tx, a, acc); err != nil {
				return err
			}
		}
		return nil
	})
}

func (r *Register) loadPerson(ctx context.Context, tx Tx, a Actor, acc defects.Account) error {
	_, err := tx.People().Account(ctx, acc.ID)
	if err == nil || !notFound(err) {
		return err
	}
	if login, err := cleanLogin(acc.Login); err != nil || login != acc.Login || acc.ID == "" || acc.ID == SystemID {
		return badRow("bad_value", "names somebody who can have no account: "+shorten(acc.Login, 80))
	}
	err = r.insertAccount(ctx, tx, a, acc)
	if errors.Is(err, defects.Conflict) {
		return badRow("login_taken", "somebody else has the login "+acc.Login+" here; rename that account first")
	}
	return err
}

func (r *Register) loadTables(ctx context.Context, tx Tx, _ Actor, rec *recordReader) error {
	tables, err := tx.Archive().Tables(ctx, rec.about.Site)
	if err != nil {
		return err
	}
	known := map[string]bool{}
	for _, t := range tables {
		known[tablePath(t.Name)] = true
		n := 0
		err := rec.rows(tablePath(t.Name), t, func(rows []Row) error {
			n += len(rows)
			if err := rec.ofSite(t, rows); err != nil {
				return err
			}
			if err := rec.numbers(t, rows); err != nil {
				return err
			}
			return tx.Archive().Fill(ctx, t, rows)
		})
		if err != nil {
			return err
		}
		if one := t.Name == "sites" || t.Name == "counters"; one && n != 1 && rec.about.Scope == scopeSite {
			_ = rec.wrong(tablePath(t.Name), badRow("bad_row", fmt.Sprintf("holds %d rows; a site has one", n)))
		}
		if rec.refused() {
			return nil // the tables after it point here
		}
	}
	for _, name := range rec.from.Names() {
		if strings.HasPrefix(name, "tables/") && !known[name] {
			_ = rec.wrong(name, badRow("unknown_file", "is no table that this record can hold"))
		}
	}
	return rec.wrongOrNil("tables", tx.Archive().Settle(ctx))
}

// ofSite refuses rows that would go to another site.
func (rec *recordReader) ofSite(t Table, rows []Row) error {
	if rec.about.Scope != scopeSite {
		return nil
	}
	for _, row := range rows {
		if t.Site < 0 || row[t.Site] != rec.about.Site {
			return badRow("other_site", "holds a row of another site")
		}
	}
	return nil
}

// numbers refuses a count of snags that would give a number twice. The counters
// are read before the snags.
func (rec *recordReader) numbers(t Table, rows []Row) error {
	if t.Name != "counters" && t.Name != "snags" {
		return nil
	}
	column := func(name string) int {
		return slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == name })
	}
	for _, row := range rows {
		site, _ := row[t.Site].(string)
		if t.Name == "counters" {
			rec.given[site], _ = row[column("snag_number")].(int64)
			continue
		}
		if n, _ := row[column("number")].(int64); n > rec.given[site] {
			return badRow("bad_value", fmt.Sprintf("holds snag %d; only %d numbers were given", n, rec.given[site]))
		}
	}
	return nil
}

func (rec *recordReader) wrongOrNil(file string, err error) error {
	if err == nil {
		return nil
	}
	return rec.wrong(file, err)
}

// rows reads a file of rows and gives them on in parts. What is wrong with the
// file or with what it holds is noted.
func (rec *recordReader) rows(name string, t Table, each func([]Row) error) error {
	var rows []Row
	size := 0
	flush := func() error {
		part := rows
		rows, size = nil, 0
		if len(part) == 0 {
			return nil
		}
		return each(part)
	}
	err := rec.lines(name, func(n int, line []byte) error {
		row, err := decodeRow(line, t)
		if err != nil {
			return atLine(n, err)
		}
		rows, size = append(rows, row), size+len(line)
		if len(rows) == rowsAtOnce || size > bytesAtOnce {
			return flush()
		}
		return nil
	})
	if err == nil {
		err = flush()
	}
	return rec.wrongOrNil(name, err)
}

// atLine adds the number of a line to its refusal.
func atLine(n int, err error) error {
	var refusal *defects.Error
	if errors.As(err, &refusal) {
		return badRow(refusal.CodeOrKind(), fmt.Sprintf("line %d %s", n, refusal.Text))
	}
	return err
}

func (rec *recordReader) lines(name string, each func(int, []byte) error) error {
	file, err := rec.from.Open(name)
	if errors.Is(err, evidence.ErrNotFound) {
		return badRow("missing_file", "is missing")
	}
	if err != nil {
		return err
	}
	err = eachLine(file, each)
	if err == nil {
		_, err = io.Copy(io.Discard, file) // to its end, where the hash is held against the list
	}
	return errors.Join(err, file.Close())
}

// loadLogs stores the entries as they are.
func (r *Register) loadLogs(ctx context.Context, tx Tx, _ Actor, rec *recordReader) error {
	logs := []string{rec.about.Site}
	if rec.about.Scope == scopeInstance {
		var err error
		if logs, err = tx.Archive().Logs(ctx); err != nil {
			return err
		}
	}
	known := map[string]bool{}
	for _, id := range logs {
		name := rec.about.sitePath(id) + logName
		known[name] = true
		var part [][]byte
		flush := func() error {
			rec.sum.Entries += int64(len(part))
			filled := part
			part = nil
			return tx.Archive().FillLog(ctx, id, filled)
		}
		err := rec.lines(name, func(n int, line []byte) error {
			if err := rec.entry(id, int64(n), line); err != nil {
				return err
			}
			part = append(part, slices.Clone(line))
			if len(part) == entriesAtOnce {
				return flush()
			}
			return nil
		})
		if err == nil {
			err = flush()
		}
		if err := rec.wrongOrNil(name, err); err != nil {
			return err
		}
		if id != InstanceLog {
			rec.sum.Sites++
		}
	}
	for _, name := range rec.from.Names() {
		if strings.HasSuffix(name, logName) && !known[name] {
			_ = rec.wrong(name, badRow("unknown_file", "is the log of no site of this record"))
		}
	}
	return nil
}

// entry refuses a line that is not the entry of its number in the log of a site.
func (rec *recordReader) entry(siteID string, n int64, line []byte) error {
	e, err := evidence.Decode(line)
	switch {
	case err != nil:
		return badRow("bad_entry", fmt.Sprintf("line %d: %s", n, err))
	case e.Site != siteID:
		return badRow("other_site", fmt.Sprintf("line %d is an entry of another log", n))
	case e.Seq != n:
		return badRow("bad_entry", fmt.Sprintf("line %d is entry %d; one is missing, too many or out of order", n, e.Seq))
	}
	return nil
}

// checkLoaded holds the rows to the log, and the originals to the photos, whose
// view copies are to be made here.
func (r *Register) checkLoaded(ctx context.Context, tx Tx, a Actor, rec *recordReader) error {
	logs, err := tx.Archive().Logs(ctx)
	if err != nil {
		return err
	}
	used := map[string]bool{}
	for _, id := range logs {
		if id == InstanceLog || rec.about.Scope == scopeSite && id != rec.about.Site {
			continue
		}
		mismatches, err := replayLog(ctx, tx, id)
		if err != nil {
			return err
		}
		for _, m := range mismatches {
			rec.sum.Faults = append(rec.sum.Faults, m.fault(rec.about.sitePath(id)))
		}
		err = allPhotos(ctx, tx, id, func(p defects.Photo) error {
			rec.original(p)
			used[p.SHA256] = true
			return r.enqueue(ctx, tx, a, id, p.ID)
		})
		if err != nil {
			return err
		}
	}
	for sha, name := range rec.originals {
		if !used[sha] {
			_ = rec.wrong(name, badRow("extra_file", "is the original of no photo"))
		}
	}
	return nil
}

// original holds the original of a photo to its row.
func (rec *recordReader) original(p defects.Photo) {
	name, there := rec.originals[p.SHA256]
	switch {
	case !evidence.Ref(p.SHA256).Valid():
		_ = rec.wrong(tablePath("photos"), badRow("bad_value", "photo "+p.ID+" names no original"))
	case !there && !slices.Contains(rec.about.Missing, p.SHA256):
		_ = rec.wrong(originalPath(p.SHA256, endingOf(p.Capture.Type)), badRow("missing_file", "is the original of photo "+p.ID+" and not there"))
	case there && rec.from.Size(name) != p.Size:
		_ = rec.wrong(name, badRow("not_as_logged", fmt.Sprintf("has %d bytes; photo %s has %d", rec.from.Size(name), p.ID, p.Size)))
	}
}

// noteLoaded writes into the log of the instance what was taken in.
func (r *Register) noteLoaded(ctx context.Context, tx Tx, a Actor, rec *recordReader) error {
	kind, typ, id := "site.import", "site", rec.about.Site
	if rec.about.Scope == scopeInstance {
		kind, typ, id = "instance.restore", "instance", InstanceLog
	}
	return r.noteInstance(ctx, tx, a, change{kind: kind, typ: typ, id: id, data: struct {
		Name    string   `json:"name,omitempty"`
		Entries int64    `json:"entries"`
		Missing []string `json:"missing,omitempty"`
		Faults  int      `json:"faults,omitempty"`
	}{rec.about.Name, rec.sum.Entries, rec.about.Missing[:min(len(rec.about.Missing), 500)], len(rec.sum.Faults)}})
}
