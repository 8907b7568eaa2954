package evidencetest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"

	"storeyrod/evidence"
)

// limit is a bound in bytes that no file of the suite comes near, unless the
// test is about bounds.
const limit = 1 << 20

// brick is the content of most originals of the suite.
const brick = "brick slip"

// Run checks the contract of a store of originals. The function makes an empty
// store for each test.
func Run(t *testing.T, newStore func(t *testing.T) evidence.Store) {
	t.Helper()
	for _, c := range []struct {
		name string
		test func(t *testing.T, s evidence.Store)
	}{
		{"an original is named by the SHA-256 of its bytes", namedByContent},
		{"an original comes back as it was", comesBack},
		{"an original can be read from any place", seeks},
		{"the same bytes twice are one original", sameTwice},
		{"many putting the same bytes make one original", concurrentSame},
		{"many putting different bytes lose none", concurrentDifferent},
		{"over the limit nothing is kept", overLimit},
		{"a reader failing midway leaves nothing", failingReader},
		{"a cancelled context stops every call", cancelled},
		{"a context cancelled midway leaves nothing", cancelledMidway},
		{"an unknown original is not found", unknown},
		{"a malformed name is refused", malformed},
		{"the list is in order and complete, and stops on request", listing},
		{"staged bytes can be read but are not in the store", stagedOnly},
		{"kept staged bytes are an original", stagedKept},
		{"discarded staged bytes are gone", stagedDiscarded},
		{"an abandoned intake does not stand in the way", stagedAbandoned},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t, newStore(t))
		})
	}
}

func namedByContent(t *testing.T, s evidence.Store) {
	for content, want := range map[string]evidence.Ref{
		// SHA-256 examples of FIPS 180: the empty text and "abc", from memory.
		"":    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
	} {
		got := put(t, s, content)
		if got != (evidence.Receipt{Ref: want, Size: int64(len(content))}) {
			t.Errorf("put %q: %+v, want name %s", content, got, want)
		}
	}
}

func comesBack(t *testing.T, s evidence.Store) {
	content := strings.Repeat("mortar joint ", 50_000)
	receipt := put(t, s, content)
	if got := read(t, s, receipt.Ref); got != content {
		t.Errorf("read %d bytes that differ from the %d put", len(got), len(content))
	}
	if size, err := s.Stat(t.Context(), receipt.Ref); err != nil || size != int64(len(content)) {
		t.Errorf("stat: %d, %v", size, err)
	}
}

func seeks(t *testing.T, s evidence.Store) {
	r, size, err := s.Open(t.Context(), put(t, s, brick).Ref)
	must(t, err)
	defer closeIt(t, r)
	if size != int64(len(brick)) {
		t.Errorf("size %d", size)
	}
	_, err = r.Seek(6, io.SeekStart)
	must(t, err)
	if rest, err := io.ReadAll(r); err != nil || string(rest) != "slip" {
		t.Errorf("from byte 6: %q, %v", rest, err)
	}
}

func sameTwice(t *testing.T, s evidence.Store) {
	first, second := put(t, s, brick), put(t, s, brick)
	if first.Existed || !second.Existed || first.Ref != second.Ref || second.Size != first.Size {
		t.Errorf("first %+v, second %+v", first, second)
	}
	wantList(t, s, first.Ref)
}

func concurrentSame(t *testing.T, s evidence.Store) {
	content := strings.Repeat(brick, 20_000)
	fresh := 0
	for _, r := range putAll(t, s, func(int) string { return content }) {
		if !r.Existed {
			fresh++
		}
	}
	if fresh != 1 {
		t.Errorf("%d of the puts say they were the first", fresh)
	}
	wantList(t, s, evidence.RefOf([]byte(content)))
	if read(t, s, evidence.RefOf([]byte(content))) != content {
		t.Error("content differs")
	}
}

func concurrentDifferent(t *testing.T, s evidence.Store) {
	content := func(i int) string { return fmt.Sprint("photo ", i) }
	for i, r := range putAll(t, s, content) {
		if r.Existed || read(t, s, r.Ref) != content(i) {
			t.Errorf("put %d: %+v", i, r)
		}
	}
}

// putAll puts the contents 0 to 15 at the same time.
func putAll(t *testing.T, s evidence.Store, content func(int) string) []evidence.Receipt {
	t.Helper()
	const writers = 16
	receipts, errs := make([]evidence.Receipt, writers), make([]error, writers)
	var wg sync.WaitGroup
	for i := range writers {
		wg.Go(func() {
			receipts[i], errs[i] = s.Put(t.Context(), strings.NewReader(content(i)), limit)
		})
	}
	wg.Wait()
	must(t, errors.Join(errs...))
	return receipts
}

func overLimit(t *testing.T, s evidence.Store) {
	for _, max := range []int64{-1, 0, 1, int64(len(brick)) - 1} {
		_, err := s.Put(t.Context(), strings.NewReader(brick), max)
		wantFault(t, err, evidence.ErrTooLarge)
		_, err = s.Stage(t.Context(), strings.NewReader(brick), max)
		wantFault(t, err, evidence.ErrTooLarge)
	}
	wantList(t, s)
	_, err := s.Put(t.Context(), strings.NewReader(brick), int64(len(brick)))
	must(t, err)
}

func failingReader(t *testing.T, s evidence.Store) {
	broken := errors.New("line dropped")
	r := io.MultiReader(strings.NewReader(strings.Repeat(brick, 30_000)), failing{broken})
	if _, err := s.Put(t.Context(), r, limit); !errors.Is(err, broken) {
		t.Errorf("error %v does not carry the reader's", err)
	}
	wantList(t, s)
}

