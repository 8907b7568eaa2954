package evidence_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/evidence"
	"storeyrod/evidence/evidencetest"
)

const (
	oneMiB = 1 << 20

	// childVar makes the test program act as a second process on a store.
	childVar = "STOREYROD_EVIDENCE_CHILD"
)

// TestMain lets the test program be started again as another process that uses
// the store named in its first argument.
func TestMain(m *testing.M) {
	if os.Getenv(childVar) == "" {
		os.Exit(m.Run())
	}
	d, err := evidence.OpenDir(os.Args[1], time.Now())
	if err == nil {
		var r evidence.Receipt
		r, err = d.Put(context.Background(), os.Stdin, 64*oneMiB)
		fmt.Println(r.Ref, r.Existed)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// child prepares the test program as another process on the store at root.
func child(t *testing.T, root string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), self, root)
	cmd.Env = append(os.Environ(), childVar+"=1")
	return cmd
}

func openDir(t *testing.T, root string) *evidence.Dir {
	t.Helper()
	d, err := evidence.OpenDir(root, time.Now())
	require.NoError(t, err)
	return d
}

// filesIn lists the plain files below root, relative to it.
func filesIn(t *testing.T, root string) []string {
	t.Helper()
	var files []string
	require.NoError(t, filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			rel, _ := filepath.Rel(root, path)
			files = append(files, rel)
		}
		return err
	}))
	return files
}

func refsOf(t *testing.T, s evidence.Store) []evidence.Ref {
	t.Helper()
	var refs []evidence.Ref
	require.NoError(t, s.List(t.Context(), func(ref evidence.Ref, _ int64) error {
		refs = append(refs, ref)
		return nil
	}))
	return refs
}

func TestDirKeepsTheContractOfOriginals(t *testing.T) {
	t.Parallel()
	evidencetest.Run(t, func(t *testing.T) evidence.Store { return openDir(t, t.TempDir()) })
}

func TestDirKeepsTheContractOfParts(t *testing.T) {
	t.Parallel()
	evidencetest.RunParts(t, func(t *testing.T) *evidence.Dir { return openDir(t, t.TempDir()) })
}

func TestAPartOutlivesTheSweepOfTemporaryFiles(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	p, err := openDir(t, root).OpenPart(t.Context(), "a-1")
	require.NoError(t, err)
	_, err = io.WriteString(p, "half a photo")
	require.NoError(t, err)
	require.NoError(t, p.Close())
	later, err := evidence.OpenDir(root, time.Now().Add(1000*time.Hour))
	require.NoError(t, err)
	p, err = later.OpenPart(t.Context(), "a-1")
	require.NoError(t, err)
	size, err := p.Size()
	require.NoError(t, err)
	require.EqualValues(t, len("half a photo"), size)
	require.NoError(t, p.Close())
}

// A process that is killed while it keeps a part leaves one file under two names.
func TestAPartThatWasBeingKeptIsNeverWrittenToAgain(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	part := filepath.Join(root, "incoming", "parts", "a-1")
	require.NoError(t, os.MkdirAll(filepath.Dir(part), 0o750))
	require.NoError(t, os.WriteFile(part, []byte("kept already"), 0o444))
	original := filepath.Join(root, "original")
	require.NoError(t, os.Link(part, original))
	p, err := d.OpenPart(t.Context(), "a-1")
	require.NoError(t, err)
	size, err := p.Size()
	require.NoError(t, err)
	require.Zero(t, size)
	_, err = io.WriteString(p, "again")
	require.NoError(t, err)
	require.NoError(t, p.Close())
	kept, err := os.ReadFile(original)
	require.NoError(t, err)
	require.Equal(t, "kept already", string(kept))
}

func TestDerivedDirKeepsTheContractOfViewCopies(t *testing.T) {
	t.Parallel()
	evidencetest.RunDerived(t, func(t *testing.T) evidence.DerivedStore {
		d, err := evidence.OpenDerivedDir(t.TempDir(), time.Now())
		require.NoError(t, err)
		return d
	})
}

