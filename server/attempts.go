package server

import (
	"sync"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const (
	attemptWindow = 10 * time.Minute
	attemptMax    = 10
	attemptKeys   = 10_000 // bound on memory; a flood beyond it only forgets the oldest window
)

// attempts slows down guessing of passwords: at most attemptMax failures per
// name or address within attemptWindow.
type attempts struct {
	clock register.Clock
	mu    sync.Mutex
	since time.Time
	count map[string]int
}

func newAttempts(clock register.Clock) *attempts {
	return &attempts{clock: clock, count: map[string]int{}}
}

// check refuses when one of the keys failed too often lately.
func (a *attempts) check(keys ...string) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.turn()
	for _, k := range keys {
		if a.count[k] >= attemptMax {
			return defects.Refuse(defects.TooMany, "too_many_attempts", "too many failed attempts; wait ten minutes")
		}
	}
	return nil
}

// failed counts one failure for each key.
func (a *attempts) failed(keys ...string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.turn()
	for _, k := range keys {
		a.count[k]++
	}
}

// turn starts a new window when the present one is over or full.
func (a *attempts) turn() {
	now := a.clock()
	if now.Sub(a.since) > attemptWindow || len(a.count) > attemptKeys {
		a.since, a.count = now, map[string]int{}
	}
}
