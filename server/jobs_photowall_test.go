package server_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// wide gives a photo an angle of view: 26 mm in landscape.
func wide(c *defects.Capture) {
	focal := 26.0
	c.Focal35MM = &focal
}

func TestAPhotoTellsWhatItTakesInOfItsWall(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk)
		p := clerk.photo(shot(t, 1, wide), nil).want(http.StatusCreated)
		require.Equal(t, "program", p.str("placed_by"))
		path := w.path("/photos/%s", p.str("id"))
		got := clerk.get(path).want(http.StatusOK)
		require.Equal(t, north, got.str("on_wall.elevation_id"))
		require.Equal(t, "true", got.str("on_wall.known"))
		on := got.obj()["on_wall"].(map[string]any)
		last := -1.0
		for _, edge := range []string{"from_m", "middle_m", "to_m"} {
			v := on[edge].(map[string]any)
			low, best, high := v["low"].(float64), v["best"].(float64), v["high"].(float64)
			require.True(t, 0 <= low && low < best && best < high && high <= 20, "%s %v", edge, v)
			require.Greater(t, best, last)
			last = best
		}
		require.InDelta(t, 10, on["middle_m"].(map[string]any)["best"], 1, "it stood before the middle of 20 m")
		require.NotContains(t, on, "bottom_m", "no tilt is stored")

		tilted := clerk.photo(shot(t, 2, func(c *defects.Capture) { tilt := 12.5; wide(c); c.TiltDeg = &tilt }), nil).want(http.StatusCreated)
		got = w.as(defects.Auditor).get(w.path("/photos/%s", tilted.str("id"))).want(http.StatusOK)
		require.Equal(t, "12.5", got.str("capture.tilt_deg"))
		require.Less(t, got.obj()["on_wall"].(map[string]any)["bottom_m"].(map[string]any)["best"], got.obj()["on_wall"].(map[string]any)["top_m"].(map[string]any)["best"])

		headless := clerk.photo(shot(t, 3, func(c *defects.Capture) { wide(c); c.Direction = nil }), url.Values{"elevation": {north}}).want(http.StatusCreated)
		got = clerk.get(w.path("/photos/%s", headless.str("id"))).want(http.StatusOK)
		require.Equal(t, "false", got.str("on_wall.known"))
		require.Contains(t, got.str("on_wall.reason"), "which way the camera looked")

		first := clerk.with("If-Match", `"v1"`).json("PATCH", path, m{"place": m{"x_m": "4.2", "z_m": "2.5"}}).want(http.StatusOK)
		require.Equal(t, "person", first.str("placed_by"))
		require.Equal(t, []string{"4.200", "2.500", "2", "2"}, []string{first.str("place.x_m"), first.str("place.z_m"), first.str("place.bay"), first.str("place.lift")})
		require.Equal(t, "true", first.str("on_wall.known"))
		clerk.with("If-Match", `"v1"`).json("PATCH", path, m{"place": m{"x_m": "5", "z_m": "1"}}).refused(http.StatusPreconditionFailed, "stale")
		list := clerk.get(w.path("/photos")).want(http.StatusOK).list("items")
		require.NotContains(t, list[0], "on_wall", "it is in the answer for one photo")
	})
}

