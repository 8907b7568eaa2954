package server_test

import (
	"bytes"
	"context"
	"encoding/json"
	"image/jpeg"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/server"
)

// taken sends a photo as somebody, makes its copies and answers its id.
func (w *world) taken(who defects.Role, seed uint64, fields url.Values) string {
	w.t.Helper()
	id := w.as(who).photo(shot(w.t, seed, nil), fields).want(http.StatusCreated).str("id")
	w.derive()
	return id
}

func (w *world) derive() {
	w.t.Helper()
	_, err := w.reg.DeriveWaiting(w.t.Context(), 100)
	require.NoError(w.t, err)
}

func TestEveryFormOfAPhotoIsServedWholeInPartAndNotAgain(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		clerk := w.as(defects.Clerk)
		id := w.taken(defects.Clerk, 1, nil)
		seq := clerk.get(w.path("/photos/%s", id)).want(http.StatusOK).str("view_copies_seq")
		for form, keep := range map[string]string{
			"original":          "private, no-cache",
			"preview":           "private, max-age=86400",
			"thumb":             "private, max-age=86400",
			"thumb?v=" + seq:    "private, max-age=31536000, immutable",
			"preview?v=99":      "private, max-age=86400",
			"preview?caption=1": "private, no-cache",
		} {
			path := w.path("/photos/%s/%s", id, form)
			whole := clerk.get(path).want(http.StatusOK)
			require.Equal(t, strconv.Itoa(len(whole.Body)), whole.Header.Get("Content-Length"), form)
			require.Equal(t, "image/jpeg", whole.Header.Get("Content-Type"))
			require.Equal(t, "nosniff", whole.Header.Get("X-Content-Type-Options"))
			require.Equal(t, keep, whole.Header.Get("Cache-Control"), form)
			tag := whole.Header.Get("ETag")
			require.Regexp(t, `^"[0-9a-z-]+"$`, tag, "strong")

			head := clerk.send(http.MethodHead, path, "", nil).want(http.StatusOK)
			require.Empty(t, head.Body)
			require.Equal(t, whole.Header.Get("Content-Length"), head.Header.Get("Content-Length"))
			require.Equal(t, tag, head.Header.Get("ETag"))

			part := clerk.with("Range", "bytes=2-9").with("If-Range", tag).get(path).want(http.StatusPartialContent)
			require.Equal(t, whole.Body[2:10], part.Body)
			require.Equal(t, "bytes 2-9/"+strconv.Itoa(len(whole.Body)), part.Header.Get("Content-Range"))
			require.Equal(t, whole.Body, clerk.with("Range", "bytes=2-9").with("If-Range", `"other"`).get(path).want(http.StatusOK).Body)
			clerk.with("Range", "bytes=99999999-").get(path).want(http.StatusRequestedRangeNotSatisfiable)

			require.Empty(t, clerk.with("If-None-Match", tag).get(path).want(http.StatusNotModified).Body)
			clerk.with("If-None-Match", `"other"`).get(path).want(http.StatusOK)
			if form != "preview?caption=1" {
				since := whole.Header.Get("Last-Modified")
				require.NotEmpty(t, since, form)
				clerk.with("If-Modified-Since", since).get(path).want(http.StatusNotModified)
			}
			if form == "original" {
				require.Equal(t, shot(t, 1, nil), whole.Body, "as received")
				require.Contains(t, whole.Header.Get("Content-Disposition"), "attachment")
			} else {
				require.NotContains(t, string(whole.Body), "Exif")
				require.Empty(t, whole.Header.Get("Content-Disposition"))
			}
		}
		clerk.get(w.path("/photos/%s/thumb?caption=1", id)).refused(http.StatusUnprocessableEntity, "unknown_parameter")
		clerk.get(w.path("/photos/%s/preview?caption=yes", id)).refused(http.StatusUnprocessableEntity, "bad_flag")
	})
}

