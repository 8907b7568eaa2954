package register

import (
	"context"
	"errors"
	"fmt"
	"io"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// PhotoInput is what a person says of a photo when it is taken in. A stated
// Place goes before the program's own proposal.
type PhotoInput struct {
	FileName  string // display text only; never used as a path
	Stage     string
	Kind      string
	Note      string
	Gang      string // "" = the gang of the person who adds it
	Place     defects.Place
	LabelSeen bool
	ScaleSeen bool
}

// PhotoPage is one page of a list of photos. Next is "" on the last page.
type PhotoPage struct {
	Items []defects.Photo
	Next  string
}

// TakePhoto takes one photo in. When it answers without an error the original
// and the row are both durable. Bytes that the site already holds give the
// existing photo with known true, and nothing is written; of a photo that the
// sender may not see it answers only its id, hash, size and version. A refused photo
// leaves no original behind; one kept whose row could not be stored serves the
// next attempt, until ReclaimOriginals takes it back.
func (r *Register) TakePhoto(ctx context.Context, a Actor, siteID string, body io.Reader, in PhotoInput) (p defects.Photo, known bool, err error) {
	in, err = cleanPhotoInput(in)
	if err != nil {
		return defects.Photo{}, false, err
	}
	if err := r.mayTakePhoto(ctx, a, siteID, in.Place); err != nil {
		return defects.Photo{}, false, err
	}
	staged, err := r.Blobs.Stage(ctx, body, r.Limits.MaxBytes)
	if err != nil {
		return defects.Photo{}, false, r.storeRefusal("take in photo", err)
	}
	defer staged.Discard()
	return r.takeStaged(ctx, a, siteID, staged, in, nil)
}

// settling is what else is stored together with a photo. Whoever settles has
// reserved the room for it.
type settling func(tx Tx, p defects.Photo, known bool) error

// takeStaged takes in bytes that came whole, whatever way they came.
func (r *Register) takeStaged(ctx context.Context, a Actor, siteID string, staged *evidence.Staged, in PhotoInput, also settling) (p defects.Photo, known bool, err error) {
	if p, err := r.photoBySHA(ctx, siteID, staged.Ref()); err == nil {
		p, err = r.knownPhoto(ctx, a, p)
		return p, err == nil, err
	} else if !errors.Is(err, defects.NotFound) {
		return defects.Photo{}, false, err
	}
	p, err = r.readStaged(staged)
	if err != nil {
		return defects.Photo{}, false, err
	}
	if also == nil {
		if err := r.roomFor(ctx, siteID, staged.Size()); err != nil {
			return defects.Photo{}, false, err
		}
	}
	if _, err := staged.Keep(ctx); err != nil {
		return defects.Photo{}, false, r.storeRefusal("keep photo", err)
	}
	p, known, err = r.storePhoto(ctx, a, siteID, p, in, also)
	if err != nil {
		return defects.Photo{}, false, err
	}
	// The row is durable, so this is seen through even when the sender has left.
	if err := staged.Confirm(context.WithoutCancel(ctx)); err != nil {
		return defects.Photo{}, false, r.storeRefusal("confirm photo", err)
	}
	return p, known, nil
}

// roomFor asks before the original is kept; storePhoto asks again.
func (r *Register) roomFor(ctx context.Context, siteID string, size int64) error {
	return r.Store.Read(ctx, func(tx Tx) error {
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		return r.room(ctx, tx, site, size)
	})
}

// mayTakePhoto asks before any byte is read whether the photo could be stored:
// once its original is kept there is no way back.
func (r *Register) mayTakePhoto(ctx context.Context, a Actor, siteID string, chosen defects.Place) error {
	return r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto); err != nil {
			return err
		}
		w, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		return w.place(&defects.Photo{}, chosen)
	})
}

func (r *Register) photoBySHA(ctx context.Context, siteID string, ref evidence.Ref) (p defects.Photo, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		p, err = tx.Photos().PhotoBySHA(ctx, siteID, string(ref))
		return err
	})
	return p, err
}

// readStaged checks the bytes against the limits and reads what they say of
// themselves, before anything is kept.
func (r *Register) readStaged(staged *evidence.Staged) (defects.Photo, error) {
	file, err := staged.Open()
	if err != nil {
		return defects.Photo{}, fmt.Errorf("read staged photo: %w", err)
	}
	defer file.Close()
	capture, notes, err := imaging.ReadCapture(file, r.Limits)
	if err != nil {
		return defects.Photo{}, err
	}
	if err := checkWhole(file, capture.Type); err != nil {
		return defects.Photo{}, err
	}
	return defects.Photo{
		SHA256: string(staged.Ref()), Size: staged.Size(), Capture: capture, Flags: noteFlags(notes),
	}, nil
}

// storePhoto writes the row, the log and what else is to be stored with them in
// one transaction.
func (r *Register) storePhoto(ctx context.Context, a Actor, siteID string, read defects.Photo, in PhotoInput, also settling) (p defects.Photo, known bool, err error) {
	err = r.Store.Write(ctx, func(tx Tx) error {
		p, known, err = r.insertPhoto(ctx, tx, a, siteID, read, in, also == nil)
		if err != nil || also == nil {
			return err
		}
		return also(tx, p, known)
	})
	if errors.Is(err, defects.Conflict) { // the same bytes came in twice at once
		p, err = r.photoBySHA(ctx, siteID, evidence.Ref(read.SHA256))
		known = err == nil
	}
	if err == nil && known {
		p, err = r.knownPhoto(ctx, a, p)
	}
	if err != nil {
		return defects.Photo{}, false, err
	}
	r.wakeDeriver()
	r.copiesChanged.tell()
	return p, known, nil
}

