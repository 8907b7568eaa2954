package cli_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/models/modelstest"
)

// demoRecord is the record of the demo's site, made once for all tests, which
// must not change it.
var demoRecord = sync.OnceValues(func() (string, error) {
	dir := filepath.Join(scratch, "record")
	file, err := builtProgram()
	if err != nil {
		return "", err
	}
	for _, args := range [][]string{
		{"demo", "--no-serve", "--data", filepath.Join(dir, "demo")},
		{"export", "folder", "--site", demoName, "--data", filepath.Join(dir, "demo"), "--out", filepath.Join(dir, "record")},
		{"backup", "--data", filepath.Join(dir, "demo"), "--out", filepath.Join(dir, "backup")},
	} {
		if out, err := exec.Command(file, args...).CombinedOutput(); err != nil {
			return "", fmt.Errorf("%s: %w: %s", args[0], err, out)
		}
	}
	return dir, nil
})

func demoFolder(t *testing.T, name string) string {
	t.Helper()
	dir, err := demoRecord()
	require.NoError(t, err)
	return filepath.Join(dir, name)
}

// contents maps the files of a folder, or of a .zip file, to their bytes.
func contents(t *testing.T, name string) map[string]string {
	t.Helper()
	var from fs.FS = os.DirFS(name)
	if strings.HasSuffix(name, ".zip") {
		z, err := zip.OpenReader(name)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, z.Close()) })
		from = z
	}
	files := map[string]string{}
	require.NoError(t, fs.WalkDir(from, ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(from, path)
		files[path] = string(text)
		return err
	}))
	return files
}

// The record of a site goes from SQLite to PostgreSQL and back, and is the same
// bytes each time it is written: ids, versions, hashes and the log with them.
func TestARecordGoesBetweenDatabasesUnchanged(t *testing.T) {
	t.Parallel()
	first := demoFolder(t, "record")
	sums := exec.Command("sha256sum", "--strict", "--quiet", "-c", "SHA256SUMS")
	sums.Dir = first
	out, err := sums.CombinedOutput()
	require.NoError(t, err, "%s", out)
	want := contents(t, first)
	require.Greater(t, len(want), 70)

	dir := t.TempDir()
	pg := []string{"--data", filepath.Join(dir, "pg"), "--database", modelstest.PostgresURL(t)}
	must(t, append([]string{"import", "folder", first}, pg...)...)
	must(t, append([]string{"export", "folder", "--site", demoName, "--out", filepath.Join(dir, "second.zip")}, pg...)...)
	require.Equal(t, want, contents(t, filepath.Join(dir, "second.zip")))

	lite := []string{"--data", filepath.Join(dir, "lite")}
	must(t, append([]string{"import", "folder", filepath.Join(dir, "second.zip")}, lite...)...)
	must(t, append([]string{"export", "folder", "--site", demoName, "--out", filepath.Join(dir, "third")}, lite...)...)
	require.Equal(t, want, contents(t, filepath.Join(dir, "third")))
	must(t, append([]string{"export", "folder", "--site", demoName, "--out", filepath.Join(dir, "third.zip")}, lite...)...)
	one, err := os.ReadFile(filepath.Join(dir, "second.zip"))
	require.NoError(t, err)
	other, err := os.ReadFile(filepath.Join(dir, "third.zip"))
	require.NoError(t, err)
	require.True(t, bytes.Equal(one, other), "the .zip files too")

	require.Contains(t, must(t, append([]string{"user", "list"}, lite...)...), "disabled", "who had no account here cannot sign in")
	text, err := program(t, append([]string{"import", "folder", first}, lite...)...).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(text), "[site_known]")
}

