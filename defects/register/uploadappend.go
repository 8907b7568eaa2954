package register

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash"
	"io"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

const (
	uploadBuffer = 128 << 10
	// uploadStep is how many bytes of one request may be lost with the power.
	uploadStep = 4 << 20
	// settleWithin bounds making durable what came, after the sender went away.
	settleWithin = time.Minute
)

// Piece is a run of bytes of an upload.
type Piece struct {
	Offset int64
	Body   io.Reader
	// Hash and Sum check the piece as a whole; without Hash nothing is checked.
	Hash hash.Hash
	Sum  []byte
}

// AppendUpload adds a piece to an upload. Whatever of it came is durable when
// it answers, also after a fault on the way, unless the piece carries a
// checksum: then it counts as a whole or not at all. With the last byte the
// upload becomes a photo, by the same rules as TakePhoto; a file that those
// refuse is the end of the upload.
func (r *Register) AppendUpload(ctx context.Context, a Actor, siteID, id string, p Piece) (Upload, error) {
	u, part, err := r.holdUpload(ctx, a, siteID, id)
	if err != nil {
		return Upload{}, err
	}
	// What has come is made durable even if its sender goes away meanwhile.
	safe, cancel := context.WithTimeout(context.WithoutCancel(ctx), settleWithin)
	defer cancel()
	s := &appending{r: r, u: u, part: part, ctx: safe}
	err = s.run(a, p)
	if refused, ok := asError(err); ok && endsUpload(refused) && s.u.State == UploadOpen {
		return Upload{}, errors.Join(err, r.dropUpload(safe, s.u, part))
	}
	return s.u, errors.Join(err, part.Close())
}

// endsUpload tells refusals of the file itself, which more bytes do not mend.
func endsUpload(e *defects.Error) bool {
	switch e.Kind {
	case defects.Invalid, defects.UnsupportedType, defects.TooLarge:
		return true
	}
	return false
}

// appending is one piece on its way into an upload.
type appending struct {
	r       *Register
	u       Upload
	part    evidence.Part
	ctx     context.Context //nolint:containedctx // outlives the request, for this one call
	sniffed bool
}

func (s *appending) run(a Actor, p Piece) error {
	if p.Offset != s.u.Offset {
		return defects.RefuseField(defects.Conflict, "Upload-Offset", "wrong_offset",
			fmt.Sprintf("the upload has %d bytes; go on from there", s.u.Offset))
	}
	if s.u.State != UploadOpen { // finished, and the answer was lost
		return s.part.Drop()
	}
	if err := s.resume(); err != nil {
		return err
	}
	came, fault := s.copy(p)
	if refused, ok := asError(fault); ok && endsUpload(refused) {
		return fault
	}
	if p.Hash != nil && (fault != nil || !bytes.Equal(p.Hash.Sum(nil), p.Sum)) {
		return errors.Join(s.part.Cut(s.u.Offset), firstOf(fault, errMismatch()))
	}
	if err := s.part.Sync(); err != nil {
		return s.r.storeRefusal("keep upload", err)
	}
	if came == s.u.Length {
		// Every byte is here, so a fault of the connection does not matter any more.
		return s.r.finishUpload(s.ctx, a, &s.u, s.part)
	}
	return errors.Join(fault, s.note(came))
}

func firstOf(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}

func errMismatch() error {
	return defects.RefuseField(defects.Mismatch, "Upload-Checksum", "", "the bytes that came are not those that were sent; send this piece again")
}

// resume cuts off what was written and not made durable. A part with less than
// was noted has become an original just before the program ended, or was taken
// away; the upload begins anew then.
func (s *appending) resume() error {
	size, err := s.part.Size()
	if err != nil {
		return err
	}
	if size < s.u.Offset {
		err := s.r.dropUpload(s.ctx, s.u, s.part)
		return errors.Join(defects.Refuse(defects.NotFound, "upload_not_found", "the bytes of this upload are gone; begin it again"), err)
	}
	s.sniffed = s.u.Offset >= imaging.SniffLen
	return s.part.Cut(s.u.Offset)
}

// copy writes the body to the part, making every uploadStep of it durable when
// no checksum may take it back. It answers how far the upload has come.
func (s *appending) copy(p Piece) (came int64, err error) {
	buf := make([]byte, uploadBuffer)
	came, noted := s.u.Offset, s.u.Offset
	for {
		n, err := p.Body.Read(buf)
		if int64(n) > s.u.Length-came {
			return came, defects.RefuseField(defects.TooLarge, "Upload-Length", "too_many_bytes", "more bytes came than were announced")
		}
		if p.Hash != nil {
			p.Hash.Write(buf[:n]) // never fails, by the contract of hash.Hash
		}
		if _, werr := s.part.Write(buf[:n]); werr != nil {
			return came, s.r.storeRefusal("write upload", werr)
		}
		came += int64(n)
		if serr := s.sniff(came); serr != nil {
			return came, serr
		}
		if errors.Is(err, io.EOF) {
			return came, nil
		}
		if err != nil {
			return came, err
		}
		if p.Hash == nil && came-noted >= uploadStep && came < s.u.Length {
			if err := s.part.Sync(); err != nil {
				return came, s.r.storeRefusal("keep upload", err)
			}
			if err := s.note(came); err != nil {
				return came, err
			}
			noted = came
		}
	}
}

// sniff refuses a type that is not taken as soon as it can be told.
func (s *appending) sniff(came int64) error {
	if s.sniffed || came < min(imaging.SniffLen, s.u.Length) {
		return nil
	}
	s.sniffed = true
	head := make([]byte, min(imaging.SniffLen, came))
	if _, err := s.part.ReadAt(head, 0); err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("read upload: %w", err)
	}
	_, err := imaging.Sniff(head)
	return err
}

// note stores how far the upload has come, which its part must hold already.
func (s *appending) note(came int64) error {
	if came == s.u.Offset {
		return nil
	}
	u := s.u
	u.Offset, u.ExpiresAt = came, s.r.Now().Add(UploadLife)
	if err := s.r.Store.Write(s.ctx, func(tx Tx) error { return tx.Uploads().UpdateUpload(s.ctx, u) }); err != nil {
		return err
	}
	s.u = u
	return nil
}

// finishUpload makes a photo of a whole upload. Its last bytes are noted in the
// transaction that stores the photo, so that one is never there without the
// other.
func (r *Register) finishUpload(ctx context.Context, a Actor, u *Upload, part evidence.Part) error {
	if err := r.mayTakePhoto(ctx, a, u.SiteID, u.Input.Place); err != nil {
		return err
	}
	staged, err := part.Stage(ctx)
	if err != nil {
		return r.storeRefusal("take in upload", err)
	}
	done := *u
	done.Offset = u.Length
	settle := func(tx Tx, p defects.Photo, known bool) error {
		done.State, done.PhotoID = UploadTaken, p.ID
		if known {
			done.State = UploadKnown
		}
		done.ExpiresAt = r.Now().Add(UploadLife)
		return tx.Uploads().UpdateUpload(ctx, done)
	}
	p, known, err := r.takeStaged(ctx, a, u.SiteID, staged, u.Input, settle)
	if err != nil {
		return err
	}
	if done.PhotoID != p.ID { // known before anything was written
		if err := r.Store.Write(ctx, func(tx Tx) error { return settle(tx, p, known) }); err != nil {
			return err
		}
		if err := part.Drop(); err != nil {
			r.Logger.WarnContext(ctx, "bytes of a finished upload stay until they are swept", "upload", u.ID, "error", err)
		}
	}
	*u = done
	return nil
}
