package evidence

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"
	"strings"
)

const (
	maxSumsLine    = 1 << 10
	maxBundleFiles = 10_000_000
)

// BundleFault is what is wrong with one file of a bundle. Codes: bad_listing,
// bad_name, not_a_file, missing_file, extra_file, changed_file, unreadable.
type BundleFault struct{ File, Code, Text string }

// bundleMember is one file of a bundle that is being read.
type bundleMember struct {
	open func() (io.ReadCloser, error)
	size int64
}

// Bundle is a bundle open for reading. Whoever made it is not trusted: names
// that lead elsewhere, links and special files are faults, and each file is
// checked against the list whenever it is read.
type Bundle struct {
	members map[string]bundleMember
	sums    map[string]Ref
	faults  []BundleFault // of the list and the names
	closer  io.Closer
}

// OpenBundle opens a folder or a ZIP file. The caller closes it. What is wrong
// inside is told by Check.
func OpenBundle(name string) (*Bundle, error) {
	b := &Bundle{members: map[string]bundleMember{}, sums: map[string]Ref{}}
	info, err := os.Stat(name)
	if err != nil {
		return nil, classify("open "+name, err)
	}
	if info.IsDir() {
		err = b.openFolder(name)
	} else {
		err = b.openZip(name)
	}
	if err == nil {
		err = b.readSums()
	}
	if err != nil {
		return nil, errors.Join(err, b.Close())
	}
	return b, nil
}

// Close lets go of the bundle.
func (b *Bundle) Close() error {
	if b.closer == nil {
		return nil
	}
	return b.closer.Close()
}

func (b *Bundle) fault(file, code, text string) {
	b.faults = append(b.faults, BundleFault{short(file), code, text})
}

func (b *Bundle) openFolder(name string) error {
	root, err := os.OpenRoot(name)
	if err != nil {
		return classify("open "+name, err)
	}
	b.closer = root
	return fs.WalkDir(root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return classify("read "+name, err)
		case e.IsDir():
			return nil
		case !e.Type().IsRegular():
			b.fault(name, "not_a_file", "is a link or a special file")
			return nil
		}
		info, err := e.Info()
		if err != nil {
			return classify("read "+name, err)
		}
		b.add(name, bundleMember{size: info.Size(), open: func() (io.ReadCloser, error) { return root.Open(name) }})
		return nil
	})
}

func (b *Bundle) openZip(name string) error {
	z, err := zip.OpenReader(name)
	if err != nil {
		return fmt.Errorf("open %s: %w: %w", name, ErrBundle, err)
	}
	b.closer = z
	for _, f := range z.File {
		switch {
		case strings.HasSuffix(f.Name, "/") && f.UncompressedSize64 == 0 && bundleName(strings.TrimSuffix(f.Name, "/")):
		case !f.Mode().IsRegular():
			b.fault(f.Name, "not_a_file", "is a link or a special file")
		case f.UncompressedSize64 > maxWhole:
			b.fault(f.Name, "not_a_file", "says it is larger than can be")
		default:
			b.add(f.Name, bundleMember{size: int64(f.UncompressedSize64), open: f.Open})
		}
	}
	return nil
}

func (b *Bundle) add(name string, m bundleMember) {
	_, twice := b.members[name]
	switch {
	case !bundleName(name):
		b.fault(name, "bad_name", "is no name of a file in a record")
	case twice:
		b.fault(name, "bad_name", "is there twice")
	case len(b.members) == maxBundleFiles:
		b.fault(name, "extra_file", "is one file too many")
	default:
		b.members[name] = m
	}
}

// readSums reads the list of hashes.
func (b *Bundle) readSums() error {
	list, ok := b.members[SumsName]
	if !ok {
		return fmt.Errorf("there is no file %s: %w", SumsName, ErrBundle)
	}
	f, err := list.open()
	if err != nil {
		return classify("open "+SumsName, err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, maxSumsLine)
	for n := 1; lines.Scan(); n++ {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		_, twice := b.sums[name]
		switch {
		case !ok || !Ref(sum).Valid() || !bundleName(name) || name == SumsName || twice:
			b.fault(SumsName, "bad_listing", fmt.Sprintf("line %d is no hash and name, or a name comes twice", n))
		default:
			b.sums[name] = Ref(sum)
		}
	}
	if err := lines.Err(); err != nil {
		b.fault(SumsName, "bad_listing", "cannot be read: "+err.Error())
	}
	return nil
}

// Names lists the files that are there and listed, sorted.
func (b *Bundle) Names() []string {
	var names []string
	for _, name := range slices.Sorted(maps.Keys(b.sums)) {
		if _, ok := b.members[name]; ok {
			names = append(names, name)
		}
	}
	return names
}

// Sum is the hash that the list gives a file; "" for none.
func (b *Bundle) Sum(name string) Ref { return b.sums[name] }

// Size is the length of a file in bytes, 0 when there is none.
func (b *Bundle) Size(name string) int64 { return b.members[name].size }

// Check reads every file through and tells each that is changed, missing or
// too many, by name.
func (b *Bundle) Check(ctx context.Context, tell func()) ([]BundleFault, error) {
	faults := slices.Clone(b.faults)
	for _, name := range slices.Sorted(maps.Keys(b.members)) {
		if _, listed := b.sums[name]; !listed && name != SumsName {
			faults = append(faults, BundleFault{name, "extra_file", "is not in " + SumsName})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(b.sums)) {
		if _, there := b.members[name]; !there {
			faults = append(faults, BundleFault{name, "missing_file", "is in " + SumsName + " and not there"})
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("check the bundle: %w", err)
		}
		f, err := b.Open(name)
		if err == nil {
			_, err = io.Copy(io.Discard, f)
			err = errors.Join(err, f.Close())
		}
		switch {
		case errors.Is(err, ErrDamaged):
			faults = append(faults, BundleFault{name, "changed_file", "is not what its hash in " + SumsName + " says"})
		case err != nil:
			faults = append(faults, BundleFault{name, "unreadable", err.Error()})
		}
		tell()
	}
	return faults, nil
}

// Open reads a file. When its bytes are not those that the list names, the
// reader ends in ErrDamaged instead of io.EOF. The caller closes it.
func (b *Bundle) Open(name string) (io.ReadCloser, error) {
	m, there := b.members[name]
	want, listed := b.sums[name]
	if !there || !listed {
		return nil, fmt.Errorf("file %s of the bundle: %w", short(name), ErrNotFound)
	}
	f, err := m.open()
	if err != nil {
		return nil, classify("open "+name, err)
	}
	return &checkedReader{from: f, hash: sha256.New(), want: want, name: name}, nil
}

// checkedReader holds the bytes that go through it to a hash.
type checkedReader struct {
	from io.ReadCloser
	hash hash.Hash
	want Ref
	name string
}

func (r *checkedReader) Read(p []byte) (int, error) {
	n, err := r.from.Read(p)
	r.hash.Write(p[:n])
	if errors.Is(err, io.EOF) && hex.EncodeToString(r.hash.Sum(nil)) != string(r.want) {
		return n, fmt.Errorf("read %s: %w", r.name, ErrDamaged)
	}
	return n, err
}

func (r *checkedReader) Close() error { return r.from.Close() }
