package main

import (
	"fmt"
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

// BenchmarkExif reads a folder of a thousand photos with the program as it is
// run, and once with exiftool, both from the page cache. Exiftool is asked twice:
// as it is called most (all tags), and for the fields of this program alone
// with -fast2, which is the least it can be asked.
func BenchmarkExif(b *testing.B) {
	exiftool, err := exec.LookPath("exiftool")
	require.NoError(b, err)
	bin := built(b)
	folder := b.TempDir()
	body := noisy(b, 800, 600)
	var files []string
	for i := range 1000 {
		photo, err := imaging.WithExif(body, numbered(i))
		require.NoError(b, err)
		files = append(files, filepath.Join(folder, fmt.Sprintf("p%04d.jpg", i)))
		require.NoError(b, os.WriteFile(files[i], photo, 0o600))
	}
	least := []string{"-json", "-r", "-n", "-fast2"}
	for _, tag := range []string{
		"ImageWidth", "ImageHeight", "Orientation", "Make", "Model", "Software", "DateTimeOriginal", "OffsetTimeOriginal",
		"SubSecTimeOriginal", "GPSDateStamp", "GPSTimeStamp", "GPSLatitude", "GPSLongitude", "GPSAltitude", "GPSImgDirection",
		"GPSImgDirectionRef", "GPSHPositioningError", "FocalLength", "FocalLengthIn35mmFormat",
	} {
		least = append(least, "-"+tag)
	}
	ours := fastest(b, 5, bin, append([]string{"exif"}, files...)...)
	whole := fastest(b, 1, exiftool, "-json", "-r", folder)
	fast := fastest(b, 1, exiftool, append(least, folder)...)
	b.ReportMetric(ours.Seconds()*1000, "ms/1000-photos")
	b.ReportMetric(whole.Seconds()*1000, "ms-exiftool")
	b.ReportMetric(fast.Seconds()*1000, "ms-exiftool-fast")
	b.ReportMetric(whole.Seconds()/ours.Seconds(), "times-exiftool(hold:50)")
	b.ReportMetric(fast.Seconds()/ours.Seconds(), "times-exiftool-fast")
	b.ReportMetric(0, "ns/op")
}

// numbered is an invented capture of its own for each number.
func numbered(i int) defects.Capture {
	at := func(v float64) *float64 { return &v }
	taken := time.Date(2026, 7, 1, 8, 0, i, 0, time.UTC)
	return defects.Capture{
		Orientation: 1, Make: "Invented", Model: "Phone", Software: fmt.Sprintf("no. %d", i),
		TakenLocal: taken.Format("2006-01-02T15:04:05"), UTCOffset: "+00:00", GPSUTC: &taken,
		Lat: at(53.4 + float64(i)*1e-6), Lon: at(-1.5), AltitudeM: at(71), Direction: at(178), DirectionBy: "T", HErrorM: at(5), FocalMM: at(5.7),
	}
}

// fastest runs a program a few times and answers the shortest time.
func fastest(b *testing.B, times int, name string, args ...string) time.Duration {
	b.Helper()
	var best time.Duration
	for range times {
		start := time.Now()
		run(b, name, args...)
		if took := time.Since(start); best == 0 || took < best {
			best = took
		}
	}
	return best
}

// BenchmarkLocate places the same photos on a site of twelve buildings, each by
// itself and with its neighbours in time.
func BenchmarkLocate(b *testing.B) {
	bin, folder := built(b), b.TempDir()
	body := noisy(b, 400, 300)
	for i := range 1000 {
		photo, err := imaging.WithExif(body, numbered(i))
		require.NoError(b, err)
		require.NoError(b, os.WriteFile(filepath.Join(folder, fmt.Sprintf("p%04d.jpg", i)), photo, 0o600))
	}
	site := filepath.Join(b.TempDir(), "site.geojson")
	var features []string
	for i := range 12 {
		west, south := -1.5005+0.0006*float64(i%3), 53.3995+0.0002*float64(i/3)
		east, north := west+0.0004, south+0.00008
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"building":"Block %d"},"geometry":{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g],[%g,%g]]]}}`,
			i+1, west, south, east, south, east, north, west, north, west, south))
	}
	require.NoError(b, os.WriteFile(site, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`), 0o600))
	for name, more := range map[string][]string{"alone": nil, "walk": {"--walk"}} {
		took := fastest(b, 3, bin, append(append([]string{"locate", "--site", site}, more...), folder)...)
		b.ReportMetric(1000/took.Seconds(), "photos/s-"+name+"(hold:200)")
	}
	b.ReportMetric(0, "ns/op")
}
