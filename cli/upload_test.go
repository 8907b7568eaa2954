package cli_test

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// largePhoto is a photo with a tail, such as a short film has it, of 12 MiB.
func largePhoto(t *testing.T) []byte {
	t.Helper()
	jpeg, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 320, Height: 240, Layer: imaging.SceneSlips, Seed: 3}, defects.Capture{})
	require.NoError(t, err)
	tail := make([]byte, 12<<20-len(jpeg))
	random := rand.NewChaCha8([32]byte{1})
	_, _ = random.Read(tail)
	return append(jpeg, tail...)
}

// tus sends one request of the protocol of uploads.
func tus(t *testing.T, token, method, address string, body io.Reader, headers ...string) (*http.Response, error) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, address, body)
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Tus-Resumable", "1.0.0")
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := http.DefaultClient.Do(req)
	if err == nil {
		_, err = io.Copy(io.Discard, res.Body)
		err = errors.Join(err, res.Body.Close())
	}
	return res, err
}

func TestAnUploadGoesOnAfterTheServerWasKilled(t *testing.T) {
	t.Parallel()
	data, photo := quarry(t), largePhoto(t)
	token, site := clerkToken(t, data)
	s := serve(t, data)
	at := "/api/v1/sites/" + site + "/uploads"
	res, err := tus(t, token, http.MethodPost, s.base+at, nil, "Upload-Length", strconv.Itoa(len(photo)))
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, res.StatusCode)
	at = res.Header.Get("Location")

	// The server is killed when it has noted something and waits for more.
	const sent = 9 << 20
	reader, writer := io.Pipe()
	cut := make(chan error, 1)
	go func() {
		_, err := tus(t, token, http.MethodPatch, s.base+at, reader, "Upload-Offset", "0", "Content-Type", "application/offset+octet-stream")
		cut <- err
	}()
	_, err = writer.Write(photo[:sent])
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		res, err := tus(t, token, http.MethodHead, s.base+at, nil)
		return err == nil && res.Header.Get("Upload-Offset") == strconv.Itoa(8<<20)
	}, time.Minute, 20*time.Millisecond, "each four megabytes are made durable on the way")
	require.NoError(t, s.cmd.Process.Kill())
	_ = s.cmd.Wait()
	require.NoError(t, writer.Close())
	require.Error(t, <-cut)

	again := serve(t, data)
	res, err = tus(t, token, http.MethodHead, again.base+at, nil)
	require.NoError(t, err)
	offset, err := strconv.Atoi(res.Header.Get("Upload-Offset"))
	require.NoError(t, err)
	require.Equal(t, 8<<20, offset)
	res, err = tus(t, token, http.MethodPatch, again.base+at, bytes.NewReader(photo[offset:]),
		"Upload-Offset", strconv.Itoa(offset), "Content-Type", "application/offset+octet-stream")
	require.NoError(t, err)
	require.Equal(t, http.StatusNoContent, res.StatusCode)
	require.Equal(t, photo, fetch(t, again.base+res.Header.Get("Storeyrod-Photo")+"/original", token))
	again.stop(t)
	require.Equal(t, 1, wholeOriginals(t, data))
	left, err := filepath.Glob(filepath.Join(data, "originals", "incoming", "parts", "*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

// weakSignal passes connections on to a server and cuts each after some bytes.
type weakSignal struct {
	base string
	sent atomic.Int64 // to the server
}

func newWeakSignal(t *testing.T, server string, each int64) *weakSignal {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = listener.Close() })
	w := &weakSignal{base: "http://" + listener.Addr().String()}
	go func() {
		for {
			from, err := listener.Accept()
			if err != nil {
				return
			}
			go w.pass(from, strings.TrimPrefix(server, "http://"), each)
		}
	}()
	return w
}

