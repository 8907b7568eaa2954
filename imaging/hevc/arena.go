package hevc

import "github.com/tetratelabs/wazero/experimental"

// arena is the one piece of memory that all instances get in turn. The system
// gives it page by page as it is touched. It is none of the collector's: left to
// that, several of them could be there at once, or one be cleared as a whole.
type arena struct {
	whole  []byte
	mapped bool // by the system, to be given back to it
	used   uint64
}

// Allocate begins an instance's memory.
func (a *arena) Allocate(_, most uint64) experimental.LinearMemory {
	if a.whole == nil {
		a.whole, a.mapped = reserve(int(most))
	}
	return a
}

// Reallocate gives so many bytes, or none when there are not so many.
func (a *arena) Reallocate(size uint64) []byte {
	if size > uint64(len(a.whole)) {
		return nil
	}
	a.used = max(a.used, size)
	return a.whole[:size]
}

// Free leaves nothing of one instance to the next.
func (a *arena) Free() {
	clear(a.whole[:a.used])
	a.used = 0
}

// giveBack ends the arena; no instance may be left.
func (a *arena) giveBack() error {
	whole, mapped := a.whole, a.mapped
	a.whole, a.mapped, a.used = nil, false, 0
	if !mapped {
		return nil
	}
	return release(whole)
}
