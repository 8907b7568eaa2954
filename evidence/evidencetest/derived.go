package evidencetest

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"

	"storeyrod/evidence"
)

// RunDerived checks the contract of a store of view copies. The function makes
// an empty store for each test.
func RunDerived(t *testing.T, newStore func(t *testing.T) evidence.DerivedStore) {
	t.Helper()
	for _, c := range []struct {
		name string
		test func(t *testing.T, s evidence.DerivedStore)
	}{
		{"copies are told apart by original and kind", derivedKeys},
		{"a copy may be replaced", derivedReplaced},
		{"a copy does not change with the caller's bytes", derivedOwned},
		{"many replacing one copy leave one of theirs", derivedConcurrent},
		{"an unknown copy is not found", derivedUnknown},
		{"a malformed name is refused", derivedMalformed},
		{"a cancelled context stops every call", derivedCancelled},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t, newStore(t))
		})
	}
}

func derivedKeys(t *testing.T, s evidence.DerivedStore) {
	one, two := evidence.RefOf([]byte("one")), evidence.RefOf([]byte("two"))
	for _, c := range []struct {
		ref  evidence.Ref
		kind string
	}{{one, "thumb.jpg"}, {one, "p"}, {one, "p.p"}, {two, "thumb.jpg"}, {two, "..."}, {two, strings.Repeat("9", 20)}} {
		must(t, s.PutDerived(t.Context(), c.ref, c.kind, []byte(string(c.ref)+c.kind)))
		defer func() {
			if got := readDerived(t, s, c.ref, c.kind); got != string(c.ref)+c.kind {
				t.Errorf("copy %s of %s reads %q", c.kind, c.ref, got)
			}
		}()
	}
}

func derivedReplaced(t *testing.T, s evidence.DerivedStore) {
	ref := evidence.RefOf([]byte(brick))
	for _, content := range []string{"a longer first copy", "second", ""} {
		must(t, s.PutDerived(t.Context(), ref, "p", []byte(content)))
		if got := readDerived(t, s, ref, "p"); got != content {
			t.Errorf("copy reads %q, want %q", got, content)
		}
	}
}

func derivedOwned(t *testing.T, s evidence.DerivedStore) {
	ref, data := evidence.RefOf([]byte(brick)), []byte("copy")
	must(t, s.PutDerived(t.Context(), ref, "p", data))
	data[0] = 'X'
	if got := readDerived(t, s, ref, "p"); got != "copy" {
		t.Errorf("copy reads %q", got)
	}
}

func derivedConcurrent(t *testing.T, s evidence.DerivedStore) {
	const writers, length = 8, 50_000
	ref, errs := evidence.RefOf([]byte(brick)), make([]error, writers)
	var wg sync.WaitGroup
	for i := range writers {
		wg.Go(func() {
			data := strings.Repeat(string(rune('a'+i)), length)
			errs[i] = s.PutDerived(t.Context(), ref, "p", []byte(data))
		})
	}
	wg.Wait()
	must(t, errors.Join(errs...))
	got := readDerived(t, s, ref, "p")
	if len(got) != length || strings.Trim(got, got[:1]) != "" {
		t.Errorf("%d bytes, mixed from several", len(got))
	}
}

func derivedUnknown(t *testing.T, s evidence.DerivedStore) {
	ref := evidence.RefOf([]byte(brick))
	must(t, s.PutDerived(t.Context(), ref, "p", []byte("copy")))
	_, _, err := s.OpenDerived(t.Context(), ref, "q")
	wantFault(t, err, evidence.ErrNotFound)
	_, _, err = s.OpenDerived(t.Context(), evidence.RefOf([]byte("other")), "p")
	wantFault(t, err, evidence.ErrNotFound)
}

func derivedMalformed(t *testing.T, s evidence.DerivedStore) {
	good := evidence.RefOf([]byte(brick))
	for _, kind := range []string{"", "P", "a/b", "../x", "a b", "é", "a\x00", strings.Repeat("a", 21)} {
		wantFault(t, s.PutDerived(t.Context(), good, kind, nil), evidence.ErrBadName)
		_, _, err := s.OpenDerived(t.Context(), good, kind)
		wantFault(t, err, evidence.ErrBadName)
	}
	for _, ref := range []evidence.Ref{"", "ab", "../../../../etc", good[1:]} {
		wantFault(t, s.PutDerived(t.Context(), ref, "p", nil), evidence.ErrBadName)
		_, _, err := s.OpenDerived(t.Context(), ref, "p")
		wantFault(t, err, evidence.ErrBadName)
	}
}

func derivedCancelled(t *testing.T, s evidence.DerivedStore) {
	ref := evidence.RefOf([]byte(brick))
	must(t, s.PutDerived(t.Context(), ref, "p", []byte("copy")))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, _, errOpen := s.OpenDerived(ctx, ref, "p")
	for _, err := range []error{errOpen, s.PutDerived(ctx, ref, "p", []byte("new"))} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("error %v", err)
		}
	}
	if got := readDerived(t, s, ref, "p"); got != "copy" {
		t.Errorf("copy reads %q", got)
	}
}

func readDerived(t *testing.T, s evidence.DerivedStore, ref evidence.Ref, kind string) string {
	t.Helper()
	r, size, err := s.OpenDerived(t.Context(), ref, kind)
	must(t, err)
	defer closeIt(t, r)
	data, err := io.ReadAll(r)
	must(t, err)
	if int64(len(data)) != size {
		t.Errorf("size %d, read %d bytes", size, len(data))
	}
	return string(data)
}
