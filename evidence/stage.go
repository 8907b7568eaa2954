package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"sync"
)

// Spool holds the bytes of one intake until they are kept or dropped. Each kind
// of store brings its own; Staged sees to it that Keep and Drop are not called
// twice nor after each other.
type Spool interface {
	// Open reads the bytes from the start.
	Open() (io.ReadSeekCloser, error)
	// Keep moves the bytes into the store under their name, without touching
	// an original that is there already, and reports whether one was. The spool
	// still holds the bytes afterwards, so that Keep can be called again.
	Keep(ctx context.Context, ref Ref, size int64) (existed bool, err error)
	// Has reports whether the store holds an original of that name.
	Has(ref Ref) (bool, error)
	// Drop forgets the spool's own hold on the bytes; what is kept stays.
	Drop()
}

// Staged is a file taken in, hashed and measured, but not yet kept.
type Staged struct {
	ref   Ref
	size  int64
	spool Spool

	mu      sync.Mutex
	receipt *Receipt // set once kept
	dropped bool
}

// NewStaged joins a spool with the name and size HashCopy worked out for it.
// Only stores need it.
func NewStaged(ref Ref, size int64, spool Spool) *Staged {
	return &Staged{ref: ref, size: size, spool: spool}
}

// Ref is the name the bytes have, kept or not.
func (s *Staged) Ref() Ref { return s.ref }

// Size is the number of bytes.
func (s *Staged) Size() int64 { return s.size }

// Open reads the staged bytes from the start; the caller closes the reader. It
// answers ErrSettled after Keep or Discard. A reader opened before stays usable.
func (s *Staged) Open() (io.ReadSeekCloser, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.dropped || s.receipt != nil {
		return nil, fmt.Errorf("open staged %s: %w", s.ref, ErrSettled)
	}
	return s.spool.Open()
}

// Keep puts the bytes into the store for good. A second Keep repeats the first
// answer; Keep after Discard is ErrSettled. After an error the bytes are still
// staged: the caller may try again or Discard them.
func (s *Staged) Keep(ctx context.Context) (Receipt, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.receipt != nil {
		return *s.receipt, nil
	}
	if s.dropped {
		return Receipt{}, fmt.Errorf("keep %s: %w", s.ref, ErrSettled)
	}
	if err := ctx.Err(); err != nil {
		return Receipt{}, fmt.Errorf("keep %s: %w", s.ref, err)
	}
	existed, err := s.spool.Keep(ctx, s.ref, s.size)
	if err != nil {
		return Receipt{}, err
	}
	s.receipt = &Receipt{Ref: s.ref, Size: s.size, Existed: existed}
	return *s.receipt, nil
}

// Confirm makes sure, after the record that names the original is durable, that
// the original is still kept, and keeps it again if it was reclaimed in between.
// It is what makes Reclaim safe beside an intake: Reclaim first moves an original
// aside and then asks whether a record names it, an intake first makes the record
// durable and then looks for the original, so one of the two sees the other.
func (s *Staged) Confirm(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.receipt == nil || s.dropped {
		return fmt.Errorf("confirm %s: %w", s.ref, ErrSettled)
	}
	there, err := s.spool.Has(s.ref)
	if err != nil || there {
		return err
	}
	_, err = s.spool.Keep(ctx, s.ref, s.size)
	return err
}

// Discard lets go of the staged bytes; those that were kept stay kept. It is
// made to be deferred right after Stage.
func (s *Staged) Discard() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.dropped {
		return
	}
	s.dropped = true
	s.spool.Drop()
}

// StageAndKeep is Put for any store that can Stage.
func StageAndKeep(ctx context.Context, s Store, r io.Reader, max int64) (Receipt, error) {
	staged, err := s.Stage(ctx, r, max)
	if err != nil {
		return Receipt{}, err
	}
	defer staged.Discard()
	return staged.Keep(ctx)
}

// HashCopy copies r to w and names and measures the bytes on the way, with the
// same small buffer whatever their number. More than max bytes is ErrTooLarge,
// found after reading at most one byte too many. The context is looked at
// between reads.
func HashCopy(ctx context.Context, w io.Writer, r io.Reader, max int64) (Ref, int64, error) {
	const chunk = 128 << 10
	if max < 0 {
		return "", 0, fmt.Errorf("allow %d bytes: %w", max, ErrTooLarge)
	}
	hash := sha256.New()
	buf := make([]byte, chunk)
	var size int64
	for {
		if err := ctx.Err(); err != nil {
			return "", size, fmt.Errorf("read: %w", err)
		}
		want := int64(chunk)
		if left := max - size; left < want-1 {
			want = left + 1 // one more than allowed shows that there is more
		}
		n, err := r.Read(buf[:want])
		size += int64(n)
		if size > max {
			return "", size, fmt.Errorf("more than %d bytes: %w", max, ErrTooLarge)
		}
		hash.Write(buf[:n]) // never fails, by the contract of hash.Hash
		if _, werr := w.Write(buf[:n]); werr != nil {
			return "", size, classify("write", werr)
		}
		if errors.Is(err, io.EOF) {
			return Ref(hex.EncodeToString(hash.Sum(nil))), size, nil
		}
		if err != nil {
			return "", size, fmt.Errorf("read: %w", err)
		}
	}
}
