package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
)

// Ref names an original by its content: the SHA-256 of its bytes as 64
// lower-case hexadecimal digits.
type Ref string

// ParseRef reads a Ref, refusing anything but 64 lower-case hexadecimal digits
// with ErrBadName. A Ref that comes from outside must pass through here or
// through a Store, which checks it too.
func ParseRef(text string) (Ref, error) {
	ref := Ref(text)
	return ref, ref.check()
}

// RefOf names bytes that are already in memory.
func RefOf(data []byte) Ref {
	sum := sha256.Sum256(data)
	return Ref(hex.EncodeToString(sum[:]))
}

// Valid reports whether r has the form of a Ref.
func (r Ref) Valid() bool {
	if len(r) != 2*sha256.Size {
		return false
	}
	for i := range len(r) {
		if c := r[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

func (r Ref) check() error {
	if !r.Valid() {
		return fmt.Errorf("original %q: %w", short(string(r)), ErrBadName)
	}
	return nil
}

// short keeps a foreign text from flooding an error message.
func short(text string) string {
	const most = 80
	if len(text) > most {
		return text[:most]
	}
	return text
}

// Receipt says what a store holds after Put or Keep.
type Receipt struct {
	Ref     Ref
	Size    int64 // bytes
	Existed bool  // the same bytes were there before
}

// Store keeps originals. It has no way to change or delete one. Implementations
// are safe for use by many goroutines, pass the suite of package evidencetest
// and answer with the faults of this package.
type Store interface {
	// Put keeps all bytes of r under the name of their content. More than max
	// bytes is ErrTooLarge; then, and after any other error, nothing is kept.
	Put(ctx context.Context, r io.Reader, max int64) (Receipt, error)
	// Stage takes in the bytes of r without keeping them yet, so that the
	// caller can look at them first. The caller must Keep or Discard them.
	Stage(ctx context.Context, r io.Reader, max int64) (*Staged, error)
	// Open reads an original and tells its size in bytes. The caller closes it.
	Open(ctx context.Context, ref Ref) (io.ReadSeekCloser, int64, error)
	// Stat tells the size of an original in bytes.
	Stat(ctx context.Context, ref Ref) (int64, error)
	// List calls each with every original, in the order of their names, and
	// stops with the first error each returns.
	List(ctx context.Context, each func(Ref, int64) error) error
}

// DerivedStore keeps copies made from originals for viewing: previews and
// thumbnails. They can be made again, so they may be replaced or lost.
type DerivedStore interface {
	// PutDerived keeps data as the copy of one kind of an original, in place
	// of an earlier one. A kind is 1 to 20 of the characters a-z, 0-9 and dot,
	// such as "thumb.jpg".
	PutDerived(ctx context.Context, ref Ref, kind string, data []byte) error
	// OpenDerived reads a copy and tells its size in bytes. The caller closes it.
	OpenDerived(ctx context.Context, ref Ref, kind string) (io.ReadSeekCloser, int64, error)
}

// checkDerived refuses names of view copies that a store could mistake.
func checkDerived(ref Ref, kind string) error {
	if err := ref.check(); err != nil {
		return err
	}
	const most = 20
	ok := len(kind) >= 1 && len(kind) <= most
	for i := 0; ok && i < len(kind); i++ {
		c := kind[i]
		ok = c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '.'
	}
	if !ok {
		return fmt.Errorf("kind of view copy %q: %w", short(kind), ErrBadName)
	}
	return nil
}
