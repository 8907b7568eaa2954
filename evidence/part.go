package evidence

import (
	"context"
	"fmt"
	"io"
	"time"
)

// PartStore keeps the bytes of files that come in piece by piece, over several
// connections and restarts, until they are whole. Implementations are safe for
// use by many goroutines and pass the suite of package evidencetest.
type PartStore interface {
	// OpenPart opens the bytes under an id, begun empty when there are none,
	// for one holder at a time: while another has it open, in this process or
	// another over the same store, it answers ErrBusy. The lock ends with Close
	// or with the process. An id is 1 to 64 of the characters a-z, 0-9 and dash.
	OpenPart(ctx context.Context, id string) (Part, error)
	// ListParts calls each with every part and when it was last written, and
	// stops with the first error each returns.
	ListParts(ctx context.Context, each func(id string, written time.Time) error) error
}

// Part is an open part. It is used by one goroutine at a time.
type Part interface {
	// ReaderAt reads what was written, durable or not.
	io.ReaderAt
	// Size is the number of bytes there are, durable or not.
	Size() (int64, error)
	// Cut drops the bytes from size on.
	Cut(size int64) error
	// Write appends.
	io.Writer
	// Sync makes durable what was written: it outlives a power cut.
	Sync() error
	// Stage names and measures the bytes, ready to be kept as an original. Keep
	// or Discard of the answer end the part when it is closed; without either it
	// stays as it is.
	Stage(ctx context.Context) (*Staged, error)
	// Drop forgets the bytes when the part is closed.
	Drop() error
	io.Closer
}

// checkPart refuses ids that a store could mistake for something else.
func checkPart(id string) error {
	const most = 64
	ok := len(id) >= 1 && len(id) <= most
	for i := 0; ok && i < len(id); i++ {
		c := id[i]
		ok = c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-'
	}
	if !ok {
		return fmt.Errorf("part %q: %w", short(id), ErrBadName)
	}
	return nil
}

// readAll is a reader over a part from its start, with the Close of a file.
func readAll(p io.ReaderAt, size int64) io.ReadSeekCloser {
	return partReader{io.NewSectionReader(p, 0, size)}
}

type partReader struct{ *io.SectionReader }

func (partReader) Close() error { return nil }
