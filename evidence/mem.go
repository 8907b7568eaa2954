package evidence

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"maps"
	"slices"
	"sync"
)

// Mem keeps originals and view copies in memory. It is for tests.
type Mem struct {
	mu        sync.RWMutex
	originals map[Ref][]byte
	derived   map[derivedKey][]byte
	parts     map[string]*memPart
}

type derivedKey struct {
	ref  Ref
	kind string
}

var (
	_ Store        = (*Mem)(nil)
	_ DerivedStore = (*Mem)(nil)
)

// NewMem gives an empty store.
func NewMem() *Mem {
	return &Mem{originals: map[Ref][]byte{}, derived: map[derivedKey][]byte{}, parts: map[string]*memPart{}}
}

// Put implements Store.
func (m *Mem) Put(ctx context.Context, r io.Reader, max int64) (Receipt, error) {
	return StageAndKeep(ctx, m, r, max)
}

// Stage implements Store.
func (m *Mem) Stage(ctx context.Context, r io.Reader, max int64) (*Staged, error) {
	var buf bytes.Buffer
	ref, size, err := HashCopy(ctx, &buf, r, max)
	if err != nil {
		return nil, fmt.Errorf("stage: %w", err)
	}
	return NewStaged(ref, size, &memSpool{mem: m, data: buf.Bytes()}), nil
}

// Open implements Store.
func (m *Mem) Open(ctx context.Context, ref Ref) (io.ReadSeekCloser, int64, error) {
	data, err := m.original(ctx, ref)
	if err != nil {
		return nil, 0, err
	}
	return memReader{bytes.NewReader(data)}, int64(len(data)), nil
}

// Stat implements Store.
func (m *Mem) Stat(ctx context.Context, ref Ref) (int64, error) {
	data, err := m.original(ctx, ref)
	return int64(len(data)), err
}

func (m *Mem) original(ctx context.Context, ref Ref) ([]byte, error) {
	if err := ref.check(); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("open %s: %w", ref, err)
	}
	m.mu.RLock()
	defer m.mu.RUnlock()
	data, ok := m.originals[ref]
	if !ok {
		return nil, fmt.Errorf("open %s: %w", ref, ErrNotFound)
	}
	return data, nil
}

// List implements Store. Originals put meanwhile get no call.
func (m *Mem) List(ctx context.Context, each func(Ref, int64) error) error {
	m.mu.RLock()
	sizes := make(map[Ref]int64, len(m.originals))
	for ref, data := range m.originals {
		sizes[ref] = int64(len(data))
	}
	m.mu.RUnlock()
	return inOrder(ctx, "list originals", sizes, each)
}

// inOrder calls each with the entries of a map by their names, until the first
// error.
func inOrder[K cmp.Ordered, V any](ctx context.Context, operation string, m map[K]V, each func(K, V) error) error {
	for _, name := range slices.Sorted(maps.Keys(m)) {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("%s: %w", operation, err)
		}
		if err := each(name, m[name]); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// PutDerived implements DerivedStore.
func (m *Mem) PutDerived(ctx context.Context, ref Ref, kind string, data []byte) error {
	if err := checkDerived(ref, kind); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("put view copy: %w", err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.derived[derivedKey{ref, kind}] = bytes.Clone(data)
	return nil
}

// OpenDerived implements DerivedStore.
func (m *Mem) OpenDerived(ctx context.Context, ref Ref, kind string) (io.ReadSeekCloser, int64, error) {
	if err := checkDerived(ref, kind); err != nil {
		return nil, 0, err
	}
	if err := ctx.Err(); err != nil {
		return nil, 0, fmt.Errorf("open view copy: %w", err)
	}
	m.mu.RLock()
	defer m.mu.RUnlock()
	data, ok := m.derived[derivedKey{ref, kind}]
	if !ok {
		return nil, 0, fmt.Errorf("open view copy %s of %s: %w", kind, ref, ErrNotFound)
	}
	return memReader{bytes.NewReader(data)}, int64(len(data)), nil
}

type memSpool struct {
	mem  *Mem
	data []byte
}

func (s *memSpool) Open() (io.ReadSeekCloser, error) {
	return memReader{bytes.NewReader(s.data)}, nil
}

func (s *memSpool) Drop() { s.data = nil }

func (s *memSpool) Keep(_ context.Context, ref Ref, _ int64) (bool, error) {
	s.mem.mu.Lock()
	defer s.mem.mu.Unlock()
	if _, ok := s.mem.originals[ref]; ok {
		return true, nil
	}
	s.mem.originals[ref] = s.data
	return false, nil
}

func (s *memSpool) Has(ref Ref) (bool, error) {
	s.mem.mu.RLock()
	defer s.mem.mu.RUnlock()
	_, ok := s.mem.originals[ref]
	return ok, nil
}

// memReader gives a bytes.Reader the Close that a file has.
type memReader struct{ *bytes.Reader }

func (memReader) Close() error { return nil }
