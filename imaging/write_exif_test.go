package imaging_test

import (
	"bytes"
	"encoding/json"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

func p[T any](v T) *T { return &v }

// fullCapture says everything a photo can say. All of it is invented.
func fullCapture() defects.Capture {
	return defects.Capture{
		Type: "jpeg", Width: 40, Height: 30, Orientation: 6,
		Make: "Invented", Model: "Demo 1", Lens: "Demo lens 5.1 mm", Software: "Drawn by program",
		TakenLocal: "2026-07-01T09:15:30", UTCOffset: "+01:00", SubSec: "007",
		TakenUTC: p(time.Date(2026, 7, 1, 8, 15, 30, 0, time.UTC)),
		GPSUTC:   p(time.Date(2026, 7, 1, 8, 15, 28, 250_000_000, time.UTC)),
		Lat:      p(-53.479512345), Lon: p(-2.245112345), AltitudeM: p(-3.25),
		Direction: p(187.3125), DirectionBy: "M", HErrorM: p(4.75),
		FocalMM: p(5.1), Focal35MM: p(26.0), TiltDeg: p(-12.75),
	}
}

func smallJPEG(t testing.TB) []byte {
	t.Helper()
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, image.NewGray(image.Rect(0, 0, 40, 30)), nil))
	return buf.Bytes()
}

// requireSame compares captures, with room for the rounding of rationals.
func requireSame(t *testing.T, want, have defects.Capture) {
	t.Helper()
	for _, pair := range [][2]*float64{
		{want.Lat, have.Lat},
		{want.Lon, have.Lon},
		{want.AltitudeM, have.AltitudeM},
		{want.Direction, have.Direction},
		{want.HErrorM, have.HErrorM},
		{want.FocalMM, have.FocalMM},
		{want.TiltDeg, have.TiltDeg},
	} {
		require.Equal(t, pair[0] == nil, pair[1] == nil)
		if pair[0] != nil {
			require.InDelta(t, *pair[0], *pair[1], 1e-9)
		}
	}
	want.TiltDeg = have.TiltDeg
	want.Lat, want.Lon, want.AltitudeM, want.Direction, want.HErrorM, want.FocalMM = have.Lat, have.Lon, have.AltitudeM, have.Direction, have.HErrorM, have.FocalMM
	require.Equal(t, want, have)
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*defects.Capture){
		"everything":     func(*defects.Capture) {},
		"north and east": func(c *defects.Capture) { c.Lat, c.Lon, c.AltitudeM = p(53.4795), p(2.2451), p(34.5) },
		"the corners":    func(c *defects.Capture) { c.Lat, c.Lon = p(90.0), p(-180.0) },
		"no place":       func(c *defects.Capture) { c.Lat, c.Lon = nil, nil },
		"no time":        func(c *defects.Capture) { c.TakenLocal, c.UTCOffset, c.SubSec, c.TakenUTC = "", "", "", nil },
		"no offset":      func(c *defects.Capture) { c.UTCOffset, c.TakenUTC = "", nil },
		"which north":    func(c *defects.Capture) { c.DirectionBy = "" },
		"nothing but a size": func(c *defects.Capture) {
			*c = defects.Capture{Type: "jpeg", Width: 40, Height: 30, Orientation: 1}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			want := fullCapture()
			change(&want)
			b, err := imaging.WithExif(smallJPEG(t), want)
			require.NoError(t, err)
			have, notes, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
			require.NoError(t, err)
			require.Empty(t, notes)
			requireSame(t, want, have)
			_, err = jpeg.Decode(bytes.NewReader(b))
			require.NoError(t, err)
		})
	}
}

func TestWritingReplacesTheExifThatWasThere(t *testing.T) {
	t.Parallel()
	b, err := imaging.WithExif(smallJPEG(t), fullCapture())
	require.NoError(t, err)
	b, err = imaging.WithExif(b, defects.Capture{Make: "Second"})
	require.NoError(t, err)
	require.Equal(t, 1, bytes.Count(b, []byte("Exif\x00\x00")))
	c, _, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, "Second", c.Make)
	require.False(t, c.HasPlace())
}