func cancelled(t *testing.T, s evidence.Store) {
	ref := put(t, s, brick).Ref
	staged, err := s.Stage(t.Context(), strings.NewReader("other"), limit)
	must(t, err)
	defer staged.Discard()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()

	_, errPut := s.Put(ctx, strings.NewReader("third"), limit)
	_, errStage := s.Stage(ctx, strings.NewReader("third"), limit)
	_, errKeep := staged.Keep(ctx)
	_, _, errOpen := s.Open(ctx, ref)
	_, errStat := s.Stat(ctx, ref)
	errList := s.List(ctx, func(evidence.Ref, int64) error { return nil })
	for i, err := range []error{errPut, errStage, errKeep, errOpen, errStat, errList} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("call %d: %v", i, err)
		}
	}
	wantList(t, s, ref)
}

func cancelledMidway(t *testing.T, s evidence.Store) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r := io.MultiReader(strings.NewReader(brick), hook(cancel), strings.NewReader(brick))
	if _, err := s.Put(ctx, r, limit); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	wantList(t, s)
}

func unknown(t *testing.T, s evidence.Store) {
	put(t, s, brick)
	ref := evidence.RefOf([]byte("never put"))
	_, _, err := s.Open(t.Context(), ref)
	wantFault(t, err, evidence.ErrNotFound)
	_, err = s.Stat(t.Context(), ref)
	wantFault(t, err, evidence.ErrNotFound)
}

func malformed(t *testing.T, s evidence.Store) {
	good := string(put(t, s, brick).Ref)
	for _, name := range []string{
		"", "ab", "../../etc/passwd", good[1:], good + "0", strings.ToUpper(good),
		good[:63] + "g", good[:60] + "/../", "\x00" + good[1:],
	} {
		_, _, err := s.Open(t.Context(), evidence.Ref(name))
		wantFault(t, err, evidence.ErrBadName)
		_, err = s.Stat(t.Context(), evidence.Ref(name))
		wantFault(t, err, evidence.ErrBadName)
	}
}

func listing(t *testing.T, s evidence.Store) {
	wantList(t, s)
	var refs []evidence.Ref
	for i := range 20 {
		refs = append(refs, put(t, s, strings.Repeat("x", i)).Ref)
	}
	wantList(t, s, refs...)

	enough, calls := errors.New("enough"), 0
	err := s.List(t.Context(), func(ref evidence.Ref, size int64) error {
		if read(t, s, ref) != strings.Repeat("x", int(size)) {
			t.Errorf("size %d of %s", size, ref)
		}
		if calls++; calls == 3 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || calls != 3 {
		t.Errorf("stopped after %d calls with %v", calls, err)
	}
}

func stagedOnly(t *testing.T, s evidence.Store) {
	staged, err := s.Stage(t.Context(), strings.NewReader(brick), limit)
	must(t, err)
	defer staged.Discard()
	if staged.Ref() != evidence.RefOf([]byte(brick)) || staged.Size() != int64(len(brick)) {
		t.Errorf("staged %s, %d bytes", staged.Ref(), staged.Size())
	}
	for range 2 {
		r, err := staged.Open()
		must(t, err)
		got, err := io.ReadAll(r)
		must(t, err)
		closeIt(t, r)
		if string(got) != brick {
			t.Errorf("staged bytes read %q", got)
		}
	}
	wantList(t, s)
	_, err = s.Stat(t.Context(), staged.Ref())
	wantFault(t, err, evidence.ErrNotFound)
}

func stagedKept(t *testing.T, s evidence.Store) {
	staged, err := s.Stage(t.Context(), strings.NewReader(brick), limit)
	must(t, err)
	before, err := staged.Open()
	must(t, err)
	defer closeIt(t, before)
	want := evidence.Receipt{Ref: staged.Ref(), Size: staged.Size()}
	for range 2 {
		got, err := staged.Keep(t.Context())
		must(t, err)
		if got != want {
			t.Errorf("kept %+v, want %+v", got, want)
		}
	}
	staged.Discard()
	if read(t, s, want.Ref) != brick {
		t.Error("discarding after keeping took the original away")
	}
	if got, err := io.ReadAll(before); err != nil || !bytes.Equal(got, []byte(brick)) {
		t.Errorf("reader opened before keeping: %q, %v", got, err)
	}
	_, err = staged.Open()
	wantFault(t, err, evidence.ErrSettled)
	if !put(t, s, brick).Existed {
		t.Error("put does not know the kept original")
	}
}

func stagedDiscarded(t *testing.T, s evidence.Store) {
	staged, err := s.Stage(t.Context(), strings.NewReader(brick), limit)
	must(t, err)
	staged.Discard()
	staged.Discard()
	_, err = staged.Open()
	wantFault(t, err, evidence.ErrSettled)
	_, err = staged.Keep(t.Context())
	wantFault(t, err, evidence.ErrSettled)
	wantList(t, s)
}

func stagedAbandoned(t *testing.T, s evidence.Store) {
	_, err := s.Stage(t.Context(), strings.NewReader(brick), limit)
	must(t, err)
	wantList(t, s)
	if r := put(t, s, brick); r.Existed {
		t.Error("the abandoned bytes count as an original")
	}
	wantList(t, s, evidence.RefOf([]byte(brick)))
}
