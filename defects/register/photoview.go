package register

import (
	"context"
	"io"

	"storeyrod/defects"
)

// Variant names one form of a photo.
type Variant string

// The variants.
const (
	Original Variant = "original" // bytes as received
	Preview  Variant = "preview"  // long edge 2048 px, upright, no metadata
	Thumb    Variant = "thumb"    // 320 px, upright, no metadata
)

// Opened is an open form of a photo. The caller closes Body.
type Opened struct {
	Body  io.ReadSeekCloser
	Size  int64
	Type  string // media type
	Photo defects.Photo
}

// OpenPhoto opens one form of a photo. It never waits for a view copy: one that
// is still to be made answers defects.Unavailable with code not_ready_yet.
func (r *Register) OpenPhoto(ctx context.Context, a Actor, siteID, id string, v Variant) (Opened, error) {
	return Opened{}, errUnfinished
}