func TestDirFileNamesAreWhatSha256sumSays(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	for _, content := range []string{"", "render", strings.Repeat("insulation board ", 100_000)} {
		_, err := d.Put(t.Context(), strings.NewReader(content), 4*oneMiB)
		require.NoError(t, err)
	}
	files := filesIn(t, root)
	require.Len(t, files, 3)
	for _, file := range files {
		out, err := exec.CommandContext(t.Context(), "sha256sum", filepath.Join(root, file)).Output()
		require.NoError(t, err)
		name := strings.Fields(string(out))[0]
		require.Equal(t, filepath.Join(name[:2], name[2:4], name), file)
	}
}

func TestDirFilesAreReadOnly(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	_, err := d.Put(t.Context(), strings.NewReader("plumb reading"), oneMiB)
	require.NoError(t, err)
	for _, file := range filesIn(t, root) {
		info, err := os.Stat(filepath.Join(root, file))
		require.NoError(t, err)
		require.Equal(t, fs.FileMode(0o444), info.Mode())
	}
}

func TestDirLeavesNoTemporaryFile(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	_, err := d.Put(t.Context(), strings.NewReader("too long"), 3)
	require.ErrorIs(t, err, evidence.ErrTooLarge)
	broken := errors.New("line dropped")
	_, err = d.Put(t.Context(), io.MultiReader(strings.NewReader("x"), brokenReader{broken}), oneMiB)
	require.ErrorIs(t, err, broken)
	staged, err := d.Stage(t.Context(), strings.NewReader("looked at and refused"), oneMiB)
	require.NoError(t, err)
	staged.Discard()
	require.Empty(t, filesIn(t, root))

	for range 2 {
		_, err = d.Put(t.Context(), strings.NewReader("kept"), oneMiB)
		require.NoError(t, err)
	}
	require.Len(t, filesIn(t, root), 1)
}

type brokenReader struct{ err error }

func (b brokenReader) Read([]byte) (int, error) { return 0, b.err }

// A fault of the source must not look like one of the store.
func TestDirTellsTheReadersErrorsFromItsOwn(t *testing.T) {
	t.Parallel()
	d := openDir(t, t.TempDir())
	for _, err := range []error{fs.ErrPermission, fs.ErrNotExist} {
		_, got := d.Put(t.Context(), brokenReader{err}, oneMiB)
		require.ErrorIs(t, got, err)
		require.NotErrorIs(t, got, evidence.ErrDenied)
		require.NotErrorIs(t, got, evidence.ErrNotFound)
	}
}

func TestDirKeepsOriginalsWhenOpenedAgain(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	r, err := openDir(t, root).Put(t.Context(), strings.NewReader("mesh overlap"), oneMiB)
	require.NoError(t, err)
	require.Equal(t, []evidence.Ref{r.Ref}, refsOf(t, openDir(t, root)))
}

func TestDirSweepsAbandonedFilesAfterADayOnly(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	kept, err := d.Put(t.Context(), strings.NewReader("kept long ago"), oneMiB)
	require.NoError(t, err)
	_, err = d.Stage(t.Context(), strings.NewReader("abandoned"), oneMiB)
	require.NoError(t, err)

	_, err = evidence.OpenDir(root, time.Now().Add(23*time.Hour))
	require.NoError(t, err)
	require.Len(t, filesIn(t, root), 2, "an intake may still be going on")

	again, err := evidence.OpenDir(root, time.Now().Add(25*time.Hour))
	require.NoError(t, err)
	require.Len(t, filesIn(t, root), 1)
	require.Equal(t, []evidence.Ref{kept.Ref}, refsOf(t, again))
}

func TestDirKeepAfterASweepSaysSo(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	staged, err := openDir(t, root).Stage(t.Context(), strings.NewReader("forgotten"), oneMiB)
	require.NoError(t, err)
	again, err := evidence.OpenDir(root, time.Now().Add(25*time.Hour))
	require.NoError(t, err)
	_, err = staged.Keep(t.Context())
	require.ErrorIs(t, err, evidence.ErrNotFound)
	require.Empty(t, refsOf(t, again))
}

