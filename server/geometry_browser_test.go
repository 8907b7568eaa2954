package server_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// bring scrolls an element into view and gives its middle.
func (b *tab) bring(selector string) spot {
	b.t.Helper()
	b.eval(fmt.Sprintf(`document.querySelector(%q).scrollIntoView({ block: "center", inline: "center" }); ""`, selector))
	return b.middleOf(selector)
}

// ground is the place on the screen of a point of the plan, in metres.
func (b *tab) ground(east, north float64) spot {
	b.t.Helper()
	var at spot
	_, err := fmt.Sscan(b.eval(fmt.Sprintf(`(() => { const s = document.querySelector(".draft-sheet"); s.scrollIntoView({ block: "center" });
		const p = new DOMPoint(%f - Number(s.dataset.west), Number(s.dataset.top) - %f).matrixTransform(s.getScreenCTM()); return p.x + " " + p.y })()`, east, north)), &at.x, &at.y)
	require.NoError(b.t, err)
	return at
}

// tapAt taps with a finger on a phone, else clicks.
func (b *tab) tapAt(at spot) {
	b.t.Helper()
	if b.screen.phone {
		b.touch(input.DispatchTouchEventTypeTouchStart, at)
		b.touch(input.DispatchTouchEventTypeTouchEnd)
		return
	}
	b.do(chromedp.MouseClickXY(at.x, at.y))
}

// dragBy drags by some pixels, in steps, with a finger on a phone.
func (b *tab) dragBy(at spot, dx, dy float64) {
	b.t.Helper()
	const steps = 5
	through := make([]spot, steps)
	for i := range through {
		part := float64(i+1) / steps
		through[i] = spot{at.x + dx*part, at.y + dy*part}
	}
	if !b.screen.phone {
		b.drag(at, through...)
		return
	}
	b.touch(input.DispatchTouchEventTypeTouchStart, at)
	for _, to := range through {
		b.touch(input.DispatchTouchEventTypeTouchMove, to)
	}
	b.touch(input.DispatchTouchEventTypeTouchEnd)
}

func (b *tab) value(selector string) string {
	b.t.Helper()
	return b.eval(fmt.Sprintf(`document.querySelector(%q).value`, selector))
}

// onEachScreen runs a test with a finger on a phone and with a mouse at a desk.
func onEachScreen(t *testing.T, fn func(t *testing.T, w *world, b *tab)) {
	t.Helper()
	for _, sc := range screens {
		t.Run(sc.name, func(t *testing.T) {
			t.Parallel()
			w := onSQLite(t)
			fn(t, w, openTab(t, w, sc))
		})
	}
}

func TestABuildingIsDrawnCornerByCorner(t *testing.T) {
	t.Parallel()
	onEachScreen(t, func(t *testing.T, w *world, b *tab) {
		w.walls()
		b.signIn(defects.Clerk)
		site := "/sites/" + w.site.ID
		b.open(site + "/buildings/new")
		b.fits()
		for _, at := range [][2]float64{{-5, 11}, {6, 11.4}, {5.7, 15}, {-5.2, 15.1}} {
			b.tapAt(b.ground(at[0], at[1]))
		}
		require.Equal(t, "4", b.eval(`String(document.querySelectorAll(".draft-corner").length)`))
		b.tapAt(b.bring(`[data-corner="0"] .draft-corner`))
		require.Contains(t, b.says("[data-say]"), "Closed")
		lines := strings.Fields(b.value("#f-corners"))
		require.Len(t, lines, 8)
		require.Equal(t, lines[1], lines[3], "the first side runs due east")
		require.Equal(t, lines[2], lines[4], "the second one at a right angle to it")
		require.Equal(t, lines[0], lines[6], "and the last corner lies right above the first")

		b.dragBy(b.bring(`[data-corner="2"] .draft-corner`), 12, -9)
		moved := strings.Fields(b.value("#f-corners"))
		require.NotEqual(t, lines[4:6], moved[4:6], "a corner is dragged")
		b.do(chromedp.Click(chromedp.CSS(`[data-act="undo"]`)))
		require.Equal(t, lines, strings.Fields(b.value("#f-corners")))

		b.eval(`document.querySelector('[data-corner="1"]').focus(); ""`)
		b.do(chromedp.KeyEvent(kb.ArrowUp))
		require.NotEqual(t, lines[3], strings.Fields(b.value("#f-corners"))[3], "the arrow keys move it too")
		b.do(chromedp.KeyEvent(kb.ArrowDown))
		require.Equal(t, lines, strings.Fields(b.value("#f-corners")))

		b.set("#f-name", "Annexe")
		b.set("#f-height", "6")
		b.press(`button[value="preview"]`)
		require.Contains(t, b.says(".notice.good"), "Annexe would cover")
		require.Equal(t, lines, strings.Fields(b.value("#f-corners")))
		b.fits()
		b.barriers()
		b.shoot("draw")
		b.press(`button[value="make"]`)
		require.Contains(t, b.says("#notice"), "Added")
		south := w.as(defects.Clerk).get(w.path("/elevations")).want(http.StatusOK)
		found := 0
		for _, e := range south.list("items") {
			if e["building"] == "Annexe" {
				found++
			}
		}
		require.Equal(t, 4, found)
		require.Contains(t, string(w.as(defects.Clerk).get(w.path("/buildings")).Body), `"Annexe","height_m":6`)
		b.quiet()
	})
}

