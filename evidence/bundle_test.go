package evidence_test

import (
	"archive/zip"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"storeyrod/evidence"
)

func writeBundle(t *testing.T, name string) {
	t.Helper()
	w, err := evidence.CreateBundle(name)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abandon()
	for _, file := range []string{"a.txt", "deep/er/b.txt"} {
		ref, err := w.File(t.Context(), file, func(out io.Writer) error { _, err := io.WriteString(out, "content of "+file); return err })
		if err != nil || ref != evidence.RefOf([]byte("content of "+file)) {
			t.Fatal(ref, err)
		}
	}
	for _, bad := range []string{"", "/a", "../a", "a/../b", "a\\b", "a b", "a\n", "SHA256SUMS/..", "a.txt", "./a", "a/"} {
		if _, err := w.File(t.Context(), bad, func(io.Writer) error { return nil }); !errors.Is(err, evidence.ErrBadName) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if err := w.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func faultsOf(t *testing.T, name string) (codes []string) {
	t.Helper()
	b, err := evidence.OpenBundle(name)
	if err != nil {
		t.Fatal(err)
	}
	defer closeIt(t, b)
	faults, err := b.Check(t.Context(), func() {})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		codes = append(codes, f.File+" "+f.Code)
	}
	return codes
}

func closeIt(t *testing.T, c io.Closer) {
	t.Helper()
	if err := c.Close(); err != nil {
		t.Error(err)
	}
}

func TestABundleIsCheckedByOtherProgramsAndByItself(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "b")
	writeBundle(t, dir)
	cmd := exec.Command("sha256sum", "--strict", "-c", "SHA256SUMS")
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%s: %v", out, err)
	}
	if got := faultsOf(t, dir); got != nil {
		t.Error(got)
	}
	packed := filepath.Join(t.TempDir(), "b.zip")
	writeBundle(t, packed)
	if got := faultsOf(t, packed); got != nil {
		t.Error(got)
	}
	if _, err := evidence.CreateBundle(dir); !errors.Is(err, evidence.ErrTaken) {
		t.Error(err)
	}
	if _, err := evidence.CreateBundle(packed); !errors.Is(err, evidence.ErrTaken) {
		t.Error(err)
	}
}

func TestWhatWasDoneToABundleIsToldByFile(t *testing.T) {
	t.Parallel()
	for want, harm := range map[string]func(dir string) error{
		"a.txt changed_file": func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "a.txt"), []byte("content of A.txt"), 0o600)
		},
		"deep/er/b.txt missing_file": func(dir string) error { return os.Remove(filepath.Join(dir, "deep/er/b.txt")) },
		"c.txt extra_file":           func(dir string) error { return os.WriteFile(filepath.Join(dir, "c.txt"), nil, 0o600) },
		"l not_a_file":               func(dir string) error { return os.Symlink("/etc/passwd", filepath.Join(dir, "l")) },
		"deep/l not_a_file":          func(dir string) error { return os.Symlink("..", filepath.Join(dir, "deep/l")) },
		"x y.txt bad_name":           func(dir string) error { return os.WriteFile(filepath.Join(dir, "x y.txt"), nil, 0o600) },
		"SHA256SUMS bad_listing": func(dir string) error {
			return appendTo(filepath.Join(dir, "SHA256SUMS"), strings.Repeat("0", 64)+"  ../a.txt\n")
		},
	} {
		dir := filepath.Join(t.TempDir(), "b")
		writeBundle(t, dir)
		if err := harm(dir); err != nil {
			t.Fatal(err)
		}
		if got := faultsOf(t, dir); len(got) != 1 || got[0] != want {
			t.Errorf("%v, want %s", got, want)
		}
	}
	dir := filepath.Join(t.TempDir(), "b")
	writeBundle(t, dir)
	if err := appendTo(filepath.Join(dir, "SHA256SUMS"), strings.Repeat("x", 1<<20)); err != nil {
		t.Fatal(err)
	}
	if got := faultsOf(t, dir); len(got) == 0 || got[0] != "SHA256SUMS bad_listing" {
		t.Errorf("%v", got)
	}
}

func appendTo(name, text string) error {
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

func TestAHostileZIPLeadsNowhere(t *testing.T) {
	t.Parallel()
	name := filepath.Join(t.TempDir(), "h.zip")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(f)
	for _, file := range []string{"../out", "/abs", "a\\b", "twice", "twice"} {
		w, err := z.Create(file)
		if err == nil {
			_, err = io.WriteString(w, "x")
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	link := &zip.FileHeader{Name: "link"}
	link.SetMode(os.ModeSymlink | 0o777)
	if _, err := z.CreateHeader(link); err != nil {
		t.Fatal(err)
	}
	sum := string(evidence.RefOf([]byte("x")))
	w, err := z.Create("SHA256SUMS")
	if err == nil {
		_, err = io.WriteString(w, sum+"  twice\n")
	}
	if err := errors.Join(err, z.Close(), f.Close()); err != nil {
		t.Fatal(err)
	}
	want := "../out bad_name, /abs bad_name, a\\b bad_name, twice bad_name, link not_a_file"
	if got := strings.Join(faultsOf(t, name), ", "); got != want {
		t.Error(got)
	}
}

func TestAnAbandonedBundleLeavesNothing(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"b", "b.zip"} {
		dir := t.TempDir()
		w, err := evidence.CreateBundle(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		_, err = w.File(ctx, "a", func(out io.Writer) error {
			stop()
			_, err := io.WriteString(out, "x")
			return err
		})
		if !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		w.Abandon()
		left, err := os.ReadDir(dir)
		if err != nil || len(left) != 0 {
			t.Error(left, err)
		}
	}
}
