package server_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/imaging"
	"storeyrod/models"
	"storeyrod/models/modelstest"
	"storeyrod/server"
)

// testBodyWait is how long a body may stall in tests.
const testBodyWait = 2 * time.Second

const testPassword = "an invented password"

// world is a whole server on a real store, answering real HTTP, with a site and
// a person of every role. Its clock stands still until the test moves it.
type world struct {
	t      testing.TB
	reg    *register.Register
	srv    *server.Server
	http   *httptest.Server
	clock  *clock
	logs   *lockedBuffer
	store  *models.Store
	dir    string // holds originals and derived
	site   defects.Site
	people map[defects.Role]*client
}

// newWorld starts at noon UTC on Monday 1 June 2026.
func newWorld(t testing.TB, store *models.Store) *world {
	t.Helper()
	w := bareWorld(t, store)
	w.site = w.newSite("Larkrow Court", w.people, "ewi-common-practice")
	return w
}

// bareWorld is the same server with nobody and nothing on it.
func bareWorld(t testing.TB, store *models.Store) *world {
	t.Helper()
	w := &world{
		t: t, store: store, logs: &lockedBuffer{},
		clock: &clock{now: time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)}, people: map[defects.Role]*client{},
	}
	dir := t.TempDir()
	w.dir = dir
	blobs, err := evidence.OpenDir(filepath.Join(dir, "originals"), w.clock.Now())
	require.NoError(t, err)
	derived, err := evidence.OpenDerivedDir(filepath.Join(dir, "derived"), w.clock.Now())
	require.NoError(t, err)
	var ids, secrets atomic.Int64
	w.reg = register.New(register.Deps{
		Store: store, Blobs: blobs, Parts: blobs, Derived: derived, Limits: imaging.DefaultLimits(),
		Pool: imaging.NewPool(50_000_000), Clock: w.clock.Now,
		NewID:  func() string { return fmt.Sprintf("00000000-0000-7000-8000-%012d", ids.Add(1)) },
		Secret: func() string { return fmt.Sprintf("secret-of-the-test-%06d", secrets.Add(1)) },
		Hash:   func(p string) (string, error) { return "hashed:" + p, nil },
		Verify: func(p, hash string) (bool, error) { return hash == "hashed:"+p, nil },
		Logger: slog.New(slog.NewTextHandler(w.logs, nil)),
	})
	w.srv, err = server.New(server.Options{
		Register: w.reg, Logger: slog.New(slog.NewTextHandler(w.logs, nil)),
		Version: "test", Ready: store.Ping, BodyWait: testBodyWait, MaxPhoto: imaging.DefaultLimits().MaxBytes,
	})
	require.NoError(t, err)
	w.http = httptest.NewServer(w.srv.Handler())
	t.Cleanup(w.http.Close)
	return w
}

// secondServer is another server over the same database and folders, as another
// process has it.
func (w *world) secondServer() *world {
	w.t.Helper()
	blobs, err := evidence.OpenDir(filepath.Join(w.dir, "originals"), w.clock.Now())
	require.NoError(w.t, err)
	d := w.reg.Deps
	d.Blobs, d.Parts = blobs, blobs
	second := *w
	second.reg = register.New(d)
	second.srv, err = server.New(server.Options{
		Register: second.reg, Logger: d.Logger, Version: "test", Ready: w.store.Ping, BodyWait: testBodyWait, MaxPhoto: d.Limits.MaxBytes,
	})
	require.NoError(w.t, err)
	second.http = httptest.NewServer(second.srv.Handler())
	w.t.Cleanup(second.http.Close)
	return &second
}

// of is a person of another server at this one.
func (w *world) of(c *client) *client {
	out := *c
	out.w = w
	return &out
}

// onBoth runs a test in a world on SQLite and on PostgreSQL.
func onBoth(t *testing.T, fn func(w *world)) {
	t.Helper()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) { fn(newWorld(t, open())) })
}

func onSQLite(t *testing.T) *world {
	t.Helper()
	return newWorld(t, modelstest.Open(t))
}

// newSite makes an invented site with a member of every role.
func (w *world) newSite(name string, people map[defects.Role]*client, schedules ...string) defects.Site {
	w.t.Helper()
	ctx := w.t.Context()
	site, err := w.reg.CreateSite(ctx, register.System("test"), register.NewSite{
		Name: name, TimeZone: "Europe/London",
		Schedules: schedules, Demo: true,
	})
	require.NoError(w.t, err)
	for _, role := range defects.Roles() {
		login := string(role) + "." + strings.ToLower(strings.ReplaceAll(name, " ", "-"))
		people[role] = w.person(login, strings.ToUpper(string(role[:1]))+string(role[1:])+" Example", false)
		require.NoError(w.t, w.reg.SetRole(ctx, register.System("test"), site.ID, login, role, gangOf(role)))
	}
	return site
}

func gangOf(role defects.Role) string {
	if role == defects.Installer || role == defects.Operative {
		return "gang 2"
	}
	return ""
}

// person makes an account and a client that sends its token.
func (w *world) person(login, name string, admin bool) *client {
	w.t.Helper()
	ctx := w.t.Context()
	a, err := w.reg.CreateAccount(ctx, register.System("test"), register.NewAccount{Login: login, Name: name, Password: testPassword, Admin: admin})
	require.NoError(w.t, err)
	secret, _, err := w.reg.CreateToken(ctx, register.Actor{AccountID: a.ID, Name: a.Name, Admin: admin}, "test", 300*24*time.Hour)
	require.NoError(w.t, err)
	return &client{w: w, token: secret, login: login, id: a.ID}
}

