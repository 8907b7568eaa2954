package server_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// times says by how much the drawing is enlarged once it has come to rest.
func (b *tab) times() float64 {
	b.t.Helper()
	b.still()
	return b.number(`parseFloat(document.querySelector(".zoom-said").textContent)`)
}

// still waits until nothing of the drawing or the page moves any more, however
// slow the machine is just now.
func (b *tab) still() {
	b.t.Helper()
	b.do(chromedp.Sleep(300 * time.Millisecond)) // a glide or the last turn of the wheel may only be about to begin
	before := ""
	for same, tries := 0, 0; same < 3; tries++ {
		require.Less(b.t, tries, 300, "the drawing does not come to rest: %s", before)
		b.do(chromedp.Sleep(60 * time.Millisecond))
		now := b.eval(`(() => { const box = document.querySelector(".tap-drawing"), sheet = box.querySelector(".sheet");
			return [sheet.style.willChange, sheet.style.transform, box.scrollLeft, box.scrollTop, scrollY].join(" "); })()`)
		if same++; now != before || strings.HasPrefix(now, "transform ") { // willChange: under way
			before, same = now, 0
		}
	}
}

// wallAt is the point of the wall, in millimetres, that lies at a place of the screen.
func (b *tab) wallAt(at spot) (x, y float64) {
	b.t.Helper()
	point := fmt.Sprintf(`new DOMPoint(%g, %g).matrixTransform(document.querySelector(".tap-drawing svg").getScreenCTM().inverse())`, at.x, at.y)
	return b.number(point + ".x"), b.number(point + ".y")
}

