package register

import (
	"context"
	"io"

	"storeyrod/defects"
)

// PhotoInput is what a person says of a photo when it is taken in. A stated
// Place goes before the program's own proposal.
type PhotoInput struct {
	FileName  string // display text only; never used as a path
	Stage     string
	Kind      string
	Note      string
	Gang      string // "" = the gang of the person who adds it
	Place     defects.Place
	LabelSeen bool
	ScaleSeen bool
}

// PhotoPage is one page of a list of photos. Next is "" on the last page.
type PhotoPage struct {
	Items []defects.Photo
	Next  string
}

// PhotoPatch changes a photo's place and remarks; nil leaves a field alone.
// The bytes and what they say of themselves never change.
type PhotoPatch struct {
	ElevationID *string // "" takes the photo off its wall
	Place       *defects.Place
	Stage       *string
	Kind        *string
	Note        *string
	LabelSeen   *bool
	ScaleSeen   *bool
	Overrule    *string // reason for using a photo the checks refuse; "" takes it back
}

// TakePhoto takes one photo in. When it answers without an error the original
// and the row are both durable. Bytes that the site already holds give the
// existing photo with known true, and nothing is written.
func (r *Register) TakePhoto(ctx context.Context, a Actor, siteID string, body io.Reader, in PhotoInput) (p defects.Photo, known bool, err error) {
	return defects.Photo{}, false, errUnfinished
}

// Photo is one photo of a site. An operative sees his own.
func (r *Register) Photo(ctx context.Context, a Actor, siteID, id string) (defects.Photo, error) {
	return defects.Photo{}, errUnfinished
}

// ListPhotos lists a site's photos, newest received first.
func (r *Register) ListPhotos(ctx context.Context, a Actor, f PhotoFilter, page Page) (PhotoPage, error) {
	return PhotoPage{}, errUnfinished
}

// UpdatePhoto places a photo or changes what is said of it, and grades it anew.
func (r *Register) UpdatePhoto(ctx context.Context, a Actor, siteID, id string, version int, p PhotoPatch) (defects.Photo, error) {
	return defects.Photo{}, errUnfinished
}
