package imaging_test

import (
	"bufio"
	"bytes"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// exiv2Keys are the keys exiv2 can say a field of a capture by. It is not asked
// for sizes: it reads them from the Exif block where there is one.
func exiv2Keys() []string {
	return []string{
		"Exif.Image.Orientation", "Exif.Image.Make", "Exif.Image.Model", "Exif.Image.Software",
		"Exif.Photo.LensModel", "Exif.Photo.DateTimeOriginal", "Exif.Photo.OffsetTimeOriginal", "Exif.Photo.SubSecTimeOriginal",
		"Exif.Photo.FocalLength", "Exif.Photo.FocalLengthIn35mmFilm",
		"Exif.GPSInfo.GPSLatitude", "Exif.GPSInfo.GPSLatitudeRef", "Exif.GPSInfo.GPSLongitude", "Exif.GPSInfo.GPSLongitudeRef",
		"Exif.GPSInfo.GPSAltitude", "Exif.GPSInfo.GPSAltitudeRef", "Exif.GPSInfo.GPSDateStamp", "Exif.GPSInfo.GPSTimeStamp",
		"Exif.GPSInfo.GPSImgDirection", "Exif.GPSInfo.GPSImgDirectionRef", "Exif.GPSInfo.GPSHPositioningError",
	}
}

// exiv2Line is "file, key, value", with blanks to line them up.
var exiv2Line = regexp.MustCompile(`^(.+?)\s+(Exif\.[A-Za-z0-9]+\.[A-Za-z0-9]+)(?:\s+(.*))?$`)

// runExiv2 asks about the files. Those that exiv2 cannot open have no entry;
// those without Exif data have an empty one.
func runExiv2(t testing.TB, paths []string) map[string]map[string]string {
	t.Helper()
	require.Greater(t, len(paths), 1, "of one file exiv2 does not tell the name")
	args := []string{"-Pkv"}
	for _, key := range exiv2Keys() {
		args = append(args, "-K", key)
	}
	var out, faults bytes.Buffer
	cmd := exec.Command(tool(t, "exiv2"), append(args, paths...)...)
	cmd.Stdout, cmd.Stderr = &out, &faults
	_ = cmd.Run() // it ends with a fault when a single file has one
	byFile := map[string]map[string]string{}
	for _, p := range paths {
		byFile[p] = map[string]string{}
	}
	for lines := bufio.NewScanner(&faults); lines.Scan(); {
		if unreadable := regexp.MustCompile(`(?i)exception|unknown image type|not supported|failed to`).MatchString(lines.Text()); unreadable {
			for _, p := range paths {
				if strings.Contains(lines.Text(), p+":") {
					delete(byFile, p)
				}
			}
		}
	}
	for lines := bufio.NewScanner(&out); lines.Scan(); {
		if m := exiv2Line.FindStringSubmatch(lines.Text()); m != nil && byFile[m[1]] != nil {
			if _, twice := byFile[m[1]][m[2]]; !twice {
				byFile[m[1]][m[2]] = strings.TrimSpace(m[3])
			}
		}
	}
	return byFile
}

// exiv2Opinion brings its raw values into the form of told.
func exiv2Opinion(v map[string]string) map[string]string {
	text := func(key string) string { return strings.TrimSpace(v["Exif."+key]) }
	m := map[string]string{
		"orientation": text("Image.Orientation"),
		"make":        text("Image.Make"), "model": text("Image.Model"), "software": text("Image.Software"),
		"lens": text("Photo.LensModel"), "taken_local": localForm(text("Photo.DateTimeOriginal")),
		"utc_offset": text("Photo.OffsetTimeOriginal"), "subsec": text("Photo.SubSecTimeOriginal"),
		"focal_mm": ratios(text("Photo.FocalLength"), 1), "focal_35mm": text("Photo.FocalLengthIn35mmFilm"),
		"lat":           hemisphere(ratios(text("GPSInfo.GPSLatitude"), 60), text("GPSInfo.GPSLatitudeRef") == "S"),
		"lon":           hemisphere(ratios(text("GPSInfo.GPSLongitude"), 60), text("GPSInfo.GPSLongitudeRef") == "W"),
		"altitude_m":    hemisphere(ratios(text("GPSInfo.GPSAltitude"), 1), text("GPSInfo.GPSAltitudeRef") == "1"),
		"direction_deg": ratios(text("GPSInfo.GPSImgDirection"), 1), "direction_ref": text("GPSInfo.GPSImgDirectionRef"),
		"h_error_m": ratios(text("GPSInfo.GPSHPositioningError"), 1),
		"gps_utc":   "",
	}
	if m["orientation"] == "" {
		m["orientation"] = "1"
	}
	if day, clock := text("GPSInfo.GPSDateStamp"), clockForm(text("GPSInfo.GPSTimeStamp")); day != "" && clock != "" {
		m["gps_utc"] = localForm(day + " " + clock)
	}
	return m
}

// ratios adds up "52/1 0/1 50/1", each further one worth 1/step of the one before.
func ratios(s string, step float64) string {
	if s == "" {
		return ""
	}
	sum, unit := 0.0, 1.0
	for i, part := range strings.Fields(s) {
		a, b, _ := strings.Cut(part, "/")
		num, err := strconv.ParseFloat(a, 64)
		den, derr := strconv.ParseFloat(b, 64)
		if err != nil || derr != nil || (den == 0 && (i == 0 || num != 0)) {
			return ""
		}
		if den != 0 {
			sum += num / den / unit
		}
		unit *= step
	}
	return round(sum)
}

func hemisphere(s string, minus bool) string {
	if minus && s != "" && s != "0" {
		return "-" + s
	}
	return s
}

// clockForm writes "8/1 15/1 285/10" as 08:15:28.5.
func clockForm(raw string) string {
	var list []string
	for _, part := range strings.Fields(raw) {
		s := ratios(part, 1)
		if whole, _, _ := strings.Cut(s, "."); len(whole) < 2 {
			s = "0" + s
		}
		list = append(list, s)
	}
	return strings.Join(list, ":")
}