func TestTheSettingsOfASiteSayByWhatPhotosArePlaced(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		clerk := w.as(defects.Clerk)
		before := clerk.get(w.path("")).want(http.StatusOK)
		require.Equal(t, []string{"0.90", "phone"}, []string{before.str("face_threshold"), before.str("accuracy_reading")})
		page, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/settings"
		p := page.get(address).want(http.StatusOK)
		form := p.one("form", "action", address)
		require.Equal(t, "0.90", p.value(form, "face_threshold"))
		sent := url.Values{
			"version": {p.value(form, "version")}, "name": {p.value(form, "name")}, "time_zone": {p.value(form, "time_zone")},
			"face_threshold": {"0.4"}, "accuracy": {"95"},
		}
		page.post(address, sent).want(http.StatusUnprocessableEntity)
		sent.Set("face_threshold", "0.97")
		page.post(address, sent).want(http.StatusOK)
		after := clerk.get(w.path("")).want(http.StatusOK)
		require.Equal(t, []string{"0.97", "95"}, []string{after.str("face_threshold"), after.str("accuracy_reading")})
		require.Contains(t, page.get("/sites/"+w.site.ID+"/photo-plan").want(http.StatusOK).text(), "as holding 95 % of positions")
		clerk.with("If-Match", after.Header.Get("ETag")).json("PATCH", w.path(""), m{"accuracy_reading": "68", "face_threshold": "0.90"}).want(http.StatusOK)
		again := clerk.get(w.path("")).want(http.StatusOK)
		require.Equal(t, []string{"0.90", "68"}, []string{again.str("face_threshold"), again.str("accuracy_reading")})
		w.as(defects.Installer).with("If-Match", again.Header.Get("ETag")).json("PATCH", w.path(""), m{"accuracy_reading": "95"}).refused(http.StatusForbidden, "role_forbidden")
		clerk.with("If-Match", again.Header.Get("ETag")).json("PATCH", w.path(""), m{"face_threshold": "1.2"}).refused(http.StatusUnprocessableEntity, "bad_threshold")
	})
}

func TestAPhotosPageTellsItsMovesInWordsAndRaisesASnagThere(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		id := w.as(defects.Clerk).photo(shot(t, 1, wide), url.Values{"stage": {"SL"}}).want(http.StatusCreated).str("id")
		address := "/sites/" + w.site.ID + "/photos/" + id
		clerk := w.visit(defects.Clerk)
		p := clerk.get(address).want(http.StatusOK)
		p.sound(t)
		require.Contains(t, p.text(), "By its own data the picture takes in about")
		require.Contains(t, p.text(), "the program put it on Terrace A, North")
		require.NotEmpty(t, p.all("g", "class", "photo-stretch"))
		require.Empty(t, p.all("g", "class", "photo-spot"))

		place := func(version string, more url.Values) pageOf {
			more.Set("version", version)
			more.Set("stage", "SL")
			return clerk.post(address+"/place", more)
		}
		p = place("1", url.Values{"elevation": {walls["North"]}, "x": {"4.2"}, "z": {"2.5"}}).want(http.StatusOK)
		p.sound(t)
		require.Contains(t, p.text(), "bay 2, lift 2, 4.200 m from the left end, 2.500 m above the base line – set by a person")
		require.Contains(t, p.text(), "What a person set goes before it.")
		require.NotEmpty(t, p.all("g", "class", "photo-spot"))
		form := p.one("form", "action", address+"/place")
		require.Equal(t, []string{"4.200", "2.500", "", ""}, []string{p.value(form, "x"), p.value(form, "z"), p.value(form, "bay"), p.value(form, "lift")}, "bay and lift follow a new place too")

		p = place("1", url.Values{"elevation": {walls["North"]}, "x": {"7"}, "z": {"1"}}).want(http.StatusPreconditionFailed)
		require.Equal(t, "7", p.value(p.one("form", "action", address+"/place"), "x"), "what was typed is kept")
		p = place("2", url.Values{"elevation": {walls["North"]}, "x": {"7"}, "z": {"1"}}).want(http.StatusOK)
		require.Contains(t, p.text(), "moved from Terrace A, North: bay 2, lift 2, x 4.200 m, z 2.500 m to Terrace A, North: bay 3, lift 1, x 7.000 m, z 1.000 m")
		p = place("3", url.Values{"elevation": {walls["North"]}, "bay": {"5"}, "lift": {"3"}}).want(http.StatusOK)
		require.Contains(t, p.text(), "bay 5, lift 3 – chosen by a person")

		raise := attrOf(p.all("a", "class", "button")[0], "href")
		for _, a := range p.all("a", "class", "button") {
			if textOf(a) == "Raise a snag from this photo" {
				raise = attrOf(a, "href")
			}
		}
		p = clerk.get(raise).want(http.StatusOK)
		form = p.one("form", "action", "/sites/"+w.site.ID+"/snags")
		require.Equal(t, []string{"5", "3"}, []string{p.value(form, "bay"), p.value(form, "lift")})
		require.NotEmpty(t, p.all("input", "name", "photos", "value", id, "checked", ""))
		require.Contains(t, p.Body, `value="`+id+`" checked`)

		drawn := clerk.get(address + "?draw=yes&elevation=" + walls["South"] + "&note=typed").want(http.StatusOK)
		drawn.sound(t)
		require.Contains(t, drawn.text(), "What it takes in of Terrace A, South is not known")
		require.Equal(t, "typed", drawn.value(drawn.one("form", "action", address+"/place"), "note"), "what was typed is kept")
		viewer := w.visit(defects.Auditor).get(address).want(http.StatusOK)
		require.Empty(t, viewer.all("form", "action", address+"/place"))
		require.NotEmpty(t, viewer.all("g", "class", "photo-stretch"))
	})
}

