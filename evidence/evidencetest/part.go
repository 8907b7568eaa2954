package evidencetest

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"storeyrod/evidence"
)

// partial is a store that keeps parts and the originals they become.
type partial interface {
	evidence.Store
	evidence.PartStore
}

// RunParts checks the contract of a store of parts. The function makes an empty
// store for each test.
func RunParts[S partial](t *testing.T, newStore func(t *testing.T) S) {
	t.Helper()
	for _, c := range []struct {
		name string
		test func(t *testing.T, s partial)
	}{
		{"a part keeps its bytes from one opening to the next", partKept},
		{"a part is open to one holder at a time", partLocked},
		{"many who try to open a part get it one after the other", partRaced},
		{"a part that is cut goes on from there", partCut},
		{"a whole part becomes an original and is gone", partBecomes},
		{"a part of known bytes becomes the original that is there", partKnown},
		{"a staged part that is neither kept nor discarded stays", partStays},
		{"a dropped part begins empty again", partDropped},
		{"parts are listed and are no originals", partsListed},
		{"a malformed id is refused", partNames},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t, newStore(t))
		})
	}
}

func open(t *testing.T, s evidence.PartStore, id string) evidence.Part {
	t.Helper()
	p, err := s.OpenPart(t.Context(), id)
	must(t, err)
	return p
}

// add opens a part, appends and closes it.
func add(t *testing.T, s evidence.PartStore, id, text string) {
	t.Helper()
	p := open(t, s, id)
	_, err := io.WriteString(p, text)
	must(t, err)
	must(t, p.Sync())
	closeIt(t, p)
}

func wantPart(t *testing.T, s evidence.PartStore, id, want string) {
	t.Helper()
	p := open(t, s, id)
	defer closeIt(t, p)
	size, err := p.Size()
	must(t, err)
	data, err := io.ReadAll(io.NewSectionReader(p, 0, size))
	must(t, err)
	if string(data) != want {
		t.Errorf("part %s holds %q, want %q", id, data, want)
	}
}

func partKept(t *testing.T, s partial) {
	add(t, s, "a-1", "brick ")
	add(t, s, "a-1", "slip")
	wantPart(t, s, "a-1", brick)
}

func partLocked(t *testing.T, s partial) {
	p := open(t, s, "a-1")
	_, err := s.OpenPart(t.Context(), "a-1")
	wantFault(t, err, evidence.ErrBusy)
	closeIt(t, open(t, s, "a-2"))
	closeIt(t, p)
	closeIt(t, open(t, s, "a-1"))
}

// partRaced lets many append and drop at once: whoever holds the part is alone
// with it, also when it was dropped while he waited.
func partRaced(t *testing.T, s partial) {
	var work sync.WaitGroup
	var holders, turns atomic.Int32
	for range 8 {
		work.Go(func() {
			for done := 0; done < 20; {
				p, err := s.OpenPart(t.Context(), "a-1")
				if errors.Is(err, evidence.ErrBusy) {
					continue
				}
				if err != nil {
					t.Error(err)
					return
				}
				if n := holders.Add(1); n != 1 {
					t.Errorf("%d hold the part at once", n)
				}
				_, _ = io.WriteString(p, "x")
				if turns.Add(1)%3 == 0 {
					if err := p.Drop(); err != nil {
						t.Error(err)
					}
				}
				holders.Add(-1)
				closeIt(t, p)
				done++
			}
		})
	}
	work.Wait()
}

func partCut(t *testing.T, s partial) {
	add(t, s, "a-1", "brick slot")
	p := open(t, s, "a-1")
	must(t, p.Cut(8))
	_, err := io.WriteString(p, "ip")
	must(t, err)
	must(t, p.Cut(100))
	closeIt(t, p)
	wantPart(t, s, "a-1", brick)
}

func partBecomes(t *testing.T, s partial) {
	add(t, s, "a-1", brick)
	p := open(t, s, "a-1")
	staged, err := p.Stage(t.Context())
	must(t, err)
	if staged.Ref() != evidence.RefOf([]byte(brick)) || staged.Size() != int64(len(brick)) {
		t.Errorf("staged as %s with %d bytes", staged.Ref(), staged.Size())
	}
	r, err := staged.Open()
	must(t, err)
	data, err := io.ReadAll(r)
	must(t, err)
	closeIt(t, r)
	if string(data) != brick {
		t.Errorf("staged bytes are %q", data)
	}
	wantList(t, s)
	receipt, err := staged.Keep(t.Context())
	must(t, err)
	if _, err := s.OpenPart(t.Context(), "a-1"); !errors.Is(err, evidence.ErrBusy) {
		t.Errorf("a part that is being kept is open to others: %v", err)
	}
	closeIt(t, p)
	if receipt.Existed || read(t, s, receipt.Ref) != brick {
		t.Errorf("kept as %+v", receipt)
	}
	wantParts(t, s)
	wantPart(t, s, "a-1", "")
}

func partKnown(t *testing.T, s partial) {
	first := put(t, s, brick)
	add(t, s, "a-1", brick)
	p := open(t, s, "a-1")
	staged, err := p.Stage(t.Context())
	must(t, err)
	receipt, err := staged.Keep(t.Context())
	must(t, err)
	closeIt(t, p)
	if !receipt.Existed || receipt.Ref != first.Ref {
		t.Errorf("kept as %+v", receipt)
	}
	wantList(t, s, first.Ref)
	wantParts(t, s)
}

func partStays(t *testing.T, s partial) {
	add(t, s, "a-1", "brick ")
	p := open(t, s, "a-1")
	_, err := p.Stage(t.Context())
	must(t, err)
	closeIt(t, p)
	add(t, s, "a-1", "slip")
	wantPart(t, s, "a-1", brick)
	p = open(t, s, "a-1")
	staged, err := p.Stage(t.Context())
	must(t, err)
	staged.Discard()
	closeIt(t, p)
	wantParts(t, s)
	wantList(t, s)
}

func partDropped(t *testing.T, s partial) {
	add(t, s, "a-1", brick)
	p := open(t, s, "a-1")
	must(t, p.Drop())
	must(t, p.Drop())
	closeIt(t, p)
	wantParts(t, s)
	wantPart(t, s, "a-1", "")
}

func partsListed(t *testing.T, s partial) {
	for i := range 3 {
		add(t, s, fmt.Sprint("a-", i), brick)
	}
	wantParts(t, s, "a-0", "a-1", "a-2")
	wantList(t, s)
	stop := errors.New("enough")
	if err := s.ListParts(t.Context(), func(string, time.Time) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("error %v, want the caller's", err)
	}
}

func partNames(t *testing.T, s partial) {
	for _, id := range []string{"", "../a", "A", "a/b", "a.b", fmt.Sprintf("%065d", 0)} {
		_, err := s.OpenPart(t.Context(), id)
		wantFault(t, err, evidence.ErrBadName)
	}
}

func wantParts(t *testing.T, s evidence.PartStore, want ...string) {
	t.Helper()
	var got []string
	must(t, s.ListParts(t.Context(), func(id string, written time.Time) error {
		if written.IsZero() {
			t.Errorf("part %s was never written", id)
		}
		got = append(got, id)
		return nil
	}))
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("store lists %v, want %v", got, want)
	}
}
