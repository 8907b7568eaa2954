package models

import (
	"context"

	"storeyrod/defects"
)

type rejudgementRow struct {
	ID          string `gorm:"primaryKey"`
	SiteID      string
	ElevationID string
	Stage       string
	Quantity    string
	Schedules   string
	Rule        string
	Guard       string
	Reason      string
	ByID        string
	ByName      string
	ByRole      string
	Device      string
	DecidedAt   int64
	State       string
	Place       string
	Tally       string
	Version     int
}

func (rejudgementRow) TableName() string { return "rejudgements" }

type tallyJSON struct {
	Lines   []tallyLineJSON `json:"lines,omitempty"`
	Sets    []tallyLineJSON `json:"sets,omitempty"`
	Surveys []tallyLineJSON `json:"surveys,omitempty"`
	Snags   []int           `json:"snags,omitempty"`
}

type tallyLineJSON struct {
	Before string `json:"before"`
	After  string `json:"after"`
	N      int    `json:"n"`
}

func toRejudgementRow(j defects.Rejudgement, version int) (rejudgementRow, error) {
	var c columns
	t := tallyJSON{
		Lines: toTallyLines(j.Tally.Lines), Sets: toTallyLines(j.Tally.Sets), Surveys: toTallyLines(j.Tally.Surveys), Snags: j.Tally.Snags,
	}
	return rejudgementRow{
		ID: j.ID, SiteID: j.SiteID, ElevationID: j.ElevationID, Stage: j.Stage, Quantity: j.Quantity,
		Schedules: c.json(j.Schedules, len(j.Schedules) == 0), Rule: string(j.Rule), Guard: j.Guard.String(), Reason: j.Reason,
		ByID: j.By.ID, ByName: j.By.Name, ByRole: string(j.By.Role), Device: j.Device, DecidedAt: micros(j.At),
		State: string(j.State), Place: j.Place, Tally: c.json(t, len(t.Lines)+len(t.Sets)+len(t.Surveys) == 0), Version: version,
	}, c.err
}

func (r rejudgementRow) rejudgement() (defects.Rejudgement, error) {
	var c columns
	var t tallyJSON
	c.read(r.Tally, &t)
	j := defects.Rejudgement{
		ID: r.ID, SiteID: r.SiteID, ElevationID: r.ElevationID, Stage: r.Stage, Quantity: r.Quantity,
		Schedules: c.texts(r.Schedules), Rule: defects.Rule(r.Rule), Guard: c.number(r.Guard), Reason: r.Reason,
		By: defects.Person{ID: r.ByID, Name: r.ByName, Role: defects.Role(r.ByRole)}, Device: r.Device, At: instant(r.DecidedAt),
		State: defects.RejudgeState(r.State), Place: r.Place, Version: r.Version,
	}
	j.Tally = defects.Tally{Lines: tallyLines(t.Lines), Sets: tallyLines(t.Sets), Surveys: tallyLines(t.Surveys), Snags: t.Snags}
	return j, c.err
}

func toTallyLines(list []defects.TallyLine) (out []tallyLineJSON) {
	for _, l := range list {
		out = append(out, tallyLineJSON{string(l.Before), string(l.After), l.N})
	}
	return out
}

func tallyLines(list []tallyLineJSON) (out []defects.TallyLine) {
	for _, l := range list {
		out = append(out, defects.TallyLine{Before: defects.Outcome(l.Before), After: defects.Outcome(l.After), N: l.N})
	}
	return out
}

// rejudgements implements register.Rejudgements.
type rejudgements struct{ *tx }

func (s rejudgements) InsertRejudgement(ctx context.Context, j defects.Rejudgement) (err error) {
	defer wrap("insert rejudgement", &err)
	if err := s.enter(ctx, j.SiteID); err != nil {
		return err
	}
	r, err := toRejudgementRow(j, firstVersion(j.Version))
	if err != nil {
		return err
	}
	return insert(ctx, s.tx, r)
}

func (s rejudgements) UpdateRejudgement(ctx context.Context, j defects.Rejudgement) (err error) {
	defer wrap("update rejudgement", &err)
	if err := s.enter(ctx, j.SiteID); err != nil {
		return err
	}
	r, err := toRejudgementRow(j, j.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, s.tx, "rejudgement", j.SiteID, j.ID, j.Version, r, "site_id", "decided_at")
}

func (s rejudgements) Rejudgement(ctx context.Context, siteID, id string) (_ defects.Rejudgement, err error) {
	defer wrap("rejudgement", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Rejudgement{}, err
	}
	q := from[rejudgementRow](s.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[rejudgementRow](ctx, s.tx, "rejudgement", q)
	if err != nil {
		return defects.Rejudgement{}, err
	}
	return r.rejudgement()
}

// Rejudgements gives a site's decisions, the newest first; of no site, those of
// all sites that are not carried out, the oldest first.
func (s rejudgements) Rejudgements(ctx context.Context, siteID string, limit int) (_ []defects.Rejudgement, err error) {
	defer wrap("rejudgements", &err)
	q := from[rejudgementRow](s.tx)
	if siteID == "" {
		q.add(" WHERE state = 'running' ORDER BY decided_at, id")
	} else {
		if err := s.enter(ctx, siteID); err != nil {
			return nil, err
		}
		q.add(" WHERE site_id = ? ORDER BY decided_at DESC, id DESC", siteID)
	}
	q.limit(limit)
	rows, err := list[rejudgementRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, rejudgementRow.rejudgement)
}
