package models

import (
	"context"

	"storeyrod/defects"
)

type setRow struct {
	ID         string `gorm:"primaryKey"`
	SiteID     string
	Quantity   string
	Name       string
	Place      placeRow `gorm:"embedded"`
	Substrate  string
	Stage      string
	Readings   int
	Stated     string
	Outcome    string
	Verdict    string
	Result     *string
	ResultText string
	Version    int
}

func (setRow) TableName() string { return "sets" }

func toSetRow(s defects.Set) (setRow, error) {
	var c columns
	r := setRow{
		ID: s.ID, SiteID: s.SiteID, Quantity: s.Quantity, Name: s.Name, Place: toPlaceRow(s.Place),
		Substrate: s.Substrate, Stage: s.Stage, Readings: s.Readings, Stated: c.toStatement(s.Stated), Outcome: string(s.Verdict.Outcome),
		Verdict: c.toVerdict(s.Verdict), Result: optDecimal(s.Result), ResultText: s.ResultText, Version: s.Version + 1,
	}
	return r, c.err
}

func (r setRow) set() (defects.Set, error) {
	var c columns
	return defects.Set{
		ID: r.ID, SiteID: r.SiteID, Quantity: r.Quantity, Name: r.Name, Place: r.Place.place(), Substrate: r.Substrate,
		Stage: r.Stage, Readings: r.Readings, Stated: c.statement(r.Stated), Verdict: c.verdict(r.Outcome, r.Verdict), Result: c.decimal(r.Result),
		ResultText: r.ResultText, Version: r.Version,
	}, c.err
}

func (s readings) SaveSet(ctx context.Context, set defects.Set) (err error) {
	defer wrap("save set", &err)
	if err := s.enter(ctx, set.SiteID); err != nil {
		return err
	}
	r, err := toSetRow(set)
	if err != nil {
		return err
	}
	if set.Version == 0 {
		return insert(ctx, s.tx, r)
	}
	return change(ctx, s.tx, "set", set.SiteID, set.ID, set.Version, r, "site_id")
}

func (s readings) Set(ctx context.Context, siteID, id string) (_ defects.Set, err error) {
	defer wrap("set", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Set{}, err
	}
	q := from[setRow](s.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[setRow](ctx, s.tx, "set", q)
	if err != nil {
		return defects.Set{}, err
	}
	return r.set()
}

func (s readings) Sets(ctx context.Context, siteID string) (_ []defects.Set, err error) {
	defer wrap("sets", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[setRow](s.tx)
	q.add(" WHERE site_id = ? ORDER BY name, id", siteID)
	rows, err := list[setRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, setRow.set)
}
