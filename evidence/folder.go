package evidence

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// fanned is the path of a file that belongs to ref, two folders down, so that
// no folder grows past some hundred entries on a site with many photos.
func fanned(root string, ref Ref, name string) string {
	return filepath.Join(root, string(ref[:2]), string(ref[2:4]), name)
}

// prepare makes the folders of a store and sweeps abandoned temporary files.
func prepare(root string, now time.Time) error {
	folder := filepath.Join(root, incoming)
	if err := os.MkdirAll(folder, folderMode); err != nil {
		return classify("open store", err)
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return classify("open store", err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), partName) {
			continue
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // another process finished with it
		}
		if err != nil {
			return classify("sweep store", err)
		}
		if !info.Mode().IsRegular() || now.Sub(info.ModTime()) <= AbandonedAfter {
			continue
		}
		err = os.Remove(filepath.Join(folder, e.Name()))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return classify("sweep store", err)
		}
	}
	return nil
}

// finish makes sure that a written file is whole and on the disk.
func finish(f *os.File, size int64, mode fs.FileMode) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if info.Size() != size {
		return fmt.Errorf("wrote %d bytes but the file has %d: %w", size, info.Size(), io.ErrShortWrite)
	}
	// Before the sync, so that the mode reaches the disk with the bytes.
	if err := f.Chmod(mode); err != nil {
		return err
	}
	return f.Sync()
}

// syncUp writes the folder entries from folder up to root to the disk. Without
// it a power cut could take the name of a file whose bytes are safe.
func syncUp(root, folder string) error {
	for {
		if err := syncFolder(folder); err != nil {
			return err
		}
		if folder == root || len(folder) <= len(root) {
			return nil
		}
		folder = filepath.Dir(folder)
	}
}

func syncFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	err = f.Sync()
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// openFile opens a plain file for reading and tells its size.
func openFile(ctx context.Context, path string) (io.ReadSeekCloser, int64, error) {
	operation := "open " + filepath.Base(path)
	if err := ctx.Err(); err != nil {
		return nil, 0, fmt.Errorf("%s: %w", operation, err)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, classify(operation, err)
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("not a plain file: %w", ErrDamaged)
	}
	if err != nil {
		_ = f.Close() // the first error says more
		return nil, 0, classify(operation, err)
	}
	return f, info.Size(), nil
}
