package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// MostHashes is how many hashes one look-up takes.
const MostHashes = 500

// PhotosByHash finds the photos of a site by the SHA-256 of their bytes (64
// lower-case hexadecimal digits), of those that the actor may see. So a sender
// learns what need not be sent again; of a photo that is another's, an operative
// learns nothing without having its bytes.
func (r *Register) PhotosByHash(ctx context.Context, a Actor, siteID string, shas []string) (found []defects.Photo, err error) {
	if len(shas) > MostHashes {
		return nil, defects.RefuseField(defects.Invalid, "sha256", "too_many_hashes", fmt.Sprintf("at most %d are looked up at once", MostHashes))
	}
	for _, sha := range shas {
		if !evidence.Ref(sha).Valid() {
			return nil, defects.RefuseField(defects.Invalid, "sha256", "bad_hash", "a hash is 64 digits of 0-9 and a-f")
		}
	}
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		all, err := tx.Photos().PhotosByHash(ctx, siteID, shas)
		if err != nil {
			return err
		}
		found, err = photosSeen(ctx, tx, m, all)
		return err
	})
	return found, err
}
