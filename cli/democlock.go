package cli

import (
	"sync"
	"time"
)

// movableClock tells the time it was set to, or the real time.
type movableClock struct {
	mu sync.Mutex
	at time.Time // zero = real time
}

// Now is the time as the program takes it.
func (c *movableClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.at.IsZero() {
		return time.Now()
	}
	return c.at
}

func (c *movableClock) set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

// demoCalendar turns working days of the invented job into dates. Day 0 is the
// Monday eleven weeks before this week's, so that the 55 days of the job, up to
// last Friday, all lie in the past.
type demoCalendar struct {
	start time.Time // midnight at the site
}

const demoDays = 55

func newCalendar(now time.Time, zone *time.Location) demoCalendar {
	now = now.In(zone)
	sinceMonday := (int(now.Weekday()) + 6) % 7
	return demoCalendar{time.Date(now.Year(), now.Month(), now.Day()-sinceMonday-7*demoDays/5, 0, 0, 0, 0, zone)}
}

// at is an hour of a working day; 9.5 is half past nine.
func (c demoCalendar) at(day int, hour float64) time.Time {
	minutes := int(hour * 60)
	d := c.start
	return time.Date(d.Year(), d.Month(), d.Day()+day/5*7+day%5, minutes/60, minutes%60, 0, 0, d.Location())
}

func (c demoCalendar) date(day int) string { return c.at(day, 12).Format("2006-01-02") }
