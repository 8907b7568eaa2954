package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What one hostile file may cost the real program: resident memory of any of
// its processes, and processor time of all. The time is four times what was
// measured for the worst of them, as processors are shared.
const (
	hostileMemory = 150 << 20
	hostileTime   = 6 * time.Second
)

func TestHostileFilesCostLittleAndNeverTheProcess(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("peak memory is read from /proc")
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "storeyrod")
	said, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput()
	require.NoError(t, err, "%s", said)
	zoo := hostileFiles(t)
	names := make([]string, 0, len(zoo))
	for name := range zoo {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		file := filepath.Join(dir, "hostile")
		require.NoError(t, os.WriteFile(file, zoo[name], 0o600))
		for _, args := range [][]string{{"exif", file}, {"derive", file, "--out", filepath.Join(dir, "out")}} {
			cost := runMeasured(t, program, args...)
			t.Logf("%-6s %-40s %3d MB %6d ms  %s", args[0], name, cost.memory>>20, cost.time.Milliseconds(), cost.said)
			require.Contains(t, []int{0, 1}, cost.code, "%s of %s: %s", args[0], name, cost.said)
			require.Less(t, cost.memory, int64(hostileMemory), "%s of %s", args[0], name)
			require.Less(t, cost.time, hostileTime, "%s of %s", args[0], name)
		}
	}
}

// cost is what a run took.
type cost struct {
	code   int
	memory int64
	time   time.Duration
	said   string
}

// runMeasured runs the program and watches the high-water marks of it and its
// child. (The kernel's own record of a child's peak begins with its parent's.)
func runMeasured(t *testing.T, program string, args ...string) cost {
	t.Helper()
	cmd := exec.Command(program, args...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	require.NoError(t, cmd.Start())
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	peak := int64(0)
	for {
		peak = max(peak, highWater(cmd.Process.Pid))
		select {
		case err := <-done:
			var exit *exec.ExitError
			if err != nil && !errors.As(err, &exit) {
				require.NoError(t, err)
			}
			state := cmd.ProcessState
			text := out.String()
			return cost{state.ExitCode(), peak, state.UserTime() + state.SystemTime(), text[:min(len(text), 160)]}
		case <-time.After(5 * time.Millisecond): // looking costs as much as the program does
		}
	}
}

// highWater is the largest peak of a process and its children.
func highWater(pid int) int64 {
	peak := int64(0)
	status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			n, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			peak = n << 10
		}
	}
	tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	for _, task := range tasks {
		children, _ := os.ReadFile(task)
		for _, child := range strings.Fields(string(children)) {
			if n, err := strconv.Atoi(child); err == nil {
				peak = max(peak, highWater(n))
			}
		}
	}
	return peak
}

func hostileFiles(t *testing.T) map[string][]byte {
	t.Helper()
	zoo := map[string][]byte{}
	for _, more := range []map[string][]byte{hostileJPEGs(), hostilePNGs(t), hostileWebPs(), hostileHEICs(t)} {
		for name, b := range more {
			zoo[name] = b
		}
	}
	return zoo
}

func be16(v int) []byte { return binary.BigEndian.AppendUint16(nil, uint16(v)) }
func be32(v int) []byte { return binary.BigEndian.AppendUint32(nil, uint32(v)) }

