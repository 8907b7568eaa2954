package server_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

//go:embed testdata/tus/tus.min.js
var tusClient string

//go:embed testdata/tus/README.md
var tusClientNote string

// longShot is a photo with a tail that makes it several pieces long.
func longShot(t *testing.T, seed uint64, size int) []byte {
	t.Helper()
	data := shot(t, seed, nil)
	tail := make([]byte, size-len(data))
	_, _ = rand.NewChaCha8([32]byte{byte(seed)}).Read(tail)
	return append(data, tail...)
}

// weak is the same world behind a connection that lets only some pieces of
// uploads through, counted down to zero; the others are cut off midway.
func (w *world) weak(pieces *atomic.Int32) *world {
	w.t.Helper()
	behind := w.srv.Handler()
	second := *w
	second.http = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/better" { // for a test that runs in the page
			pieces.Store(100)
		}
		if r.Method == http.MethodPatch && pieces.Add(-1) < 0 {
			panic(http.ErrAbortHandler)
		}
		behind.ServeHTTP(rw, r)
	}))
	w.t.Cleanup(second.http.Close)
	return &second
}

func TestAPhotoOnThePageGoesOnAfterALostSignalAndAReload(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	var pieces atomic.Int32
	pieces.Store(1)
	near := w.weak(&pieces)
	b := openTab(t, near, screens[0])
	b.signIn(defects.Clerk)
	data := longShot(t, 3, 5<<20)
	file := b.file("long.jpg", data)
	choose := chromedp.SetUploadFiles(chromedp.CSS("#f-photo"), []string{file})
	b.open("/sites/" + w.site.ID + "/take-in")
	b.set("#f-kind", "context")
	b.do(choose)
	require.Eventually(t, func() bool {
		return b.eval(`document.querySelector("#intake-list .answer")?.textContent ?? ""`) == "waits for a signal"
	}, patience, 50*time.Millisecond)
	mine := w.as(defects.Clerk)
	begun := mine.get(w.path("/uploads")).want(http.StatusOK).list("items")
	require.Len(t, begun, 1)
	require.EqualValues(t, 2<<20, begun[0]["offset"])

	b.open("/sites/" + w.site.ID + "/take-in") // the page is loaded again, without a word of what was chosen
	b.set("#f-kind", "context")
	pieces.Store(2) // just the rest: 5 MB in pieces of two
	b.do(choose, chromedp.WaitVisible(chromedp.CSS(`#intake-list li[data-answer="taken"] a`)))
	require.Equal(t, "0", b.eval(`String(Object.keys(localStorage).filter((k) => k.startsWith("storeyrod.upload")).length)`))
	photos := mine.get(w.path("/photos")).want(http.StatusOK).list("items")
	require.Len(t, photos, 1)
	require.Equal(t, "context", photos[0]["kind"])
	require.Equal(t, data, mine.get(w.path("/photos/%s/original", photos[0]["id"])).want(http.StatusOK).Body)
}

// A client that others wrote, over a connection that drops.
func TestAnIndependentClientUploadsAPhoto(t *testing.T) {
	t.Parallel()
	sum := sha256.Sum256([]byte(tusClient))
	require.Contains(t, tusClientNote, hex.EncodeToString(sum[:]))
	w := onSQLite(t)
	var pieces atomic.Int32
	pieces.Store(2)
	near := w.weak(&pieces)
	b := openTab(t, near, screens[1])
	b.signIn(defects.Clerk)
	data := longShot(t, 4, 3<<20)
	b.open("/")
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	_, err := chromedp.Run(ctx, chromedp.Evaluate[bool](tusClient+"; true"))
	require.NoError(t, err)
	said, err := chromedp.Run(ctx, chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const file = new File([bytes], "theirs.jpg", { type: "image/jpeg" });
		const events = [];
		const send = () => new Promise((done) => {
			const upload = new tus.Upload(file, {
				endpoint: %q, chunkSize: 1 << 20, retryDelays: null,
				metadata: { filename: file.name, filetype: file.type, kind: "detail" },
				onError: (e) => { events.push("failed"); done(upload); },
				onSuccess: () => { events.push("done"); done(upload); },
			});
			upload.findPreviousUploads().then((known) => {
				if (known.length) { events.push("resumed"); upload.resumeFromPreviousUpload(known[0]); }
				upload.start();
			});
		});
		await send();
		await fetch("/better");
		const upload = await send();
		return events.join(" ") + " " + upload.url;
	})()`, base64.StdEncoding.EncodeToString(data), near.http.URL+w.path("/uploads")), chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	var failed, resumed, done, at string
	_, err = fmt.Sscan(said, &failed, &resumed, &done, &at)
	require.NoError(t, err, said)
	require.Equal(t, "failed resumed done", failed+" "+resumed+" "+done)
	photos := w.as(defects.Clerk).get(w.path("/photos")).want(http.StatusOK).list("items")
	require.Len(t, photos, 1)
	require.Equal(t, "theirs.jpg", photos[0]["file_name"])
	got := w.as(defects.Clerk).get(w.path("/photos/%s/original", photos[0]["id"])).want(http.StatusOK).Body
	require.True(t, bytes.Equal(data, got))
}
