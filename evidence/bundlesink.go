package evidence

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	bundleFolderMode = 0o700 // a bundle may hold the hashes of passwords
	bundleFileMode   = 0o600
)

// folderSink writes beside the folder's place and moves the whole there.
type folderSink struct {
	final, temp string
	file        *os.File
}

func newFolderSink(name string) (*folderSink, error) {
	name = filepath.Clean(name)
	entries, err := os.ReadDir(name)
	switch {
	case err == nil && len(entries) > 0:
		return nil, fmt.Errorf("%s is there already and not empty: %w", name, ErrTaken)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s is there already and no folder: %w", name, ErrTaken)
	}
	if err := os.MkdirAll(filepath.Dir(name), folderMode); err != nil {
		return nil, classify("make folder", err)
	}
	temp, err := os.MkdirTemp(filepath.Dir(name), ".part-*")
	if err != nil {
		return nil, classify("make folder", err)
	}
	return &folderSink{final: name, temp: temp}, nil
}

func (s *folderSink) create(name string) (io.Writer, error) {
	at := filepath.Join(s.temp, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(at), bundleFolderMode); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(at, os.O_WRONLY|os.O_CREATE|os.O_EXCL, bundleFileMode)
	s.file = f
	return f, err
}

func (s *folderSink) done() error { return errors.Join(s.file.Sync(), s.file.Close()) }

func (s *folderSink) finish() error {
	var folders []string
	err := filepath.WalkDir(s.temp, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.IsDir() {
			folders = append(folders, path)
		}
		return err
	})
	for _, folder := range folders {
		err = errors.Join(err, syncFolder(folder))
	}
	if err != nil {
		return err
	}
	// An empty folder of that name may be there; not every system renames over it.
	if err := os.Remove(s.final); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.Rename(s.temp, s.final); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(s.final))
}

func (s *folderSink) abandon() {
	if s.file != nil {
		_ = s.file.Close()
	}
	_ = os.RemoveAll(s.temp)
}

// zipSink writes one ZIP file. Its files carry no time, so that the same record
// gives the same bytes.
type zipSink struct {
	final string
	file  *os.File
	zip   *zip.Writer
}

func newZipSink(name string) (*zipSink, error) {
	if _, err := os.Lstat(name); err == nil {
		return nil, fmt.Errorf("%s is there already: %w", name, ErrTaken)
	}
	if err := os.MkdirAll(filepath.Dir(name), folderMode); err != nil {
		return nil, classify("make folder", err)
	}
	f, err := os.CreateTemp(filepath.Dir(name), ".part-*")
	if err != nil {
		return nil, classify("make file", err)
	}
	return &zipSink{final: name, file: f, zip: zip.NewWriter(f)}, nil
}

func (s *zipSink) create(name string) (io.Writer, error) {
	h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: time.Time{}}
	if strings.HasPrefix(name, "originals/") {
		h.Method = zip.Store // photos are compressed already
	}
	h.SetMode(bundleFileMode)
	return s.zip.CreateHeader(h)
}

func (s *zipSink) done() error { return nil }

func (s *zipSink) finish() error {
	if err := errors.Join(s.zip.Close(), s.file.Sync(), s.file.Close()); err != nil {
		return err
	}
	// A hard link refuses a name that was taken meanwhile.
	if err := place(s.file.Name(), s.final); err != nil {
		return err
	}
	_ = os.Remove(s.file.Name()) // gone already where the file was moved
	return syncFolder(filepath.Dir(s.final))
}

func (s *zipSink) abandon() {
	_ = s.file.Close()
	_ = os.Remove(s.file.Name())
}
