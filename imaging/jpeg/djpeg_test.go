package jpeg

import (
	"bytes"
	"fmt"
	"image"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// djpeg finds libjpeg-turbo's decoder; only outside CI may its absence skip a
// test.
func djpeg(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("djpeg")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("djpeg is needed under CI and is not installed")
		}
		t.Skip("djpeg is not installed")
	}
	return path
}

// theirs is the Y plane as djpeg makes it at n eighths.
func theirs(t *testing.T, program, file string, n int) *image.Gray {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), program, "-dct", "int", "-grayscale", "-scale", fmt.Sprintf("%d/8", n), "-pnm", file)
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.Output()
	require.NoError(t, err, said.String())
	var w, h, most int
	_, err = fmt.Sscanf(string(out[:min(len(out), 40)]), "P5\n%d %d\n%d", &w, &h, &most)
	require.NoError(t, err)
	require.Equal(t, 255, most)
	require.Greater(t, len(out), w*h)
	return &image.Gray{Pix: out[len(out)-w*h:], Stride: w, Rect: image.Rect(0, 0, w, h)}
}

// luma is the Y plane of a picture.
func luma(img image.Image) *image.Gray {
	if m, ok := img.(*image.YCbCr); ok {
		return &image.Gray{Pix: m.Y, Stride: m.YStride, Rect: m.Rect}
	}
	return img.(*image.Gray)
}

// averaged is the Y plane made another way: the exact transform at full size,
// then the mean of each square of 8/n × 8/n samples. libjpeg-turbo reduces to
// 4/8 and 2/8 in this way, and to the other scales by the definition in idct.go.
func averaged(t *testing.T, b []byte, n int) *image.Gray {
	t.Helper()
	side := 8 / n
	d := watched(t, b, n, func(c *component, col, row int, b *block) {
		full := unclipped(8, b.coef)
		for k := range n * n {
			sum := 0.0
			for i := range side * side {
				sum += full[8*(k/n*side+i/side)+k%n*side+i%side]
			}
			v := min(max(math.Round(sum/float64(side*side)), 0), 255)
			c.plane.pix[(row*n+k/n)*c.plane.stride+col*n+k%n] = byte(v)
		}
	})
	return luma(d.picture(d.frame.rows()).Image)
}

// comparisons are the files to compare and at which scales: made ones at all,
// samples at two each, in turn.
func comparisons(t *testing.T) (files map[string][]byte, scales map[string][]int) {
	t.Helper()
	files, scales = samples(t), map[string][]int{}
	for i, name := range slices.Sorted(maps.Keys(files)) {
		scales[name] = []int{1 + i%Full, 1 + (i+3)%Full}
	}
	for name, sampling := range layouts() {
		r := recipe{width: 257, height: 129, sampling: sampling, coarse: 6, restart: 3, separate: name == "4:2:0", fillAfter: 1}
		files["made "+name], scales["made "+name] = r.encode(), []int{1, 2, 3, 4, 5, 6, 7, 8}
	}
	return files, scales
}

func TestTheLumaPlaneAgreesWithLibjpegTurbo(t *testing.T) {
	t.Parallel()
	program := djpeg(t)
	path := filepath.Join(t.TempDir(), "sample.jpg")
	most, byDefinition := [Full + 1]int{}, [Full + 1]int{}
	files, scales := comparisons(t)
	for name, b := range files {
		require.NoError(t, os.WriteFile(path, b, 0o600))
		for _, n := range scales[name] {
			p, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: n})
			if err != nil {
				break // which samples may fail is tested elsewhere
			}
			want, ours := theirs(t, program, path, n), luma(p.Image)
			byDefinition[n] = max(byDefinition[n], apart(t, want, ours))
			if n == 2 || n == 4 {
				ours = averaged(t, b, n)
			}
			difference := apart(t, want, ours)
			most[n] = max(most[n], difference)
			require.LessOrEqual(t, difference, 2, "%s at %d/8", name, n)
		}
	}
	for n := 1; n <= Full; n++ {
		t.Logf("%d/8: %d levels apart at most in one way of reducing; %d between the two", n, most[n], byDefinition[n])
	}
}