func TestABuildingIsDrawnWithTheKeyboardAlone(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	b := openTab(t, w, screens[1])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/buildings/new")
	for range 4 {
		b.eval(`document.querySelector('[data-act="insert"]').focus(); ""`)
		b.do(chromedp.KeyEvent(kb.Enter))
	}
	require.Equal(t, "4", b.eval(`String(document.querySelectorAll(".draft-corner").length)`))
	require.Equal(t, "button", b.eval(`document.activeElement.getAttribute("role")`), "the new corner has the focus")
	b.do(chromedp.KeyEvent(kb.Delete))
	require.Len(t, strings.Fields(b.value("#f-corners")), 6)
	b.quiet()
}

func TestAnOpeningIsDraggedAndSavedOnce(t *testing.T) {
	t.Parallel()
	onEachScreen(t, func(t *testing.T, w *world, b *tab) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk)
		clerk.with("If-Match", `"v1"`).json("PATCH", w.path("/elevations/%s", north), m{
			"openings": []m{{"name": "W01", "kind": "window", "x_m": "2", "z_m": "1", "width_m": "1.2", "height_m": "1.3"}},
		}).want(http.StatusOK)
		b.signIn(defects.Clerk)
		b.open("/sites/" + w.site.ID + "/elevations/" + north + "/openings")
		b.fits()
		pixel := b.eval(`String(document.querySelector(".openings-sheet").getScreenCTM().a * 1000)`)
		require.NotEmpty(t, pixel)
		b.dragBy(b.bring(`[data-opening="0"] rect`), 40, -12)
		x, z := b.value("#o-x-0"), b.value("#o-z-0")
		require.NotEqual(t, "2.000", x)
		require.NotEqual(t, "1.000", z)
		require.Equal(t, "1.200", b.value("#o-width-0"), "moved, not resized")
		require.Contains(t, b.says("[data-say]"), "W01: x "+x)

		b.dragBy(b.bring(`[data-of="0"][data-corner="2"] .opening-grip`), 24, -10)
		require.Equal(t, x, b.value("#o-x-0"))
		wide := b.value("#o-width-0")
		require.Greater(t, wide, "1.200")
		require.Greater(t, b.value("#o-height-0"), "1.300")
		b.dragBy(b.bring(`[data-opening="0"] rect`), -4000, 0)
		require.Equal(t, "0.000", b.value("#o-x-0"), "it stays within the outline")
		b.eval(`document.querySelector('[data-opening="0"]').focus(); ""`)
		b.do(chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
		require.Equal(t, "0.020", b.value("#o-x-0"))

		b.do(chromedp.Click(chromedp.CSS(`[data-act="add-door"]`)))
		require.Equal(t, "D01", b.value("#o-name-1"))
		b.fits()
		b.barriers()
		b.shoot("openings")
		require.Equal(t, `"v2"`, clerk.get(w.path("/elevations/%s", north)).Header.Get("ETag"), "nothing is kept while it is dragged")
		b.press(".openings-form button.main")
		require.Contains(t, b.says("#notice"), "Saved")
		e := clerk.get(w.path("/elevations/%s", north)).want(http.StatusOK)
		require.Equal(t, `"v3"`, e.Header.Get("ETag"), "one event, however much was dragged")
		openings := e.list("openings")
		require.Len(t, openings, 2)
		require.Equal(t, []any{"0.020", wide}, []any{openings[0]["x_m"], openings[0]["width_m"]})
		b.quiet()
	})
}
