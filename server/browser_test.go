package server_test

import (
	"context"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestThreePeopleWalkASnagToItsCloseInABrowser(t *testing.T) {
	t.Parallel()
	for _, sc := range screens {
		t.Run(sc.name, func(t *testing.T) {
			t.Parallel()
			w := onSQLite(t)
			north := w.walls()["North"]
			ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
			var deriver sync.WaitGroup
			deriver.Go(func() { w.reg.RunDeriver(ctx) })
			t.Cleanup(func() { stop(); deriver.Wait() })
			clerk := openTab(t, w, sc)
			clerk.signIn(defects.Clerk)
			clerk.takeIn(north)
			clerk.failAndRaise(north)
			w.clock.advance(time.Hour)
			openTab(t, w, sc).instruct()
			w.clock.advance(26 * time.Hour)
			openTab(t, w, sc).offer()
			w.clock.advance(time.Hour)
			clerk.closeIt(north)
			clerk.quiet()
		})
	}
}

// takeIn takes one photo in by the file field; the script sends it.
func (b *tab) takeIn(north string) {
	b.t.Helper()
	b.open("/sites/" + b.w.site.ID + "/take-in?elevation=" + north)
	b.set("#f-bay", "1")
	b.set("#f-lift", "1")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-photo"), []string{b.file("overview.jpg", shot(b.t, 11, nil))}),
		chromedp.WaitVisible(chromedp.CSS(`#intake-list li[data-answer="taken"] a`)))
	b.fits()
	b.shoot("take-in")
	b.press("#intake-list a")
	require.Contains(b.t, b.says("main"), "overview.jpg")
	b.fits()
	b.shoot("photo")
}

// failAndRaise types a reading that fails and raises a snag from it.
func (b *tab) failAndRaise(north string) {
	b.t.Helper()
	b.open("/sites/" + b.w.site.ID + "/readings/new?elevation=" + north + "&bay=1&lift=1&stage=SL")
	b.set("#f-quantity", "joint_width_bed")
	b.set("#f-value", "19")
	b.fits()
	b.shoot("reading-new")
	b.press("form.stack button.main")
	require.Contains(b.t, b.says("h1"), "fail")
	b.fits()
	b.shoot("reading")
	b.press(`a[href*="snags/new?reading="]`)
	require.Contains(b.t, b.says("main"), "19 mm")
	b.do(chromedp.WaitVisible(chromedp.CSS("#f-code-narrow")))
	b.fits()
	b.shoot("raise")
	b.press("form.stack button.main")
	require.Contains(b.t, b.says("main"), "The snag is raised")
	b.fits()
	b.shoot("snag-raised")
}

// instruct is the manager's part.
func (b *tab) instruct() {
	b.t.Helper()
	b.signIn(defects.Manager)
	b.open("/sites/" + b.w.site.ID + "/snags/1")
	form := b.unfold("instruct")
	b.do(chromedp.SendKeys(chromedp.CSS(form+"textarea"), "rake out and point anew"))
	b.press(form + "button.main")
	require.Contains(b.t, b.says("main"), "instructed, round 1")
	b.quiet()
}

// offer is the installer's part: measure again, take the after-photo, offer.
func (b *tab) offer() {
	b.t.Helper()
	b.signIn(defects.Installer)
	b.open("/sites/" + b.w.site.ID + "/snags/1")
	form := b.unfold("offer")
	b.do(chromedp.Click(chromedp.CSS(form+`input[value="rework"]`)),
		chromedp.SendKeys(chromedp.CSS(form+`textarea[name="made_good.text"]`), "joint raked out, pointed with the approved mortar"))
	b.press(form + `button[value="measure"]`)
	require.Equal(b.t, "value", b.eval(`document.activeElement.name`), "the value is all that is left to type")
	b.do(chromedp.KeyEvent("10"))
	b.press("form.stack button.main")
	require.Contains(b.t, b.eval(`document.querySelector('form[action$="/offer"] select[name="reading"]').selectedOptions[0].text`), "10 mm against 7 to 13 mm, pass, bay 1, lift 1")
	require.Contains(b.t, b.eval(`document.querySelector('textarea[name="made_good.text"]').value`), "approved mortar", "what was typed is still there")
	b.do(chromedp.SetUploadFiles(chromedp.CSS(form+`input[capture]`), []string{b.file("after.jpg", shot(b.t, 12, b.w.afterwards))}))
	b.fits()
	b.shoot("offer")
	b.press(form + "button.main")
	require.Contains(b.t, b.says("main"), "offered, round 1")
	b.quiet()
}

