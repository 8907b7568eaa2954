package register

import (
	"context"
	"time"

	"storeyrod/defects"
)

// Copies holds how far a site's view copies are. A change of them is not logged:
// they can be made again. Every change gives the photo the site's next number
// (defects.Photo.CopiesSeq), in the order of the commits.
type Copies interface {
	SetCopies(ctx context.Context, siteID, photoID string, s CopiesState) error
	LastChange(ctx context.Context, siteID string) (int64, error) // 0 when the site has no photo
	// Changed lists the photos whose number is greater than after, in that order.
	Changed(ctx context.Context, siteID string, after int64, limit int) ([]defects.Photo, error)
	// Likenesses lists what is known of the photos that Changed would list.
	Likenesses(ctx context.Context, siteID string, after int64, limit int) ([]Likeness, error)
	// PhotosAt finds photos by their numbers, in no order; a number that a later
	// change has replaced finds none.
	PhotosAt(ctx context.Context, siteID string, seqs []int64) ([]defects.Photo, error)
}

// CopiesState is how far a photo's view copies are. Likeness nil leaves what is
// known.
type CopiesState struct {
	Derived  string
	Likeness *uint64
	At       time.Time
}

// Likeness is the perceptual hash of the photo with a number.
type Likeness struct {
	Seq  int64
	Bits uint64
}

// Jobs is the queue of view copies over all sites, at most one job a photo.
type Jobs interface {
	// Enqueue adds a job, free at once; one that the photo has is begun anew. Its
	// turn is how many jobs its sender has waiting, at most LastTurn.
	Enqueue(ctx context.Context, j Job) error
	// Free reports whether there is a job that Claim would give.
	Free(ctx context.Context, now time.Time, turns int) (bool, error)
	// Claim leases the free job with the smallest turn up to turns, the oldest of
	// equals, until an instant. No two callers get the same one, in whatever
	// process. NotFound when none is free.
	Claim(ctx context.Context, now, until time.Time, turns int, holder string) (Job, error)
	// Extend, Release and Done are for the holder of the lease; Stale when he
	// has it no longer. Release stores FreeAt, Tries and Fault; Done deletes.
	Extend(ctx context.Context, j Job, until time.Time) error
	Release(ctx context.Context, j Job) error
	Done(ctx context.Context, j Job) error
	Job(ctx context.Context, siteID, photoID string) (Job, error)
}

// LastTurn is the turn of all jobs of a sender who has that many waiting.
const LastTurn = 100

// Job is the work of making one photo's view copies.
type Job struct {
	PhotoID, SiteID string
	Sender          string // session or token that sent the photo, else the account
	Turn            int
	QueuedAt        time.Time
	FreeAt          time.Time // when it may be taken: end of a lease, or of the wait after a fault
	Holder          string    // names the lease; "" = none
	Tries           int       // that ended with a fault of the machine
	Lost            int       // leases that ran out, as when a process dies
	Fault           string    // code of the last fault, "" = none
}

// FaultText is the last fault in plain words.
func (j Job) FaultText() string { return defects.CopiesFault(j.Fault) }
