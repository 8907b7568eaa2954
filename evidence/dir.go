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
)

// incoming is the sub-folder for files not yet kept. It lies inside the store,
// so that a finished file moves to its place without being copied.
const incoming = "incoming"

// partName begins the names of files that are being received.
const partName = "part-"

// AbandonedAfter is how long a temporary file may stay untouched before it is
// taken as the leftover of an interrupted intake.
const AbandonedAfter = 24 * time.Hour

const (
	folderMode   = 0o750 // photos show people and homes: not for every account of the machine
	originalMode = 0o444 // kept files are read-only, for their owner too
)

// Dir keeps originals in a folder, one file each, at ab/cd/REF where ab and cd
// are the first digits of REF. The file name is the SHA-256 of the content, so
// the folder can be checked with any checksum program. Many goroutines and
// many processes may use one folder at the same time.
type Dir struct {
	root string
}

var _ Store = (*Dir)(nil)

// OpenDir opens the folder root as a store, making it if needed, and removes
// temporary files that were last written more than AbandonedAfter before now. A
// caller that knows that no other program uses the folder passes a time so much
// later, since whatever lies there then is a leftover.
func OpenDir(root string, now time.Time) (*Dir, error) {
	if err := prepare(root, now); err != nil {
		return nil, err
	}
	return &Dir{root: root}, nil
}

// Put implements Store.
func (d *Dir) Put(ctx context.Context, r io.Reader, max int64) (Receipt, error) {
	return StageAndKeep(ctx, d, r, max)
}

// Stage implements Store. The bytes are on the disk, read-only, when it returns.
func (d *Dir) Stage(ctx context.Context, r io.Reader, max int64) (*Staged, error) {
	f, err := os.CreateTemp(filepath.Join(d.root, incoming), partName+"*")
	if err != nil {
		return nil, classify("stage", err)
	}
	spool := &dirSpool{dir: d, path: f.Name()}
	ref, size, err := HashCopy(ctx, f, r, max)
	if err != nil {
		_ = f.Close() // the first error says more
		spool.Drop()
		return nil, fmt.Errorf("stage: %w", err)
	}
	err = finish(f, size, originalMode)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		spool.Drop()
		return nil, classify("stage", err)
	}
	return NewStaged(ref, size, spool), nil
}

// Open implements Store.
func (d *Dir) Open(ctx context.Context, ref Ref) (io.ReadSeekCloser, int64, error) {
	if err := ref.check(); err != nil {
		return nil, 0, err
	}
	return openFile(ctx, fanned(d.root, ref, string(ref)))
}

// Stat implements Store.
func (d *Dir) Stat(ctx context.Context, ref Ref) (int64, error) {
	if err := ref.check(); err != nil {
		return 0, err
	}
	if err := ctx.Err(); err != nil {
		return 0, fmt.Errorf("stat %s: %w", ref, err)
	}
	info, err := os.Lstat(fanned(d.root, ref, string(ref)))
	if err != nil {
		return 0, classify("stat "+string(ref), err)
	}
	if !info.Mode().IsRegular() {
		return 0, fmt.Errorf("stat %s: not a plain file: %w", ref, ErrDamaged)
	}
	return info.Size(), nil
}

// List implements Store. Files that a store would not have put where they are
// get no call, nor do originals that Reclaim takes back meanwhile.
func (d *Dir) List(ctx context.Context, each func(Ref, int64) error) error {
	return filepath.WalkDir(d.root, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return classify("list originals", err)
		}
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("list originals: %w", err)
		}
		if e.IsDir() {
			if path == filepath.Join(d.root, incoming) {
				return fs.SkipDir
			}
			return nil
		}
		ref := Ref(e.Name())
		if !ref.Valid() || !e.Type().IsRegular() || path != fanned(d.root, ref, e.Name()) {
			return nil
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil // taken back meanwhile
		}
		if err != nil {
			return classify("list originals", err)
		}
		return each(ref, info.Size())
	})
}

// dirSpool is a temporary file of a Dir.
type dirSpool struct {
	dir  *Dir
	path string
}

func (s *dirSpool) Open() (io.ReadSeekCloser, error) {
	f, err := os.Open(s.path)
	if err != nil {
		return nil, classify("open staged", err)
	}
	return f, nil
}

func (s *dirSpool) Drop() {
	// A file that cannot be removed now is swept when the store is next opened.
	_ = os.Remove(s.path)
}

// Keep gives the temporary file its name with a hard link, which the system
// refuses if the name is taken: no original is ever replaced, whichever process
// comes first.
func (s *dirSpool) Keep(_ context.Context, ref Ref, size int64) (bool, error) {
	final := fanned(s.dir.root, ref, string(ref))
	operation := "keep " + string(ref)
	if err := os.MkdirAll(filepath.Dir(final), folderMode); err != nil {
		return false, classify(operation, err)
	}
	existed, err := s.place(final, size)
	if err != nil {
		return false, fmt.Errorf("%s: %w", operation, err)
	}
	// Also when it existed: the process that came first may not be here yet.
	if err := syncUp(s.dir.root, filepath.Dir(final)); err != nil {
		return false, classify(operation, err)
	}
	return existed, nil
}

// Has implements Spool.
func (s *dirSpool) Has(ref Ref) (bool, error) {
	_, err := os.Lstat(fanned(s.dir.root, ref, string(ref)))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, classify("look for "+string(ref), err)
}

// place names the spool's file also final, and reports whether an original of
// that name and length was there.
func (s *dirSpool) place(final string, size int64) (existed bool, err error) {
	for range placeTries {
		err = place(s.path, final)
		if !errors.Is(err, fs.ErrExist) {
			return false, classify("name the file", err)
		}
		// One that is gone at the second look is being reclaimed.
		if err = sameSize(final, size); !errors.Is(err, ErrNotFound) {
			return true, err
		}
	}
	return false, err
}

// placeTries is more often than an original can vanish between two looks.
const placeTries = 20

// place names the file at from also final, without ever replacing a file.
func place(from, final string) error {
	err := os.Link(from, final)
	if err == nil || errors.Is(err, fs.ErrExist) || errors.Is(err, fs.ErrNotExist) {
		return err
	}
	// Some file systems have no hard links. There the look and the move are two
	// steps, and a second writer in between puts the same bytes.
	if _, serr := os.Lstat(final); serr == nil {
		return fs.ErrExist
	}
	return os.Rename(from, final)
}

// sameSize checks that the original that was there first has the length its
// name stands for.
func sameSize(path string, size int64) error {
	info, err := os.Lstat(path)
	if err != nil {
		return classify("look at the kept file", err)
	}
	if !info.Mode().IsRegular() || info.Size() != size {
		return fmt.Errorf("kept file has %d bytes, its name stands for %d: %w", info.Size(), size, ErrDamaged)
	}
	return nil
}
