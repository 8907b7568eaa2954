package evidence

import (
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestAFullDiskIsToldFromOtherErrors(t *testing.T) {
	t.Parallel()
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0) // every write to it finds no space
	require.NoError(t, err)
	defer func() { require.NoError(t, full.Close()) }()
	_, _, err = HashCopy(t.Context(), full, strings.NewReader("photo"), 100)
	require.ErrorIs(t, err, ErrFull)
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NotErrorIs(t, err, ErrDenied)
}

func TestMissingRightsAreToldFromOtherErrors(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	d, err := OpenDir(root, time.Now())
	require.NoError(t, err)
	staged, err := d.Stage(t.Context(), strings.NewReader("photo"), 100)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(root, 0o555))
	require.NoError(t, os.Chmod(root+"/"+incoming, 0o555))
	t.Cleanup(func() {
		_ = os.Chmod(root, 0o755)
		_ = os.Chmod(root+"/"+incoming, 0o755)
	})
	asNobody(t, func() {
		_, err = d.Put(t.Context(), strings.NewReader("other"), 100)
		require.ErrorIs(t, err, ErrDenied)
		require.NotErrorIs(t, err, ErrFull)
		_, err = staged.Keep(t.Context())
		require.ErrorIs(t, err, ErrDenied)
		_, err = OpenDir(root+"/inner", time.Now())
		require.ErrorIs(t, err, ErrDenied)
	})
}

// asNobody calls f without root's right to pass over file modes, which tests in
// a container often have. The rights belong to the thread, so f must not wait
// for other goroutines.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		f()
		return
	}
	const nobody = 65534
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	require.NoError(t, syscall.Setfsuid(nobody))
	defer func() { _ = syscall.Setfsuid(0) }()
	f()
}
