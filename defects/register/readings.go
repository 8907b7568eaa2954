package register

import (
	"context"

	"storeyrod/defects"
)

// ReadingPage is one page of a list of readings. Next is "" on the last page.
type ReadingPage struct {
	Items []defects.Reading
	Next  string
}

// AddReading judges and stores one reading.
func (r *Register) AddReading(ctx context.Context, a Actor, siteID string, in ReadingInput) (ReadingResult, error) {
	return ReadingResult{}, errUnfinished
}

// AddReadings judges and stores readings in their order. Each row stands alone:
// a refused one carries its error and the rest goes on. The error is for what
// stops the whole batch, such as a missing permission.
func (r *Register) AddReadings(ctx context.Context, a Actor, siteID string, in []ReadingInput) ([]ReadingResult, error) {
	return nil, errUnfinished
}

// Reading is one reading of a site.
func (r *Register) Reading(ctx context.Context, a Actor, siteID, id string) (defects.Reading, error) {
	return defects.Reading{}, errUnfinished
}

// ListReadings lists a site's readings, newest measured first.
func (r *Register) ListReadings(ctx context.Context, a Actor, f ReadingFilter, page Page) (ReadingPage, error) {
	return ReadingPage{}, errUnfinished
}

// WithdrawReading takes a reading out of the count with a reason; it stays in
// the register. Its set is judged anew.
func (r *Register) WithdrawReading(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.Reading, error) {
	return defects.Reading{}, errUnfinished
}
