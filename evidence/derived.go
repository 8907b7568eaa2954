package evidence

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

const derivedMode = 0o644

// DerivedDir keeps view copies in a folder of their own, at ab/cd/REF.KIND. The
// whole folder may be deleted while no program uses it; the copies are made
// again from the originals.
type DerivedDir struct {
	root string
}

var _ DerivedStore = (*DerivedDir)(nil)

// OpenDerivedDir opens the folder root for view copies, making it if needed,
// and removes leftover temporary files as OpenDir does. It must not be the folder of a Dir.
func OpenDerivedDir(root string, now time.Time) (*DerivedDir, error) {
	if err := prepare(root, now); err != nil {
		return nil, err
	}
	return &DerivedDir{root: root}, nil
}

// PutDerived implements DerivedStore. Readers see the earlier copy or the new
// one, never a part.
func (d *DerivedDir) PutDerived(ctx context.Context, ref Ref, kind string, data []byte) error {
	if err := checkDerived(ref, kind); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("put view copy: %w", err)
	}
	final := fanned(d.root, ref, string(ref)+"."+kind)
	if err := os.MkdirAll(filepath.Dir(final), folderMode); err != nil {
		return classify("put view copy", err)
	}
	f, err := os.CreateTemp(filepath.Join(d.root, incoming), partName+"*")
	if err != nil {
		return classify("put view copy", err)
	}
	if _, err = f.Write(data); err == nil {
		err = finish(f, int64(len(data)), derivedMode)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), final)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // else swept when next opened
		return classify("put view copy", err)
	}
	return nil
}

// OpenDerived implements DerivedStore.
func (d *DerivedDir) OpenDerived(ctx context.Context, ref Ref, kind string) (io.ReadSeekCloser, int64, error) {
	if err := checkDerived(ref, kind); err != nil {
		return nil, 0, err
	}
	return openFile(ctx, fanned(d.root, ref, string(ref)+"."+kind))
}