func TestADrawingIsEnlargedByWheelMouseAndKeys(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	south := w.strewnWall(40)
	b := openTab(t, w, screens[1])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/elevations/" + south)
	b.eval(`document.querySelector(".tap-drawing").scrollIntoView(); ""`)
	at := b.middleOf(".tap-drawing")
	at.x += 200
	require.InDelta(t, 1, b.times(), 0)

	top := b.number(`scrollY`)
	b.wheel(at, -30, 0)
	require.InDelta(t, 1, b.times(), 0, "without Ctrl the wheel is the page's")
	b.eval(fmt.Sprintf(`scrollTo(0, %g); ""`, top))
	at = b.middleOf(".tap-drawing")
	x, y := b.wallAt(at)
	for range 6 {
		b.wheel(at, -60, ctrlHeld)
	}
	require.InDelta(t, 6, b.times(), 0.1, "e to the power of 360/200")
	x2, y2 := b.wallAt(at)
	require.InDelta(t, x, x2, 40, "what is under the pointer stays there")
	require.InDelta(t, y, y2, 40)

	b.drag(at, spot{at.x - 100, at.y}, spot{at.x - 300, at.y})
	b.still()
	x3, _ := b.wallAt(at)
	scale := b.number(`document.querySelector(".tap-drawing svg").getScreenCTM().a`)
	require.InDelta(t, x2+300/scale, x3, 60, "the wall comes along with the mouse")
	require.NotContains(t, b.where(), "/snags/", "a drag that ends on a snag opens nothing")

	b.do(chromedp.Focus(chromedp.CSS(".tap-drawing")))
	b.do(chromedp.KeyEvent("0"))
	require.InDelta(t, b.number(`Math.min(1, document.querySelector(".tap-drawing").clientWidth / document.querySelector(".tap-drawing svg").clientWidth)`), b.times(), 0.06)
	for range 3 {
		b.do(chromedp.KeyEvent("+"))
		b.still()
	}
	grown := b.times()
	require.Greater(t, grown, 2.0)
	left := b.number(`document.querySelector(".tap-drawing").scrollLeft`)
	b.do(chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	b.still()
	require.Greater(t, b.number(`document.querySelector(".tap-drawing").scrollLeft`), left)
	b.do(chromedp.KeyEvent("-"))
	require.Less(t, b.times(), grown)
	b.do(chromedp.Click(chromedp.CSS(`[aria-label="Larger"]`)))
	require.InDelta(t, grown, b.times(), 0.1)
	b.quiet()
}

func TestASnagReachedByTabIsBroughtIntoView(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	south := w.strewnWall(12)
	b := openTab(t, w, screens[1])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/elevations/" + south)
	b.do(chromedp.Focus(chromedp.CSS(".tap-drawing")))
	for range 4 {
		b.do(chromedp.KeyEvent("+"))
		b.still()
	}
	require.Greater(t, b.times(), 4.0)
	for range 12 {
		b.do(chromedp.KeyEvent(kb.Tab))
		b.still()
		require.Equal(t, "a", b.eval(`document.activeElement.tagName`))
		require.Equal(t, "true", b.eval(`(() => {
			const brick = document.activeElement.querySelector(".snag-brick").getBoundingClientRect();
			const box = document.querySelector(".tap-drawing").getBoundingClientRect();
			return String(brick.left >= box.left - 1 && brick.right <= box.right + 1 && brick.top >= box.top - 1 && brick.bottom <= box.bottom + 1
				&& brick.top >= 0 && brick.bottom <= innerHeight);
		})()`), "%s", b.eval(`document.activeElement.id`))
	}
	b.quiet()
}

func TestTwoFingersEnlargeADrawingAndOneMovesThePage(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	south := w.strewnWall(40)
	b := openTab(t, w, screens[0])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/elevations/" + south)
	at := b.middleOf(".tap-drawing")
	x, _ := b.wallAt(at)
	apart := func(by float64) []spot { return []spot{{at.x - by, at.y}, {at.x + by, at.y}} }
	b.touch("touchStart", apart(20)...)
	for by := 25.0; by <= 100; by += 5 {
		b.touch("touchMove", apart(by)...)
	}
	b.touch("touchEnd")
	require.InDelta(t, 5, b.times(), 0.1)
	x2, _ := b.wallAt(at)
	require.InDelta(t, x, x2, 100, "what is between the fingers stays there")
	require.Equal(t, "1", b.eval(`String(visualViewport.scale)`), "the page itself is not enlarged")
	b.do(chromedp.Click(chromedp.CSS(".zoom-bar button:nth-of-type(3)")))
	require.Less(t, b.times(), 1.0, "the whole wall is seen")
	require.Equal(t, "true", b.eval(`String(document.querySelector(".tap-drawing svg").getBoundingClientRect().width <= innerWidth)`))

	at = b.middleOf(".tap-drawing")
	b.touch("touchStart", at)
	for dy := 10.0; dy <= 200; dy += 10 {
		b.touch("touchMove", spot{at.x, at.y - dy})
	}
	b.touch("touchEnd")
	b.still()
	require.Greater(t, b.number("scrollY"), 100.0)
	b.fits()
	b.quiet()
}

func TestAnEnlargedDrawingIsStillTappedAtTheRightPlace(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	b := openTab(t, w, screens[1])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/snags/new?elevation=" + north)
	b.do(chromedp.Click(chromedp.CSS(`[aria-label="Larger"]`)))
	b.still()
	at := b.middleOf(".tap-drawing")
	x, y := b.wallAt(at)
	b.do(chromedp.MouseClickXY(at.x, at.y))
	require.InDelta(t, x/1000, b.number(`document.querySelector("#f-x").value`), 0.03)
	height := b.number(`document.querySelector(".tap-drawing").dataset.height`)
	require.InDelta(t, (height-y)/1000, b.number(`document.querySelector("#f-z").value`), 0.03)
	b.quiet()
}

func TestADrawingIsShadedByAChosenSurvey(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	north := w.elevation("North")
	page := "/sites/" + w.site.ID + "/elevations/" + north
	require.Contains(t, addresses, page)
	survey := w.as(defects.Clerk).get(w.path("/surveys")).want(http.StatusOK).list("items")[0]["id"].(string)
	v := w.visit(defects.Clerk)
	plain := v.get(page).want(http.StatusOK)
	require.Empty(t, plain.all("path", "class", "shade"))
	require.NotEmpty(t, plain.all("select", "name", "survey"))
	shaded := v.get(page + "?survey=" + survey + "&state=all").want(http.StatusOK)
	shaded.sound(t)
	require.NotEmpty(t, shaded.all("path", "class", "shade"))
	require.Contains(t, shaded.text(), "in front of (+) or behind (−) the plane it was measured from")
	require.Contains(t, shaded.text(), "Furthest behind: −")
	fitted := v.get(page + "?survey=" + survey + "&against=plane").want(http.StatusOK)
	require.Contains(t, fitted.text(), "behind (−) its best-fit plane")
	v.get(page + "?survey=nothing").want(http.StatusNotFound).sound(t)
	v.get("/sites/" + w.site.ID + "/elevations/" + w.elevation("South") + "?" + url.Values{"survey": {survey}}.Encode()).want(http.StatusNotFound)
	for _, sc := range screens {
		b := openTab(t, w, sc)
		b.signIn(defects.Clerk)
		b.open(page + "?survey=" + survey)
		b.eval(`document.querySelectorAll("main details").forEach((d) => { d.open = true }); ""`)
		b.fits()
		b.barriers()
		b.quiet()
	}
}
