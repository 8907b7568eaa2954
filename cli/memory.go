package cli

import (
	"bufio"
	"math"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
)

const (
	// pixelsEach is room for one photo of a phone: 12 megapixels and what else
	// is held while it is decoded.
	pixelsEach = 16_000_000
	// pixelBytes is what a pixel of the pool stands for, with as much again for
	// what the copies take.
	pixelBytes = 4
	// memoryPart of what is free may be taken by decoding.
	memoryPart = 4
)

// poolPixels is how many pixels may be decoded at once for so many photos at
// once, held to a part of the memory that is free. It is never less than one
// photo needs, since such a one runs alone.
func poolPixels(jobs int) int64 {
	want := int64(min(jobs, 1024)) * pixelsEach
	most := min(freeMemory(), debug.SetMemoryLimit(-1)) / memoryPart / pixelBytes
	return max(pixelsEach, min(want, most))
}

// freeMemory is the memory in bytes that the system could give a program, and
// boundless where it does not say (that is, elsewhere than on Linux).
func freeMemory() int64 {
	f, err := os.Open("/proc/meminfo")
	if err != nil {
		return math.MaxInt64
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		text, ok := strings.CutPrefix(lines.Text(), "MemAvailable:")
		if !ok {
			continue
		}
		kib, err := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(text, "kB")), 10, 64)
		if err == nil {
			return kib << 10
		}
	}
	return math.MaxInt64
}