func TestWritingRefusesWhatExifCannotHold(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		spoil func(*defects.Capture)
		code  string
		field string
	}{
		"letters beyond ASCII":   {func(c *defects.Capture) { c.Make = "Größe" }, "not_ascii", "make"},
		"a time of nonsense":     {func(c *defects.Capture) { c.TakenLocal = "noon" }, "bad_time", "taken_local"},
		"no angle":               {func(c *defects.Capture) { c.Lat = p(math.NaN()) }, "out_of_range", "lat"},
		"a tilt beyond a number": {func(c *defects.Capture) { c.TiltDeg = p(1e9) }, "out_of_range", "tilt_deg"},
		"negative error":         {func(c *defects.Capture) { c.HErrorM = p(-1.0) }, "out_of_range", "h_error_m"},
		"too long a text":        {func(c *defects.Capture) { c.Software = strings.Repeat("x", 70_000) }, "exif_too_large", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := fullCapture()
			tc.spoil(&c)
			_, err := imaging.WithExif(smallJPEG(t), c)
			var refusal *defects.Error
			require.ErrorAs(t, err, &refusal)
			require.Equal(t, tc.code, refusal.Code)
			require.Equal(t, tc.field, refusal.Field)
		})
	}
	_, err := imaging.WithExif([]byte("no picture"), fullCapture())
	requireRefusal(t, err, defects.Invalid, "damaged_file")
}

// written puts the full capture into a file for outside programs.
func written(t *testing.T) string {
	t.Helper()
	b, err := imaging.WithExif(smallJPEG(t), fullCapture())
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "written.jpg")
	require.NoError(t, os.WriteFile(path, b, 0o600))
	return path
}

func TestExiftoolReadsWhatIsWritten(t *testing.T) {
	t.Parallel()
	program, path := tool(t, "exiftool"), written(t)
	out, err := exec.Command(program, exiftoolArgs(path)...).Output()
	require.NoError(t, err)
	require.Empty(t, differences(parseRows(t, out)[path], fullCapture()))

	out, err = exec.Command(program, "-j", "-n", "-validate", "-warning", "-a", path).Output()
	require.NoError(t, err)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal(out, &rows))
	require.Equal(t, "0 0 0", rows[0]["Validate"], "exiftool finds faults: %s", out)
}

func TestExiv2ReadsWhatIsWritten(t *testing.T) {
	t.Parallel()
	out, err := exec.Command(tool(t, "exiv2"), "-Pkv", "-pe", written(t)).CombinedOutput()
	require.NoError(t, err, "%s", out)
	have := map[string]string{}
	for line := range strings.Lines(string(out)) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		have[key] = strings.TrimSpace(value)
	}
	for key, want := range map[string]string{
		"Exif.Image.Make":                  "Invented",
		"Exif.Image.Orientation":           "6",
		"Exif.Photo.DateTimeOriginal":      "2026:07:01 09:15:30",
		"Exif.Photo.OffsetTimeOriginal":    "+01:00",
		"Exif.Photo.SubSecTimeOriginal":    "007",
		"Exif.Photo.FocalLengthIn35mmFilm": "26",
		"Exif.GPSInfo.GPSLatitudeRef":      "S",
		"Exif.GPSInfo.GPSLatitude":         "53/1 28/1 46244442/1000000",
		"Exif.GPSInfo.GPSLongitudeRef":     "W",
		"Exif.GPSInfo.GPSAltitudeRef":      "1",
		"Exif.GPSInfo.GPSAltitude":         "3250/1000",
		"Exif.GPSInfo.GPSImgDirectionRef":  "M",
		"Exif.GPSInfo.GPSImgDirection":     "1873125/10000",
		"Exif.GPSInfo.GPSDateStamp":        "2026:07:01",
		"Exif.GPSInfo.GPSTimeStamp":        "8000000/1000000 15000000/1000000 28250000/1000000",
	} {
		require.Equal(t, want, have[key], key)
	}
	require.Equal(t, "4750/1000", firstOf(have, "Exif.GPSInfo.GPSHPositioningError", "Exif.GPSInfo.0x001f"))
}

// firstOf copes with exiv2 before 0.28, which does not know the newest tags by name.
func firstOf(m map[string]string, keys ...string) string {
	for _, k := range keys {
		if v, ok := m[k]; ok {
			return v
		}
	}
	return ""
}
