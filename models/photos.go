package models

import (
	"context"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type photoRow struct {
	ID         string `gorm:"primaryKey"`
	SiteID     string
	SHA256     string `gorm:"column:sha256"`
	Size       int64
	FileName   string
	Capture    string
	ReceivedAt int64
	AddedBy    string
	AddedName  string
	Gang       string
	Stage      string
	Place      placeRow `gorm:"embedded"`
	PlacedBy   string
	Facing     string
	Offered    string
	LabelSeen  bool
	ScaleSeen  bool
	Kind       string
	Note       string
	Grade      string
	Flags      string
	Overruled  string
	Derived    string
	Likeness   *int64 // the 64 bits, whatever their sign here
	CopiesSeq  int64
	CopiesAt   int64
	Version    int
}

func (photoRow) TableName() string { return "photos" }

// keptOfPhoto are the columns no update touches: what was received never
// changes, and view copies have a way of their own (SetCopies).
func keptOfPhoto() []string {
	return []string{
		"site_id", "sha256", "size", "file_name", "capture", "received_at", "added_by", "added_name",
		"derived", "likeness", "copies_seq", "copies_at",
	}
}

func toPhotoRow(p defects.Photo, version int) (photoRow, error) {
	var c columns
	r := photoRow{
		ID: p.ID, SiteID: p.SiteID, SHA256: p.SHA256, Size: p.Size, FileName: p.FileName,
		Capture: c.json(toCaptureJSON(p.Capture), p.Capture == (defects.Capture{})), ReceivedAt: micros(p.ReceivedAt),
		AddedBy: p.AddedBy, AddedName: p.AddedName, Gang: p.Gang, Stage: p.Stage, Place: toPlaceRow(p.Place),
		PlacedBy: string(p.PlacedBy), Facing: c.json(toFacingJSON(p.Facing), len(p.Facing) == 0),
		Offered: p.Offered, LabelSeen: p.LabelSeen, ScaleSeen: p.ScaleSeen, Kind: p.Kind, Note: p.Note, Grade: string(p.Grade),
		Flags: c.json(toFlagsJSON(p.Flags), len(p.Flags) == 0), Overruled: p.Overruled, Derived: p.Derived, Likeness: signed(p.Likeness), CopiesAt: micros(p.CopiesAt), Version: version,
	}
	return r, c.err
}

func (r photoRow) photo() (defects.Photo, error) {
	var c columns
	var capture captureJSON
	var facing []faceGuessJSON
	var flags []flagJSON
	c.read(r.Capture, &capture)
	c.read(r.Facing, &facing)
	c.read(r.Flags, &flags)
	return defects.Photo{
		ID: r.ID, SiteID: r.SiteID, SHA256: r.SHA256, Size: r.Size, FileName: r.FileName, Capture: capture.capture(),
		ReceivedAt: instant(r.ReceivedAt), AddedBy: r.AddedBy, AddedName: r.AddedName, Gang: r.Gang, Stage: r.Stage,
		Place: r.Place.place(), PlacedBy: defects.PlacedBy(r.PlacedBy), Facing: fromFacingJSON(facing), Offered: r.Offered,
		LabelSeen: r.LabelSeen, ScaleSeen: r.ScaleSeen, Kind: r.Kind, Note: r.Note, Grade: defects.Grade(r.Grade),
		Flags: fromFlagsJSON(flags), Overruled: r.Overruled, Derived: r.Derived, Likeness: unsigned(r.Likeness), CopiesSeq: r.CopiesSeq, CopiesAt: instant(r.CopiesAt),
		Version: r.Version,
	}, c.err
}

// photos implements register.Photos.
type photos struct{ *tx }

func (p photos) InsertPhoto(ctx context.Context, photo defects.Photo) (err error) {
	defer wrap("insert photo", &err)
	if err := p.enter(ctx, photo.SiteID); err != nil {
		return err
	}
	r, err := toPhotoRow(photo, firstVersion(photo.Version))
	if err != nil {
		return err
	}
	if r.CopiesSeq, err = nextCopies(ctx, p.tx, photo.SiteID); err != nil {
		return err
	}
	if err := insert(ctx, p.tx, r); err != nil {
		return err
	}
	return p.addStored(ctx, photo.SiteID, photo.Size, 0)
}

func (p photos) UpdatePhoto(ctx context.Context, photo defects.Photo) (err error) {
	defer wrap("update photo", &err)
	if err := p.enter(ctx, photo.SiteID); err != nil {
		return err
	}
	r, err := toPhotoRow(photo, photo.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, p.tx, "photo", photo.SiteID, photo.ID, photo.Version, r, keptOfPhoto()...)
}

func (p photos) Photo(ctx context.Context, siteID, id string) (_ defects.Photo, err error) {
	defer wrap("photo", &err)
	return p.photo(ctx, siteID, "id", id)
}

func (p photos) PhotoBySHA(ctx context.Context, siteID, sha string) (_ defects.Photo, err error) {
	defer wrap("photo by hash", &err)
	return p.photo(ctx, siteID, "sha256", sha)
}

// shaRow is the hash of a photo.
type shaRow struct {
	SHA256 string `gorm:"column:sha256"`
}

func (shaRow) TableName() string { return "photos" }

// NamedSHAs goes by site, since that is how the index on hashes begins. Writing,
// it locks all sites as enter does: PostgreSQL may still be committing for a
// client that is dead by now.
func (p photos) NamedSHAs(ctx context.Context, shas []string) (named []string, err error) {
	defer wrap("named hashes", &err)
	if p.write && p.store.pg {
		if _, err := list[counterRow](ctx, p.tx, sqlText("SELECT * FROM counters ORDER BY id FOR UPDATE")); err != nil {
			return nil, err
		}
	}
	err = inChunks(shas, func(part []string) error {
		rows, err := list[shaRow](ctx, p.tx, sqlText(
			"SELECT DISTINCT sha256 FROM photos WHERE site_id IN (SELECT id FROM sites) AND sha256 IN ?", part))
		for _, r := range rows {
			named = append(named, r.SHA256)
		}
		return err
	})
	return named, err
}

func (p photos) photo(ctx context.Context, siteID, column, value string) (defects.Photo, error) {
	if err := p.enter(ctx, siteID); err != nil {
		return defects.Photo{}, err
	}
	q := from[photoRow](p.tx)
	q.add(" WHERE site_id = ? AND "+column+" = ?", siteID, value)
	r, err := one[photoRow](ctx, p.tx, "photo", q)
	if err != nil {
		return defects.Photo{}, err
	}
	return r.photo()
}

// ListPhotos gives the newest received first; photos received in the same
// microsecond are sorted by id, so that pages neither repeat nor miss one.
func (p photos) ListPhotos(ctx context.Context, f register.PhotoFilter, page register.Page) (_ []defects.Photo, err error) {
	defer wrap("list photos", &err)
	q, err := p.filtered(f)
	if err != nil {
		return nil, err
	}
	if err := q.after("received_at", page.After); err != nil {
		return nil, err
	}
	q.limit(page.Limit)
	if err := p.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	rows, err := list[photoRow](ctx, p.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, photoRow.photo)
}

// filtered begins the query of a list.
func (p photos) filtered(f register.PhotoFilter) (*query, error) {
	if f.SiteID == "" {
		return nil, defects.Refuse(defects.Invalid, "filter_needed", "photos are listed by site")
	}
	q := from[photoRow](p.tx)
	q.add(" WHERE 1 = 1")
	q.andEqual("site_id", f.SiteID)
	q.andEqual("elevation_id", f.ElevationID)
	if f.Unplaced {
		q.and("elevation_id IS NULL")
	}
	if f.Offered {
		q.and("offered <> ''")
	}
	q.andEqual("stage", f.Stage)
	q.andEqual("added_by", f.AddedBy)
	q.andEqual("gang", f.Gang)
	if f.SnagID != "" {
		q.and("id IN (SELECT photo_id FROM snag_photos WHERE site_id = ? AND snag_id = ?)", f.SiteID, f.SnagID)
	}
	switch f.Derived {
	case "":
	case "waiting":
		q.and("derived = ''")
	case "failed":
		q.and("derived LIKE 'failed%'")
	default:
		q.and("derived = ?", f.Derived)
	}
	return q, nil
}

func (p photos) PhotosByID(ctx context.Context, siteID string, ids []string) (_ []defects.Photo, err error) {
	defer wrap("photos by id", &err)
	return p.in(ctx, siteID, "id", ids)
}

func (p photos) PhotosByHash(ctx context.Context, siteID string, shas []string) (_ []defects.Photo, err error) {
	defer wrap("photos by hash", &err)
	return p.in(ctx, siteID, "sha256", shas)
}

func (p photos) in(ctx context.Context, siteID, column string, values []string) ([]defects.Photo, error) {
	if err := p.enter(ctx, siteID); err != nil {
		return nil, err
	}
	var rows []photoRow
	err := inChunks(values, func(part []string) error {
		q := from[photoRow](p.tx)
		q.add(" WHERE site_id = ? AND "+column+" IN ? ORDER BY received_at, id", siteID, part)
		found, err := list[photoRow](ctx, p.tx, q)
		rows = append(rows, found...)
		return err
	})
	if err != nil {
		return nil, err
	}
	return convert(rows, photoRow.photo)
}

// photoIDRow is the id of a photo that something uses.
type photoIDRow struct{ PhotoID string }

func (photoIDRow) TableName() string { return "snag_photos" }

// PhotosOfGang tells which of the photos a gang's or a person's own snags and
// readings use.
func (p photos) PhotosOfGang(ctx context.Context, siteID string, ids []string, gang, accountID string) (used []string, err error) {
	defer wrap("photos of gang", &err)
	if err := p.enter(ctx, siteID); err != nil {
		return nil, err
	}
	err = inChunks(ids, func(part []string) error {
		rows, err := list[photoIDRow](ctx, p.tx, sqlText(`SELECT l.photo_id FROM snag_photos l JOIN snags s ON s.id = l.snag_id
			WHERE l.site_id = ? AND l.photo_id IN ? AND ((s.gang = ? AND s.gang <> '') OR s.raised_by_id = ?)
			UNION SELECT l.photo_id FROM reading_photos l JOIN readings r ON r.id = l.reading_id
			WHERE l.site_id = ? AND l.photo_id IN ? AND ((r.gang = ? AND r.gang <> '') OR r.by_id = ? OR r.entered_by = ?)`,
			siteID, part, gang, accountID, siteID, part, gang, accountID, accountID))
		for _, r := range rows {
			used = append(used, r.PhotoID)
		}
		return err
	})
	return used, err
}
