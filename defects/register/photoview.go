package register

import (
	"context"
	"errors"
	"fmt"
	"io"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// Variant names one form of a photo.
type Variant string

// The variants.
const (
	Original Variant = "original" // bytes as received
	Preview  Variant = "preview"  // long edge 2048 px, upright, no metadata
	Thumb    Variant = "thumb"    // 320 px, upright, no metadata
)

// kind is the name of a view copy in the derived store.
func (v Variant) kind() string { return string(v) + ".jpg" }

// Opened is an open form of a photo. The caller closes Body.
type Opened struct {
	Body  io.ReadSeekCloser
	Size  int64
	Type  string // media type
	Tag   string // names these bytes: other bytes have another one
	Photo defects.Photo
}

// OpenPhoto opens one form of a photo. Originals come as they were received and
// carry place and time, so they are for those with the permission, for who added
// them and for his gang. It never waits for a view copy: one that is still to be made
// answers defects.Unavailable with code not_ready_yet.
func (r *Register) OpenPhoto(ctx context.Context, a Actor, siteID, id string, v Variant) (Opened, error) {
	if v != Original && v != Preview && v != Thumb && v != Captioned {
		return Opened{}, defects.RefuseField(defects.NotFound, "variant", "no_such_variant", "a photo comes as original, preview or thumb")
	}
	var p defects.Photo
	var lines []string
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, seen, err := r.seenPhoto(ctx, tx, a, siteID, id)
		if err != nil {
			return err
		}
		p = seen
		if v == Captioned {
			lines, err = captionLines(ctx, tx, p)
			return err
		}
		if v == Original && !m.MayOpenOriginal(p) {
			return defects.RefuseRole(string(m.Role), string(defects.ViewOriginal), defects.RoleNames(defects.WhoMay(defects.ViewOriginal)))
		}
		return nil
	})
	if err != nil {
		return Opened{}, err
	}
	switch v {
	case Original:
		return r.openOriginal(ctx, p)
	case Captioned:
		return r.openCaptioned(ctx, p, lines)
	}
	return r.openCopy(ctx, p, v)
}

func (r *Register) openOriginal(ctx context.Context, p defects.Photo) (Opened, error) {
	body, size, err := r.Blobs.Open(ctx, evidence.Ref(p.SHA256))
	if err != nil {
		return Opened{}, fmt.Errorf("open original of photo %s: %w", p.ID, err)
	}
	return Opened{Body: body, Size: size, Type: mediaType(p.Capture.Type), Tag: p.SHA256, Photo: p}, nil
}

// openCopy opens a view copy. One that was made and is gone is made again.
func (r *Register) openCopy(ctx context.Context, p defects.Photo, v Variant) (Opened, error) {
	if why := p.CopiesReason(); why != "" {
		return Opened{}, defects.Refuse(defects.NotFound, "no_view_copy",
			"no view copy could be made of this photo: "+why+"; its original is kept as received")
	}
	if p.Derived == derivedReady {
		body, size, err := r.Derived.OpenDerived(ctx, evidence.Ref(p.SHA256), v.kind())
		if err == nil {
			return Opened{Body: body, Size: size, Type: "image/jpeg", Tag: copyTag(p, v), Photo: p}, nil
		}
		if !errors.Is(err, evidence.ErrNotFound) {
			return Opened{}, fmt.Errorf("open %s of photo %s: %w", v, p.ID, err)
		}
		if err := r.lostCopies(ctx, p); err != nil {
			return Opened{}, err
		}
	}
	r.wakeDeriver()
	return Opened{}, defects.Refuse(defects.Unavailable, "not_ready_yet", "the view copy is being made; try again in a moment")
}

// copyTag names a view copy. Copies that are made again, by a later version of
// the program perhaps, have another number.
func copyTag(p defects.Photo, v Variant) string {
	return fmt.Sprintf("%s-%s-%d", p.SHA256[:min(32, len(p.SHA256))], v, p.CopiesSeq)
}

// lostCopies asks for the copies anew, once however many notice the loss.
func (r *Register) lostCopies(ctx context.Context, p defects.Photo) error {
	return r.Store.Write(ctx, func(tx Tx) error {
		now, err := tx.Photos().Photo(ctx, p.SiteID, p.ID)
		if err != nil || now.CopiesSeq != p.CopiesSeq {
			return err
		}
		return r.again(ctx, tx, System("view copies"), now)
	})
}

func mediaType(kind string) string {
	switch kind {
	case "jpeg", "png", "webp", "heic", "heif":
		return "image/" + kind
	}
	return "application/octet-stream"
}
