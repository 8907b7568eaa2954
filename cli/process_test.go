package cli_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// program runs the real program as a process of its own.
func program(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	file, err := builtProgram()
	require.NoError(t, err)
	cmd := exec.Command(file, args...)
	cmd.Env = append(os.Environ(), "STOREYROD_DATA=", "STOREYROD_SERVER=", "STOREYROD_TOKEN=")
	return cmd
}

// must runs it to its end and answers its output.
func must(t *testing.T, args ...string) string {
	t.Helper()
	out, err := program(t, args...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	return string(out)
}

// ended runs it to its end and answers what run does.
func ended(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errOut bytes.Buffer
	cmd := program(t, args...)
	cmd.Stdout, cmd.Stderr = &out, &errOut
	if err := cmd.Run(); err != nil {
		require.ErrorAs(t, err, new(*exec.ExitError))
	}
	return cmd.ProcessState.ExitCode(), out.String(), errOut.String()
}

// served is a running server.
type served struct {
	cmd   *exec.Cmd
	base  string
	lines chan string
	log   *bytes.Buffer
}

// serve starts the server on a folder and waits until it tells its address.
func serve(t *testing.T, data string, more ...string) *served {
	t.Helper()
	s := &served{lines: make(chan string, 100), log: &bytes.Buffer{}}
	s.cmd = program(t, append([]string{"serve", "--addr", "127.0.0.1:0", "--data", data}, more...)...)
	s.cmd.Stderr = s.log
	out, err := s.cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, s.cmd.Start())
	t.Cleanup(func() { _ = s.cmd.Process.Kill() })
	go func() {
		defer close(s.lines)
		for scan := bufio.NewScanner(out); scan.Scan(); {
			s.lines <- scan.Text()
		}
	}()
	for line := range s.lines {
		if _, at, ok := strings.Cut(line, "http://"); ok {
			s.base = "http://" + strings.TrimSpace(at)
			return s
		}
	}
	require.FailNow(t, "the server told no address", s.log.String())
	return nil
}

func (s *served) get(t *testing.T, path string) (int, string) {
	t.Helper()
	res, err := http.Get(s.base + path)
	require.NoError(t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(text)
}

// stop asks it to end and holds that it ends well.
func (s *served) stop(t *testing.T) {
	t.Helper()
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGTERM))
	require.NoError(t, s.cmd.Wait(), s.log.String())
}

func TestServeTellsItsAddressAndTheSetUpLinkAndStopsWhenAsked(t *testing.T) {
	t.Parallel()
	data := t.TempDir()
	s := serve(t, data)
	code, _ := s.get(t, "/healthz")
	require.Equal(t, http.StatusOK, code)
	code, _ = s.get(t, "/readyz")
	require.Equal(t, http.StatusOK, code)
	code, text := s.get(t, "/metrics")
	require.Equal(t, http.StatusOK, code)
	require.Contains(t, text, "# TYPE")
	link := ""
	for line := range s.lines {
		if strings.Contains(line, "/set-up?link=") {
			link = strings.TrimSpace(line)
			break
		}
	}
	require.True(t, strings.HasPrefix(link, s.base), link)
	code, text = s.get(t, strings.TrimPrefix(link, s.base))
	require.Equal(t, http.StatusOK, code)
	require.Contains(t, text, "<form")
	s.stop(t)

	must(t, "user", "add", "maud", "--data", data)
	again := serve(t, data)
	again.stop(t)
	for line := range again.lines {
		require.NotContains(t, line, "set-up", "there is an account by now")
	}
}

func TestAPortThatIsTakenIsToldBeforeTheDemoIsBuilt(t *testing.T) {
	t.Parallel()
	s := serve(t, t.TempDir())
	data := filepath.Join(t.TempDir(), "demo")
	out, err := program(t, "demo", "--addr", strings.TrimPrefix(s.base, "http://"), "--data", data).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "address already in use")
	require.NoDirExists(t, data)
	s.stop(t)
}

const footprint = `{"type":"Feature","properties":{"building":"Block A","height_m":6},"geometry":{"type":"Polygon",` +
	`"coordinates":[[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4001],[-1.5,53.4]]]}}`

// quarry makes a site in a new folder.
func quarry(t *testing.T, more ...string) (data string) {
	t.Helper()
	data = filepath.Join(t.TempDir(), "d")
	file := filepath.Join(t.TempDir(), "f.geojson")
	require.NoError(t, os.WriteFile(file, []byte(footprint), 0o600))
	must(t, append([]string{"import", "buildings", file, "--site", "Quarry", "--create-site", "Europe/London", "--data", data}, more...)...)
	return data
}

// wholeOriginals counts the originals and holds that each is what its name says.
func wholeOriginals(t *testing.T, data string) (n int) {
	t.Helper()
	err := filepath.WalkDir(filepath.Join(data, "originals"), func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || len(e.Name()) != 64 {
			return err
		}
		text, err := os.ReadFile(path)
		sum := sha256.Sum256(text)
		require.Equal(t, e.Name(), hex.EncodeToString(sum[:]))
		n++
		return err
	})
	require.NoError(t, err)
	return n
}

func countFiles(folder string) (n int) {
	_ = filepath.WalkDir(folder, func(_ string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && len(e.Name()) == 64 {
			n++
		}
		return nil
	})
	return n
}

// clerkToken makes a clerk on the site Quarry, a token for him, and the site's id.
func clerkToken(t *testing.T, data string, more ...string) (token, site string) {
	t.Helper()
	more = append(more, "--data", data)
	must(t, append([]string{"user", "add", "maud"}, more...)...)
	must(t, append([]string{"user", "role", "maud", "--site", "Quarry", "--role", "clerk"}, more...)...)
	out, err := program(t, append([]string{"user", "token", "maud", "--label", "test"}, more...)...).Output()
	require.NoError(t, err)
	var lists []struct {
		Site string `json:"site_id"`
	}
	require.NoError(t, json.Unmarshal([]byte(must(t, append([]string{"export", "snags", "--site", "Quarry", "--format", "json"}, more...)...)), &lists))
	require.NotEmpty(t, lists)
	return strings.TrimSpace(string(out)), lists[0].Site
}

func sendPhoto(ctx context.Context, base, site, token string, text []byte) (id string, err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, base+"/api/v1/sites/"+site+"/photos", bytes.NewReader(text))
	if err != nil {
		return "", err
	}
	req.Header.Set("Authorization", "Bearer "+token)
	req.Header.Set("Content-Type", "image/jpeg")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return "", err
	}
	defer res.Body.Close()
	if res.StatusCode != http.StatusCreated && res.StatusCode != http.StatusOK {
		return "", fmt.Errorf("status %s", res.Status)
	}
	var answer struct{ ID string }
	// The status alone acknowledges; a body that was cut off leaves no id.
	if err := json.NewDecoder(res.Body).Decode(&answer); err != nil {
		return "", err
	}
	return answer.ID, nil
}

func fetch(t *testing.T, address, token string) []byte {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+token)
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, res.StatusCode, "%s", text)
	return text
}
