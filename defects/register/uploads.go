package register

import (
	"context"
	"errors"
	"fmt"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// UploadState says what became of an upload.
type UploadState string

// The states of an upload.
const (
	UploadOpen    UploadState = "open"    // more bytes are to come
	UploadTaken   UploadState = "taken"   // it became a photo
	UploadKnown   UploadState = "known"   // the site had its bytes already
	UploadExpired UploadState = "expired" // its time was over before it was whole
)

// UploadStates lists them.
func UploadStates() []UploadState {
	return []UploadState{UploadOpen, UploadTaken, UploadKnown, UploadExpired}
}

// Upload is a photo that comes piece by piece. Offset is the number of bytes
// that would outlive a power cut; it reaches Length only together with the photo.
type Upload struct {
	ID        string
	SiteID    string
	AccountID string
	Length    int64
	Offset    int64
	Metadata  string // as the client sent it, to be repeated to it
	Input     PhotoInput
	State     UploadState
	PhotoID   string // once State is UploadTaken or UploadKnown
	CreatedAt time.Time
	ExpiresAt time.Time
}

// Uploads holds uploads. Each change keeps Sites.Stored in step.
type Uploads interface {
	InsertUpload(ctx context.Context, u Upload) error
	Upload(ctx context.Context, siteID, id string) (Upload, error)
	// UpdateUpload stores offset, state, photo and expiry of an open upload; of
	// one that is over it answers Stale.
	UpdateUpload(ctx context.Context, u Upload) error
	DeleteUpload(ctx context.Context, u Upload) error // nothing happens when it is not in u.State any more
	OpenUploads(ctx context.Context, siteID, accountID string) ([]Upload, error)
	UploadsByID(ctx context.Context, ids []string) ([]Upload, error) // over all sites
	// UploadsExpired lists, over all sites, open ones that expired before open
	// and any that expired before over.
	UploadsExpired(ctx context.Context, open, over time.Time, limit int) ([]Upload, error)
}

const (
	// UploadLife is how long an upload waits for more bytes.
	UploadLife = 72 * time.Hour
	// uploadMemory is how long it is remembered that there was one.
	uploadMemory = 7 * 24 * time.Hour
	// openUploads is how many one person may have unfinished on a site.
	openUploads = 200
)

// NewUpload is what an upload begins with.
type NewUpload struct {
	Length   int64
	Metadata string
	Input    PhotoInput
}

// MayUpload answers nil to who may upload photos to a site.
func (r *Register) MayUpload(ctx context.Context, a Actor, siteID string) error {
	return r.Store.Read(ctx, func(tx Tx) error {
		_, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto)
		return err
	})
}

// BeginUpload makes room for a photo that comes piece by piece. What could not
// be stored in the end is refused now.
func (r *Register) BeginUpload(ctx context.Context, a Actor, siteID string, n NewUpload) (u Upload, err error) {
	in, err := cleanPhotoInput(n.Input)
	if err != nil {
		return Upload{}, err
	}
	if err := r.mayTakePhoto(ctx, a, siteID, in.Place); err != nil {
		return Upload{}, err
	}
	switch {
	case n.Length > r.Limits.MaxBytes:
		return Upload{}, r.storeRefusal("begin upload", evidence.ErrTooLarge)
	case n.Length == 0:
		return Upload{}, defects.RefuseField(defects.Invalid, "file", "empty_file", "the file is empty")
	}
	now := r.Now()
	u = Upload{
		ID: r.NewID(), SiteID: siteID, AccountID: a.AccountID, Length: n.Length, Metadata: n.Metadata, Input: in,
		State: UploadOpen, CreatedAt: now, ExpiresAt: now.Add(UploadLife),
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto); err != nil {
			return err
		}
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		open, err := tx.Uploads().OpenUploads(ctx, siteID, a.AccountID)
		if err != nil {
			return err
		}
		if len(open) >= openUploads {
			return defects.Refuse(defects.TooMany, "too_many_uploads", fmt.Sprintf("finish or end some of your %d unfinished uploads first", len(open)))
		}
		if err := r.room(ctx, tx, site, u.Length); err != nil {
			return err
		}
		return tx.Uploads().InsertUpload(ctx, u)
	})
	if err != nil {
		return Upload{}, err
	}
	return u, nil
}

// Upload is one upload of the actor's own. One whose time is over is Gone.
func (r *Register) Upload(ctx context.Context, a Actor, siteID, id string) (u Upload, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		u, err = r.ownUpload(ctx, tx, a, siteID, id)
		return err
	})
	return u, err
}

// OpenUploads lists the actor's unfinished uploads on a site, the oldest first.
func (r *Register) OpenUploads(ctx context.Context, a Actor, siteID string) (list []Upload, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto); err != nil {
			return err
		}
		all, err := tx.Uploads().OpenUploads(ctx, siteID, a.AccountID)
		for _, u := range all {
			if r.Now().Before(u.ExpiresAt) {
				list = append(list, u)
			}
		}
		return err
	})
	return list, err
}

func (r *Register) ownUpload(ctx context.Context, tx Tx, a Actor, siteID, id string) (Upload, error) {
	if _, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto); err != nil {
		return Upload{}, err
	}
	u, err := tx.Uploads().Upload(ctx, siteID, id)
	switch {
	case err != nil:
		return Upload{}, err
	case u.AccountID != a.AccountID:
		return Upload{}, defects.Refuse(defects.NotFound, "upload_not_found", "no such upload")
	case u.State == UploadExpired, u.State == UploadOpen && !r.Now().Before(u.ExpiresAt):
		return Upload{}, defects.Refuse(defects.Gone, "upload_expired", "the upload was not finished in time; begin it again")
	}
	return u, nil
}

// EndUpload gives an upload up: its bytes and what is known of it are gone. The
// photo of a finished one stays.
func (r *Register) EndUpload(ctx context.Context, a Actor, siteID, id string) error {
	u, part, err := r.holdUpload(ctx, a, siteID, id)
	if err != nil {
		return err
	}
	return r.dropUpload(ctx, u, part)
}

// holdUpload loads an upload with its part locked. What it finds stays so until
// the part is closed.
func (r *Register) holdUpload(ctx context.Context, a Actor, siteID, id string) (Upload, evidence.Part, error) {
	if _, err := r.Upload(ctx, a, siteID, id); err != nil {
		return Upload{}, nil, err // before any file is made of what a stranger asks for
	}
	part, err := r.Parts.OpenPart(ctx, id)
	if errors.Is(err, evidence.ErrBusy) {
		return Upload{}, nil, defects.Refuse(defects.Locked, "upload_locked", "another request is sending to this upload; try again in a moment")
	}
	if err != nil {
		return Upload{}, nil, r.storeRefusal("open upload", err)
	}
	u, err := r.Upload(ctx, a, siteID, id)
	if errors.Is(err, defects.NotFound) { // ended while the part was waited for
		err = errors.Join(err, part.Drop())
	}
	if err != nil {
		return Upload{}, nil, errors.Join(err, part.Close())
	}
	return u, part, nil
}

// dropUpload forgets an upload and its bytes. Bytes that a power cut in between
// leaves behind are swept.
func (r *Register) dropUpload(ctx context.Context, u Upload, part evidence.Part) error {
	err := part.Drop()
	if err == nil {
		err = r.Store.Write(ctx, func(tx Tx) error { return tx.Uploads().DeleteUpload(ctx, u) })
	}
	return errors.Join(err, part.Close())
}
