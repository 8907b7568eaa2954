package models

import (
	"context"

	"storeyrod/defects"
)

type siteRow struct {
	ID         string `gorm:"primaryKey"`
	Name       string
	TimeZone   string
	Demo       bool
	Rule       string
	Guard      string
	Schedules  string
	Fence      string
	PhotoQuota *int64

	FaceThreshold *string
	Accuracy      string
	Created       int64 `gorm:"column:created_at"`
	Version       int
}

func (siteRow) TableName() string { return "sites" }

func toSiteRow(s defects.Site, version int) (siteRow, error) {
	var c columns
	r := siteRow{
		ID: s.ID, Name: s.Name, TimeZone: s.TimeZone, Demo: s.Demo, Rule: string(s.Rule), Guard: s.Guard.String(),
		Schedules: c.json(s.Schedules, len(s.Schedules) == 0), Fence: c.json(toLonLats(s.Fence), len(s.Fence) == 0),
		PhotoQuota: s.PhotoQuota, FaceThreshold: optDecimal(s.FaceThreshold), Accuracy: string(s.Accuracy),
		Created: micros(s.CreatedAt), Version: version,
	}
	return r, c.err
}

func (r siteRow) site() (defects.Site, error) {
	var c columns
	var fence [][2]float64
	s := defects.Site{
		ID: r.ID, Name: r.Name, TimeZone: r.TimeZone, Demo: r.Demo, Rule: defects.Rule(r.Rule), Guard: c.number(r.Guard),
		PhotoQuota: r.PhotoQuota, FaceThreshold: c.decimal(r.FaceThreshold), Accuracy: defects.AccuracyReading(r.Accuracy),
		CreatedAt: instant(r.Created), Version: r.Version,
	}
	c.read(r.Schedules, &s.Schedules)
	c.read(r.Fence, &fence)
	s.Fence = fromLonLats(fence)
	return s, c.err
}

// counterRow is the last number given in a site's log and list of snags.
type counterRow struct {
	ID         string `gorm:"primaryKey"`
	SiteID     *string
	SnagNumber int64
	LogSeq     int64
}

func (counterRow) TableName() string { return "counters" }

// sites implements register.Sites.
type sites struct{ *tx }

func (s sites) InsertSite(ctx context.Context, site defects.Site) (err error) {
	defer wrap("insert site", &err)
	r, err := toSiteRow(site, firstVersion(site.Version))
	if err != nil {
		return err
	}
	if err := insert(ctx, s.tx, r); err != nil {
		return err
	}
	return insert(ctx, s.tx, counterRow{ID: site.ID, SiteID: &site.ID})
}

func (s sites) UpdateSite(ctx context.Context, site defects.Site) (err error) {
	defer wrap("update site", &err)
	if err := s.enter(ctx, site.ID); err != nil {
		return err
	}
	r, err := toSiteRow(site, site.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, s.tx, "site", "", site.ID, site.Version, r, "created_at")
}

func (s sites) Site(ctx context.Context, id string) (_ defects.Site, err error) {
	defer wrap("site", &err)
	if err := s.enter(ctx, id); err != nil {
		return defects.Site{}, err
	}
	q := from[siteRow](s.tx)
	q.add(" WHERE id = ?", id)
	r, err := one[siteRow](ctx, s.tx, "site", q)
	if err != nil {
		return defects.Site{}, err
	}
	return r.site()
}

func (s sites) Sites(ctx context.Context, ids []string) (_ []defects.Site, err error) {
	defer wrap("sites", &err)
	q := from[siteRow](s.tx)
	if ids != nil {
		if len(ids) == 0 {
			return nil, nil
		}
		q.add(" WHERE id IN ?", ids)
	}
	q.add(" ORDER BY name, id")
	rows, err := list[siteRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, siteRow.site)
}

type milestoneRow struct {
	ID               string `gorm:"primaryKey"`
	SiteID           string
	Kind             string
	Stage            string
	ElevationID      *string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	DueOn            string
	Version          int
}

func (milestoneRow) TableName() string { return "milestones" }

func toMilestoneRow(m defects.Milestone) milestoneRow {
	return milestoneRow{
		ID: m.ID, SiteID: m.SiteID, Kind: string(m.Kind), Stage: m.Stage, ElevationID: optText(m.ElevationID),
		BayFrom: m.BayFrom, BayTo: m.BayTo, LiftFrom: m.LiftFrom, LiftTo: m.LiftTo, DueOn: m.On, Version: m.Version + 1,
	}
}

func (r milestoneRow) milestone() (defects.Milestone, error) {
	return defects.Milestone{
		ID: r.ID, SiteID: r.SiteID, Kind: defects.MilestoneKind(r.Kind), Stage: r.Stage, ElevationID: textOf(r.ElevationID),
		BayFrom: r.BayFrom, BayTo: r.BayTo, LiftFrom: r.LiftFrom, LiftTo: r.LiftTo, On: r.DueOn, Version: r.Version,
	}, nil
}

func (s sites) SaveMilestone(ctx context.Context, m defects.Milestone) (err error) {
	defer wrap("save milestone", &err)
	if err := s.enter(ctx, m.SiteID); err != nil {
		return err
	}
	if m.Version == 0 {
		return insert(ctx, s.tx, toMilestoneRow(m))
	}
	return change(ctx, s.tx, "milestone", m.SiteID, m.ID, m.Version, toMilestoneRow(m), "site_id")
}

func (s sites) DeleteMilestone(ctx context.Context, siteID, id string) (err error) {
	defer wrap("delete milestone", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return err
	}
	n, err := exec(ctx, s.tx, sqlText("DELETE FROM milestones WHERE site_id = ? AND id = ?", siteID, id))
	if err == nil && n == 0 {
		return notFound("milestone")
	}
	return err
}

func (s sites) Milestones(ctx context.Context, siteID string) (_ []defects.Milestone, err error) {
	defer wrap("milestones", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[milestoneRow](s.tx)
	q.add(" WHERE site_id = ? ORDER BY due_on, id", siteID)
	rows, err := list[milestoneRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, milestoneRow.milestone)
}
