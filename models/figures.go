package models

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"slices"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// kindsAtOnce bounds the verdicts fetched by one query.
const kindsAtOnce = 500

// Figures gives the oldest measured first, then by id. It reads an eighth of the
// columns, and row by row past gorm's reflection, as there are thousands of them.
// Of verdicts of the same kind only the first is fetched, and none of a reading
// that was withdrawn.
func (s readings) Figures(ctx context.Context, f register.ReadingFilter, limit int) (_ []defects.Figure, err error) {
	defer wrap("figures", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := narrowed(sqlText("SELECT id, value, measured_at, gang, verdict_kind FROM readings"), f)
	q.add(" ORDER BY measured_at, id")
	q.limit(limit)
	rows, err := s.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return nil, err
	}
	list, kinds, err := scanFigures(rows)
	if err != nil {
		return nil, err
	}
	return list, s.giveVerdicts(ctx, f.SiteID, list, kinds)
}

// scanFigures reads figures without their verdicts, and the kinds of these.
func scanFigures(rows *sql.Rows) (list []defects.Figure, kinds []int64, err error) {
	defer rows.Close()
	var (
		fig      defects.Figure
		value    string
		at, kind int64
		gangs    = map[string]string{}
		gang     sql.RawBytes
	)
	for rows.Next() {
		if err := rows.Scan(&fig.ID, &value, &at, &gang, &kind); err != nil {
			return nil, nil, err
		}
		if fig.Value, err = defects.ParseDecimal(value); err != nil {
			return nil, nil, err
		}
		known, ok := gangs[string(gang)]
		if !ok {
			known = string(gang)
			gangs[known] = known
		}
		fig.At, fig.Gang, fig.Withdrawn = instant(at), known, kind == withdrawnKind
		if len(list) == cap(list) { // twice as many: append grows by less
			list, kinds = slices.Grow(list, max(len(list), 256)), slices.Grow(kinds, max(len(list), 256))
		}
		list, kinds = append(list, fig), append(kinds, kind)
	}
	return list, kinds, rows.Err()
}

// Kinds that are no verdict's own.
const (
	unknownKind   = 0  // stored before kinds were
	withdrawnKind = -1 // its verdict counts for nothing
)

// giveVerdicts fetches the verdict of one reading of each kind, and of each
// reading whose kind is not known.
func (s readings) giveVerdicts(ctx context.Context, siteID string, list []defects.Figure, kinds []int64) error {
	first := map[int64]int{} // place in ids
	ids, at := []string{}, make([]int, len(list))
	for i, kind := range kinds {
		n, known := first[kind]
		if at[i] = n; kind == withdrawnKind || known && kind != unknownKind {
			continue
		}
		first[kind], at[i] = len(ids), len(ids)
		ids = append(ids, list[i].ID)
	}
	found := make(map[string]judged, len(ids))
	for part := range slices.Chunk(ids, kindsAtOnce) {
		if err := s.fetchVerdicts(ctx, siteID, part, found); err != nil {
			return err
		}
	}
	for i := range list {
		if kinds[i] != withdrawnKind {
			j := found[ids[at[i]]]
			list[i].Withdrawn, list[i].Verdict = j.withdrawn, j.verdict
		}
	}
	return nil
}

// judged is the verdict of a reading, and whether it still counts.
type judged struct {
	withdrawn bool
	verdict   *defects.Verdict
}

// fetchVerdicts reads verdicts by the id of their reading, without the
// conformance probability.
func (s readings) fetchVerdicts(ctx context.Context, siteID string, ids []string, to map[string]judged) error {
	q := sqlText("SELECT id, withdrawn <> '', outcome, verdict FROM readings WHERE site_id = ? AND id IN ?", siteID, ids)
	rows, err := s.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	var c columns
	for rows.Next() {
		var id, outcome, text string
		var j judged
		if err := rows.Scan(&id, &j.withdrawn, &outcome, &text); err != nil {
			return err
		}
		v := c.verdict(outcome, text)
		v.PConform, j.verdict = nil, &v
		to[id] = j
	}
	return errors.Join(c.err, rows.Err())
}

// verdictKind is a number above 0 that verdicts share which differ in nothing but
// the conformance probability. It is cut from a digest that nobody can steer.
func verdictKind(outcome, text string) int64 {
	before, after := aroundProbability(text)
	sum := sha256.Sum256([]byte(outcome + before + after))
	return max(1, int64(binary.BigEndian.Uint64(sum[:])>>1))
}

// aroundProbability is a stored verdict without the probability's figure. A
// quotation mark within a text of it is escaped, so the name stands there once.
func aroundProbability(text string) (before, after string) {
	before, after, found := strings.Cut(text, `"p_conform":`)
	if !found {
		return text, ""
	}
	if end := strings.IndexAny(after, ",}"); end >= 0 {
		return before, after[end:]
	}
	return text, ""
}