func join(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

func segment(marker byte, body ...[]byte) []byte {
	b := join(body...)
	return join([]byte{0xFF, marker}, be16(len(b)+2), b)
}

// greyFrame begins a grey JPEG with the smallest tables there are.
func greyFrame(frame byte, w, h int) []byte {
	quant := bytes.Repeat([]byte{1}, 65)
	quant[0] = 0
	one := make([]byte, 16)
	one[0] = 1 // one code of one bit
	return join(
		[]byte{0xFF, 0xD8}, segment(0xDB, quant),
		segment(frame, []byte{8}, be16(h), be16(w), []byte{1, 1, 0x11, 0}),
		segment(0xC4, []byte{0x00}, one, []byte{0}),    // DC: no difference
		segment(0xC4, []byte{0x10}, one, []byte{0xE0}), // AC: up to 32767 blocks without coefficients
	)
}

// emptyScan codes so many blocks without coefficients: runs of 32767, each a
// code of one bit and 14 more that are 1.
func emptyScan(blocks int) []byte {
	bits := ""
	for ; blocks > 0; blocks -= 32767 {
		bits += "0" + strings.Repeat("1", 14)
	}
	bits += strings.Repeat("1", -len(bits)&7)
	coded := segment(0xDA, []byte{1, 1, 0x00, 1, 63, 0})
	for at := 0; at < len(bits); at += 8 {
		v, _ := strconv.ParseUint(bits[at:at+8], 2, 8)
		if coded = append(coded, byte(v)); v == 0xFF {
			coded = append(coded, 0)
		}
	}
	return coded
}

func hostileJPEGs() map[string][]byte {
	const w, h = 3400, 3400 // 180,625 blocks
	empty := emptyScan(w * h / 64)
	scans := join(greyFrame(0xC2, w, h), bytes.Repeat(empty, 200_000), []byte{0xFF, 0xD9})
	tables := join([]byte{0xFF, 0xD8}, bytes.Repeat(segment(0xC4, []byte{0x00}, make([]byte, 16)), 500_000))
	restarts := join(greyFrame(0xC0, w, h), segment(0xDD, be16(1)), segment(0xDA, []byte{1, 1, 0x00, 0, 63, 0}))
	for i := range 1_000_000 {
		restarts = append(restarts, 0xFF, 0xD0+byte(i%8))
	}
	tablesBehind := join(greyFrame(0xC2, w, h), empty, bytes.Repeat(segment(0xC4, []byte{0x10, 1}, make([]byte, 15), []byte{0xE0}), 2_000_000))
	exif := join([]byte("Exif\x00\x00II*\x00\x08\x00\x00\x00"), bytes.Repeat([]byte{0xFF, 0xFF, 0x4A, 0x01, 4, 0, 0xE8, 3, 0, 0, 8, 0, 0, 0}, 4600))
	return map[string][]byte{
		"jpeg of 65535 by 65535":               join(greyFrame(0xC0, 65535, 65535), empty),
		"progressive jpeg of 65535 by 65535":   join(greyFrame(0xC2, 65535, 65535), empty),
		"jpeg with 200,000 empty scans":        scans,
		"jpeg with half a million tables":      tables,
		"jpeg with two million tables behind":  tablesBehind,
		"jpeg with a million restart markers":  restarts,
		"jpeg with Exif directories in Exif":   join([]byte{0xFF, 0xD8}, segment(0xE1, exif), greyFrame(0xC0, 16, 16)[2:]),
		"jpeg of four inks and 48 megapixels":  join([]byte{0xFF, 0xD8}, segment(0xC0, []byte{8}, be16(6000), be16(8000), []byte{4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0}), segment(0xDA, []byte{4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0}), make([]byte, 4000)),
		"jpeg of nothing but fill bytes":       append([]byte{0xFF, 0xD8}, bytes.Repeat([]byte{0xFF}, 40<<20)...),
		"progressive jpeg as large as allowed": join(greyFrame(0xC2, 4200, 4200), bytes.Repeat(emptyScan(4200*4200/64), 20), []byte{0xFF, 0xD9}),
	}
}

func chunk(kind string, body []byte) []byte {
	all := join([]byte(kind), body)
	return join(be32(len(body)), all, binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(all)))
}

