package register

import (
	"context"

	"storeyrod/defects"
)

// RaiseInput is what somebody raises a snag with.
type RaiseInput struct {
	ElevationID     string
	X, Z            *defects.MM
	Bay, Lift       int
	Opening         string
	Zone            defects.Zone
	Code            string
	Severity        defects.Severity // "" = the catalogue's; a lower one needs a reason in Text
	Extent          defects.Extent   // "" = single
	Covered         bool
	Requirement     string
	Text            string
	Gang            string
	ReadingID       string
	NoReadingReason string
	Photos          []string
}

// StepOffered tells whether the asker may take a step now and, when not, why.
type StepOffered struct {
	Step defects.Step
	May  bool
	Why  string // who may, or what stands in the way
}

// SnagView is one snag with all that its page shows.
type SnagView struct {
	Snag      defects.Snag
	Due       defects.Due
	History   []defects.SnagEvent
	Steps     []StepOffered
	Kind      defects.DefectKind
	Reading   *defects.Reading
	Photos    []defects.Photo
	Elevation defects.Elevation
	Cautions  []defects.Caution
}

// SnagPage is one page of snags. Next is "" on the last page.
type SnagPage struct {
	Items []defects.Snag
	Next  string
}

// RaiseSnag records a defect, from a failed reading when in.ReadingID is set.
func (r *Register) RaiseSnag(ctx context.Context, a Actor, siteID string, in RaiseInput) (defects.Snag, error) {
	return defects.Snag{}, errUnfinished
}

// Snag is one snag with its history and the steps open to the asker.
func (r *Register) Snag(ctx context.Context, a Actor, siteID string, number int) (SnagView, error) {
	return SnagView{}, errUnfinished
}

// ListSnags lists a site's snags; those with a gang see their own gang's only.
func (r *Register) ListSnags(ctx context.Context, a Actor, f SnagFilter, page Page) (SnagPage, error) {
	return SnagPage{}, errUnfinished
}
