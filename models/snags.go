package models

import (
	"context"
	"errors"
	"slices"
	"unicode/utf8"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// firstRows is the room a list begins with.
const firstRows = 64

// snags implements register.Snags.
type snags struct{ *tx }

type snagPhotoRow struct{ SiteID, SnagID, PhotoID string }

func (snagPhotoRow) TableName() string { return "snag_photos" }

// NextNumber raises the site's counter past every number this process has
// given, also in transactions that were rolled back. Numbers may be skipped;
// none comes twice.
func (s snags) NextNumber(ctx context.Context, siteID string) (_ int, err error) {
	defer wrap("next snag number", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return 0, err
	}
	given := s.store.numbers.of(siteID)
	r, err := one[counterRow](ctx, s.tx, "site", sqlText(`UPDATE counters
		SET snag_number = 1 + CASE WHEN snag_number < ? THEN ? ELSE snag_number END
		WHERE site_id = ? RETURNING id, snag_number`, given, given, siteID))
	if err != nil {
		return 0, err
	}
	s.store.numbers.raise(siteID, r.SnagNumber)
	return int(r.SnagNumber), nil
}

func (s snags) InsertSnag(ctx context.Context, snag defects.Snag) (err error) {
	defer wrap("insert snag", &err)
	if err := s.enter(ctx, snag.SiteID); err != nil {
		return err
	}
	r, err := toSnagRow(snag, firstVersion(snag.Version))
	if err != nil {
		return err
	}
	if err := insert(ctx, s.tx, r); err != nil {
		return err
	}
	return link[snagPhotoRow](ctx, s.tx, "snag_id", snag.SiteID, snag.ID, snag.Photos, snag.OfferPhotos)
}

func (s snags) UpdateSnag(ctx context.Context, snag defects.Snag) (err error) {
	defer wrap("update snag", &err)
	if err := s.enter(ctx, snag.SiteID); err != nil {
		return err
	}
	r, err := toSnagRow(snag, snag.Version+1)
	if err != nil {
		return err
	}
	if err := change(ctx, s.tx, "snag", snag.SiteID, snag.ID, snag.Version, r, keptOfSnag()...); err != nil {
		return err
	}
	return relink[snagPhotoRow](ctx, s.tx, "snag_id", snag.SiteID, snag.ID, snag.Photos, snag.OfferPhotos)
}

func (s snags) Snag(ctx context.Context, siteID string, number int) (_ defects.Snag, err error) {
	defer wrap("snag", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Snag{}, err
	}
	q := from[snagRow](s.tx)
	q.add(" WHERE site_id = ? AND number = ?", siteID, number)
	r, err := one[snagRow](ctx, s.tx, "snag", q)
	if err != nil {
		return defects.Snag{}, err
	}
	return r.snag()
}

// ListSnags gives all rows when the page's limit is 0. Numbers that are given
// but empty find nothing. It lists by number, or in walking order: within one elevation when the
// filter names it, else one elevation after the other by id.
func (s snags) ListSnags(ctx context.Context, f register.SnagFilter, page register.Page) (_ []defects.Snag, err error) {
	defer wrap("list snags", &err)
	if f.Numbers != nil && len(f.Numbers) == 0 {
		return nil, nil
	}
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := sqlText("SELECT " + snagColumns + " FROM snags")
	filterSnags(q, f)
	if page.After != "" {
		c, err := register.ParseSnagCursor(f.Order, page.After)
		if err != nil {
			return nil, err
		}
		afterSnag(q, f, c)
	}
	switch {
	case f.Order != register.ByWalk:
		q.add(" ORDER BY number")
	case f.ElevationID != "":
		q.add(" ORDER BY walk_rank, number")
	default:
		q.add(" ORDER BY elevation_id NULLS FIRST, walk_rank, number")
	}
	q.limit(page.Limit)
	return s.scan(ctx, q)
}

// scan takes the rows of a list by hand. An elevation's list may run to
// thousands of rows of 47 columns, and gorm's way through reflection took 1.7
// times the plain driver's time; see BenchmarkSnagList.
func (s snags) scan(ctx context.Context, q *query) (list []defects.Snag, err error) {
	rows, err := s.db.WithContext(ctx).Raw(q.text(), q.args...).Rows()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var r snagRow
	into := r.into()
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
		snag, err := r.snag()
		if err != nil {
			return nil, err
		}
		if len(list) == cap(list) {
			list = slices.Grow(list, max(len(list), firstRows)) // a snag is large: double, to copy seldom
		}
		list = append(list, snag)
	}
	return list, rows.Err()
}

