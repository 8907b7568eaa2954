package models

import (
	"context"

	"storeyrod/defects/register"
)

type scheduleRow struct {
	SiteID   string `gorm:"primaryKey"`
	Name     string `gorm:"primaryKey"`
	Version  int    `gorm:"primaryKey;autoIncrement:false"`
	Document []byte
	AddedBy  string
	AddedAt  int64
}

func (scheduleRow) TableName() string { return "schedules" }

func (r scheduleRow) schedule() (register.StoredSchedule, error) {
	return register.StoredSchedule{
		Name: r.Name, Version: r.Version, Document: r.Document, AddedBy: r.AddedBy, AddedAt: instant(r.AddedAt),
	}, nil
}

// schedules implements register.Schedules.
type schedules struct{ *tx }

func (s schedules) InsertSchedule(ctx context.Context, siteID string, d register.StoredSchedule) (err error) {
	defer wrap("insert schedule", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return err
	}
	return insert(ctx, s.tx, scheduleRow{
		SiteID: siteID, Name: d.Name, Version: d.Version, Document: notNil(d.Document),
		AddedBy: d.AddedBy, AddedAt: micros(d.AddedAt),
	})
}

func (s schedules) Schedules(ctx context.Context, siteID string) (_ []register.StoredSchedule, err error) {
	defer wrap("schedules", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[scheduleRow](s.tx)
	q.add(" WHERE site_id = ? ORDER BY name, version", siteID)
	rows, err := list[scheduleRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, scheduleRow.schedule)
}

// notNil keeps empty bytes from being stored as NULL.
func notNil(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
