package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

const (
	intakeClients = 8
	intakeWorkers = 2 // as many as the cores the figure is for
)

// BenchmarkIntake sends photos of 3 MB and 12 megapixels to the program as it is
// run, over 8 connections, until all view copies are made, and does the same
// work without a server, database or log in this process: hash, copy to the disk
// with fsync, view copies, 2 workers. The latter runs half before and half after,
// so that a machine that slows down slows both. INTAKE sets how many photos.
func BenchmarkIntake(b *testing.B) {
	n := 1000
	if text := os.Getenv("INTAKE"); text != "" {
		var err error
		n, err = strconv.Atoi(text)
		require.NoError(b, err)
	}
	base, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 4000, Height: 3000, Layer: imaging.SceneCoat}, defects.Capture{})
	require.NoError(b, err)
	photo := func(i int) []byte {
		p, err := imaging.WithExif(base, numbered(i))
		require.NoError(b, err)
		return p
	}
	alone := workAlone(b, 0, n/2, photo)
	over := overHTTP(b, n, photo)
	alone += workAlone(b, n/2, n, photo)
	b.ReportMetric(float64(len(base))/1e6, "MB-photo")
	b.ReportMetric(float64(n)/over.took.Seconds(), "photos/s-http")
	b.ReportMetric(float64(n)/alone.Seconds(), "photos/s-alone")
	b.ReportMetric(alone.Seconds()/over.took.Seconds(), "ratio(hold:0.8)")
	b.ReportMetric(float64(n)/over.sent.Seconds(), "photos/s-acknowledged")
	b.ReportMetric(100*over.cpu, "%-cpu-of-2-cores")
	for i, name := range []string{"MB-start", "MB-middle", "MB-end"} {
		b.ReportMetric(float64(over.kB[i])/1e3, name)
	}
	b.ReportMetric(0, "ns/op")
	if over.cpu > 0.8 {
		b.Log("the server is bound by the processor")
	} else {
		b.Log("the server waits: for the disk, or for cores that others use")
	}
}

// workAlone does the work of photos from ≤ i < to in this process.
func workAlone(b *testing.B, from, to int, photo func(int) []byte) time.Duration {
	b.Helper()
	folder := b.TempDir()
	start := time.Now()
	each(intakeWorkers, from, to, func(i int) {
		data := photo(i)
		sum := sha256.Sum256(data)
		name := filepath.Join(folder, hex.EncodeToString(sum[:]))
		f, err := os.Create(name)
		require.NoError(b, err)
		_, err = f.Write(data)
		require.NoError(b, err)
		require.NoError(b, f.Sync())
		require.NoError(b, f.Close())
		c, _, err := imaging.ReadCapture(bytes.NewReader(data), imaging.DefaultLimits())
		require.NoError(b, err)
		copies, err := imaging.Derive(context.Background(), bytes.NewReader(data), c, imaging.DeriveOptions{Limits: imaging.DefaultLimits()})
		require.NoError(b, err)
		require.NoError(b, os.WriteFile(name+".preview.jpg", copies.Preview.JPEG, 0o600))
		require.NoError(b, os.WriteFile(name+".thumb.jpg", copies.Thumb.JPEG, 0o600))
	})
	took := time.Since(start)
	require.NoError(b, os.RemoveAll(folder))
	return took
}

// each runs do for from ≤ i < to on some workers.
func each(workers, from, to int, do func(i int)) {
	var next atomic.Int64
	next.Store(int64(from))
	var running sync.WaitGroup
	for range workers {
		running.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= to {
					return
				}
				do(i)
			}
		})
	}
	running.Wait()
}

// intake is what sending all photos took.
type intake struct {
	sent, took time.Duration // until the last answer; until the last view copy
	cpu        float64       // the server's share of two cores
	kB         [3]int        // memory early, in the middle, at the end
}

func overHTTP(b *testing.B, n int, photo func(int) []byte) (in intake) {
	b.Helper()
	bin := built(b)
	data := filepath.Join(b.TempDir(), "data")
	run(b, bin, "demo", "--no-serve", "--data", data)
	token := strings.TrimSpace(run(b, bin, "user", "token", "clerk", "--label", "bench", "--data", data))
	token = token[strings.LastIndexAny(token, " \n")+1:]
	s := serve(b, bin, data)
	defer s.stop(b)
	site := regexp.MustCompile(`"id":"([^"]+)"`).FindStringSubmatch(call(b, token, "GET", s.addr+"/api/v1/sites", nil))
	require.NotNil(b, site)
	before := thumbs(b, data)
	var done atomic.Int64
	start, cpu := time.Now(), s.processor(b)
	each(intakeClients, 0, n, func(i int) {
		call(b, token, "POST", s.addr+"/api/v1/sites/"+site[1]+"/photos", photo(i))
		switch done.Add(1) {
		case int64(max(n/20, 1)):
			in.kB[0] = s.memory(b, "VmRSS")
		case int64(n / 2):
			in.kB[1] = s.memory(b, "VmRSS")
		}
	})
	in.sent = time.Since(start)
	require.Eventually(b, func() bool { return thumbs(b, data) == before+n }, time.Hour, 200*time.Millisecond)
	in.took = time.Since(start)
	in.cpu = (s.processor(b) - cpu).Seconds() / in.took.Seconds() / 2
	in.kB[2] = s.memory(b, "VmRSS")
	return in
}

func thumbs(b *testing.B, data string) (n int) {
	err := filepath.WalkDir(filepath.Join(data, "derived"), func(_ string, e fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(e.Name(), ".thumb.jpg") {
			n++
		}
		return nil
	})
	require.NoError(b, err)
	return n
}

// processor is the time the server has run, from the kernel's ticks of 1/100 s.
func (s *served) processor(b *testing.B) time.Duration {
	b.Helper()
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", s.cmd.Process.Pid))
	require.NoError(b, err)
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	var ticks int
	for _, field := range fields[11:13] { // utime and stime
		n, err := strconv.Atoi(field)
		require.NoError(b, err)
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond
}