// filterSnags begins the WHERE of a list of snags.
func filterSnags(q *query, f register.SnagFilter) {
	q.add(" WHERE site_id = ?", f.SiteID)
	q.andEqual("elevation_id", f.ElevationID)
	if f.OpenOnly {
		q.and("is_open")
	}
	if len(f.States) > 0 {
		q.and("state IN ?", f.States)
	}
	if len(f.Severities) > 0 {
		q.and("severity IN ?", f.Severities)
	}
	q.andEqual("stage", f.Stage)
	q.andEqual("gang", f.Gang)
	q.andEqual("code", f.Code)
	if f.CodeOrStage != "" {
		stage := f.CodeOrStage + "-"
		q.and("(code = ? OR substr(code, 1, ?) = ?)", f.CodeOrStage, utf8.RuneCountInString(stage), stage)
	}
	if f.Bay != 0 {
		q.and("bay = ?", f.Bay)
	}
	if f.Lift != 0 {
		q.and("lift = ?", f.Lift)
	}
	if f.Numbers != nil {
		q.and("number IN ?", f.Numbers)
	}
	if f.ReadingID != "" {
		q.and("(reading_id = ? OR offer_reading_id = ?)", f.ReadingID, f.ReadingID)
	}
}

// afterSnag adds where a page goes on. Snags without an elevation come first.
func afterSnag(q *query, f register.SnagFilter, c register.SnagCursor) {
	switch {
	case f.Order != register.ByWalk:
		q.and("number > ?", c.Number)
	case f.ElevationID != "":
		q.and("(walk_rank, number) > (?, ?)", c.Rank, c.Number)
	case c.ElevationID == "":
		q.and("(elevation_id IS NOT NULL OR (walk_rank, number) > (?, ?))", c.Rank, c.Number)
	default:
		q.and("(elevation_id, walk_rank, number) > (?, ?, ?)", c.ElevationID, c.Rank, c.Number)
	}
}

type snagCountRow struct {
	ElevationID string
	State       string
	Severity    string
	Count       int
}

func (snagCountRow) TableName() string { return "snags" }

func (s snags) CountSnags(ctx context.Context, f register.SnagFilter) (_ map[register.SnagCount]int, err error) {
	defer wrap("count snags", &err)
	out := map[register.SnagCount]int{}
	if f.Numbers != nil && len(f.Numbers) == 0 {
		return out, nil
	}
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := sqlText("SELECT COALESCE(elevation_id, '') AS elevation_id, state, severity, COUNT(*) AS count FROM snags")
	filterSnags(q, f)
	q.add(" GROUP BY COALESCE(elevation_id, ''), state, severity")
	rows, err := list[snagCountRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		out[register.SnagCount{
			ElevationID: r.ElevationID, State: defects.State(r.State), Severity: defects.Severity(r.Severity),
		}] = r.Count
	}
	return out, nil
}

type gangRow struct{ Gang string }

func (gangRow) TableName() string { return "snags" }

func (s snags) Gangs(ctx context.Context, siteID string) (_ []string, err error) {
	defer wrap("gangs", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	rows, err := list[gangRow](ctx, s.tx, sqlText("SELECT DISTINCT gang FROM snags WHERE site_id = ? AND gang <> '' ORDER BY gang", siteID))
	if err != nil {
		return nil, err
	}
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = r.Gang
	}
	return out, nil
}

type photoUseRow struct {
	PhotoID string
	Number  int
}

func (photoUseRow) TableName() string { return "snag_photos" }

func (s snags) EvidenceUse(ctx context.Context, siteID string, photoIDs []string) (_ map[string][]int, err error) {
	defer wrap("evidence use", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return nil, err
	}
	out := map[string][]int{}
	err = inChunks(photoIDs, func(part []string) error {
		rows, err := list[photoUseRow](ctx, s.tx, sqlText(`SELECT p.photo_id, s.number FROM snag_photos p
			JOIN snags s ON s.id = p.snag_id WHERE p.site_id = ? AND p.photo_id IN ? ORDER BY s.number`, siteID, part))
		for _, r := range rows {
			out[r.PhotoID] = append(out[r.PhotoID], r.Number)
		}
		return err
	})
	return out, err
}