// A backup goes into either database, and backed up again it differs only in
// the entry that tells of the restoring.
func TestABackupComesBackOnEitherDatabase(t *testing.T) {
	t.Parallel()
	first := demoFolder(t, "backup")
	want := contents(t, first)
	for dialect, where := range map[string]func(*testing.T) []string{
		"sqlite":   func(*testing.T) []string { return nil },
		"postgres": func(t *testing.T) []string { return []string{"--database", modelstest.PostgresURL(t)} },
	} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			to := append([]string{"--data", filepath.Join(dir, "d")}, where(t)...)
			must(t, append([]string{"restore", first}, to...)...)
			must(t, append([]string{"backup", "--out", filepath.Join(dir, "again")}, to...)...)
			got := contents(t, filepath.Join(dir, "again"))
			require.True(t, strings.HasPrefix(got["log.jsonl"], want["log.jsonl"]))
			require.Contains(t, strings.TrimPrefix(got["log.jsonl"], want["log.jsonl"]), `"kind":"instance.restore"`)
			for _, name := range []string{"log.jsonl", "tables/counters.jsonl", "SHA256SUMS"} {
				require.Contains(t, got, name)
				delete(got, name)
			}
			for name, text := range got {
				require.Equal(t, want[name], text, name)
			}
			require.Len(t, got, len(want)-3)
			text, err := program(t, append([]string{"restore", first}, to...)...).CombinedOutput()
			require.Error(t, err)
			require.Contains(t, string(text), "[not_empty]")
		})
	}
}

// edit changes a copy of the record. sums writes a new list of hashes, as
// somebody would who knows the format.
type edit struct {
	name string
	do   func(t *testing.T, dir string)
	sums bool
	want []string // what is told, of the files at fault
}

func swap(file, old, new string) func(*testing.T, string) {
	return func(t *testing.T, dir string) {
		name := filepath.Join(dir, file)
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Contains(t, string(text), old)
		require.NoError(t, os.WriteFile(name, []byte(strings.Replace(string(text), old, new, 1)), 0o600))
	}
}

func listAgain(t *testing.T, dir string) {
	t.Helper()
	var lines []string
	for name, text := range contents(t, dir) {
		if name != "SHA256SUMS" {
			sum := sha256.Sum256([]byte(text))
			lines = append(lines, hex.EncodeToString(sum[:])+"  "+name+"\n")
		}
	}
	slices.Sort(lines)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "SHA256SUMS"), []byte(strings.Join(lines, "")), 0o600))
}

func drop(name string) func(*testing.T, string) {
	return func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, name))) }
}

