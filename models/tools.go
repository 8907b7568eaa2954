package models

import (
	"context"

	"storeyrod/defects"
)

type instrumentRow struct {
	ID            string `gorm:"primaryKey"`
	SiteID        string
	Name          string
	Kind          string
	Serial        string
	Resolution    *string
	Unit          string
	Expanded      *string
	Repeatability *string
	Repeats       int
	Calibrations  string
	Version       int
}

func (instrumentRow) TableName() string { return "instruments" }

type calibrationJSON struct {
	Certificate string  `json:"certificate"`
	On          string  `json:"on"`
	Due         string  `json:"due"`
	Expanded    *string `json:"expanded,omitempty"`
	K           *string `json:"k,omitempty"`
}

func toInstrumentRow(i defects.Instrument, version int) (instrumentRow, error) {
	var c columns
	cals := make([]calibrationJSON, len(i.Calibrations))
	for n, k := range i.Calibrations {
		cals[n] = calibrationJSON{Certificate: k.Certificate, On: k.On, Due: k.Due, Expanded: optDecimal(k.Expanded), K: optDecimal(k.K)}
	}
	r := instrumentRow{
		ID: i.ID, SiteID: i.SiteID, Name: i.Name, Kind: i.Kind, Serial: i.Serial, Resolution: optDecimal(i.Resolution),
		Unit: i.Unit, Expanded: optDecimal(i.Expanded), Repeatability: optDecimal(i.Repeatability), Repeats: i.Repeats,
		Calibrations: c.json(cals, len(cals) == 0), Version: version,
	}
	return r, c.err
}

func (r instrumentRow) instrument() (defects.Instrument, error) {
	var c columns
	var cals []calibrationJSON
	c.read(r.Calibrations, &cals)
	i := defects.Instrument{
		ID: r.ID, SiteID: r.SiteID, Name: r.Name, Kind: r.Kind, Serial: r.Serial, Resolution: c.decimal(r.Resolution),
		Unit: r.Unit, Expanded: c.decimal(r.Expanded), Version: r.Version,
		Repeatability: c.decimal(r.Repeatability), Repeats: r.Repeats,
	}
	for _, k := range cals {
		i.Calibrations = append(i.Calibrations, defects.Calibration{
			Certificate: k.Certificate, On: k.On, Due: k.Due, Expanded: c.decimal(k.Expanded), K: c.decimal(k.K),
		})
	}
	return i, c.err
}

// tools implements register.Tools.
type tools struct{ *tx }

func (t tools) InsertInstrument(ctx context.Context, i defects.Instrument) (err error) {
	defer wrap("insert instrument", &err)
	if err := t.enter(ctx, i.SiteID); err != nil {
		return err
	}
	r, err := toInstrumentRow(i, firstVersion(i.Version))
	if err != nil {
		return err
	}
	return insert(ctx, t.tx, r)
}

func (t tools) UpdateInstrument(ctx context.Context, i defects.Instrument) (err error) {
	defer wrap("update instrument", &err)
	if err := t.enter(ctx, i.SiteID); err != nil {
		return err
	}
	r, err := toInstrumentRow(i, i.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, t.tx, "instrument", i.SiteID, i.ID, i.Version, r, "site_id")
}

func (t tools) Instrument(ctx context.Context, siteID, id string) (_ defects.Instrument, err error) {
	defer wrap("instrument", &err)
	if err := t.enter(ctx, siteID); err != nil {
		return defects.Instrument{}, err
	}
	q := from[instrumentRow](t.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[instrumentRow](ctx, t.tx, "instrument", q)
	if err != nil {
		return defects.Instrument{}, err
	}
	return r.instrument()
}

func (t tools) Instruments(ctx context.Context, siteID string) (_ []defects.Instrument, err error) {
	defer wrap("instruments", &err)
	if err := t.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[instrumentRow](t.tx)
	q.add(" WHERE site_id = ? ORDER BY name, id", siteID)
	rows, err := list[instrumentRow](ctx, t.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, instrumentRow.instrument)
}
