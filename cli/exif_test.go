package cli_test

import (
	"encoding/json"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The fields of exif against exiftool, which reads the same files with code of
// its own. imaging/agreement_test.go compares the rest.
func TestExifAgreesWithExiftool(t *testing.T) {
	t.Parallel()
	exiftool := tool(t, "exiftool")
	files, err := filepath.Glob("../testdata/photos/*/*.jpg")
	require.NoError(t, err)
	args := []string{
		"-j", "-n", "-G1", "-s", "-File:ImageWidth", "-File:ImageHeight", "-IFD0:Make", "-IFD0:Model",
		"-IFD0:Orientation", "-ExifIFD:DateTimeOriginal", "-GPS:GPSLatitude", "-GPS:GPSLatitudeRef", "-ExifIFD:FocalLength",
	}
	text, err := exec.Command(exiftool, append(args, files...)...).Output()
	require.NotEmpty(t, text, "%v", err)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal(text, &rows))
	require.Len(t, rows, len(files))
	compared := 0
	for _, want := range rows {
		name := want["SourceFile"].(string)
		_, out, _ := run(t, "", "exif", name)
		var got map[string]any
		require.NoError(t, json.Unmarshal([]byte(out), &got), name)
		if got["error"] != nil {
			continue // torn files, which exiftool reads on past the fault
		}
		compared++
		sameExif(t, name, want, got)
	}
	require.Greater(t, compared, 40)
}

func sameExif(t *testing.T, name string, want, got map[string]any) {
	t.Helper()
	for tag, key := range map[string]string{
		"File:ImageWidth": "width", "File:ImageHeight": "height", "IFD0:Make": "make", "IFD0:Model": "model", "ExifIFD:FocalLength": "focal_mm",
	} {
		switch w := want[tag].(type) {
		case string:
			if w = strings.TrimSpace(w); w != "" {
				require.Equal(t, w, got[key], "%s %s", name, key)
			}
		case float64:
			if g, ok := got[key].(float64); ok && w > 0 {
				require.InDelta(t, w, g, math.Abs(w)*1e-6, "%s %s", name, key)
			}
		}
	}
	if at, ok := want["ExifIFD:DateTimeOriginal"].(string); ok && got["taken_local"] != nil && len(at) >= 19 {
		require.Equal(t, strings.ReplaceAll(at[:10], ":", "-")+"T"+at[11:19], got["taken_local"], name)
	}
	if lat, ok := want["GPS:GPSLatitude"].(float64); ok && got["lat"] != nil {
		if ref, _ := want["GPS:GPSLatitudeRef"].(string); strings.HasPrefix(ref, "S") {
			lat = -math.Abs(lat)
		}
		require.InDelta(t, lat, got["lat"], 1e-6, name)
	}
}

func TestExifHashIsThatOfTheFile(t *testing.T) {
	t.Parallel()
	const file = "../testdata/photos/bep/sunrise.jpg"
	sum, err := exec.Command(tool(t, "sha256sum"), file).Output()
	require.NoError(t, err)
	_, out, _ := run(t, "", "exif", "--hash", file)
	var got struct{ SHA256 string }
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Equal(t, strings.Fields(string(sum))[0], got.SHA256)
}