func (r *Register) insertPhoto(ctx context.Context, tx Tx, a Actor, siteID string, read defects.Photo, in PhotoInput, needsRoom bool) (p defects.Photo, known bool, err error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.AddPhoto)
	if err != nil {
		return p, false, err
	}
	p, err = tx.Photos().PhotoBySHA(ctx, siteID, read.SHA256)
	if err == nil || !errors.Is(err, defects.NotFound) {
		return p, err == nil, err
	}
	w, err := loadWalls(ctx, tx, siteID)
	if err != nil {
		return p, false, err
	}
	if needsRoom {
		if err := r.room(ctx, tx, w.site, read.Size); err != nil {
			return p, false, err
		}
	}
	if p, err = r.newPhoto(w, a, m, read, in); err != nil {
		return p, false, err
	}
	if err := tx.Photos().InsertPhoto(ctx, p); err != nil {
		return p, false, err
	}
	if p.CopiesSeq, err = tx.Copies().LastChange(ctx, siteID); err != nil {
		return p, false, err
	}
	if err := r.enqueue(ctx, tx, a, siteID, p.ID); err != nil {
		return p, false, err
	}
	return p, false, r.note(ctx, tx, a, m, siteID, takenEvent(p))
}

// newPhoto completes a photo: who added it, where it belongs, what it is worth.
func (r *Register) newPhoto(w walls, a Actor, m defects.Membership, read defects.Photo, in PhotoInput) (defects.Photo, error) {
	p := read
	p.ID, p.SiteID, p.Version = r.NewID(), w.site.ID, 1
	p.FileName, p.Stage, p.Kind, p.Note = in.FileName, in.Stage, in.Kind, in.Note
	p.LabelSeen, p.ScaleSeen = in.LabelSeen, in.ScaleSeen
	p.ReceivedAt, p.AddedBy, p.AddedName = r.Now(), a.AccountID, a.Name
	p.Gang, p.CopiesAt = in.Gang, p.ReceivedAt
	if p.Gang == "" || m.Role == defects.Operative {
		p.Gang = m.Gang
	}
	if err := w.place(&p, in.Place); err != nil {
		return p, err
	}
	return p, w.grade(&p)
}

// Photo is one photo of a site. An operative sees his own and those of his
// gang's snags and readings.
func (r *Register) Photo(ctx context.Context, a Actor, siteID, id string) (defects.Photo, error) {
	var p defects.Photo
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		_, p, err = r.seenPhoto(ctx, tx, a, siteID, id)
		return err
	})
	if err != nil {
		return defects.Photo{}, err
	}
	return p, nil
}

// seenPhoto loads a photo that the actor may see. Another's photo is to an
// operative as if it were not there.
func (r *Register) seenPhoto(ctx context.Context, tx Tx, a Actor, siteID, id string) (defects.Membership, defects.Photo, error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
	if err != nil {
		return m, defects.Photo{}, err
	}
	p, err := tx.Photos().Photo(ctx, siteID, id)
	if err != nil {
		return m, p, err
	}
	seen, err := photosSeen(ctx, tx, m, []defects.Photo{p})
	if err != nil {
		return m, defects.Photo{}, err
	}
	if len(seen) == 0 {
		return m, defects.Photo{}, defects.RefuseField(defects.NotFound, "photo", "photo_not_found", "no such photo on this site")
	}
	return m, p, nil
}

// ListPhotos lists a site's photos, newest received first. An operative's list
// is his own photos.
func (r *Register) ListPhotos(ctx context.Context, a Actor, f PhotoFilter, page Page) (PhotoPage, error) {
	var out PhotoPage
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite)
		if err != nil {
			return err
		}
		if m.Role == defects.Operative {
			if f.AddedBy != "" && f.AddedBy != a.AccountID {
				return nil
			}
			f.AddedBy = a.AccountID
		}
		out.Items, out.Next, err = pageOf(page, func(p Page) ([]defects.Photo, error) {
			return tx.Photos().ListPhotos(ctx, f, p)
		}, CursorOfPhoto)
		return err
	})
	return out, err
}

// storeRefusal makes a fault of the original store one that a person can act
// on, where there is one.
func (r *Register) storeRefusal(operation string, err error) error {
	switch {
	case errors.Is(err, evidence.ErrTooLarge):
		return defects.RefuseField(defects.TooLarge, "file", "too_many_bytes",
			fmt.Sprintf("a photo has at most %d megabytes", r.Limits.MaxBytes>>20))
	case errors.Is(err, evidence.ErrFull), errors.Is(err, evidence.ErrDenied):
		return &defects.Error{
			Kind: defects.Unavailable, Code: "store_unavailable",
			Text: "the photo store takes nothing in at the moment; nothing was lost, try again later", Err: err,
		}
	}
	return fmt.Errorf("%s: %w", operation, err)
}
