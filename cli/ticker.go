package cli

import (
	"fmt"
	"io"
	"os"
	"time"
)

// ticker tells how far long work has come: over and over on the same line of a
// terminal, else with a line every few seconds.
type ticker struct {
	w        io.Writer
	what     string
	total    int // 0 = not known
	done     int
	terminal bool
	began    time.Time
	told     time.Time
	marks    []tickerMark // how far it had come at the last words, the oldest first
}

// tickerMark is how far work had come at a time.
type tickerMark struct {
	at   time.Time
	done int
}

const (
	tellTerminal = 200 * time.Millisecond
	tellFile     = 5 * time.Second
	// The rate is that of the time since this many words ago: known photos go by
	// faster than new ones, and a mean over all would promise too much.
	marksKept = 30
)

func newTicker(w io.Writer, what string, total int) *ticker {
	now := time.Now()
	return &ticker{w: w, what: what, total: total, terminal: isTerminal(w), began: now, told: now}
}

func (t *ticker) one() { t.add(1) }

func (t *ticker) add(n int) {
	t.done += n
	wait := tellFile
	if t.terminal {
		wait = tellTerminal
	}
	if time.Since(t.told) >= wait {
		t.tell()
	}
}

func (t *ticker) tell() {
	now := time.Now()
	t.told = now
	count := fmt.Sprint(t.done)
	if t.total > 0 {
		count += fmt.Sprintf(" of %d", t.total)
	}
	if rate := t.rate(now); rate > 0 {
		count += fmt.Sprintf(", %.0f a second", rate)
		if left := t.total - t.done; left > 0 {
			count += fmt.Sprintf(", about %s left", roughly(float64(left)/rate))
		}
	}
	if t.terminal {
		fmt.Fprintf(t.w, "\r%s: %s\x1b[K", t.what, count)
		return
	}
	fmt.Fprintf(t.w, "%s: %s\n", t.what, count)
}

// rate is how many a second were done lately.
func (t *ticker) rate(now time.Time) float64 {
	since := tickerMark{at: t.began}
	if len(t.marks) > 0 {
		since = t.marks[0]
	}
	if len(t.marks) == marksKept {
		t.marks = t.marks[1:]
	}
	t.marks = append(t.marks, tickerMark{now, t.done})
	seconds := now.Sub(since.at).Seconds()
	if seconds <= 0 {
		return 0
	}
	return float64(t.done-since.done) / seconds
}

// roughly is a length of time as a person would say it.
func roughly(seconds float64) string {
	const minute, hour = 60, 3600
	switch {
	case seconds < 2*minute:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 2*hour:
		return fmt.Sprintf("%.0f min", seconds/minute)
	}
	return fmt.Sprintf("%.1f h", seconds/hour)
}

// end leaves the line as it stands.
func (t *ticker) end() {
	if t.terminal && t.told != t.began {
		t.tell()
		fmt.Fprintln(t.w)
	}
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
