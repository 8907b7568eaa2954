package imaging

import (
	"context"
	"fmt"

	"golang.org/x/sync/semaphore"
)

// Pool bounds how much is decoded at once, counted in pixels of a plain JPEG
// (Header.Weight), so that memory stays bounded whatever mixture arrives.
type Pool struct {
	sem    *semaphore.Weighted
	budget int64
}

// NewPool gives a pool for a number of pixels; a 12-megapixel JPEG needs
// up to 20 MB while it is decoded, though mostly only its copies and some rows. The budget is at least one pixel.
func NewPool(pixels int64) *Pool {
	pixels = max(pixels, 1)
	return &Pool{sem: semaphore.NewWeighted(pixels), budget: pixels}
}

// Do waits for room for weight pixels, runs work and gives the room back. A
// picture heavier than the whole budget runs alone. The error is the
// context's while waiting, else that of work.
func (p *Pool) Do(ctx context.Context, weight int64, work func() error) error {
	weight = min(max(weight, 1), p.budget)
	if err := p.sem.Acquire(ctx, weight); err != nil {
		return fmt.Errorf("wait for room to decode: %w", err)
	}
	defer p.sem.Release(weight)
	return work()
}
