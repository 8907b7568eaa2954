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
}

const (
	tellTerminal = 200 * time.Millisecond
	tellFile     = 5 * time.Second
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
	t.told = time.Now()
	count := fmt.Sprint(t.done)
	if t.total > 0 {
		count += fmt.Sprintf(" of %d", t.total)
	}
	if s := time.Since(t.began).Seconds(); s > 0 {
		count += fmt.Sprintf(", %.0f a second", float64(t.done)/s)
	}
	if t.terminal {
		fmt.Fprintf(t.w, "\r%s: %s\x1b[K", t.what, count)
		return
	}
	fmt.Fprintf(t.w, "%s: %s\n", t.what, count)
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
