package models

import (
	"context"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// figureRow are the columns that statistics need: a tenth of a reading's.
type figureRow struct {
	ID         string
	Value      string
	MeasuredAt int64
	Gang       string
	Withdrawn  bool
	Outcome    string
	Verdict    string
}

func (figureRow) TableName() string { return "readings" }

// Figures gives the oldest measured first, then by id.
func (s readings) Figures(ctx context.Context, f register.ReadingFilter, limit int) (_ []defects.Figure, err error) {
	defer wrap("figures", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := narrowed(sqlText("SELECT id, value, measured_at, gang, withdrawn <> '' AS withdrawn, outcome, verdict FROM readings"), f)
	q.add(" ORDER BY measured_at, id")
	q.limit(limit)
	rows, err := list[figureRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	known := verdictKinds{}
	return convert(rows, func(r figureRow) (defects.Figure, error) {
		var c columns
		fig := defects.Figure{
			ID: r.ID, Value: c.number(r.Value), At: instant(r.MeasuredAt), Gang: r.Gang, Withdrawn: r.Withdrawn,
			Verdict: known.of(&c, r.Outcome, r.Verdict),
		}
		return fig, c.err
	})
}

// verdictKinds are verdicts that were read before, without the conformance
// probability. The verdicts of many readings are mostly alike but for it, so
// that each kind is decoded once.
type verdictKinds map[string]*defects.Verdict

func (k verdictKinds) of(c *columns, outcome, text string) *defects.Verdict {
	key := outcome + withoutProbability(text)
	if v := k[key]; v != nil {
		return v
	}
	v := c.verdict(outcome, text)
	v.PConform = nil
	k[key] = &v
	return &v
}

// withoutProbability cuts the probability's figure out of a stored verdict. A
// quotation mark within a text of it is escaped, so the name stands there once.
func withoutProbability(text string) string {
	before, after, found := strings.Cut(text, `"p_conform":`)
	if !found {
		return text
	}
	_, after, found = strings.Cut(after, ",")
	if !found {
		return text
	}
	return before + after
}
