package imaging_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/imaging"
)

// asExiftool asks exiftool about files given by their full path.
func asExiftool(t testing.TB, list []openSample) map[string]exifRow {
	t.Helper()
	cmd := exec.Command(tool(t, "exiftool"), exiftoolArgs("-@", "-")...)
	cmd.Stdin = strings.NewReader(strings.Join(pathsOf(list), "\n"))
	out, err := cmd.Output() // exit 1 when one of them is damaged
	if err != nil && len(out) == 0 {
		t.Fatalf("exiftool: %v", err)
	}
	return parseRows(t, out)
}

func pathsOf(list []openSample) (paths []string) {
	for _, s := range list {
		paths = append(paths, s.path)
	}
	return paths
}

// ours is what this package says of a file.
func ours(path string) (map[string]string, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	c, _, err := imaging.ReadExif(bytes.NewReader(b), imaging.DefaultLimits())
	return told(c), err
}

// unlike lists the fields of want that have says otherwise.
func unlike(want, have map[string]string) (fields []string) {
	for field, w := range want {
		if have[field] != w {
			fields = append(fields, field)
		}
	}
	slices.Sort(fields)
	return fields
}

// reason says why a field of a file, or a whole file ("refused"), differs.
type reason struct{ file, field, why string }

// reckoning counts agreement and holds every difference to a stated reason.
type reckoning struct {
	t            testing.TB
	who          string
	reasons      []reason
	used         map[reason]bool
	agree, total int
}

func (r *reckoning) compare(file string, want, have map[string]string, err error) {
	r.total++
	fields := unlike(want, have)
	if err != nil {
		fields = []string{"refused"}
	}
	if len(fields) == 0 {
		r.agree++
	}
	for _, field := range fields {
		i := slices.IndexFunc(r.reasons, func(x reason) bool { return x.file == file && x.field == field })
		if i < 0 {
			r.t.Errorf("{%q, %q, \"\"}, // %s %q, here %q %v", file, field, r.who, want[field], have[field], err)
			continue
		}
		r.used[r.reasons[i]] = true
	}
}

// close holds that the list of reasons is true and the floor is kept.
func (r *reckoning) close() {
	for _, x := range r.reasons {
		if !r.used[x] {
			r.t.Errorf("%s agrees in %s now; take it off the list", x.file, x.field)
		}
	}
	share := float64(r.agree) / float64(r.total)
	r.t.Logf("%d of %d files (%.1f %%) agree with %s in every field", r.agree, r.total, 100*share, r.who)
	require.GreaterOrEqual(r.t, share, 0.98)
}

func newReckoning(t testing.TB, who string, reasons []reason) *reckoning {
	return &reckoning{t: t, who: who, reasons: reasons, used: map[reason]bool{}}
}

// Every field of every open photo that the modules carry, beside exiftool. The
// files whose pictures and data neither can read are left out.
func TestEveryFieldOfTheOpenPhotosAgreesWithExiftool(t *testing.T) {
	t.Parallel()
	list := openSamples(t)
	rows := asExiftool(t, list)
	r := newReckoning(t, "exiftool", exiftoolReasons())
	tagged := 0
	for _, s := range list {
		row, ok := rows[s.path]
		require.True(t, ok, s.name)
		have, err := ours(s.path)
		if err != nil && row.silent() {
			continue
		}
		if row.tagged() {
			tagged++
		}
		r.compare(s.name, row.expected(), have, err)
	}
	t.Logf("%d of them carry tags", tagged)
	r.close()
	require.Greater(t, r.total, 390)
	require.Greater(t, tagged, 180)
}

// tagged says that there is a tag among the fields, not only a size.
func (r exifRow) tagged() bool {
	for key := range r {
		if strings.HasPrefix(key, "IFD0:") || strings.HasPrefix(key, "ExifIFD:") || strings.HasPrefix(key, "GPS:") {
			return true
		}
	}
	return false
}

// The same beside exiv2, in the fields it can say.
func TestEveryFieldOfTheOpenPhotosAgreesWithExiv2(t *testing.T) {
	t.Parallel()
	list := openSamples(t)
	values := runExiv2(t, pathsOf(list))
	r := newReckoning(t, "exiv2", exiv2Reasons())
	for _, s := range list {
		v, readable := values[s.path]
		have, err := ours(s.path)
		if !readable || (err != nil && len(v) == 0) {
			continue
		}
		r.compare(s.name, exiv2Opinion(v), have, err)
	}
	r.close()
	require.Greater(t, r.total, 300, fmt.Sprint("of ", len(list)))
}

// exiftoolReasons lists every field that exiftool 12.57 says otherwise.
func exiftoolReasons() []reason {
	return []reason{
		{"bep/testdata/images/metadata-extractor/withExifAndIptc.jpg", "focal_mm", "0 stands for not known and is left out"},
	}
}

// exiv2Reasons lists every field that exiv2 0.27.6 says otherwise.
func exiv2Reasons() []reason {
	asText := "the coordinate is text instead of three rationals; exiftool reads it too"
	return []reason{
		{"bep/testdata/images/goexif/geodegrees_as_string.jpg", "lat", asText},
		{"bep/testdata/images/goexif/geodegrees_as_string.jpg", "lon", asText},
		{"bep/testdata/images/metadata-extractor/withExifAndIptc.jpg", "focal_mm", "0 stands for not known and is left out"},
	}
}
