package cli_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
	"storeyrod/models/modelstest"
)

// The server is killed without warning, again and again, at random moments while
// eight clients send photos. KILLS says how often; a soak takes twenty.

func TestAKilledServerKeepsWhatItAcknowledgedAndLeavesNoOrphan(t *testing.T) {
	t.Parallel()
	data := quarry(t)
	newSiege(t, data).run(11)
}

func TestAKilledServerOverPostgresKeepsWhatItAcknowledgedAndLeavesNoOrphan(t *testing.T) {
	t.Parallel()
	url := modelstest.PostgresURL(t)
	data := quarry(t, "--database", url)
	newSiege(t, data, "--database", url).run(12)
}

const siegeClients = 8

// siege is one data folder whose server is killed again and again.
type siege struct {
	t           *testing.T
	data        string
	more        []string // flags of the database
	token, site string
	base        []byte

	mu           sync.Mutex
	next         int               // number of the next photo
	again        []int             // photos sent without an answer
	acknowledged map[string]string // id by hash
	unchecked    []string          // hashes acknowledged since the last look
}

func newSiege(t *testing.T, data string, more ...string) *siege {
	t.Helper()
	s := &siege{t: t, data: data, more: more, acknowledged: map[string]string{}}
	s.token, s.site = clerkToken(t, data, more...)
	var err error
	s.base, err = imaging.RenderJPEG(imaging.SceneSpec{Width: 400, Height: 300, Layer: imaging.SceneSlips}, defects.Capture{})
	require.NoError(t, err)
	return s
}

func (s *siege) run(seed uint64) {
	kills := 3
	if text := os.Getenv("KILLS"); text != "" {
		var err error
		kills, err = strconv.Atoi(text)
		require.NoError(s.t, err)
	}
	rng := rand.New(rand.NewPCG(seed, seed))
	for range kills {
		srv := serve(s.t, s.data, s.more...)
		s.upload(srv, func(first <-chan struct{}) {
			select {
			case <-first: // an acknowledged photo, so that there is something to lose
			case <-time.After(time.Minute):
			}
			time.Sleep(time.Duration(rng.Int64N(int64(500 * time.Millisecond))))
			require.NoError(s.t, srv.cmd.Process.Kill())
		})
		require.Error(s.t, srv.cmd.Wait())
		s.look(false)
	}
	s.look(true)
	require.GreaterOrEqual(s.t, len(s.acknowledged), kills)
	s.t.Logf("%d kills, %d photos acknowledged, %d sent", kills, len(s.acknowledged), s.next)
}

// upload lets the clients send until the server is gone.
func (s *siege) upload(srv *served, kill func(first <-chan struct{})) {
	var clients sync.WaitGroup
	first, once := make(chan struct{}), sync.Once{}
	for range siegeClients {
		clients.Go(func() {
			for s.sendNext(srv) {
				once.Do(func() { close(first) })
			}
		})
	}
	kill(first)
	clients.Wait()
}

// sendNext sends a photo that got no answer before, or a new one, and reports
// whether the server answered.
func (s *siege) sendNext(srv *served) bool {
	s.mu.Lock()
	n := s.next
	if len(s.again) > 0 {
		n, s.again = s.again[0], s.again[1:]
	} else {
		s.next++
	}
	s.mu.Unlock()
	photo, err := imaging.WithExif(s.base, defects.Capture{Make: "Invented", Software: fmt.Sprint("no. ", n)})
	if err != nil {
		s.t.Error(err)
		return false
	}
	id, err := sendPhoto(context.Background(), srv.base, s.site, s.token, photo)
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.again = append(s.again, n)
		return false
	}
	sum := sha256.Sum256(photo)
	sha := hex.EncodeToString(sum[:])
	s.acknowledged[sha] = id
	s.unchecked = append(s.unchecked, sha)
	return true
}

// look starts the server, holds that whatever was acknowledged is there (since
// the last look, or at all) and that nothing else is left, and stops it.
func (s *siege) look(all bool) {
	srv := serve(s.t, s.data, s.more...)
	if all {
		s.unchecked = nil
		for sha := range s.acknowledged {
			s.unchecked = append(s.unchecked, sha)
		}
	}
	for _, sha := range s.unchecked {
		original := fetch(s.t, srv.base+"/api/v1/sites/"+s.site+"/photos/"+s.acknowledged[sha]+"/original", s.token)
		got := sha256.Sum256(original)
		require.Equal(s.t, sha, hex.EncodeToString(got[:]))
	}
	s.unchecked = nil
	rows := s.rows(srv)
	for sha, id := range s.acknowledged {
		require.Equal(s.t, id, rows[sha].ID)
	}
	for wait := time.Now().Add(time.Minute); ; time.Sleep(20 * time.Millisecond) {
		kept, left := countFiles(filepath.Join(s.data, "originals")), leftovers(s.t, s.data)
		rows = s.rows(srv) // the database may still have been committing
		if kept == len(rows) && len(left) == 0 {
			break
		}
		require.True(s.t, time.Now().Before(wait), "%d rows, %d originals, files of interrupted intakes: %v\n%s", len(rows), kept, left, srv.log)
	}
	require.Equal(s.t, len(rows), wholeOriginals(s.t, s.data))
	if all {
		require.Eventually(s.t, func() bool { return s.allReady(srv) }, 2*time.Minute, 100*time.Millisecond, "view copies are missing")
		for _, kind := range []string{"preview.jpg", "thumb.jpg"} {
			found, err := filepath.Glob(filepath.Join(s.data, "derived", "*", "*", "*."+kind))
			require.NoError(s.t, err)
			require.Len(s.t, found, len(rows))
		}
	}
	srv.stop(s.t)
}

// siegeRow is what is asked of a photo's row.
type siegeRow struct {
	ID     string `json:"id"`
	SHA256 string `json:"sha256"`
	Copies string `json:"view_copies"`
}

// rows lists all photos of the site by hash.
func (s *siege) rows(srv *served) map[string]siegeRow {
	s.t.Helper()
	rows := map[string]siegeRow{}
	for next := "/api/v1/sites/" + s.site + "/photos?limit=100"; next != ""; {
		req, err := http.NewRequestWithContext(s.t.Context(), http.MethodGet, srv.base+next, nil)
		require.NoError(s.t, err)
		req.Header.Set("Authorization", "Bearer "+s.token)
		res, err := http.DefaultClient.Do(req)
		require.NoError(s.t, err)
		var page struct{ Items []siegeRow }
		require.NoError(s.t, json.NewDecoder(res.Body).Decode(&page))
		require.NoError(s.t, res.Body.Close())
		for _, row := range page.Items {
			rows[row.SHA256] = row
		}
		next = ""
		if m := regexp.MustCompile(`<([^>]+)>; rel="next"`).FindStringSubmatch(res.Header.Get("Link")); m != nil {
			next = m[1]
		}
	}
	return rows
}

func (s *siege) allReady(srv *served) bool {
	for _, row := range s.rows(srv) {
		if row.Copies != "ready" {
			return false
		}
	}
	return true
}

// leftovers are the files of originals that are not kept.
func leftovers(t *testing.T, data string) (list []string) {
	t.Helper()
	entries, err := os.ReadDir(filepath.Join(data, "originals", "incoming"))
	require.NoError(t, err)
	for _, e := range entries {
		if e.Name() != "in-use.lock" {
			list = append(list, e.Name())
		}
	}
	return list
}
