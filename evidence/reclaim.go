package evidence

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Named tells which of some originals a durable record names.
type Named func(ctx context.Context, refs []Ref) (map[Ref]bool, error)

// Reclaimer is a store that can take back originals that no record names: they
// were kept by an intake that ended before its record was written, so nobody was
// ever told that they are safe. Nothing else about an original can be undone.
type Reclaimer interface {
	// Reclaim removes the originals that were received before the given time
	// and that named does not know, and tells how many. It may run beside
	// intakes, also of other processes, that Confirm what they kept.
	Reclaim(ctx context.Context, before time.Time, named Named) (int, error)
}

var _ Reclaimer = (*Dir)(nil)

// asideName begins the names of originals that are moved out of sight while it
// is asked a last time whether a record names them.
const asideName = "aside-"

// reclaimAtOnce is how many originals are asked about in one go.
const reclaimAtOnce = 500

// Reclaim implements Reclaimer.
func (d *Dir) Reclaim(ctx context.Context, before time.Time, named Named) (removed int, err error) {
	removed, err = d.settleAside(ctx, named) // of a run that was cut off
	if err != nil {
		return removed, err
	}
	var batch []Ref
	flush := func() error {
		n, err := d.reclaim(ctx, batch, named)
		removed, batch = removed+n, batch[:0]
		return err
	}
	err = d.List(ctx, func(ref Ref, _ int64) error {
		info, err := os.Lstat(fanned(d.root, ref, string(ref)))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return classify("look at "+string(ref), err)
		}
		if !info.ModTime().Before(before) {
			return nil
		}
		if batch = append(batch, ref); len(batch) == reclaimAtOnce {
			return flush()
		}
		return nil
	})
	if err == nil {
		err = flush()
	}
	return removed, err
}

// reclaim moves those of the originals aside that no record names, and settles
// what becomes of them.
func (d *Dir) reclaim(ctx context.Context, refs []Ref, named Named) (int, error) {
	if len(refs) == 0 {
		return 0, nil
	}
	known, err := named(ctx, refs)
	if err != nil {
		return 0, fmt.Errorf("reclaim: %w", err)
	}
	moved := false
	for _, ref := range refs {
		if known[ref] {
			continue
		}
		err := os.Rename(fanned(d.root, ref, string(ref)), d.aside(ref))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return 0, classify("reclaim "+string(ref), err)
		}
		moved = true
	}
	if !moved {
		return 0, nil
	}
	return d.settleAside(ctx, named)
}

func (d *Dir) aside(ref Ref) string {
	return filepath.Join(d.root, incoming, asideName+string(ref))
}

// settleAside asks again about the originals that are aside: those that a record
// names by now go back to their place, the others are removed.
func (d *Dir) settleAside(ctx context.Context, named Named) (removed int, err error) {
	entries, err := os.ReadDir(filepath.Join(d.root, incoming))
	if err != nil {
		return 0, classify("reclaim", err)
	}
	var refs []Ref
	for _, e := range entries {
		if name, ok := strings.CutPrefix(e.Name(), asideName); ok && Ref(name).Valid() {
			refs = append(refs, Ref(name))
		}
	}
	if len(refs) == 0 {
		return 0, nil
	}
	known, err := named(ctx, refs)
	if err != nil {
		return 0, fmt.Errorf("reclaim: %w", err)
	}
	for _, ref := range refs {
		if known[ref] {
			if err := d.putBack(ref); err != nil {
				return removed, err
			}
			continue
		}
		err := os.Remove(d.aside(ref))
		if err == nil {
			removed++
		} else if !errors.Is(err, fs.ErrNotExist) {
			return removed, classify("reclaim "+string(ref), err)
		}
	}
	return removed, nil
}

// putBack gives an original its place again. Another process may do the same.
func (d *Dir) putBack(ref Ref) error {
	final := fanned(d.root, ref, string(ref))
	operation := "put back " + string(ref)
	err := place(d.aside(ref), final)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return classify(operation, err)
	}
	if err := syncUp(d.root, filepath.Dir(final)); err != nil {
		return classify(operation, err)
	}
	if err := os.Remove(d.aside(ref)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return classify(operation, err)
	}
	return nil
}
