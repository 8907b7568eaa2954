package evidence

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

const (
	// parts is the folder of parts. It lies in the one for files not yet kept,
	// so that a whole part moves to its place without being copied, and apart
	// from the temporary files, which are swept by their age alone.
	parts    = "parts"
	partMode = 0o600
)

var _ PartStore = (*Dir)(nil)

// dirPart is a file that its holder has locked through the system, so that the
// lock ends with the process, however it ends.
type dirPart struct {
	dir  *Dir
	path string
	lock *flock.Flock
	file *os.File
	size int64
	over bool // dropped or kept: its name goes when it is closed
}

// OpenPart implements PartStore. A new part's name is durable with its first Sync.
func (d *Dir) OpenPart(ctx context.Context, id string) (Part, error) {
	if err := checkPart(id); err != nil {
		return nil, err
	}
	folder := filepath.Join(d.root, incoming, parts)
	if err := os.MkdirAll(folder, folderMode); err != nil {
		return nil, classify("open part", err)
	}
	path := filepath.Join(folder, id)
	for {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("open part %s: %w", id, err)
		}
		p, err := d.lockPart(path)
		if err != nil {
			return nil, fmt.Errorf("open part %s: %w", id, err)
		}
		if p != nil {
			return p, nil
		}
	}
}

// lockPart answers nil when the file it locked is no longer the one at its
// path: who held it before has dropped it. A read-only one belongs to a process
// that ended while it kept the part; it may be an original already, so it is
// never written to again and loses this name.
func (d *Dir) lockPart(path string) (_ *dirPart, err error) {
	lock := flock.New(path, flock.SetFlag(os.O_CREATE|os.O_RDONLY), flock.SetPermissions(partMode))
	got, err := lock.TryLock()
	if err != nil {
		return nil, classify("lock", err)
	}
	if !got {
		return nil, ErrBusy
	}
	p := &dirPart{dir: d, path: path, lock: lock}
	locked, err := lock.Stat()
	switch {
	case err != nil:
	case locked.Mode()&0o200 == 0:
		return nil, errors.Join(p.Drop(), p.Close())
	default:
		p.file, err = os.OpenFile(path, os.O_RDWR, 0)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, p.Close()
	}
	if err != nil {
		return nil, errors.Join(classify("open", err), p.Close())
	}
	opened, err := p.file.Stat()
	if err != nil {
		return nil, errors.Join(classify("look at part", err), p.Close())
	}
	if !os.SameFile(locked, opened) {
		return nil, p.Close()
	}
	p.size = opened.Size()
	return p, nil
}

// ListParts implements PartStore.
func (d *Dir) ListParts(ctx context.Context, each func(string, time.Time) error) error {
	entries, err := os.ReadDir(filepath.Join(d.root, incoming, parts))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return classify("list parts", err)
	}
	for _, e := range entries {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("list parts: %w", err)
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // became whole meanwhile
		}
		if err != nil {
			return classify("list parts", err)
		}
		if !info.Mode().IsRegular() || checkPart(e.Name()) != nil {
			continue
		}
		if err := each(e.Name(), info.ModTime()); err != nil {
			return err
		}
	}
	return nil
}

func (p *dirPart) ReadAt(b []byte, off int64) (int, error) { return p.file.ReadAt(b, off) }

func (p *dirPart) Size() (int64, error) { return p.size, nil }

func (p *dirPart) Cut(size int64) error {
	if size >= p.size {
		return nil
	}
	if err := p.file.Truncate(size); err != nil {
		return classify("cut part", err)
	}
	p.size = size
	return nil
}

func (p *dirPart) Write(b []byte) (int, error) {
	n, err := p.file.WriteAt(b, p.size)
	p.size += int64(n)
	return n, classify("write part", err)
}

func (p *dirPart) Sync() error {
	if err := p.file.Sync(); err != nil {
		return classify("sync part", err)
	}
	folder := filepath.Dir(p.path)
	return classify("sync part", errors.Join(syncFolder(folder), syncFolder(filepath.Dir(folder))))
}

func (p *dirPart) Stage(ctx context.Context) (*Staged, error) {
	ref, size, err := HashCopy(ctx, io.Discard, readAll(p.file, p.size), p.size)
	if err != nil {
		return nil, fmt.Errorf("stage part: %w", err)
	}
	return NewStaged(ref, size, &partSpool{dirSpool{dir: p.dir, path: p.path}, p}), nil
}

func (p *dirPart) Drop() error {
	p.over = true
	return nil
}

func (p *dirPart) Close() error {
	var err error
	if p.over {
		if err = os.Remove(p.path); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
	}
	if p.file != nil {
		err = errors.Join(err, p.file.Close())
	}
	return classify("close part", errors.Join(err, p.lock.Close()))
}

// partSpool keeps a part as the original that it is.
type partSpool struct {
	dirSpool
	part *dirPart
}

func (s *partSpool) Open() (io.ReadSeekCloser, error) { return readAll(s.part.file, s.part.size), nil }

func (s *partSpool) Drop() { s.part.over = true }

// Keep makes the file read-only before it gets its second name: see lockPart.
// The first name stays until the part is closed: it is what others are locked
// out by while the caller notes what became of the part.
// Its time becomes that of its keeping, so that Reclaim does not take it for a
// leftover of days ago.
func (s *partSpool) Keep(ctx context.Context, ref Ref, size int64) (bool, error) {
	now := time.Now()
	if err := os.Chtimes(s.path, now, now); err != nil {
		return false, classify("keep part", err)
	}
	if err := finish(s.part.file, size, originalMode); err != nil {
		return false, classify("keep part", err)
	}
	existed, err := s.dirSpool.Keep(ctx, ref, size)
	if err == nil {
		s.part.over = true
		return existed, nil
	}
	kept, kerr := os.Lstat(fanned(s.dir.root, ref, string(ref)))
	mine, merr := s.part.file.Stat()
	switch {
	case kerr == nil && merr == nil && !os.SameFile(kept, mine), errors.Is(kerr, fs.ErrNotExist):
		err = errors.Join(err, s.part.file.Chmod(partMode)) // still a part
	default:
		s.part.over = true
	}
	return false, err
}
