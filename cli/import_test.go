package cli_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// manyPhotos writes real photos that differ in a comment: drawing each would
// take longer than taking it in.
func manyPhotos(t *testing.T, folder string, n int) {
	t.Helper()
	jpeg, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 64, Height: 48, Layer: imaging.SceneSlips}, defects.Capture{})
	require.NoError(t, err)
	for i := range n {
		dir := filepath.Join(folder, fmt.Sprintf("day%02d", i/500))
		require.NoError(t, os.MkdirAll(dir, 0o700))
		comment := fmt.Sprintf("photo %d", i)
		text := append(slices.Clone(jpeg[:2]), 0xFF, 0xFE, 0, byte(2+len(comment)))
		text = append(append(text, comment...), jpeg[2:]...)
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("p%05d.jpg", i)), text, 0o600))
	}
}

// took reads the table that an import ends with.
func took(t *testing.T, out string) (taken, known, refused int) {
	t.Helper()
	_, err := fmt.Sscanf(out[max(0, strings.Index(out, "taken ")):], "taken %d photos\nknown %d\nrefused %d", &taken, &known, &refused)
	require.NoError(t, err, out)
	return taken, known, refused
}

// An import that is killed without warning leaves whole photos only, and goes
// on where it was when it is run again.
func TestAKilledImportGoesOn(t *testing.T) {
	t.Parallel()
	const n = 2000
	data, folder := quarry(t), t.TempDir()
	manyPhotos(t, folder, n)
	cmd := program(t, "import", "photos", folder, "--site", "Quarry", "--data", data)
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool { return countFiles(filepath.Join(data, "originals")) > n/5 }, time.Minute, time.Millisecond)
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait())
	kept := wholeOriginals(t, data)
	require.Less(t, kept, n, "killed too late to prove anything")

	taken, known, refused := took(t, must(t, "import", "photos", folder, "--site", "Quarry", "--data", data))
	require.Equal(t, n, taken+known)
	require.Zero(t, refused)
	require.Greater(t, known, n/10)
	require.Equal(t, n, wholeOriginals(t, data))
}

// The same over the network: what the server has is not sent again. The bytes
// go by a proxy that counts them.
func TestAKilledImportSendsNothingTwice(t *testing.T) {
	t.Parallel()
	const n = 2000
	data, folder := quarry(t), t.TempDir()
	manyPhotos(t, folder, n)
	token, _ := clerkToken(t, data)
	s := serve(t, data)
	to, err := url.Parse(s.base)
	require.NoError(t, err)
	var sent atomic.Int64
	forward := httputil.NewSingleHostReverseProxy(to)
	proxy := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && strings.HasSuffix(r.URL.Path, "/photos") {
			sent.Add(1)
		}
		forward.ServeHTTP(w, r)
	}))
	t.Cleanup(proxy.Close)
	args := []string{"import", "photos", folder, "--site", "Quarry", "--server", proxy.URL, "--token", token}
	cmd := program(t, args...)
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool { return sent.Load() > n/5 }, time.Minute, time.Millisecond)
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait())
	first := sent.Swap(0)
	require.Less(t, first, int64(n), "killed too late to prove anything")

	report := filepath.Join(t.TempDir(), "report.csv")
	taken, known, refused := took(t, must(t, append(args, "--report", report)...))
	require.Equal(t, n, taken+known)
	require.Zero(t, refused)
	require.Equal(t, int64(taken), sent.Load(), "only what was not there yet is sent")
	require.GreaterOrEqual(t, int64(known), first-64, "all but what was on its way when it was killed")
	_, again, _ := took(t, must(t, args...))
	require.Equal(t, n, again)
	require.Equal(t, int64(taken), sent.Load())

	text, err := os.ReadFile(report)
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"file", "result", "code", "reason", "photo"}, rows[0])
	require.Len(t, rows, n+1)
	ids := map[string]bool{}
	for _, row := range rows[1:] {
		require.NotEmpty(t, row[4], row)
		ids[row[4]] = true
	}
	require.Len(t, ids, n)
	s.stop(t)
	require.Equal(t, n, wholeOriginals(t, data))
}
