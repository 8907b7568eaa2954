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
// Of verdicts of the same kind only the first is fetched.
func (s readings) Figures(ctx context.Context, f register.ReadingFilter, limit int) (_ []defects.Figure, err error) {
	defer wrap("figures", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := narrowed(sqlText("SELECT id, value, measured_at, gang, withdrawn <> '', verdict_kind FROM readings"), f)
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
		if err := rows.Scan(&fig.ID, &value, &at, &gang, &fig.Withdrawn, &kind); err != nil {
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
		fig.At, fig.Gang = instant(at), known
		if len(list) == cap(list) { // twice as many: append grows by less
			list, kinds = slices.Grow(list, max(len(list), 256)), slices.Grow(kinds, max(len(list), 256))
		}
		list, kinds = append(list, fig), append(kinds, kind)
	}
	return list, kinds, rows.Err()
}

// giveVerdicts fetches the verdict of one reading of each kind, and of each
// reading whose kind is not known.
func (s readings) giveVerdicts(ctx context.Context, siteID string, list []defects.Figure, kinds []int64) error {
	first := map[int64]int{} // place in ids
	ids, at := []string{}, make([]int, len(list))
	for i, kind := range kinds {
		n, known := first[kind]
		if !known || kind == 0 {
			n, ids = len(ids), append(ids, list[i].ID)
			first[kind] = n
		}
		at[i] = n
	}
	verdicts := make(map[string]*defects.Verdict, len(ids))
	seen := map[string]*defects.Verdict{}
	for part := range slices.Chunk(ids, kindsAtOnce) {
		if err := s.fetchVerdicts(ctx, siteID, part, verdicts, seen); err != nil {
			return err
		}
	}
	for i := range list {
		list[i].Verdict = verdicts[ids[at[i]]]
	}
	return nil
}

// fetchVerdicts reads verdicts by the id of their reading, without the
// conformance probability. Those that are seen again share one.
func (s readings) fetchVerdicts(ctx context.Context, siteID string, ids []string, to, seen map[string]*defects.Verdict) error {
	q := sqlText("SELECT id, outcome, verdict FROM readings WHERE site_id = ? AND id IN ?", siteID, ids)
	rows, err := s.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	var c columns
	for rows.Next() {
		var id, outcome, text string
		if err := rows.Scan(&id, &outcome, &text); err != nil {
			return err
		}
		before, after := aroundProbability(text)
		key := outcome + before + after
		if seen[key] == nil {
			v := c.verdict(outcome, text)
			v.PConform = nil
			seen[key] = &v
		}
		to[id] = seen[key]
	}
	return errors.Join(c.err, rows.Err())
}

// verdictKind is a number that verdicts share which differ in nothing but the
// conformance probability; never 0. It is cut from a digest that nobody can
// steer.
func verdictKind(outcome, text string) int64 {
	before, after := aroundProbability(text)
	sum := sha256.Sum256([]byte(outcome + before + after))
	kind := int64(binary.BigEndian.Uint64(sum[:]))
	if kind == 0 {
		return 1
	}
	return kind
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
