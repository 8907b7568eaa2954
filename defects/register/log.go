package register

import (
	"context"

	"storeyrod/evidence"
)

// LogEntries lists a site's log from a sequence number up.
func (r *Register) LogEntries(ctx context.Context, a Actor, siteID string, from int64, limit int) ([]evidence.Entry, error) {
	return nil, errUnfinished
}

// EntriesOf lists the log entries about one subject, oldest first.
func (r *Register) EntriesOf(ctx context.Context, a Actor, siteID, typ, id string) ([]evidence.Entry, error) {
	return nil, errUnfinished
}
