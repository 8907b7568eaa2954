package jpeg_test

import (
	"bytes"
	"fmt"
	stdjpeg "image/jpeg"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
	"storeyrod/imaging/jpeg"
)

// cpu is the processor time of this process: on a shared machine it tells more
// than the clock.
func cpu(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func measure(b *testing.B, work func() error) {
	b.Helper()
	b.ReportAllocs()
	begin := cpu(b)
	for b.Loop() {
		require.NoError(b, work())
	}
	b.ReportMetric(float64((cpu(b)-begin).Microseconds())/1000/float64(b.N), "CPU-ms/op")
}

func BenchmarkTwelveMegapixels(b *testing.B) {
	photo, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 4000, Height: 3000, Seed: 5, Tape: true, Label: "12"}, defects.Capture{})
	require.NoError(b, err)
	for _, n := range []int{1, 2, 3, 4, 5, 6, 7, 8} {
		b.Run(fmt.Sprintf("%d eighths", n), func(b *testing.B) {
			measure(b, func() error {
				_, err := jpeg.Decode(b.Context(), bytes.NewReader(photo), jpeg.Options{Scale: n})
				return err
			})
		})
	}
	b.Run("image-jpeg", func(b *testing.B) {
		measure(b, func() error {
			_, err := stdjpeg.Decode(bytes.NewReader(photo))
			return err
		})
	})
}