func TestDirSurvivesAKilledProcess(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	cmd := child(t, root)
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = in.Write(make([]byte, oneMiB)) // returns once the child has read most of it
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait())

	require.Len(t, filesIn(t, root), 1, "the interrupted intake")
	require.Empty(t, refsOf(t, openDir(t, root)))
	again, err := evidence.OpenDir(root, time.Now().Add(25*time.Hour))
	require.NoError(t, err)
	require.Empty(t, filesIn(t, root))
	_, err = again.Put(t.Context(), strings.NewReader("next"), oneMiB)
	require.NoError(t, err)
}

func TestDirIsSafeForSeveralProcesses(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	const processes = 4
	content := strings.Repeat("the same photo ", 100_000)
	ref := evidence.RefOf([]byte(content))

	type running struct {
		cmd *exec.Cmd
		in  io.WriteCloser
		out *bufio.Reader
	}
	var all []running
	for range processes {
		cmd := child(t, root)
		in, err := cmd.StdinPipe()
		require.NoError(t, err)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		_, err = io.WriteString(in, content)
		require.NoError(t, err)
		all = append(all, running{cmd, in, bufio.NewReader(out)})
	}
	for _, r := range all { // all ends come at nearly the same time
		require.NoError(t, r.in.Close())
	}
	fresh := 0
	for _, r := range all {
		line, err := r.out.ReadString('\n')
		require.NoError(t, err)
		require.NoError(t, r.cmd.Wait())
		if line == fmt.Sprintln(ref, false) {
			fresh++
		} else {
			require.Equal(t, fmt.Sprintln(ref, true), line)
		}
	}
	require.Equal(t, 1, fresh, "just one process was the first")
	require.Len(t, filesIn(t, root), 1)
	require.Equal(t, []evidence.Ref{ref}, refsOf(t, openDir(t, root)))
}

func TestDirSaysWhenTheKeptFileHasTheWrongLength(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	r, err := d.Put(t.Context(), strings.NewReader("fixing pull-out"), oneMiB)
	require.NoError(t, err)
	path := filepath.Join(root, filesIn(t, root)[0])
	require.NoError(t, os.Chmod(path, 0o600))
	require.NoError(t, os.Truncate(path, 3))

	_, err = d.Put(t.Context(), strings.NewReader("fixing pull-out"), oneMiB)
	require.ErrorIs(t, err, evidence.ErrDamaged)
	size, err := d.Stat(t.Context(), r.Ref)
	require.NoError(t, err)
	require.EqualValues(t, 3, size, "damage is reported, not papered over")
}

func TestDirDoesNotTakeAFolderForAnOriginal(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	ref := evidence.RefOf([]byte("base coat"))
	require.NoError(t, os.MkdirAll(filepath.Join(root, string(ref[:2]), string(ref[2:4]), string(ref)), 0o755))
	_, err := d.Stat(t.Context(), ref)
	require.ErrorIs(t, err, evidence.ErrDamaged)
	_, _, err = d.Open(t.Context(), ref)
	require.ErrorIs(t, err, evidence.ErrDamaged)
	_, err = d.Put(t.Context(), strings.NewReader("base coat"), oneMiB)
	require.ErrorIs(t, err, evidence.ErrDamaged)
	require.Empty(t, refsOf(t, d))
}

func TestDirListLeavesOutForeignFiles(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d := openDir(t, root)
	r, err := d.Put(t.Context(), strings.NewReader("cavity barrier"), oneMiB)
	require.NoError(t, err)
	for _, name := range []string{"notes.txt", string(evidence.RefOf(nil)), filepath.Join(string(r.Ref[:2]), "x")} {
		require.NoError(t, os.WriteFile(filepath.Join(root, name), []byte("foreign"), 0o600))
	}
	require.Equal(t, []evidence.Ref{r.Ref}, refsOf(t, d))
}

// Not parallel: it counts what the whole program allocates.
func TestDirTakesAsMuchMemoryForALargeFileAsForASmallOne(t *testing.T) { //nolint:paralleltest // see above
	d := openDir(t, t.TempDir())
	allocated := func(size int64) uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := d.Put(t.Context(), io.LimitReader(zeros{}, size), size)
		runtime.ReadMemStats(&after)
		require.NoError(t, err)
		return after.TotalAlloc - before.TotalAlloc
	}
	allocated(1) // what is needed once
	small, large := allocated(oneMiB), allocated(64*oneMiB)
	require.Less(t, large, small+oneMiB/4)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}
