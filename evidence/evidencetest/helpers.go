package evidencetest

import (
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"storeyrod/evidence"
)

func put(t *testing.T, s evidence.Store, content string) evidence.Receipt {
	t.Helper()
	receipt, err := s.Put(t.Context(), strings.NewReader(content), limit)
	must(t, err)
	return receipt
}

// read gives an original, after checking its size and name.
func read(t *testing.T, s evidence.Store, ref evidence.Ref) string {
	t.Helper()
	r, size, err := s.Open(t.Context(), ref)
	must(t, err)
	defer closeIt(t, r)
	data, err := io.ReadAll(r)
	must(t, err)
	if int64(len(data)) != size {
		t.Errorf("size %d, read %d bytes", size, len(data))
	}
	if evidence.RefOf(data) != ref {
		t.Errorf("bytes of %s do not fit their name", ref)
	}
	return string(data)
}

// wantList checks that the store holds just these originals and lists them in
// order.
func wantList(t *testing.T, s evidence.Store, want ...evidence.Ref) {
	t.Helper()
	var got []evidence.Ref
	must(t, s.List(t.Context(), func(ref evidence.Ref, _ int64) error {
		got = append(got, ref)
		return nil
	}))
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("store lists %v, want %v", got, want)
	}
}

func wantFault(t *testing.T, err error, want evidence.Fault) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("error %v, want %q", err, want)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func closeIt(t *testing.T, c io.Closer) {
	t.Helper()
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}

// failing is a reader that fails.
type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

// hook is a reader without content that calls a function when its turn comes.
type hook func()

func (h hook) Read([]byte) (int, error) {
	h()
	return 0, io.EOF
}
