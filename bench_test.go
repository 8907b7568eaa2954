package main

import (
	"bufio"
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkProgram measures the program as it is run: size of the static
// binary, time until an existing database is ready, memory when idle, and the
// memory that a photo of 20 MB costs beyond one of the same size in pixels
// that has few bytes. It reports figures and fails only when nothing works.
func BenchmarkProgram(b *testing.B) {
	bin := built(b)
	info, err := os.Stat(bin)
	require.NoError(b, err)
	data := filepath.Join(b.TempDir(), "data")
	start := time.Now()
	run(b, bin, "demo", "--no-serve", "--data", data)
	demo := time.Since(start)

	small := few(b, 4000, 3000)
	large := noisy(b, 4000, 3000)
	for range b.N {
		idle, ready := measureIdle(b, bin, data)
		before := measureUpload(b, bin, data, small)
		after := measureUpload(b, bin, data, large)
		b.ReportMetric(float64(info.Size())/1e6, "MB-binary(hold:40)")
		b.ReportMetric(demo.Seconds(), "s-demo(hold:60)")
		b.ReportMetric(ready.Seconds(), "s-ready(hold:1)")
		b.ReportMetric(float64(idle)/1e3, "MB-idle(hold:60)")
		b.ReportMetric(float64(len(small))/1e6, "MB-small-photo")
		b.ReportMetric(float64(before)/1e3, "MB-peak-small")
		b.ReportMetric(float64(len(large))/1e6, "MB-large-photo")
		b.ReportMetric(float64(after)/1e3, "MB-peak-large")
	}
	b.ReportMetric(0, "ns/op")
}

// built makes the program as it is delivered.
func built(b *testing.B) string {
	b.Helper()
	bin := filepath.Join(b.TempDir(), "storeyrod")
	run(b, "go", "build", "-trimpath", "-tags", "nomsgpack", "-ldflags", "-s -w", "-o", bin, ".")
	return bin
}

func run(b *testing.B, name string, args ...string) string {
	b.Helper()
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := cmd.Output()
	require.NoError(b, err, "%s %v", name, args)
	return string(out)
}

// served is one running server.
type served struct {
	cmd   *exec.Cmd
	addr  string
	ready time.Duration
}

func serve(b *testing.B, bin, data string) *served {
	b.Helper()
	cmd := exec.Command(bin, "serve", "--addr", "127.0.0.1:0", "--data", data)
	out, err := cmd.StdoutPipe()
	require.NoError(b, err)
	start := time.Now()
	require.NoError(b, cmd.Start())
	s := &served{cmd: cmd}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if addr := regexp.MustCompile(`http://[^\s/]+`).FindString(lines.Text()); addr != "" {
			s.addr = addr
			break
		}
	}
	go io.Copy(io.Discard, out) //nolint:errcheck // only kept flowing
	require.NotEmpty(b, s.addr)
	require.Eventually(b, func() bool {
		res, err := http.Get(s.addr + "/readyz")
		return err == nil && res.Body.Close() == nil && res.StatusCode == http.StatusOK
	}, 20*time.Second, 5*time.Millisecond)
	s.ready = time.Since(start)
	return s
}

func (s *served) stop(b *testing.B) {
	b.Helper()
	require.NoError(b, s.cmd.Process.Signal(os.Interrupt))
	require.NoError(b, s.cmd.Wait())
}

// memory reads one figure of the process from the kernel, in kB.
func (s *served) memory(b *testing.B, name string) int {
	b.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.cmd.Process.Pid))
	require.NoError(b, err)
	found := regexp.MustCompile(name + `:\s+(\d+) kB`).FindSubmatch(status)
	require.NotNil(b, found)
	n, err := strconv.Atoi(string(found[1]))
	require.NoError(b, err)
	return n
}

func measureIdle(b *testing.B, bin, data string) (kB int, ready time.Duration) {
	s := serve(b, bin, data)
	defer s.stop(b)
	time.Sleep(3 * time.Second)
	return s.memory(b, "VmRSS"), s.ready
}

// measureUpload answers the peak memory of a server that took one photo in and
// made its view copies.
func measureUpload(b *testing.B, bin, data string, photo []byte) (kB int) {
	token := strings.TrimSpace(run(b, bin, "user", "token", "clerk", "--label", "bench", "--data", data))
	token = token[strings.LastIndexAny(token, " \n")+1:]
	s := serve(b, bin, data)
	defer s.stop(b)
	site := regexp.MustCompile(`"id":"([^"]+)"`).FindStringSubmatch(call(b, token, "GET", s.addr+"/api/v1/sites", nil))
	require.NotNil(b, site)
	photos := s.addr + "/api/v1/sites/" + site[1] + "/photos"
	id := regexp.MustCompile(`"id":"([^"]+)"`).FindStringSubmatch(call(b, token, "POST", photos, photo))
	require.NotNil(b, id)
	require.Eventually(b, func() bool {
		return strings.Contains(call(b, token, "GET", photos+"/"+id[1], nil), `"view_copies":"ready"`)
	}, time.Minute, 50*time.Millisecond)
	return s.memory(b, "VmHWM")
}

func call(b *testing.B, token, method, url string, body []byte) string {
	b.Helper()
	req, err := http.NewRequest(method, url, bytes.NewReader(body))
	require.NoError(b, err)
	req.Header.Set("Authorization", "Bearer "+token)
	if body != nil {
		req.Header.Set("Content-Type", "image/jpeg")
	}
	res, err := http.DefaultClient.Do(req)
	require.NoError(b, err)
	defer res.Body.Close() //nolint:errcheck // read side
	got, err := io.ReadAll(res.Body)
	require.NoError(b, err)
	require.Less(b, res.StatusCode, 300, "%s", got)
	return string(got)
}

// noisy is a photo that hardly compresses.
func noisy(b *testing.B, width, height int) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	img := image.NewYCbCr(image.Rect(0, 0, width, height), image.YCbCrSubsampleRatio420)
	for _, plane := range [][]byte{img.Y, img.Cb, img.Cr} {
		for i := range plane {
			plane[i] = byte(rng.Uint32())
		}
	}
	return encode(b, img, 92)
}

// few is a photo of the same size in pixels with few bytes.
func few(b *testing.B, width, height int) []byte {
	return encode(b, image.NewYCbCr(image.Rect(0, 0, width, height), image.YCbCrSubsampleRatio420), 92)
}

func encode(b *testing.B, img image.Image, quality int) []byte {
	b.Helper()
	var out bytes.Buffer
	require.NoError(b, jpeg.Encode(&out, img, &jpeg.Options{Quality: quality}))
	return out.Bytes()
}
