package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
)

// Stored is what a site's photos take, in bytes.
type Stored struct {
	Photos   int64 // originals
	Reserved int64 // full lengths of uploads that are not finished
}

// Storage is what a site's photos take and may take, in bytes.
type Storage struct {
	Stored
	Quota   int64 // 0 = no limit
	Own     bool  // the site's own quota, not that of the instance
	Version int   // of the site, to change it by
}

// Left is how many bytes more there is room for; below 0 when the quota was
// lowered meanwhile. It means nothing without a quota.
func (s Storage) Left() int64 { return s.Quota - s.Photos - s.Reserved }

// Storage tells what a site's photos take.
func (r *Register) Storage(ctx context.Context, a Actor, siteID string) (s Storage, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.ViewSite); err != nil {
			return err
		}
		site, err := tx.Sites().Site(ctx, siteID)
		if err != nil {
			return err
		}
		s, err = r.storage(ctx, tx, site)
		return err
	})
	return s, err
}

func (r *Register) storage(ctx context.Context, tx Tx, site defects.Site) (Storage, error) {
	stored, err := tx.Sites().Stored(ctx, site.ID)
	s := Storage{Stored: stored, Quota: r.Quota, Version: site.Version}
	if site.PhotoQuota != nil {
		s.Quota, s.Own = *site.PhotoQuota, true
	}
	return s, err
}

// room refuses what a site has no room for. Inside a writing transaction the
// answer holds until its end, so that two together never pass the quota.
func (r *Register) room(ctx context.Context, tx Tx, site defects.Site, size int64) error {
	if site.PhotoQuota == nil && r.Quota == 0 {
		return nil
	}
	s, err := r.storage(ctx, tx, site)
	if err != nil || s.Quota == 0 || size <= s.Left() {
		return err
	}
	return defects.RefuseField(defects.TooLarge, "file", "quota_full", fmt.Sprintf(
		"the site's photos may take %d megabytes and this one of %d does not fit any more; its manager or owner can raise that",
		s.Quota>>20, (size+1<<20-1)>>20))
}