func TestWhoMayOpenWhichFormOfAPhoto(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	clerks := w.taken(defects.Clerk, 1, nil)
	own := w.taken(defects.Operative, 2, nil)
	gangs := w.taken(defects.Installer, 3, nil) // of the operative's gang, and used by its reading
	w.as(defects.Installer).post(w.path("/readings"), m{
		"quantity": "joint_width_bed", "value": "10", "unit": "mm", "elevation": w.elevation("North"), "bay": 1, "lift": 1, "photos": []string{gangs}, "gang": "gang 2",
	}).want(http.StatusCreated)
	for _, role := range defects.Roles() {
		for id, mayOriginal := range map[string]bool{
			clerks: role.May(defects.ViewOriginal),
			own:    role.May(defects.ViewOriginal) || role == defects.Operative,
			gangs:  role.May(defects.ViewOriginal) || role == defects.Operative || role == defects.Installer,
		} {
			hidden := role == defects.Operative && id == clerks
			for _, form := range []string{"original", "preview", "thumb", "preview?caption=1"} {
				got := w.as(role).get(w.path("/photos/%s/%s", id, form))
				switch {
				case hidden:
					got.refused(http.StatusNotFound, "photo_not_found")
				case form == "original" && !mayOriginal:
					got.refused(http.StatusForbidden, "role_forbidden")
				default:
					got.want(http.StatusOK)
				}
			}
		}
	}
	stranger := w.person("stranger.example", "Stranger Example", false)
	for _, form := range []string{"original", "preview", "thumb", "events", "alike"} {
		path := w.path("/photos/%s/%s", clerks, form)
		if form == "events" {
			path = w.path("/photos/events")
		}
		stranger.get(path).refused(http.StatusNotFound, "site_not_found")
	}
}

func TestACaptionTellsThePlaceAndIsMadeAnewWhenThatChanges(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	clerk := w.as(defects.Clerk)
	id := w.taken(defects.Clerk, 1, url.Values{"elevation": {north}, "bay": {"1"}, "lift": {"1"}})
	path := w.path("/photos/%s/preview", id)
	plain := clerk.get(path).want(http.StatusOK)
	before := clerk.get(path + "?caption=1").want(http.StatusOK)
	small, err := jpeg.DecodeConfig(bytes.NewReader(plain.Body))
	require.NoError(t, err)
	large, err := jpeg.DecodeConfig(bytes.NewReader(before.Body))
	require.NoError(t, err)
	require.Equal(t, small.Width, large.Width)
	require.Greater(t, large.Height, small.Height+20, "a strip below it")
	require.Equal(t, before.Body, clerk.get(path+"?caption=1").want(http.StatusOK).Body, "kept")
	clerk.with("If-Match", `"v1"`).json(http.MethodPatch, w.path("/photos/%s", id), m{"place": m{"elevation_id": north, "bay": 3, "lift": 2}}).want(http.StatusOK)
	after := clerk.with("If-None-Match", before.Header.Get("ETag")).get(path + "?caption=1").want(http.StatusOK)
	require.NotEqual(t, before.Header.Get("ETag"), after.Header.Get("ETag"))
	require.NotEqual(t, before.Body, after.Body)
}

