package models

import (
	"bytes"
	"context"
	"database/sql"
	"slices"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Figures gives the oldest measured first, then by id. It reads a sixth of the
// columns, and row by row past gorm's reflection, as there are thousands of them.
func (s readings) Figures(ctx context.Context, f register.ReadingFilter, limit int) (_ []defects.Figure, err error) {
	defer wrap("figures", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := narrowed(sqlText("SELECT id, value, measured_at, gang, withdrawn <> '', outcome || verdict FROM readings"), f)
	q.add(" ORDER BY measured_at, id")
	q.limit(limit)
	rows, err := s.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []defects.Figure
	known := verdictKinds{seen: map[string]*defects.Verdict{}}
	var (
		fig     defects.Figure
		value   string
		at      int64
		verdict sql.RawBytes
	)
	for rows.Next() {
		if err := rows.Scan(&fig.ID, &value, &at, &fig.Gang, &fig.Withdrawn, &verdict); err != nil {
			return nil, err
		}
		if fig.Value, err = defects.ParseDecimal(value); err != nil {
			return nil, err
		}
		if fig.Verdict, err = known.of(verdict); err != nil {
			return nil, err
		}
		fig.At = instant(at)
		if len(list) == cap(list) {
			list = slices.Grow(list, max(len(list), 256)) // twice as many: append grows by less
		}
		list = append(list, fig)
	}
	return list, rows.Err()
}

// verdictKinds are verdicts that were read before, without the conformance
// probability. The verdicts of many readings are mostly alike but for it, so
// that each kind is decoded once.
type verdictKinds struct {
	seen map[string]*defects.Verdict
	key  []byte
}

// of reads an outcome with the verdict's other parts, which are "" or begin with
// a brace, behind it.
func (k *verdictKinds) of(text []byte) (*defects.Verdict, error) {
	before, after := aroundProbability(text)
	k.key = append(append(k.key[:0], before...), after...)
	if v := k.seen[string(k.key)]; v != nil {
		return v, nil
	}
	brace := bytes.IndexByte(text, '{')
	if brace < 0 {
		brace = len(text)
	}
	var c columns
	v := c.verdict(string(text[:brace]), string(text[brace:]))
	v.PConform = nil
	k.seen[string(k.key)] = &v
	return &v, c.err
}

// aroundProbability is a stored verdict without the probability's figure. A
// quotation mark within a text of it is escaped, so the name stands there once.
func aroundProbability(text []byte) (before, after []byte) {
	before, after, found := bytes.Cut(text, []byte(`"p_conform":`))
	if !found {
		return text, nil
	}
	if end := bytes.IndexAny(after, ",}"); end >= 0 {
		return before, after[end:]
	}
	return text, nil
}
