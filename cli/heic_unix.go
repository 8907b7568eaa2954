//go:build unix

package cli

import (
	"fmt"
	"syscall"
	"time"
)

// limitProcessor lets the process go on for some seconds of processor time;
// then the system ends it.
func limitProcessor(seconds uint64) error {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		return fmt.Errorf("processor time used: %w", err)
	}
	spent := time.Duration(used.Utime.Nano() + used.Stime.Nano())
	end := uint64((spent+time.Second-1)/time.Second) + seconds
	return syscall.Setrlimit(syscall.RLIMIT_CPU, &syscall.Rlimit{Cur: end, Max: end + 1})
}
