package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"path"
	"slices"
	"strings"
)

// SumsName is the file of a bundle that lists all others with their SHA-256, in
// the format of `sha256sum -c`.
const SumsName = "SHA256SUMS"

// sink is where a bundle is written to: a folder or a ZIP file. One file is
// written at a time.
type sink interface {
	create(name string) (io.Writer, error)
	done() error   // ends the file that was created last
	finish() error // gives the whole its name
	abandon()      // takes away what was written
}

// BundleWriter writes a bundle: files with a list of their SHA-256, in a folder
// or, when the name ends in .zip, in one file. Whatever happens, the name holds
// a whole bundle or nothing.
type BundleWriter struct {
	to    sink
	sums  map[string]Ref
	ended bool
}

// CreateBundle begins a bundle. A name that is taken, but for an empty folder,
// is ErrTaken.
func CreateBundle(name string) (*BundleWriter, error) {
	var to sink
	var err error
	if isZip(name) {
		to, err = newZipSink(name)
	} else {
		to, err = newFolderSink(name)
	}
	if err != nil {
		return nil, err
	}
	return &BundleWriter{to: to, sums: map[string]Ref{}}, nil
}

func isZip(name string) bool { return strings.HasSuffix(strings.ToLower(name), ".zip") }

// File writes one file of the bundle and answers the SHA-256 of its bytes. The
// name has slashes between folders. After an error the bundle can only be
// abandoned.
func (w *BundleWriter) File(ctx context.Context, name string, write func(io.Writer) error) (Ref, error) {
	if _, taken := w.sums[name]; taken || !bundleName(name) || w.ended {
		return "", fmt.Errorf("file %q of a bundle: %w", short(name), ErrBadName)
	}
	out, err := w.to.create(name)
	if err != nil {
		return "", classify("write "+name, err)
	}
	summed := &summingWriter{ctx: ctx, to: out, hash: sha256.New()}
	if err := write(summed); err != nil {
		return "", fmt.Errorf("write %s: %w", name, err)
	}
	if err := w.to.done(); err != nil {
		return "", classify("write "+name, err)
	}
	w.sums[name] = Ref(hex.EncodeToString(summed.hash.Sum(nil)))
	return w.sums[name], nil
}

// summingWriter hashes what goes through it.
type summingWriter struct {
	ctx  context.Context
	to   io.Writer
	hash hash.Hash
}

func (s *summingWriter) Write(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := s.to.Write(p)
	s.hash.Write(p[:n])
	return n, classify("write", err)
}

// Close writes the list and gives the bundle its name.
func (w *BundleWriter) Close(ctx context.Context) error {
	names := make([]string, 0, len(w.sums))
	for name := range w.sums {
		names = append(names, name)
	}
	slices.Sort(names)
	_, err := w.File(ctx, SumsName, func(out io.Writer) error {
		var text strings.Builder
		for _, name := range names {
			fmt.Fprintf(&text, "%s  %s\n", w.sums[name], name)
		}
		_, err := io.WriteString(out, text.String())
		return err
	})
	if err != nil {
		return err
	}
	w.ended = true
	return classify("finish the bundle", w.to.finish())
}

// Abandon takes a bundle away that was not closed. It is made to be deferred.
func (w *BundleWriter) Abandon() {
	if !w.ended {
		w.ended = true
		w.to.abandon()
	}
}

// bundleName allows names that mean the same on every system and lead nowhere
// else.
func bundleName(name string) bool {
	const most = 200
	if name == "" || len(name) > most || path.Clean(name) != name || strings.HasPrefix(name, "/") {
		return false
	}
	for i := range len(name) {
		c := name[i]
		word := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9'
		if !word && c != '.' && c != '_' && c != '-' && c != '/' {
			return false
		}
	}
	return name != "." && name != ".." && !strings.HasPrefix(name, "../")
}
