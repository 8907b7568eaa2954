package cli_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A backup is taken of a server that is being written to. All that was
// acknowledged before it began is in it, and it is one state: restored, every
// log leads to its rows and every photo has its original (restore checks both).
func TestABackupUnderLoadHoldsAllThatWasAcknowledged(t *testing.T) {
	t.Parallel()
	data, folder := quarry(t), t.TempDir()
	const n = 500
	manyPhotos(t, folder, n)
	token, site := clerkToken(t, data)
	s := serve(t, data)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var mu sync.Mutex
	acknowledged := map[string]string{} // id of the photo by hash
	var next, during atomic.Int64
	var writers sync.WaitGroup
	for range 3 {
		writers.Go(func() {
			for ctx.Err() == nil {
				i := next.Add(1) - 1
				if i >= n {
					return
				}
				text, err := os.ReadFile(filepath.Join(folder, fmt.Sprintf("day00/p%05d.jpg", i)))
				if err != nil {
					return
				}
				id, err := sendPhoto(ctx, s.base, site, token, text)
				if err != nil {
					return
				}
				during.Add(1)
				sum := sha256.Sum256(text)
				mu.Lock()
				acknowledged[hex.EncodeToString(sum[:])] = id
				mu.Unlock()
			}
		})
	}
	require.Eventually(t, func() bool { return during.Load() >= 40 }, time.Minute, time.Millisecond)
	mu.Lock()
	before := make([]string, 0, len(acknowledged))
	for sha := range acknowledged {
		before = append(before, sha)
	}
	mu.Unlock()
	during.Store(0)
	out := filepath.Join(t.TempDir(), "b")
	must(t, "backup", "--data", data, "--out", out)
	require.Positive(t, during.Load(), "nothing was written meanwhile, so it proves nothing")
	stop()
	writers.Wait()
	s.stop(t)

	back := filepath.Join(t.TempDir(), "back")
	text := must(t, "restore", out, "--data", back)
	require.Contains(t, text, "faults        0")
	kept := wholeOriginals(t, back)
	require.GreaterOrEqual(t, kept, len(before))
	for _, sha := range before {
		require.FileExists(t, filepath.Join(back, "originals", sha[:2], sha[2:4], sha))
	}
	again := serve(t, back)
	code, _ := again.get(t, "/readyz")
	require.Equal(t, http.StatusOK, code)
	require.Eventually(t, func() bool { // the token came along, and view copies are made here
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, again.base+"/api/v1/sites/"+site+"/photos/"+acknowledged[before[0]]+"/thumb", nil)
		require.NoError(t, err)
		req.Header.Set("Authorization", "Bearer "+token)
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		return res.Body.Close() == nil && res.StatusCode == http.StatusOK
	}, time.Minute, 100*time.Millisecond)
	again.stop(t)
}
