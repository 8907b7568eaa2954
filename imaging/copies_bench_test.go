package imaging_test

import (
	"bytes"
	"context"
	"fmt"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	dimaging "github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// A maker makes both view copies of the photo in a file.
type maker func(path string) error

// makers are what a child process of the benchmark can be asked to run.
var makers = map[string]maker{
	"ours": func(path string) error {
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		_, err = imaging.Derive(context.Background(), f, defects.Capture{}, imaging.DeriveOptions{})
		return err
	},
	"standard": func(path string) error {
		photo, err := dimaging.Open(path)
		if err != nil {
			return err
		}
		preview := dimaging.Fit(photo, 2048, 2048, dimaging.Lanczos)
		thumb := dimaging.Fit(preview, 320, 320, dimaging.Lanczos)
		if err := jpeg.Encode(io.Discard, preview, &jpeg.Options{Quality: 85}); err != nil {
			return err
		}
		return jpeg.Encode(io.Discard, thumb, &jpeg.Options{Quality: 80})
	},
}

// childVar asks a process of these tests to make copies and to say what they
// cost, so that time and memory are those of nothing else.
const childVar = "STOREYROD_TEST_COPIES"

func TestMain(m *testing.M) {
	var err error
	switch who := os.Getenv(childVar); who {
	case "":
		os.Exit(m.Run())
	case "draw":
		err = drawPhone(os.Args[1], os.Args[2])
	default:
		err = report(makers[who], os.Args[1], os.Args[2])
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// report runs a maker some times and prints the least processor time of a run
// in milliseconds and the most memory of the process in kB, as the peer does.
func report(work maker, path, times string) error {
	n, err := strconv.Atoi(times)
	if err != nil {
		return err
	}
	least := time.Hour
	var u syscall.Rusage
	for range n {
		_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
		before := u.Utime.Nano() + u.Stime.Nano()
		if err := work(path); err != nil {
			return err
		}
		_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
		least = min(least, time.Duration(u.Utime.Nano()+u.Stime.Nano()-before))
	}
	_, err = fmt.Printf("%.1f %d\n", float64(least.Microseconds())/1000, u.Maxrss)
	return err
}

// cost is what a child process reported.
type cost struct{ ms, mb float64 }

// child runs a process on one core and gives what it said.
func child(b *testing.B, program, who string, args ...string) []byte {
	b.Helper()
	cmd := exec.CommandContext(b.Context(), program, args...)
	cmd.Env = append(os.Environ(), childVar+"="+who, "GOMAXPROCS=1")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	require.NoError(b, err, who)
	return out
}

func (c *cost) run(b *testing.B, who, path string, times int) {
	b.Helper()
	program := os.Args[0]
	if who == "libvips" {
		program = filepath.Join(filepath.Dir(path), "vips")
	}
	out := child(b, program, who, path, strconv.Itoa(times))
	var ms, kb float64
	_, err := fmt.Fscan(bytes.NewReader(out), &ms, &kb)
	require.NoError(b, err, "%s said %s", who, out)
	if c.ms == 0 || ms < c.ms {
		c.ms = ms
	}
	c.mb = max(c.mb, kb/1024)
}

// buildPeer compiles the small program around libvips.
func buildPeer(b *testing.B, dir string) {
	b.Helper()
	flags, err := exec.CommandContext(b.Context(), "pkg-config", "--cflags", "--libs", "vips").Output()
	if err != nil {
		b.Skip("libvips-dev is not installed")
	}
	args := append([]string{"-O2", "-o", filepath.Join(dir, "vips"), "testdata/peers/vips.c"}, strings.Fields(string(flags))...)
	out, err := exec.CommandContext(b.Context(), "cc", args...).CombinedOutput()
	require.NoError(b, err, string(out))
}

// BenchmarkCopiesBesidePeers makes both copies of one photo in turns with
// libvips and with the standard decoder and disintegration/imaging: the least
// processor time each needed, on one core, and the most memory of each process.
func BenchmarkCopiesBesidePeers(b *testing.B) {
	dir := b.TempDir()
	buildPeer(b, dir)
	for _, size := range []struct{ megapixels, width int }{{12, 4000}, {48, 8000}} {
		b.Run(fmt.Sprintf("%d megapixels", size.megapixels), func(b *testing.B) {
			path := filepath.Join(dir, fmt.Sprintf("%d.jpg", size.megapixels))
			child(b, os.Args[0], "draw", path, strconv.Itoa(size.width))
			var ours, vips, standard cost
			for b.Loop() {
				ours.run(b, "ours", path, 5)
				vips.run(b, "libvips", path, 5)
				standard.run(b, "standard", path, 2)
			}
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(ours.ms, "CPU-ms")
			b.ReportMetric(ours.mb, "peak-MB")
			b.ReportMetric(ours.ms/vips.ms, "of-libvips-time")
			b.ReportMetric(vips.mb, "libvips-MB")
			b.ReportMetric(ours.ms/standard.ms, "of-standard-time")
			b.ReportMetric(standard.mb, "standard-MB")
		})
	}
}

// drawPhone draws a picture of 4 : 3 and codes it as phones do, with about 2.2
// bits a pixel. A child does it, as the peak memory that a process is told
// begins with that of its parent.
func drawPhone(path, width string) error {
	w, err := strconv.Atoi(width)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	img := imaging.Render(imaging.SceneSpec{Width: w, Height: w * 3 / 4, Seed: 5, Tape: true, Label: "12"})
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 90}); err != nil {
		return err
	}
	return os.WriteFile(path, buf.Bytes(), 0o600)
}