func (w *world) as(role defects.Role) *client { return w.people[role] }

// path is an address on the world's site.
func (w *world) path(format string, args ...any) string {
	return "/api/v1/sites/" + w.site.ID + fmt.Sprintf(format, args...)
}

// walls adds a building and answers its elevations' ids by name.
func (w *world) walls() map[string]string {
	w.t.Helper()
	got := w.as(defects.Clerk).send("POST", w.path("/buildings"), "application/geo+json", []byte(terrace)).want(http.StatusOK)
	out := map[string]string{}
	for _, e := range got.list("elevations") {
		out[e["name"].(string)] = e["id"].(string)
	}
	require.Len(w.t, out, 4)
	return out
}

// terrace is an invented building of 20 m by 11 m in open country.
const terrace = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"building":"Terrace A","height_m":6},
"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4001],[-1.5,53.4]]]}}]}`

// client speaks to the world as one person.
type client struct {
	w      *world
	token  string
	login  string
	id     string
	header http.Header
}

// answer is one response, read whole.
type answer struct {
	t      testing.TB
	Status int
	Header http.Header
	Body   []byte
	what   string
}

// with is the same person sending one more header.
func (c *client) with(name, value string) *client {
	out := *c
	out.header = c.header.Clone()
	if out.header == nil {
		out.header = http.Header{}
	}
	out.header.Set(name, value)
	return &out
}

func (c *client) send(method, path, contentType string, content []byte) answer {
	c.w.t.Helper()
	req, err := http.NewRequestWithContext(c.w.t.Context(), method, c.w.http.URL+path, bytes.NewReader(content))
	require.NoError(c.w.t, err)
	if c.token != "" {
		req.Header.Set("Authorization", "Bearer "+c.token)
	}
	if contentType != "" {
		req.Header.Set("Content-Type", contentType)
	}
	for name, values := range c.header {
		req.Header[name] = values
	}
	noFollow := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := noFollow.Do(req)
	require.NoError(c.w.t, err)
	defer res.Body.Close() //nolint:errcheck // read side
	var body io.Reader = res.Body
	if res.Header.Get("Content-Type") == "text/event-stream" {
		body = io.LimitReader(body, 6) // a stream has no end; its first line shows that it is open
	}
	got, err := io.ReadAll(body)
	require.NoError(c.w.t, err)
	return answer{t: c.w.t, Status: res.StatusCode, Header: res.Header, Body: got, what: method + " " + path}
}

func (c *client) get(path string) answer { c.w.t.Helper(); return c.send("GET", path, "", nil) }

// post sends a JSON body made from v.
func (c *client) post(path string, v any) answer { c.w.t.Helper(); return c.json("POST", path, v) }

func (c *client) json(method, path string, v any) answer {
	c.w.t.Helper()
	body, err := json.Marshal(v)
	require.NoError(c.w.t, err)
	return c.send(method, path, "application/json", body)
}

// want holds the status and gives the answer back.
func (a answer) want(status int) answer {
	a.t.Helper()
	require.Equal(a.t, status, a.Status, "%s: %s", a.what, a.Body)
	return a
}

// refused holds status and code of a problem document and gives it back.
func (a answer) refused(status int, code string) server.Problem {
	a.t.Helper()
	a.want(status)
	require.Equal(a.t, "application/problem+json", a.Header.Get("Content-Type"), a.what)
	var p server.Problem
	require.NoError(a.t, json.Unmarshal(a.Body, &p), "%s", a.Body)
	require.Equal(a.t, code, p.Code, "%s: %s", a.what, a.Body)
	require.Equal(a.t, status, p.Status)
	require.NotEmpty(a.t, p.Detail)
	return p
}

// obj reads a JSON object.
func (a answer) obj() map[string]any {
	a.t.Helper()
	var out map[string]any
	require.NoError(a.t, json.Unmarshal(a.Body, &out), "%s: %s", a.what, a.Body)
	return out
}

// list reads the objects of one member of a JSON object.
func (a answer) list(name string) []map[string]any {
	a.t.Helper()
	raw, ok := a.obj()[name].([]any)
	require.True(a.t, ok, "%s has no list %q: %s", a.what, name, a.Body)
	var out []map[string]any
	for _, v := range raw {
		out = append(out, v.(map[string]any))
	}
	return out
}

// str reads a member of a JSON object; dots go down.
func (a answer) str(path string) string {
	a.t.Helper()
	var v any = a.obj()
	for part := range strings.SplitSeq(path, ".") {
		m, ok := v.(map[string]any)
		require.True(a.t, ok, "%s: no %q in %s", a.what, path, a.Body)
		v = m[part]
	}
	if v == nil {
		return ""
	}
	return fmt.Sprint(v)
}

// browser is somebody signed in through the page, with cookies.
func (w *world) browser(role defects.Role) *http.Client {
	w.t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(w.t, err)
	b := &http.Client{Jar: jar}
	res, err := b.PostForm(w.http.URL+"/sign-in", url.Values{"login": {w.people[role].login}, "password": {testPassword}})
	require.NoError(w.t, err)
	defer res.Body.Close() //nolint:errcheck // read side
	require.Equal(w.t, http.StatusOK, res.StatusCode)
	return b
}

// clock stands still until it is moved.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// lockedBuffer collects logs from several goroutines.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}