func TestPossiblyTheSamePictureIsListedAndAnOfferOfItIsFlaggedNotRefused(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	clerk, installer := w.as(defects.Clerk), w.as(defects.Installer)
	place := url.Values{"elevation": {north}, "bay": {"1"}, "lift": {"1"}}
	before := w.taken(defects.Clerk, 41, place)
	clerk.photo(shot(t, 42, nil), place).want(http.StatusCreated)
	require.Equal(t, "false", clerk.get(w.path("/photos/%s/alike", w.as(defects.Clerk).photo(shot(t, 43, nil), place).str("id"))).want(http.StatusOK).str("known"))
	clerk.post(w.path("/snags"), m{
		"code": "SL-12", "text": "chipped", "gang": "gang 2", "place": m{"elevation_id": north, "bay": 1, "lift": 1}, "photos": []string{before},
	}).want(http.StatusCreated)
	w.step(w.as(defects.Manager), "instruct", m{"text": "exchange it"})
	w.clock.advance(2 * time.Hour)
	// The same scene saved once more, as if taken now: other bytes, the same picture.
	again := installer.photo(shot(t, 41, w.afterwards), place).want(http.StatusCreated).str("id")
	w.derive()

	alike := clerk.get(w.path("/photos/%s/alike", again)).want(http.StatusOK)
	require.Equal(t, "true", alike.str("known"))
	items := alike.list("items")
	require.Len(t, items, 1)
	require.Equal(t, before, items[0]["id"])
	require.LessOrEqual(t, items[0]["bits"], float64(defects.PossiblySame))
	require.Empty(t, w.as(defects.Operative).get(w.path("/photos/%s/alike", w.taken(defects.Operative, 41_000, nil))).list("items"))

	w.step(installer, "offer", m{"made_good": m{"kind": "rework", "text": "slip exchanged"}, "photos": []string{again}})
	snag := clerk.get(w.path("/snags/1")).want(http.StatusOK)
	require.Equal(t, "offered", snag.str("state"), "nothing is refused for it")
	compare := snag.list("compare")
	require.Len(t, compare, 1)
	require.Equal(t, []any{again, before}, []any{compare[0]["photo_id"], compare[0]["other_photo_id"]})
	page := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/snags/1").want(http.StatusOK)
	page.sound(t)
	require.Contains(t, page.text(), "Compare before accepting")
	photo := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/photos/" + again).want(http.StatusOK)
	photo.sound(t)
	require.Contains(t, photo.text(), "Possibly the same picture")
}

// step takes a step with the world's only snag.
func (w *world) step(who *client, step string, body m) {
	w.t.Helper()
	tag := who.get(w.path("/snags/1")).want(http.StatusOK).Header.Get("ETag")
	who.with("If-Match", tag).post(w.path("/snags/1/%s", step), body).want(http.StatusOK)
}

func TestFailedCopiesSayWhyAndAnotherTryIsOnePress(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	data := shot(t, 7, nil)
	for i := len(data) / 2; i < len(data)-2; i++ {
		data[i] = 0x55
	}
	id := w.as(defects.Clerk).photo(data, nil).want(http.StatusCreated).str("id")
	w.derive()
	got := w.as(defects.Auditor).get(w.path("/photos/%s", id)).want(http.StatusOK)
	require.Equal(t, "failed: damaged_file", got.str("view_copies"))
	require.Contains(t, got.str("view_copies_reason"), "damaged or cut off")
	address := "/sites/" + w.site.ID + "/photos/" + id
	auditor := w.visit(defects.Auditor).get(address).want(http.StatusOK)
	require.Contains(t, auditor.text(), "damaged or cut off")
	require.Contains(t, auditor.text(), "open as received")
	require.NotContains(t, auditor.text(), "Try again")
	require.Contains(t, w.visit(defects.Owner).get("/sites/"+w.site.ID+"/photos").want(http.StatusOK).text(), "No view copy")
	clerk := w.visit(defects.Clerk)
	require.Contains(t, clerk.get(address).text(), "Try again")
	require.Contains(t, clerk.post(address+"/retry", nil).want(http.StatusOK).text(), "being made")
	w.as(defects.Auditor).post(w.path("/photos/%s/retry", id), nil).refused(http.StatusForbidden, "role_forbidden")
}

// listen opens the site's stream and gives its events as they come, until ctx
// ends.
func (w *world) listen(ctx context.Context, who *client, query string) (<-chan string, *http.Response) {
	w.t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, w.http.URL+w.path("/photos/events")+query, nil)
	require.NoError(w.t, err)
	req.Header.Set("Authorization", "Bearer "+who.token)
	res, err := http.DefaultClient.Do(req)
	require.NoError(w.t, err)
	events := make(chan string, 100)
	go func() {
		defer close(events)
		defer res.Body.Close() //nolint:errcheck // read side
		var text strings.Builder
		buf := make([]byte, 4096)
		for {
			n, err := res.Body.Read(buf)
			text.Write(buf[:n])
			for {
				one, rest, whole := strings.Cut(text.String(), "\n\n")
				if !whole {
					break
				}
				text.Reset()
				text.WriteString(rest)
				if strings.Contains(one, "event: ") {
					events <- one
				}
			}
			if err != nil {
				return
			}
		}
	}()
	return events, res
}

