package server_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// patience is how long one action may take on a busy machine.
const patience = 40 * time.Second

// screen is a size the pages are tried at.
type screen struct {
	name          string
	width, height int64
	phone         bool
}

var screens = []screen{{"phone", 390, 844, true}, {"desk", 1280, 900, false}}

// tab is a person at a real browser: its own profile, so its own cookies.
type tab struct {
	t      testing.TB
	w      *world
	ctx    context.Context
	screen screen
	mu     sync.Mutex
	faults []string // what the console said
}

// openTab starts a browser for one person. Without one the test is skipped,
// but never where CI says that it must run.
func openTab(t *testing.T, w *world, sc screen) *tab {
	t.Helper()
	return openTabOf(t, w, sc)
}

func openTabOf(t testing.TB, w *world, sc screen) *tab {
	t.Helper()
	path := chromium(t)
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(int(sc.width), int(sc.height)),
	}
	alloc, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(done)
	b := &tab{t: t, w: w, ctx: ctx, screen: sc}
	require.NoError(t, chromedp.Listen(ctx, b.listen))
	var how []chromedp.EmulateViewportOption
	if sc.phone {
		how = append(how, chromedp.EmulateMobile, chromedp.EmulateTouch)
	}
	b.do(chromedp.EmulateViewport(sc.width, sc.height, how...))
	return b
}

func chromium(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("no chromium, and CI=true: the pages must be tried in a browser")
	}
	t.Skip("no chromium here")
	return ""
}

// listen collects what the console complains of.
func (b *tab) listen(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.faults = append(b.faults, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		if string(e.Type) == "error" {
			b.faults = append(b.faults, fmt.Sprint(e.Args))
		}
	case *log.EventEntryAdded:
		if string(e.Entry.Level) == "error" {
			b.faults = append(b.faults, e.Entry.Text+" "+e.Entry.URL)
		}
	}
}

func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	require.NoError(b.t, chromedp.Do(ctx, actions...), "on %s", b.where())
}

// eval runs a piece of script and gives its text.
func (b *tab) eval(script string) string {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	got, err := chromedp.Run(ctx, chromedp.Evaluate[string](script))
	require.NoError(b.t, err, script)
	return got
}

func (b *tab) where() string {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	at, _ := chromedp.Run(ctx, chromedp.Location())
	return at
}

func (b *tab) open(path string) { b.t.Helper(); b.do(chromedp.Navigate(b.w.http.URL + path)) }

// press clicks and waits for the page that follows.
func (b *tab) press(selector string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	_, err := chromedp.RunResponse(ctx, chromedp.ScrollIntoView(chromedp.CSS(selector)), chromedp.Click(chromedp.CSS(selector)))
	require.NoError(b.t, err, "press %s on %s", selector, b.where())
}

func (b *tab) set(selector, value string) {
	b.t.Helper()
	b.do(chromedp.SetValue(chromedp.CSS(selector), value))
}

func (b *tab) says(selector string) string {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS(selector)))
	require.NoError(b.t, err, "%s on %s", selector, b.where())
	return text
}

// unfold opens the form of one step.
func (b *tab) unfold(action string) string {
	b.t.Helper()
	form := fmt.Sprintf(`form[action$="/%s"]`, action)
	b.eval(fmt.Sprintf(`document.querySelector('%s').closest('details').open = true; ""`, form))
	return form + " "
}

// signIn uses the keyboard alone: from field to field with Tab, then Enter.
func (b *tab) signIn(role defects.Role) {
	b.t.Helper()
	b.open("/sign-in")
	focused := ""
	for range 10 {
		b.do(chromedp.KeyEvent(kb.Tab))
		focused = b.eval(`document.activeElement.name ?? ""`)
		if focused == "login" {
			break
		}
	}
	require.Equal(b.t, "login", focused, "the login is reached with Tab")
	b.do(chromedp.KeyEvent(b.w.people[role].login), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(testPassword))
	_, err := chromedp.RunResponse(b.ctx, chromedp.KeyEvent(kb.Enter))
	require.NoError(b.t, err)
	require.Contains(b.t, b.says("main"), "Sites")
}

// fits holds that nothing makes a phone scroll sideways, and that what is to
// be tapped is large enough for a gloved thumb.
func (b *tab) fits() {
	b.t.Helper()
	beyond := b.eval(`(() => {
		const w = document.documentElement.clientWidth;
		if (document.documentElement.scrollWidth <= w) return "";
		return [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > w + 1 && !e.closest(".wide, .walls, svg"))
			.map((e) => e.tagName + "." + e.className).slice(0, 5).join(" ");
	})()`)
	require.Empty(b.t, beyond, "beyond the edge of %s", b.where())
	small := b.eval(`[...document.querySelectorAll("main button, main .button, main select, main input:not([type=hidden], [type=checkbox], [type=radio]), main summary")]
		.filter((e) => e.offsetParent && !e.closest(".raw") && e.getBoundingClientRect().height < 47.5).map((e) => e.outerHTML.slice(0, 80)).slice(0, 3).join(" ")`)
	require.Empty(b.t, small, "too small to tap on %s", b.where())
}

// shoot keeps a picture of the page for whoever asks for it.
func (b *tab) shoot(name string) {
	b.t.Helper()
	dir := os.Getenv("STOREYROD_SHOTS")
	if dir == "" {
		return
	}
	b.do(chromedp.Sleep(300 * time.Millisecond))
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+"-"+b.screen.name+".png"), picture, 0o600))
}

func (b *tab) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	require.Empty(b.t, b.faults, "the console is silent")
}

// file writes a photo where a file field can take it from.
func (b *tab) file(name string, data []byte) string {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), name)
	require.NoError(b.t, os.WriteFile(path, data, 0o600))
	return path
}

// shotName makes a file's name from an address.
func shotName(page string) string {
	name := strings.NewReplacer("/", "-", "?", "-", "=", "-", "@", "-", "&", "-").Replace(page)
	return name[:min(len(name), 14)]
}
