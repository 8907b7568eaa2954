package register

import (
	"context"
	"slices"
	"time"

	"storeyrod/evidence"
)

// ReclaimOriginals takes back the originals that were received before a time, by
// the clock of the files, and that no row names: their intake ended, by a crash
// or a fault, between keeping the original and storing its row, and so was never
// acknowledged. It may run beside intakes; the time is still to be one before
// those under way began, for an intake that is killed cannot confirm. It tells how
// many were taken back; a store that cannot do it answers 0.
func (r *Register) ReclaimOriginals(ctx context.Context, before time.Time) (int, error) {
	store, ok := r.Blobs.(evidence.Reclaimer)
	if !ok {
		return 0, nil
	}
	return store.Reclaim(ctx, before, r.namedOriginals)
}

// namedOriginals asks the rows as they are now, and about those that no row
// names once more when nobody is writing: a database may still be committing for
// a process that was killed.
func (r *Register) namedOriginals(ctx context.Context, refs []evidence.Ref) (map[evidence.Ref]bool, error) {
	var shas []string
	for _, ref := range refs {
		shas = append(shas, string(ref))
	}
	known := map[evidence.Ref]bool{}
	for _, ask := range []func(context.Context, func(Tx) error) error{r.Store.Read, r.Store.Write} {
		err := ask(ctx, func(tx Tx) error {
			named, err := tx.Photos().NamedSHAs(ctx, shas)
			for _, sha := range named {
				known[evidence.Ref(sha)] = true
			}
			return err
		})
		if err != nil {
			return nil, err
		}
		shas = slices.DeleteFunc(shas, func(sha string) bool { return known[evidence.Ref(sha)] })
		if len(shas) == 0 {
			break
		}
	}
	return known, nil
}
