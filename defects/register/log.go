package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// Entries of a log page: the default and the most.
const (
	defaultEntries = 100
	mostEntries    = 1000
)

// SearchLog lists the entries of a site's log that a filter lets through,
// newest first unless it asks for the oldest, for the roles that may read it.
// next is where the following page goes on, as the filter's Before, or as its
// From with the oldest first; 0 on the last page.
func (r *Register) SearchLog(ctx context.Context, a Actor, f LogFilter, limit int) (entries []evidence.Entry, next int64, err error) {
	if limit <= 0 {
		limit = defaultEntries
	}
	limit = min(limit, mostEntries)
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewLog); err != nil {
			return err
		}
		encoded, err := tx.Log().Search(ctx, f, limit+1)
		if err != nil {
			return err
		}
		entries, err = decodeEntries(encoded)
		return err
	})
	if len(entries) > limit {
		entries = entries[:limit]
		if next = entries[limit-1].Seq; f.Oldest {
			next++
		}
	}
	return entries, next, err
}

// EntriesOf lists the log entries about one subject, oldest first, for the
// roles that may read the log. typ is "snag", "photo", "reading" and so on.
func (r *Register) EntriesOf(ctx context.Context, a Actor, siteID, typ, id string) (entries []evidence.Entry, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, siteID, defects.ViewLog); err != nil {
			return err
		}
		encoded, err := tx.Log().EntriesOf(ctx, siteID, typ, id)
		if err != nil {
			return err
		}
		entries, err = decodeEntries(encoded)
		return err
	})
	return entries, err
}

func decodeEntries(encoded [][]byte) ([]evidence.Entry, error) {
	entries := make([]evidence.Entry, 0, len(encoded))
	for _, raw := range encoded {
		e, err := evidence.Decode(raw)
		if err != nil {
			return nil, fmt.Errorf("read the log: %w", err)
		}
		entries = append(entries, e)
	}
	return entries, nil
}
