package register

import (
	"context"
	"errors"
	"io"
	"slices"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// States of a photo's view copies, as its row keeps them. A failure is
// defects.CopiesFailed with the code of what was wrong.
const (
	derivedWaiting = ""
	derivedReady   = "ready"
)

// makeCopies makes and keeps the view copies of a photo, and answers its
// likeness. Of a photo that has them and no likeness yet it reads the copy.
func (r *Register) makeCopies(ctx context.Context, p defects.Photo) (likeness uint64, err error) {
	if p.Derived == derivedReady {
		if likeness, err = r.copyLikeness(ctx, p); err == nil {
			return likeness, nil
		}
	}
	file, _, err := r.Blobs.Open(ctx, evidence.Ref(p.SHA256))
	if err != nil {
		return 0, err
	}
	defer file.Close()
	head, err := imaging.CheckHeader(file, r.Limits)
	if err != nil {
		return 0, err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return 0, err
	}
	var copies imaging.Copies
	err = r.Pool.Do(ctx, head.Weight(), func() error {
		copies, err = imaging.Derive(ctx, file, p.Capture, imaging.DeriveOptions{Limits: r.Limits, HEVC: r.HEVC})
		return err
	})
	if err != nil {
		return 0, err
	}
	ref := evidence.Ref(p.SHA256)
	if err := r.Derived.PutDerived(ctx, ref, Preview.kind(), copies.Preview.JPEG); err != nil {
		return 0, err
	}
	return copies.Likeness, r.Derived.PutDerived(ctx, ref, Thumb.kind(), copies.Thumb.JPEG)
}

// copyLikeness reads the likeness off a thumbnail from before there were any.
func (r *Register) copyLikeness(ctx context.Context, p defects.Photo) (uint64, error) {
	thumb, _, err := r.Derived.OpenDerived(ctx, evidence.Ref(p.SHA256), Thumb.kind())
	if err != nil {
		return 0, err
	}
	defer thumb.Close()
	return imaging.LikenessOfCopy(thumb)
}

// photoFault is the code of a fault of the photo itself, which no further try
// mends, and "" for one of the machine.
func photoFault(err error) string {
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return "" // a decoder that was stopped may call the file damaged
	case errors.Is(err, evidence.ErrNotFound):
		return "original_missing"
	case errors.Is(err, evidence.ErrDamaged):
		return "original_damaged"
	}
	if e, ok := asError(err); ok && e.Kind != defects.Unavailable {
		return e.CodeOrKind()
	}
	return ""
}

// machineFault is the code of a fault that another try may not meet.
func machineFault(err error) string {
	switch {
	case errors.Is(err, evidence.ErrFull):
		return "store_full"
	case errors.Is(err, evidence.ErrDenied):
		return "store_denied"
	}
	return "machine_fault"
}

// codeDamaged is the code of a photo whose pixels cannot be decoded.
const codeDamaged = "damaged_file"

// flagPixelsDamaged marks a photo of which no view copy can be made because its
// picture data are damaged.
const flagPixelsDamaged = "pixels_damaged"

// capDamaged lowers the grade of a photo whose pixels are damaged to C at most.
// Its data may say rightly where and when it was taken, but nobody can look at
// it, so it cannot prove what a wall was like; the original stays, since another
// program may still read part of it.
func (r *Register) capDamaged(ctx context.Context, tx Tx, siteID, photoID string) error {
	before, err := tx.Photos().Photo(ctx, siteID, photoID)
	if err != nil || slices.ContainsFunc(before.Flags, isDamaged) {
		return err
	}
	after := before
	after.Flags = append(slices.Clone(before.Flags), defects.Flag{Code: flagPixelsDamaged, Text: noteText(flagPixelsDamaged)})
	after.Grade = cappedGrade(after)
	if err := tx.Photos().UpdatePhoto(ctx, after); err != nil {
		return err
	}
	after.Version++
	program := Actor{AccountID: SystemID, Name: "view copies"}
	return r.note(ctx, tx, program, defects.Membership{}, siteID, updatedEvent(before, after))
}

func isDamaged(f defects.Flag) bool { return f.Code == flagPixelsDamaged }

// cappedGrade is a photo's grade, C at most when its pixels are damaged.
func cappedGrade(p defects.Photo) defects.Grade {
	if slices.ContainsFunc(p.Flags, isDamaged) && (p.Grade == defects.GradeA || p.Grade == defects.GradeB) {
		return defects.GradeC
	}
	return p.Grade
}
