package cli_test

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The copies as outside programs see them: exiftool finds no metadata in them,
// djpeg and the standard decoder read them, and they have the sizes promised.
func TestCopiesCarryNoMetadataAndAreReadByOtherPrograms(t *testing.T) {
	t.Parallel()
	exiftool, djpeg := tool(t, "exiftool"), tool(t, "djpeg")
	var files []string
	names := map[string]bool{}
	for _, pattern := range []string{"bep/*.jpg", "bep/*.png", "disintegration/*.jpg", "goexif/*.jpg", "metadata-extractor/*.jpg"} {
		found, err := filepath.Glob("../testdata/photos/" + pattern)
		require.NoError(t, err)
		for _, f := range found {
			if name := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f)); !names[name] {
				names[name] = true
				files = append(files, f)
			}
		}
	}
	out := t.TempDir()
	_, _, _ = run(t, "", append([]string{"derive", "--out", out}, files...)...) // the damaged ones are refused
	copies, err := filepath.Glob(filepath.Join(out, "*.jpg"))
	require.NoError(t, err)
	require.Greater(t, len(copies), 80)

	text, err := exec.Command(exiftool, append([]string{"-j", "-G0", "-a", "-u"}, copies...)...).Output()
	require.NoError(t, err)
	var said []map[string]any
	require.NoError(t, json.Unmarshal(text, &said))
	require.Len(t, said, len(copies))
	for _, of := range said {
		for tag := range of {
			group, _, _ := strings.Cut(tag, ":")
			require.Contains(t, []string{"SourceFile", "ExifTool", "File", "Composite", "ICC_Profile"}, group, "%s in %s", tag, of["SourceFile"])
		}
		require.NotContains(t, of, "ExifTool:Warning", of["SourceFile"])
		require.NotContains(t, of, "File:Comment", of["SourceFile"])
	}
	for _, name := range copies {
		content, err := os.ReadFile(name)
		require.NoError(t, err)
		img, err := jpeg.Decode(bytes.NewReader(content))
		require.NoError(t, err, name)
		most := 2048
		if strings.HasSuffix(name, ".thumb.jpg") {
			most = 320
		}
		require.LessOrEqual(t, max(img.Bounds().Dx(), img.Bounds().Dy()), most, name)
		require.NoError(t, exec.Command(djpeg, "-outfile", os.DevNull, name).Run(), name)
	}
}

// Exif's eight orientations all show the same picture once upright.
func TestCopiesStandUpright(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../testdata/photos/disintegration/orientation_[1-8].jpg")
	require.NoError(t, err)
	require.Len(t, files, 8)
	out := t.TempDir()
	code, _, stderr := run(t, "", append([]string{"derive", "--out", out}, files...)...)
	require.Zero(t, code, stderr)
	first := decoded(t, filepath.Join(out, "orientation_1.preview.jpg"))
	for _, n := range "2345678" {
		other := decoded(t, filepath.Join(out, "orientation_"+string(n)+".preview.jpg"))
		require.Equal(t, first.Bounds(), other.Bounds())
		require.Less(t, difference(first, other), 12.0, "orientation %c", n)
	}
}

func decoded(t *testing.T, name string) image.Image {
	t.Helper()
	f, err := os.Open(name)
	require.NoError(t, err)
	defer f.Close()
	img, err := jpeg.Decode(f)
	require.NoError(t, err)
	return img
}

// difference is the mean distance of two pictures' green values, of 255.
func difference(a, b image.Image) float64 {
	sum, r := 0.0, a.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			_, g, _, _ := a.At(x, y).RGBA()
			_, h, _, _ := b.At(x, y).RGBA()
			sum += max(float64(g), float64(h)) - min(float64(g), float64(h))
		}
	}
	return sum / 257 / float64(r.Dx()*r.Dy())
}