func (w *weakSignal) pass(from net.Conn, server string, each int64) {
	defer from.Close() //nolint:errcheck // it is cut anyway
	to, err := net.Dial("tcp", server)
	if err != nil {
		return
	}
	defer to.Close() //nolint:errcheck // it is cut anyway
	go func() {
		_, _ = io.Copy(from, to)
		_ = from.Close()
	}()
	_, _ = io.Copy(io.MultiWriter(to, counted{&w.sent}), io.LimitReader(from, each))
}

type counted struct{ n *atomic.Int64 }

func (c counted) Write(b []byte) (int, error) {
	c.n.Add(int64(len(b)))
	return len(b), nil
}

func TestALargePhotoIsImportedOverConnectionsThatDrop(t *testing.T) {
	t.Parallel()
	data, folder, photo := quarry(t), t.TempDir(), largePhoto(t)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "large.jpg"), photo, 0o600))
	manyPhotos(t, folder, 2)
	token, _ := clerkToken(t, data)
	s := serve(t, data)
	weak := newWeakSignal(t, s.base, 5<<20)
	out := must(t, "import", "photos", folder, "--site", "Quarry", "--server", weak.base, "--token", token)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "taken 3 photos known 0 refused 0")
	require.Equal(t, 3, wholeOriginals(t, data))
	out = must(t, "import", "photos", folder, "--site", "Quarry", "--server", s.base, "--token", token)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "taken 0 photos known 3 refused 0")
	s.stop(t)
}

func TestAnImportThatWasKilledSendsOnlyWhatIsMissing(t *testing.T) {
	t.Parallel()
	data, folder, photo := quarry(t), t.TempDir(), largePhoto(t)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "large.jpg"), photo, 0o600))
	token, site := clerkToken(t, data)
	s := serve(t, data)
	// It gets through two pieces and loses the signal for good.
	weak := newWeakSignal(t, s.base, 9<<20)
	cmd := program(t, "import", "photos", folder, "--site", "Quarry", "--server", weak.base, "--token", token)
	require.NoError(t, cmd.Start())
	at := s.base + "/api/v1/sites/" + site + "/uploads"
	require.Eventually(t, func() bool {
		return strings.Contains(string(fetch(t, at, token)), fmt.Sprintf(`"offset":%d`, 8<<20))
	}, time.Minute, time.Millisecond)
	require.NoError(t, cmd.Process.Kill())
	_ = cmd.Wait()

	whole := newWeakSignal(t, s.base, 1<<40)
	out := must(t, "import", "photos", folder, "--site", "Quarry", "--server", whole.base, "--token", token)
	require.Contains(t, strings.Join(strings.Fields(out), " "), "taken 1 photos known 0 refused 0")
	require.Less(t, whole.sent.Load(), int64(5<<20), "only the last piece was missing")
	require.Equal(t, 1, wholeOriginals(t, data))
	s.stop(t)
}

func TestTheInstancesQuotaHoldsForAnImportIntoAFolder(t *testing.T) {
	t.Parallel()
	data, folder := quarry(t), t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "large.jpg"), largePhoto(t), 0o600))
	manyPhotos(t, folder, 1)
	cmd := program(t, "import", "photos", folder, "--site", "Quarry", "--data", data)
	cmd.Env = append(cmd.Env, "STOREYROD_SITE_QUOTA=11")
	out, err := cmd.CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "quota_full")
	require.Contains(t, strings.Join(strings.Fields(string(out)), " "), "taken 1 photos known 0 refused 1")
	require.Equal(t, 1, wholeOriginals(t, data))

	token, site := clerkToken(t, data)
	s := serve(t, data, "--site-quota", "11")
	name := base64.StdEncoding.EncodeToString([]byte("large.jpg"))
	res, err := tus(t, token, http.MethodPost, s.base+"/api/v1/sites/"+site+"/uploads", nil,
		"Upload-Length", strconv.Itoa(12<<20), "Upload-Metadata", "filename "+name)
	require.NoError(t, err)
	require.Equal(t, http.StatusRequestEntityTooLarge, res.StatusCode)
	s.stop(t)
}
