package models

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type weatherRow struct {
	ID           string `gorm:"primaryKey"`
	SiteID       string
	ElevationID  *string
	At           int64
	Air          *string
	Surface      *string
	Humidity     *string
	Note         string
	Confirmed    bool
	InstrumentID *string
	Instrument   string
	ByID         string
	ByName       string
	EnteredBy    string
	EnteredName  string
	EnteredAt    int64
	Withdrawn    string
	Version      int
}

func (weatherRow) TableName() string { return "weather" }

func toWeatherRow(w defects.WeatherLine, version int) weatherRow {
	return weatherRow{
		ID: w.ID, SiteID: w.SiteID, ElevationID: optText(w.ElevationID), At: micros(w.At), Air: optDecimal(w.Air),
		Surface: optDecimal(w.Surface), Humidity: optDecimal(w.Humidity), Note: w.Note, Confirmed: w.Confirmed,
		InstrumentID: optText(w.InstrumentID), Instrument: w.Instrument, ByID: w.ByID, ByName: w.ByName,
		EnteredBy: w.EnteredBy, EnteredName: w.EnteredName, EnteredAt: micros(w.EnteredAt), Withdrawn: w.Withdrawn, Version: version,
	}
}

func (r weatherRow) line() (defects.WeatherLine, error) {
	var c columns
	return defects.WeatherLine{
		ID: r.ID, SiteID: r.SiteID, ElevationID: textOf(r.ElevationID), At: instant(r.At), Air: c.decimal(r.Air),
		Surface: c.decimal(r.Surface), Humidity: c.decimal(r.Humidity), Note: r.Note, Confirmed: r.Confirmed,
		InstrumentID: textOf(r.InstrumentID), Instrument: r.Instrument, ByID: r.ByID, ByName: r.ByName,
		EnteredBy: r.EnteredBy, EnteredName: r.EnteredName, EnteredAt: instant(r.EnteredAt), Withdrawn: r.Withdrawn, Version: r.Version,
	}, c.err
}

// weather implements register.Weather.
type weather struct{ *tx }

func (s weather) InsertWeather(ctx context.Context, w defects.WeatherLine) (err error) {
	defer wrap("insert weather", &err)
	if err := s.enter(ctx, w.SiteID); err != nil {
		return err
	}
	return insert(ctx, s.tx, toWeatherRow(w, firstVersion(w.Version)))
}

// UpdateWeather keeps what was taken: only a withdrawal changes a line.
func (s weather) UpdateWeather(ctx context.Context, w defects.WeatherLine) (err error) {
	defer wrap("update weather", &err)
	if err := s.enter(ctx, w.SiteID); err != nil {
		return err
	}
	return change(ctx, s.tx, "weather line", w.SiteID, w.ID, w.Version, toWeatherRow(w, w.Version+1), "site_id", "elevation_id", "at",
		"air", "surface", "humidity", "note", "confirmed", "instrument_id", "instrument", "by_id", "by_name",
		"entered_by", "entered_name", "entered_at")
}

func (s weather) WeatherLine(ctx context.Context, siteID, id string) (_ defects.WeatherLine, err error) {
	defer wrap("weather line", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.WeatherLine{}, err
	}
	q := from[weatherRow](s.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[weatherRow](ctx, s.tx, "weather line", q)
	if err != nil {
		return defects.WeatherLine{}, err
	}
	return r.line()
}

// ListWeather gives the newest first, then by id.
func (s weather) ListWeather(ctx context.Context, f register.WeatherFilter, page register.Page) (_ []defects.WeatherLine, err error) {
	defer wrap("list weather", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := from[weatherRow](s.tx)
	q.add(" WHERE site_id = ?", f.SiteID)
	if f.ElevationID != "" {
		q.and("(elevation_id = ? OR elevation_id IS NULL)", f.ElevationID)
	}
	if !f.From.IsZero() {
		q.and("at >= ?", micros(f.From))
	}
	if !f.Until.IsZero() {
		q.and("at <= ?", micros(f.Until))
	}
	if err := q.after("at", page.After); err != nil {
		return nil, err
	}
	q.limit(page.Limit)
	rows, err := list[weatherRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, weatherRow.line)
}
