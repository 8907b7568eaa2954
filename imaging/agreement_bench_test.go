package imaging_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/rwcarlsen/goexif/exif"
	"github.com/rwcarlsen/goexif/tiff"
)

// BenchmarkExifAgreement is no race: it prints, for each reader, how many of the
// open photos that carry tags it reads as exiftool does. The sizes are left out,
// since only exiftool and this package give them; so is what no reader reads.
func BenchmarkExifAgreement(b *testing.B) {
	list := openSamples(b)
	rows := asExiftool(b, list)
	exiv2 := runExiv2(b, pathsOf(list))
	readers := []struct {
		name string
		read func(openSample) (map[string]string, error)
	}{
		{"storeyrod", func(s openSample) (map[string]string, error) { return ours(s.path) }},
		{"exiv2", func(s openSample) (map[string]string, error) {
			if exiv2[s.path] == nil {
				return nil, fmt.Errorf("not readable")
			}
			return exiv2Opinion(exiv2[s.path]), nil
		}},
		{"goexif", func(s openSample) (map[string]string, error) { return goexifOpinion(s.path) }},
	}
	for range b.N {
		var table strings.Builder
		fmt.Fprintf(&table, "\n%-12s %6s %8s %6s %6s   beside exiftool, photos with tags\n", "reader", "agree", "missing", "wrong", "error")
		for _, r := range readers {
			agree, missing, wrong, failed := 0, 0, 0, 0
			for _, s := range list {
				if !rows[s.path].tagged() {
					continue
				}
				have, err := r.read(s)
				switch verdict(rows[s.path].expected(), have, err) {
				case "agree":
					agree++
				case "missing":
					missing++
				case "wrong":
					wrong++
				default:
					failed++
				}
			}
			fmt.Fprintf(&table, "%-12s %6d %8d %6d %6d\n", r.name, agree, missing, wrong, failed)
		}
		b.Log(table.String())
	}
	b.ReportMetric(0, "ns/op")
}

// verdict is missing when all that differs is left out, wrong when a field says
// something else.
func verdict(want, have map[string]string, err error) string {
	if err != nil {
		return "error"
	}
	delete(want, "width")
	delete(want, "height")
	result := "agree"
	for _, field := range unlike(want, have) {
		if have[field] != "" && (field != "orientation" || have[field] != "1") {
			return "wrong"
		}
		result = "missing"
	}
	return result
}

// goexifOpinion reads trusted files only: hostile ones make goexif allocate
// without bound.
func goexifOpinion(path string) (m map[string]string, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	file, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	x, err := exif.Decode(bytes.NewReader(file))
	if err != nil && (x == nil || exif.IsCriticalError(err)) {
		return nil, err
	}
	text := func(name exif.FieldName) string {
		tag, err := x.Get(name)
		if err != nil {
			return ""
		}
		switch tag.Format() {
		case tiff.StringVal:
			s, _ := tag.StringVal()
			return strings.TrimSpace(s)
		case tiff.IntVal:
			n, _ := tag.Int(0)
			return fmt.Sprint(n)
		}
		var parts []string
		for i := range int(tag.Count) {
			num, den, err := tag.Rat2(i)
			if err != nil {
				return ""
			}
			parts = append(parts, fmt.Sprintf("%d/%d", num, den))
		}
		return strings.Join(parts, " ")
	}
	return exiv2Opinion(map[string]string{
		"Exif.Image.Orientation": text(exif.Orientation), "Exif.Image.Make": text(exif.Make), "Exif.Image.Model": text(exif.Model),
		"Exif.Image.Software": text(exif.Software), "Exif.Photo.LensModel": text(exif.LensModel),
		"Exif.Photo.DateTimeOriginal": text(exif.DateTimeOriginal), "Exif.Photo.SubSecTimeOriginal": text(exif.SubSecTimeOriginal),
		"Exif.Photo.FocalLength": text(exif.FocalLength), "Exif.Photo.FocalLengthIn35mmFilm": text(exif.FocalLengthIn35mmFilm),
		"Exif.GPSInfo.GPSLatitude": text(exif.GPSLatitude), "Exif.GPSInfo.GPSLatitudeRef": text(exif.GPSLatitudeRef),
		"Exif.GPSInfo.GPSLongitude": text(exif.GPSLongitude), "Exif.GPSInfo.GPSLongitudeRef": text(exif.GPSLongitudeRef),
		"Exif.GPSInfo.GPSAltitude": text(exif.GPSAltitude), "Exif.GPSInfo.GPSAltitudeRef": text(exif.GPSAltitudeRef),
		"Exif.GPSInfo.GPSDateStamp": text(exif.GPSDateStamp), "Exif.GPSInfo.GPSTimeStamp": text(exif.GPSTimeStamp),
		"Exif.GPSInfo.GPSImgDirection": text(exif.GPSImgDirection), "Exif.GPSInfo.GPSImgDirectionRef": text(exif.GPSImgDirectionRef),
	}), nil
}
