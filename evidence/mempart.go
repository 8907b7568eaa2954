package evidence

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"time"
)

var _ PartStore = (*Mem)(nil)

// memPart is a part in memory; mem.mu guards open.
type memPart struct {
	mem     *Mem
	id      string
	data    []byte
	written time.Time
	open    bool
	over    bool
}

// OpenPart implements PartStore.
func (m *Mem) OpenPart(ctx context.Context, id string) (Part, error) {
	if err := checkPart(id); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("open part %s: %w", id, err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	p, ok := m.parts[id]
	if !ok {
		p = &memPart{mem: m, id: id, written: time.Now()}
		m.parts[id] = p
	}
	if p.open {
		return nil, fmt.Errorf("open part %s: %w", id, ErrBusy)
	}
	p.open = true
	return p, nil
}

// ListParts implements PartStore.
func (m *Mem) ListParts(ctx context.Context, each func(string, time.Time) error) error {
	m.mu.RLock()
	found := make(map[string]time.Time, len(m.parts))
	for id, p := range m.parts {
		found[id] = p.written
	}
	m.mu.RUnlock()
	return inOrder(ctx, "list parts", found, each)
}

func (p *memPart) ReadAt(b []byte, off int64) (int, error) {
	return bytes.NewReader(p.data).ReadAt(b, off)
}

func (p *memPart) Size() (int64, error) { return int64(len(p.data)), nil }

func (p *memPart) Cut(size int64) error {
	p.data = p.data[:min(size, int64(len(p.data)))]
	return nil
}

func (p *memPart) Write(b []byte) (int, error) {
	p.data = append(p.data, b...)
	p.mem.mu.Lock()
	defer p.mem.mu.Unlock()
	p.written = time.Now()
	return len(b), nil
}

func (p *memPart) Sync() error { return nil }

func (p *memPart) Stage(ctx context.Context) (*Staged, error) {
	ref, size, err := HashCopy(ctx, io.Discard, bytes.NewReader(p.data), int64(len(p.data)))
	if err != nil {
		return nil, fmt.Errorf("stage part: %w", err)
	}
	return NewStaged(ref, size, &memPartSpool{memSpool{p.mem, bytes.Clone(p.data)}, p}), nil
}

func (p *memPart) Drop() error {
	p.over = true
	return nil
}

func (p *memPart) Close() error {
	p.mem.mu.Lock()
	defer p.mem.mu.Unlock()
	p.open = false
	if p.over && p.mem.parts[p.id] == p {
		delete(p.mem.parts, p.id)
	}
	return nil
}

type memPartSpool struct {
	memSpool
	part *memPart
}

func (s *memPartSpool) Drop() {
	s.memSpool.Drop()
	s.part.over = true
}

func (s *memPartSpool) Keep(ctx context.Context, ref Ref, size int64) (bool, error) {
	existed, err := s.memSpool.Keep(ctx, ref, size)
	s.part.over = err == nil
	return existed, err
}