// afterwards makes a photo say that it was taken just now.
func (w *world) afterwards(c *defects.Capture) {
	at := w.clock.Now().Add(-5 * time.Minute)
	c.TakenUTC = &at
	c.TakenLocal, c.UTCOffset = at.In(time.FixedZone("", 3600)).Format("2006-01-02T15:04:05"), "+01:00"
}

func (b *tab) closeIt(north string) {
	b.t.Helper()
	b.open("/sites/" + b.w.site.ID + "/snags/1")
	form := b.unfold("close")
	b.do(chromedp.Click(chromedp.CSS(form + `input[value="on-site"]`)))
	b.press(form + "button.main")
	require.Contains(b.t, b.says("main"), "closed")
	b.fits()
	b.shoot("snag-closed")
	b.open("/sites/" + b.w.site.ID + "/elevations/" + north + "?state=all")
	require.Contains(b.t, b.says("main"), "SN-0001")
	b.fits()
	b.shoot("elevation")
	for _, page := range []string{
		"", "/snags?state=all", "/photos", "/readings", "/sets", "/instruments", "/limits", "/limits/ewi-common-practice@1",
		"/dates", "/hold-points?hold_point=H9&elevation=" + north, "/people", "/log", "/cautions", "/elevations/" + north + "/edit",
	} {
		if page == "/log" || b.screen.phone || os.Getenv("STOREYROD_SHOTS") != "" {
			b.open("/sites/" + b.w.site.ID + page)
			b.fits()
			b.shoot("page" + shotName(page))
		}
	}
}

func TestEveryPageFitsThePhoneAndTheDesk(t *testing.T) {
	t.Parallel()
	for _, sc := range screens {
		t.Run(sc.name, func(t *testing.T) {
			t.Parallel()
			w, addresses := furnished(t)
			_, err := w.reg.DeriveWaiting(t.Context(), 10)
			require.NoError(t, err)
			b := openTab(t, w, sc)
			b.signIn(defects.Clerk)
			var all []string
			for address := range addresses {
				all = append(all, address)
			}
			slices.Sort(all)
			for _, address := range all {
				b.open(address)
				b.fits()
				b.barriers()
				b.shoot("full" + shotName(strings.TrimPrefix(address, "/sites/"+w.site.ID)))
			}
			b.quiet()
		})
	}
}

func TestATapOnTheDrawingSetsThePlace(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	b := openTab(t, w, screens[0])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/snags/new?elevation=" + north + "&bay=2&lift=2")
	// The point 6 m from the left and 3 m up, in the browser's own pixels.
	b.eval(`(() => {
		const svg = document.querySelector(".tap-drawing svg");
		const p = new DOMPoint(6000, Number(svg.closest(".tap-drawing").dataset.height) - 3000).matrixTransform(svg.getScreenCTM());
		svg.dispatchEvent(new MouseEvent("click", { clientX: p.x, clientY: p.y, bubbles: true, cancelable: true }));
		return "";
	})()`)
	require.Regexp(t, `^(5\.9[5-9]|6\.0[0-5])$`, b.eval(`document.querySelector("#f-x").value`))
	require.Regexp(t, `^(2\.9[5-9]|3\.0[0-5])$`, b.eval(`document.querySelector("#f-z").value`))
	require.Empty(t, b.eval(`document.querySelector("#f-bay").value`), "the tap says which bay it is")
	b.do(chromedp.SendKeys(chromedp.CSS("#f-code-narrow"), "sl chipped"))
	require.Equal(t, "SL-12", b.eval(`document.querySelector("#f-code").value`))
	b.do(chromedp.SendKeys(chromedp.CSS("#f-text"), "corner chipped"))
	b.press("form.stack button.main")
	require.Contains(t, b.says("main"), "bay 3 / lift 2")
	b.quiet()
}

func TestARefusedFileSaysWhyAndTheNextOneGoesOn(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	b := openTab(t, w, screens[0])
	b.signIn(defects.Operative)
	b.open("/sites/" + w.site.ID + "/take-in")
	files := []string{b.file("notes.jpg", []byte("no picture at all")), b.file("wall.jpg", shot(t, 5, nil))}
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-photo"), files),
		chromedp.WaitVisible(chromedp.CSS(`#intake-list li[data-answer="taken"]`)))
	require.Contains(t, b.says("#intake-list"), "refused")
	got := w.as(defects.Operative).get(w.path("/photos")).want(http.StatusOK)
	require.Len(t, got.list("items"), 1)
	require.NotContains(t, string(got.Body), "Mozilla")
}
