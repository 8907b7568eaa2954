//go:build unix

package hevc

import "syscall"

// reserve asks the system for memory, and Go when the system has none to map.
func reserve(n int) (memory []byte, mapped bool) {
	memory, err := syscall.Mmap(-1, 0, n, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	if err != nil {
		return make([]byte, n), false
	}
	return memory, true
}

func release(memory []byte) error { return syscall.Munmap(memory) }
