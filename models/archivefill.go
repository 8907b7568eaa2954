package models

import (
	"context"
	"slices"
	"strings"

	"storeyrod/defects/register"
)

// valuesAtOnce bounds the arguments of one INSERT, below the limits of both
// databases.
const valuesAtOnce = 10_000

func (a archive) Fill(ctx context.Context, t register.Table, rows []register.Row) (err error) {
	defer wrap("fill "+t.Name, &err)
	one, err := archivedTable(t.Name)
	if err != nil {
		return err
	}
	for part := range slices.Chunk(rows, max(1, valuesAtOnce/len(t.Columns))) {
		if _, err := exec(ctx, a.tx, a.insertRows(one, t, part)); err != nil {
			return err
		}
	}
	return nil
}

func (a archive) insertRows(one archived, t register.Table, rows []register.Row) *query {
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	marks := "?" + strings.Repeat(", ?", len(names)-1) + ")"
	q := sqlText("INSERT INTO " + t.Name + " (" + strings.Join(names, ", ") + ") VALUES ")
	for n, row := range rows {
		if n > 0 {
			q.add(", ")
		}
		values := make([]any, len(row))
		for i, c := range t.Columns {
			values[i] = row[i]
			if truth, ok := row[i].(int64); ok && c.Kind == register.TruthColumn {
				values[i] = truth != 0
			}
			if row[i] != nil && slices.Contains(one.later, c.Name) {
				values[i] = nil
				a.later = append(a.later, sqlText("UPDATE "+t.Name+" SET "+c.Name+" = ? WHERE "+one.key[0]+" = ?",
					row[i], row[slices.Index(names, one.key[0])]))
			}
		}
		q.add("("+marks, values...)
	}
	return q
}

func (a archive) Settle(ctx context.Context) (err error) {
	defer wrap("settle", &err)
	for _, q := range a.later {
		if _, err := exec(ctx, a.tx, q); err != nil {
			return err
		}
	}
	a.later = nil
	return nil
}