func put(name, text string) func(*testing.T, string) {
	return func(t *testing.T, dir string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
}

// editsOfFiles are what somebody may do to the files of a record.
func editsOfFiles(photo string) []edit {
	return []edit{
		{"a byte of a photo", func(t *testing.T, dir string) {
			text, err := os.ReadFile(filepath.Join(dir, photo))
			require.NoError(t, err)
			text[len(text)/2] ^= 1
			require.NoError(t, os.WriteFile(filepath.Join(dir, photo), text, 0o600))
		}, false, []string{photo + ": ", "[changed_file]"}},
		{"a photo gone", drop(photo), false, []string{photo + ": ", "[missing_file]"}},
		{"a photo gone from the list too", drop(photo), true, []string{photo + ": ", "[missing_file]"}},
		{"a file more", put("more.txt", "x"), false, []string{"more.txt: ", "[extra_file]"}},
		{"a file more in the list too", put("more.txt", "x"), true, []string{"more.txt: ", "[unknown_file]"}},
		{"a photo more", put("originals/2d/2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881", "x"), true, []string{"originals/2d/", "[extra_file]"}},
		{"a photo under another name", put("originals/00/"+strings.Repeat("0", 64)+".jpg", "x"), true, []string{"originals/00/", "[bad_name]"}},
		{"a table more", put("tables/accounts.jsonl", "{}\n"), true, []string{"tables/accounts.jsonl: ", "[unknown_file]"}},
		{"a table gone", drop("tables/snags.jsonl"), true, []string{"tables/snags.jsonl: ", "[missing_file]"}},
	}
}

// editsOfContent are what somebody may write into one.
func editsOfContent() []edit {
	return []edit{
		{"a value of a reading", swap("tables/readings.jsonl", `"value":"`, `"value":"1`), true, []string{"tables/readings.jsonl: ", "[not_as_logged]"}},
		{"an offset of a survey", swap("tables/surveys.jsonl", `"offsets":"`, `"offsets":"1`), true, []string{"tables/surveys.jsonl: ", "[not_as_logged]"}},
		{"a survey's verdict", swap("tables/surveys.jsonl", `"outcome":"fail"`, `"outcome":"pass"`), true, []string{"tables/surveys.jsonl: ", "[not_as_logged]"}},
		{"a night's frost", swap("tables/weather.jsonl", `"air":"-1.2"`, `"air":"1.2"`), true, []string{"tables/weather.jsonl: ", "[not_as_logged]"}},
		{"the text of a snag", swap("tables/snags.jsonl", `"text":"`, `"text":"Not `), true, []string{"tables/snags.jsonl: ", "[not_as_logged]"}},
		{"an entry changed", swap("log.jsonl", `"grade":"A"`, `"grade":"B"`), true, []string{"tables/photos.jsonl: ", "[not_as_logged]"}},
		{"an entry written otherwise", swap("log.jsonl", `"grade":"A"`, `"grade": "A"`), true, []string{"log.jsonl: ", "line ", "[bad_entry]"}},
		{"an entry gone", func(t *testing.T, dir string) {
			text, err := os.ReadFile(filepath.Join(dir, "log.jsonl"))
			require.NoError(t, err)
			lines := strings.SplitAfter(string(text), "\n")
			require.NoError(t, os.WriteFile(filepath.Join(dir, "log.jsonl"), []byte(strings.Join(append(lines[:5:5], lines[6:]...), "")), 0o600))
		}, true, []string{"log.jsonl: ", "line 6 is entry 7", "[bad_entry]"}},
		{"a column more", swap("tables/sites.jsonl", `"version":`, `"evil":1,"version":`), true, []string{"tables/sites.jsonl: line 1", "[unknown_column]"}},
		{"a row of another site", swap("tables/memberships.jsonl", `{"site_id":"0`, `{"site_id":"1`), true, []string{"tables/memberships.jsonl: ", "[other_site]"}},
		{"a role", swap("tables/memberships.jsonl", `"role":"auditor"`, `"role":"owner"`), true, []string{"tables/memberships.jsonl: ", "[not_as_logged]"}},
		{"a giant line", put("tables/sites.jsonl", strings.Repeat("x", 17<<20)+"\n"), true, []string{"tables/sites.jsonl: ", "[line_too_long]"}},
		{"a link", func(t *testing.T, dir string) {
			require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(dir, "tables/x.jsonl")))
		}, false, []string{"tables/x.jsonl: ", "[not_a_file]"}},
		{"a path out of it", func(t *testing.T, dir string) {
			text, err := os.ReadFile(filepath.Join(dir, "SHA256SUMS"))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "SHA256SUMS"), append(text, strings.Repeat("0", 64)+"  ../../etc/passwd\n"...), 0o600))
		}, false, []string{"SHA256SUMS: ", "[bad_listing]"}},
		{"another schema", swap("record.json", `"schema": `, `"schema": 1`), true, []string{"record.json: ", "[other_schema]"}},
		{"what it says of itself", swap("record.json", `"scope"`, `"scoop"`), true, []string{"record.json: ", "[bad_record]"}},
		{"a backup's scope", func(t *testing.T, dir string) {
			require.NoError(t, os.RemoveAll(dir))
			require.NoError(t, os.CopyFS(dir, os.DirFS(demoFolder(t, "backup"))))
		}, false, []string{"record.json: ", "[other_scope]"}},
	}
}

func TestARecordThatWasTamperedWithIsRefusedWhole(t *testing.T) {
	t.Parallel()
	record := demoFolder(t, "record")
	photo := ""
	for name := range contents(t, record) {
		if strings.HasPrefix(name, "originals/") {
			photo = max(photo, name)
		}
	}
	for _, e := range append(editsOfFiles(photo), editsOfContent()...) {
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), "r")
			require.NoError(t, os.CopyFS(dir, os.DirFS(record)))
			e.do(t, dir)
			if e.sums {
				listAgain(t, dir)
			}
			data := filepath.Join(t.TempDir(), "d")
			code, stdout, stderr := ended(t, "import", "folder", dir, "--data", data)
			require.Equal(t, 1, code, stdout+stderr)
			for _, want := range e.want {
				require.Contains(t, stderr, want)
			}
			require.Zero(t, countFiles(filepath.Join(data, "originals")), "nothing was kept")
			code, _, stderr = ended(t, "import", "folder", record, "--data", data)
			require.Zero(t, code, "the whole one still goes in: %s", stderr)
		})
	}
}
