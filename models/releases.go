package models

import (
	"context"

	"storeyrod/defects"
)

type releaseRow struct {
	ID               string `gorm:"primaryKey"`
	SiteID           string
	HoldPoint        string
	ElevationID      *string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	Outcome          string
	Text             string
	ByID             string
	ByName           string
	ByRole           string
	AnsweredAt       int64
}

func (releaseRow) TableName() string { return "releases" }

func (r releaseRow) release() (defects.Release, error) {
	return defects.Release{
		ID: r.ID, SiteID: r.SiteID, HoldPoint: r.HoldPoint, ElevationID: textOf(r.ElevationID),
		BayFrom: r.BayFrom, BayTo: r.BayTo, LiftFrom: r.LiftFrom, LiftTo: r.LiftTo,
		Outcome: defects.ReleaseOutcome(r.Outcome), Text: r.Text,
		By: defects.Person{ID: r.ByID, Name: r.ByName, Role: defects.Role(r.ByRole)}, At: instant(r.AnsweredAt),
	}, nil
}

// releases implements register.Releases.
type releases struct{ *tx }

func (s releases) InsertRelease(ctx context.Context, r defects.Release) (err error) {
	defer wrap("insert release", &err)
	if err := s.enter(ctx, r.SiteID); err != nil {
		return err
	}
	return insert(ctx, s.tx, releaseRow{
		ID: r.ID, SiteID: r.SiteID, HoldPoint: r.HoldPoint, ElevationID: optText(r.ElevationID),
		BayFrom: r.BayFrom, BayTo: r.BayTo, LiftFrom: r.LiftFrom, LiftTo: r.LiftTo,
		Outcome: string(r.Outcome), Text: r.Text,
		ByID: r.By.ID, ByName: r.By.Name, ByRole: string(r.By.Role), AnsweredAt: micros(r.At),
	})
}

func (s releases) Releases(ctx context.Context, siteID string) (_ []defects.Release, err error) {
	defer wrap("releases", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[releaseRow](s.tx)
	q.add(" WHERE site_id = ? ORDER BY answered_at DESC, id DESC", siteID)
	rows, err := list[releaseRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, releaseRow.release)
}
