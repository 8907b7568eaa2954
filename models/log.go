package models

import (
	"context"

	"storeyrod/defects/register"
	"storeyrod/evidence"
)

type logRow struct {
	SiteID        string `gorm:"primaryKey"`
	Seq           int64  `gorm:"primaryKey;autoIncrement:false"`
	At            int64
	Kind          string
	SubjectType   string
	SubjectID     string
	SubjectNumber int
	ActorID       string
	Entry         []byte
}

func (logRow) TableName() string { return "log" }

// toLogRow makes the row of an entry: all columns but the entry itself are read
// from it, for searching.
func toLogRow(e evidence.Entry, encoded []byte) logRow {
	return logRow{
		SiteID: e.Site, Seq: e.Seq, At: micros(e.At), Kind: e.Kind, SubjectType: e.Subject.Type,
		SubjectID: e.Subject.ID, SubjectNumber: e.Subject.Number, ActorID: e.Actor.ID, Entry: encoded,
	}
}

// chronicle implements register.Log.
type chronicle struct{ *tx }

// Append encodes before it changes anything, so that an entry that cannot be
// encoded leaves no gap. The counter row is locked until the transaction ends:
// numbers are given in the order of commits, and none is lost by a rollback.
func (c chronicle) Append(ctx context.Context, e evidence.Entry) (_ int64, err error) {
	defer wrap("append to log", &err)
	counter, err := one[counterRow](ctx, c.tx, "site",
		sqlText("SELECT id, log_seq FROM counters WHERE id = ?"+c.lockRow(), e.Site))
	if err != nil {
		return 0, err
	}
	e.Seq = counter.LogSeq + 1
	text, err := evidence.Encode(e)
	if err != nil {
		return 0, err
	}
	if err := insert(ctx, c.tx, toLogRow(e, text)); err != nil {
		return 0, err
	}
	_, err = exec(ctx, c.tx, sqlText("UPDATE counters SET log_seq = ? WHERE id = ?", e.Seq, e.Site))
	return e.Seq, err
}

func (c chronicle) Entries(ctx context.Context, siteID string, from int64, limit int) (_ [][]byte, err error) {
	defer wrap("log entries", &err)
	q := sqlText("SELECT entry FROM log WHERE site_id = ? AND seq >= ? ORDER BY seq", siteID, from)
	q.limit(limit)
	return c.texts(ctx, q)
}

func (c chronicle) EntriesOf(ctx context.Context, siteID, subjectType, subjectID string) (_ [][]byte, err error) {
	defer wrap("log entries of subject", &err)
	return c.texts(ctx, sqlText(`SELECT entry FROM log WHERE site_id = ? AND subject_type = ? AND subject_id = ?
		ORDER BY seq`, siteID, subjectType, subjectID))
}

func (c chronicle) Search(ctx context.Context, f register.LogFilter, limit int) (_ [][]byte, err error) {
	defer wrap("search log", &err)
	q := sqlText("SELECT entry FROM log WHERE site_id = ?", f.SiteID)
	if f.From > 0 {
		q.and("seq >= ?", f.From)
	}
	if f.Before > 0 {
		q.and("seq < ?", f.Before)
	}
	if !f.Since.IsZero() {
		q.and("at >= ?", micros(f.Since))
	}
	if !f.Until.IsZero() {
		q.and("at < ?", micros(f.Until))
	}
	q.andEqual("actor_id", f.ByID)
	q.andEqual("kind", f.Kind)
	q.andEqual("subject_type", f.SubjectType)
	if f.Number > 0 {
		q.and("subject_number = ?", f.Number)
	}
	if f.Oldest {
		q.add(" ORDER BY seq")
	} else {
		q.add(" ORDER BY seq DESC")
	}
	q.limit(limit)
	return c.texts(ctx, q)
}

func (c chronicle) Head(ctx context.Context, siteID string) (_ int64, err error) {
	defer wrap("log head", &err)
	counter, err := one[counterRow](ctx, c.tx, "site", sqlText("SELECT id, log_seq FROM counters WHERE id = ?", siteID))
	return counter.LogSeq, err
}

func (c chronicle) texts(ctx context.Context, q *query) ([][]byte, error) {
	rows, err := list[logRow](ctx, c.tx, q)
	if err != nil {
		return nil, err
	}
	out := make([][]byte, len(rows))
	for i, r := range rows {
		out[i] = r.Entry
	}
	return out, nil
}