func TestATapOnAPhotosDrawingSetsItsPlace(t *testing.T) {
	t.Parallel()
	for _, sc := range screens {
		t.Run(sc.name, func(t *testing.T) {
			t.Parallel()
			w := onSQLite(t)
			walls := w.walls()
			id := w.as(defects.Clerk).photo(shot(t, 1, wide), nil).want(http.StatusCreated).str("id")
			b := openTab(t, w, sc)
			b.signIn(defects.Clerk)
			b.open("/sites/" + w.site.ID + "/photos/" + id)
			b.fits()
			b.eval(`(() => {
				const svg = document.querySelector(".tap-drawing svg");
				const p = new DOMPoint(6000, Number(svg.closest(".tap-drawing").dataset.height) - 3000).matrixTransform(svg.getScreenCTM());
				svg.dispatchEvent(new MouseEvent("click", { clientX: p.x, clientY: p.y, bubbles: true, cancelable: true }));
				return "";
			})()`)
			require.Regexp(t, `^(5\.9[5-9]|6\.0[0-5])$`, b.eval(`document.querySelector("#place-x").value`))
			require.Regexp(t, `^(2\.9[5-9]|3\.0[0-5])$`, b.eval(`document.querySelector("#place-z").value`))
			require.Regexp(t, `^That is bay [23], lift 2\.$`, b.says("[data-cell]"))
			b.shoot("photo-tapped")
			b.press(`form[action$="/place"] button.main`)
			require.Regexp(t, `bay [23], lift 2, (5\.9|6\.0)\d+ m from the left end`, b.says("main"))
			require.Equal(t, "1", b.eval(`String(document.querySelectorAll(".photo-spot").length)`))

			// By the keyboard alone: numbers, then Enter.
			b.eval(`(() => { const x = document.querySelector("#place-x"); x.focus(); x.select(); return ""; })()`)
			b.do(chromedp.KeyEvent("1.5"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent("0.5"))
			require.Equal(t, "That is bay 1, lift 1.", b.says("[data-cell]"))
			_, err := chromedp.RunResponse(b.ctx, chromedp.KeyEvent(kb.Enter))
			require.NoError(t, err)
			require.Contains(t, b.says("main"), "bay 1, lift 1, 1.500 m from the left end, 0.500 m above the base line")
			require.Contains(t, b.says("main"), "moved from Terrace A, North")

			// Another elevation hides the drawing until it is drawn.
			b.eval(`(() => {
				const s = document.querySelector("#place-elevation");
				s.value = "` + walls["East"] + `";
				s.dispatchEvent(new Event("change", { bubbles: true }));
				return "";
			})()`)
			require.Equal(t, "true", b.eval(`String(document.querySelector(".tap-drawing[data-x]").offsetParent === null)`))
			b.press(`button[name="draw"]`)
			require.Contains(t, b.says("main"), "East")
			require.Equal(t, walls["East"], b.eval(`document.querySelector(".tap-drawing[data-x]").dataset.wall`))
			b.fits()
			b.barriers()
			b.quiet()
		})
	}
}
