package register

import (
	"context"
	"time"

	"storeyrod/evidence"
)

// ReclaimOriginals takes back the originals that were received at least an age
// ago and that no row names: their intake ended, by a crash or a fault, between
// keeping the original and storing its row, and so was never acknowledged. It
// may run beside intakes, with age 0 too. It tells how many were taken back; a
// store that cannot do it answers 0.
func (r *Register) ReclaimOriginals(ctx context.Context, age time.Duration) (int, error) {
	store, ok := r.Blobs.(evidence.Reclaimer)
	if !ok {
		return 0, nil
	}
	return store.Reclaim(ctx, r.Now().Add(-age), r.namedOriginals)
}

// namedOriginals asks the rows as they are now.
func (r *Register) namedOriginals(ctx context.Context, refs []evidence.Ref) (map[evidence.Ref]bool, error) {
	shas := make([]string, len(refs))
	for i, ref := range refs {
		shas[i] = string(ref)
	}
	known := map[evidence.Ref]bool{}
	err := r.Store.Read(ctx, func(tx Tx) error {
		named, err := tx.Photos().NamedSHAs(ctx, shas)
		for _, sha := range named {
			known[evidence.Ref(sha)] = true
		}
		return err
	})
	return known, err
}