func png(w, h int, depth, colour, interlace byte, chunks ...[]byte) []byte {
	head := join(be32(w), be32(h), []byte{depth, colour, 0, 0, interlace})
	return join([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", head), join(chunks...), chunk("IEND", nil))
}

// zeros is so many zero bytes, deflated.
func zeros(t *testing.T, n int) []byte {
	t.Helper()
	var buf bytes.Buffer
	z, err := zlib.NewWriterLevel(&buf, zlib.BestSpeed)
	require.NoError(t, err)
	block := make([]byte, 1<<20)
	for ; n > 0; n -= len(block) {
		_, err = z.Write(block[:min(n, len(block))])
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return buf.Bytes()
}

func hostilePNGs(t *testing.T) map[string][]byte {
	t.Helper()
	bomb := zeros(t, 400<<20)
	row := chunk("IDAT", zeros(t, 16*(1+16*4)))
	torn := png(16, 16, 8, 6, 0, row)
	copy(torn[len(torn)-12:], be32(1<<31-1))
	return map[string][]byte{
		"png of 30000 by 30000":               png(30000, 30000, 8, 6, 0, row),
		"png with a profile of 400 MB":        png(16, 16, 8, 6, 0, chunk("iCCP", join([]byte("x\x00\x00"), bomb)), row),
		"png with Exif text of 400 MB":        png(16, 16, 8, 6, 0, chunk("zTXt", join([]byte("Raw profile type exif\x00\x00"), bomb)), row),
		"png with 400 MB behind the picture":  png(16, 16, 8, 6, 0, chunk("IDAT", bomb)),
		"png with a length of two gigabytes":  torn,
		"png with 100,000 chunks":             png(16, 16, 8, 6, 0, bytes.Repeat(chunk("tEXt", []byte("a\x00b")), 100_000), row),
		"png as large as allowed":             png(4490, 4490, 8, 6, 0, chunk("IDAT", zeros(t, 4490*(1+4490*4)))),
		"grey png of 16 bits, interlaced":     png(5000, 5000, 16, 0, 1, chunk("IDAT", zeros(t, 62<<20))),
		"animated png of 100,000 frames":      png(16, 16, 8, 6, 0, chunk("acTL", join(be32(100_000), be32(0))), row, bytes.Repeat(chunk("fdAT", make([]byte, 8)), 30_000)),
		"png whose Exif is 60 kB of one byte": png(16, 16, 8, 6, 0, chunk("eXIf", bytes.Repeat([]byte{0x2A}, 60_000)), row),
	}
}

func riff(chunks ...[]byte) []byte {
	body := join(append([][]byte{[]byte("WEBP")}, chunks...)...)
	return join([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, uint32(len(body))), body)
}

func riffChunk(kind string, body []byte) []byte {
	return join([]byte(kind), binary.LittleEndian.AppendUint32(nil, uint32(len(body))), body, make([]byte, len(body)%2))
}

// flatWebP is a lossless picture of one colour in 20 bytes: five codes of no
// bits each (WebP lossless bitstream §5.2).
func flatWebP(w, h int) []byte {
	bits := uint64(w-1) | uint64(h-1)<<14
	body := append([]byte{0x2F}, binary.LittleEndian.AppendUint32(nil, uint32(bits))...)
	codes, at := uint64(0), 3 // no transform, no cache, no groups of codes
	for range 5 {
		codes |= 1 << at // a simple code of one symbol, zero
		at += 4
	}
	return riff(riffChunk("VP8L", append(body, binary.LittleEndian.AppendUint64(nil, codes)...)))
}

func hostileWebPs() map[string][]byte {
	canvas := func(flags byte) []byte {
		return riffChunk("VP8X", []byte{flags, 0, 0, 0, 0xFF, 0x0F, 0, 0xFF, 0x0F, 0})
	}
	return map[string][]byte{
		"webp of 16384 by 16384":              flatWebP(16384, 16384),
		"webp as large as allowed":            flatWebP(3170, 3170),
		"webp of 100,000 frames":              riff(canvas(2), bytes.Repeat(riffChunk("ANMF", make([]byte, 16)), 100_000)),
		"webp with transparency of 16 MP":     riff(canvas(16), riffChunk("ALPH", join([]byte{1}, make([]byte, 64))), riffChunk("VP8 ", []byte("\x10\x02\x00\x9d\x01\x2a\x00\x10\x00\x10\x00\x00\x00\x00"))),
		"webp with a profile of four GB":      join(flatWebP(16, 16), []byte("ICCP\xFF\xFF\xFF\xFF")),
		"lossy webp of 16383 by 3900 and end": riff(riffChunk("VP8 ", []byte("\x10\x02\x00\x9d\x01\x2a\xFF\x3F\x3C\x0F\x00\x00\x00\x00"))),
	}
}

func isoBox(kind string, body ...[]byte) []byte {
	b := join(body...)
	return join(be32(len(b)+8), []byte(kind), b)
}

func heic(meta ...[]byte) []byte {
	return join(isoBox("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")),
		isoBox("meta", append([][]byte{make([]byte, 4), isoBox("pitm", []byte{0, 0, 0, 0, 0, 1})}, meta...)...))
}

func hostileHEICs(t *testing.T) map[string][]byte {
	t.Helper()
	full := []byte{0, 0, 0, 0}
	infe := func(id int, kind string) []byte {
		return isoBox("infe", []byte{2, 0, 0, 0}, be16(id), be16(0), []byte(kind), []byte{0})
	}
	var infos, loops, places []byte
	for i := range 65535 {
		infos = append(infos, infe(i, "hvc1")...)
		loops = append(loops, isoBox("dimg", be16(i), be16(1), be16((i+1)%65535))...)
		places = append(places, join(be16(i), be16(0), be16(1), be32(0), be32(100))...)
	}
	nested := []byte{}
	for left := 100_000; left > 0; left-- {
		nested = append(nested, join(be32(8*left), []byte("iprp"))...)
	}
	ispe := func(w, h int) []byte { return isoBox("ispe", full, be32(w), be32(h)) }
	props := isoBox("iprp", isoBox("ipco", ispe(4000, 3000)), isoBox("ipma", full, be32(1), be16(1), []byte{1, 1}))
	selfGrid := heic(
		isoBox("iinf", full, be16(1), infe(1, "grid")), isoBox("iref", full, isoBox("dimg", be16(1), be16(1), be16(1))), props,
		isoBox("idat", []byte{0, 0, 0, 0}, be16(4000), be16(3000)),
		isoBox("iloc", []byte{1, 0, 0, 0, 0x44, 0}, be16(1), be16(1), be16(1), be16(0), be16(1), be32(0), be32(8)))
	real, err := os.ReadFile("testdata/photos/gen2brain/test8.heic")
	require.NoError(t, err)
	noise := bytes.Clone(real)
	seed := uint32(1)
	for i := 900; i < len(noise); i++ {
		seed = seed*1664525 + 1013904223
		noise[i] = byte(seed >> 24)
	}
	files := map[string][]byte{
		"heic of 65535 items":              heic(isoBox("iinf", full, be16(65535), infos), isoBox("iloc", []byte{0, 0, 0, 0, 0x44, 0}, be16(65535), places), props),
		"heic of items made of each other": heic(isoBox("iinf", full, be16(65535), infos), isoBox("iref", full, loops), props),
		"heic of boxes in boxes":           heic(nested, props),
		"heic of 4 billion by 4 billion":   heic(isoBox("iprp", isoBox("ipco", ispe(1<<32-1, 1<<32-1)), isoBox("ipma", full, be32(1), be16(1), []byte{1, 1}))),
		"heic grid made of itself":         selfGrid,
		"heic with noise for data":         noise,
		"heic with meta of 50 MB":          heic(make([]byte, 50<<20)),
	}
	for at := 60; at < 900; at += 105 { // headers that say something else
		b := bytes.Clone(real)
		for i := range 6 {
			b[at+i] ^= 0x2B
		}
		files[fmt.Sprintf("heic with a fault at %d", at)] = b
	}
	return files
}
