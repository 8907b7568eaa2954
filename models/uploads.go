package models

import (
	"context"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type uploadRow struct {
	ID        string `gorm:"primaryKey"`
	SiteID    string
	AccountID string
	Length    int64
	Received  int64
	Metadata  string
	Input     string
	State     string
	PhotoID   *string
	Created   int64 `gorm:"column:created_at"`
	Expires   int64 `gorm:"column:expires_at"`
}

func (uploadRow) TableName() string { return "uploads" }

// uploadInputJSON is what was said of the photo, as stored.
type uploadInputJSON struct {
	FileName    string `json:"file_name,omitempty"`
	Stage       string `json:"stage,omitempty"`
	Kind        string `json:"kind,omitempty"`
	Note        string `json:"note,omitempty"`
	Gang        string `json:"gang,omitempty"`
	ElevationID string `json:"elevation_id,omitempty"`
	XMm         *int64 `json:"x_mm,omitempty"`
	ZMm         *int64 `json:"z_mm,omitempty"`
	Bay         int    `json:"bay,omitempty"`
	Lift        int    `json:"lift,omitempty"`
	Opening     string `json:"opening,omitempty"`
	Zone        string `json:"zone,omitempty"`
	LabelSeen   bool   `json:"label_seen,omitempty"`
	ScaleSeen   bool   `json:"scale_seen,omitempty"`
}

func toUploadRow(u register.Upload) (uploadRow, error) {
	var c columns
	in := u.Input
	r := uploadRow{
		ID: u.ID, SiteID: u.SiteID, AccountID: u.AccountID, Length: u.Length, Received: u.Offset, Metadata: u.Metadata,
		Input: c.json(uploadInputJSON{
			FileName: in.FileName, Stage: in.Stage, Kind: in.Kind, Note: in.Note, Gang: in.Gang,
			ElevationID: in.Place.ElevationID, XMm: (*int64)(in.Place.X), ZMm: (*int64)(in.Place.Z), Bay: in.Place.Bay,
			Lift: in.Place.Lift, Opening: in.Place.Opening, Zone: string(in.Place.Zone),
			LabelSeen: in.LabelSeen, ScaleSeen: in.ScaleSeen,
		}, in == (register.PhotoInput{})),
		State: string(u.State), PhotoID: optText(u.PhotoID), Created: micros(u.CreatedAt), Expires: micros(u.ExpiresAt),
	}
	return r, c.err
}

func (r uploadRow) upload() (register.Upload, error) {
	var c columns
	var in uploadInputJSON
	c.read(r.Input, &in)
	return register.Upload{
		ID: r.ID, SiteID: r.SiteID, AccountID: r.AccountID, Length: r.Length, Offset: r.Received, Metadata: r.Metadata,
		Input: register.PhotoInput{
			FileName: in.FileName, Stage: in.Stage, Kind: in.Kind, Note: in.Note, Gang: in.Gang,
			Place: defects.Place{
				ElevationID: in.ElevationID, X: (*defects.MM)(in.XMm), Z: (*defects.MM)(in.ZMm), Bay: in.Bay, Lift: in.Lift,
				Opening: in.Opening, Zone: defects.Zone(in.Zone),
			},
			LabelSeen: in.LabelSeen, ScaleSeen: in.ScaleSeen,
		},
		State: register.UploadState(r.State), PhotoID: textOf(r.PhotoID),
		CreatedAt: instant(r.Created), ExpiresAt: instant(r.Expires),
	}, c.err
}

// uploads implements register.Uploads.
type uploads struct{ *tx }

func (u uploads) InsertUpload(ctx context.Context, up register.Upload) (err error) {
	defer wrap("insert upload", &err)
	if err := u.enter(ctx, up.SiteID); err != nil {
		return err
	}
	r, err := toUploadRow(up)
	if err != nil {
		return err
	}
	if err := insert(ctx, u.tx, r); err != nil {
		return err
	}
	return u.addStored(ctx, up.SiteID, 0, reserved(up))
}

// reserved is what an upload takes of its site's room while it is open.
func reserved(u register.Upload) int64 {
	if u.State != register.UploadOpen {
		return 0
	}
	return u.Length
}

func (u uploads) Upload(ctx context.Context, siteID, id string) (_ register.Upload, err error) {
	defer wrap("upload", &err)
	if err := u.enter(ctx, siteID); err != nil {
		return register.Upload{}, err
	}
	q := from[uploadRow](u.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[uploadRow](ctx, u.tx, "upload", q)
	if err != nil {
		return register.Upload{}, err
	}
	return r.upload()
}

// UpdateUpload is guarded by the state before, which is all that an offset
// needs: its part is locked while it moves.
func (u uploads) UpdateUpload(ctx context.Context, up register.Upload) (err error) {
	defer wrap("update upload", &err)
	if err := u.enter(ctx, up.SiteID); err != nil {
		return err
	}
	n, err := exec(ctx, u.tx, sqlText(`UPDATE uploads SET received = ?, state = ?, photo_id = ?, expires_at = ?
		WHERE site_id = ? AND id = ? AND state = 'open'`,
		up.Offset, string(up.State), optText(up.PhotoID), micros(up.ExpiresAt), up.SiteID, up.ID))
	if err == nil && n == 0 {
		return defects.Refuse(defects.Stale, "upload_over", "the upload is over")
	}
	if err != nil || up.State == register.UploadOpen {
		return err
	}
	return u.addStored(ctx, up.SiteID, 0, -up.Length)
}

func (u uploads) DeleteUpload(ctx context.Context, up register.Upload) (err error) {
	defer wrap("delete upload", &err)
	if err := u.enter(ctx, up.SiteID); err != nil {
		return err
	}
	n, err := exec(ctx, u.tx, sqlText("DELETE FROM uploads WHERE site_id = ? AND id = ? AND state = ?", up.SiteID, up.ID, string(up.State)))
	if err != nil || n == 0 {
		return err
	}
	return u.addStored(ctx, up.SiteID, 0, -reserved(up))
}

func (u uploads) OpenUploads(ctx context.Context, siteID, accountID string) (_ []register.Upload, err error) {
	defer wrap("open uploads", &err)
	if err := u.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[uploadRow](u.tx)
	q.add(" WHERE site_id = ? AND account_id = ? AND state = 'open' ORDER BY created_at, id", siteID, accountID)
	rows, err := list[uploadRow](ctx, u.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, uploadRow.upload)
}

func (u uploads) UploadsByID(ctx context.Context, ids []string) (found []register.Upload, err error) {
	defer wrap("uploads by id", &err)
	err = inChunks(ids, func(part []string) error {
		q := from[uploadRow](u.tx)
		q.add(" WHERE id IN ?", part)
		rows, err := list[uploadRow](ctx, u.tx, q)
		if err != nil {
			return err
		}
		some, err := convert(rows, uploadRow.upload)
		found = append(found, some...)
		return err
	})
	return found, err
}

func (u uploads) UploadsExpired(ctx context.Context, open, over time.Time, limit int) (_ []register.Upload, err error) {
	defer wrap("expired uploads", &err)
	q := from[uploadRow](u.tx)
	q.add(" WHERE (expires_at < ? AND state = 'open') OR expires_at < ? ORDER BY expires_at, id", micros(open), micros(over))
	q.limit(limit)
	rows, err := list[uploadRow](ctx, u.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, uploadRow.upload)
}

// storageRow is what a site stores.
type storageRow struct {
	SiteID        string `gorm:"primaryKey"`
	PhotoBytes    int64
	ReservedBytes int64
}

func (storageRow) TableName() string { return "storage" }

// addStored adds to what is counted of a site, in the transaction of what it counts.
func (t *tx) addStored(ctx context.Context, siteID string, photos, reserved int64) error {
	if photos == 0 && reserved == 0 {
		return nil
	}
	_, err := exec(ctx, t, sqlText(`INSERT INTO storage (site_id, photo_bytes, reserved_bytes) VALUES (?, 0, 0)
		ON CONFLICT (site_id) DO NOTHING`, siteID))
	if err != nil {
		return err
	}
	_, err = exec(ctx, t, sqlText(`UPDATE storage SET photo_bytes = photo_bytes + ?, reserved_bytes = reserved_bytes + ?
		WHERE site_id = ?`, photos, reserved, siteID))
	return err
}

func (s sites) Stored(ctx context.Context, siteID string) (_ register.Stored, err error) {
	defer wrap("what a site stores", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return register.Stored{}, err
	}
	q := from[storageRow](s.tx)
	q.add(" WHERE site_id = ?", siteID)
	rows, err := list[storageRow](ctx, s.tx, q)
	if err != nil || len(rows) == 0 {
		return register.Stored{}, err
	}
	return register.Stored{Photos: rows[0].PhotoBytes, Reserved: rows[0].ReservedBytes}, nil
}