// next waits for one event and gives its kind and data.
func (w *world) next(events <-chan string) (kind string, e server.PhotoEvent) {
	w.t.Helper()
	select {
	case text, open := <-events:
		require.True(w.t, open, "the stream ended")
		for line := range strings.SplitSeq(text, "\n") {
			if k, ok := strings.CutPrefix(line, "event: "); ok {
				kind = k
			}
			if data, ok := strings.CutPrefix(line, "data: "); ok {
				require.NoError(w.t, json.Unmarshal([]byte(data), &e))
			}
		}
	case <-time.After(patience):
		w.t.Fatal("no event came")
	}
	return kind, e
}

func TestAStreamTellsWhatWasTakenMadeAndFailed(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		events, res := w.listen(ctx, w.as(defects.Clerk), "")
		require.Equal(t, http.StatusOK, res.StatusCode)
		require.Equal(t, "text/event-stream", res.Header.Get("Content-Type"))
		hidden, _ := w.listen(ctx, w.as(defects.Operative), "")
		id := w.as(defects.Clerk).photo(shot(t, 1, nil), nil).want(http.StatusCreated).str("id")
		kind, e := w.next(events)
		require.Equal(t, []any{"taken", id}, []any{kind, e.Photo})
		w.derive()
		kind, e = w.next(events)
		require.Equal(t, []any{"ready", id}, []any{kind, e.Photo})
		first := e.Seq
		broken := shot(t, 2, nil)
		for i := len(broken) / 2; i < len(broken)-2; i++ {
			broken[i] = 0x55
		}
		lost := w.as(defects.Operative).photo(broken, nil).want(http.StatusCreated).str("id")
		w.derive()
		for kind != "failed" {
			kind, e = w.next(events)
			require.Equal(t, lost, e.Photo)
		}
		require.Contains(t, e.Reason, "damaged")
		for kind = ""; kind != "failed"; {
			kind, e = w.next(hidden)
			require.Equal(t, lost, e.Photo, "an operative hears of his own only")
		}
		later, _ := w.listen(ctx, w.as(defects.Clerk), "?after="+strconv.FormatInt(first-1, 10))
		kind, e = w.next(later)
		require.Equal(t, []any{"ready", id}, []any{kind, e.Photo}, "what was missed is told again")
		w.as(defects.Clerk).get(w.path("/photos/events?after=x")).refused(http.StatusUnprocessableEntity, "bad_number")
	})
}

func TestStreamsAreBoundedAndEndWithTheServer(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	server := w.srv.HTTPServer("")
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var streams []<-chan string
	for range 8 {
		events, res := w.listen(ctx, w.as(defects.Clerk), "")
		require.Equal(t, http.StatusOK, res.StatusCode)
		streams = append(streams, events)
	}
	w.as(defects.Clerk).get(w.path("/photos/events")).refused(http.StatusTooManyRequests, "too_many_streams")
	w.as(defects.Auditor).get(w.path("/photos/events")).want(http.StatusOK)
	require.NoError(t, server.Shutdown(ctx))
	for _, events := range streams {
		select {
		case _, open := <-events:
			require.False(t, open)
		case <-time.After(patience):
			t.Fatal("a stream outlives the server")
		}
	}
}

func TestThePhotoListShowsACopyWhenItIsReady(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	id := w.as(defects.Clerk).photo(shot(t, 1, nil), nil).want(http.StatusCreated).str("id")
	b := openTab(t, w, screens[0])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/photos")
	require.Contains(t, b.says("main"), "1 view copy is being made")
	b.fits()
	w.derive()
	b.do(chromedp.WaitVisible(chromedp.CSS(`.strip img[src*="` + id + `/thumb?v="]`)))
	waited := time.Now().Add(patience)
	for b.eval(`String(document.querySelector(".strip img").naturalWidth)`) != "320" {
		require.True(t, time.Now().Before(waited), "the copy is not shown")
		time.Sleep(50 * time.Millisecond)
	}
	require.NotContains(t, b.says("main"), "being made")
	b.quiet()
}
