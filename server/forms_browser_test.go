package server_test

import (
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestTheCameraAndTheDeviceFeedTheSameQueue(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	b := openTab(t, w, screens[0])
	b.signIn(defects.Operative)
	b.open("/sites/" + w.site.ID + "/take-in")
	require.Equal(t, "false", b.eval(`String(document.querySelector("#f-photo-camera").multiple)`), "a camera gives one at a time")
	require.Empty(t, b.eval(`document.querySelector("#f-photo").getAttribute("capture") ?? ""`), "or old photos could not be chosen")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#f-photo-camera"), []string{b.file("camera.jpg", shot(t, 41, nil))}),
		chromedp.WaitVisible(chromedp.CSS(`#intake-list li:nth-child(1)[data-answer="taken"]`)),
		chromedp.SetUploadFiles(chromedp.CSS("#f-photo"), []string{b.file("one.jpg", shot(t, 42, nil)), b.file("two.jpg", shot(t, 43, nil))}),
		chromedp.WaitVisible(chromedp.CSS(`#intake-list li:nth-child(3)[data-answer="taken"]`)))
	require.Len(t, w.as(defects.Operative).get(w.path("/photos")).want(http.StatusOK).list("items"), 3)
	b.quiet()
}

func TestTheFieldsAQuantityNeedsComeBesideItsValue(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	b := openTab(t, w, screens[0])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/readings/new")
	beside := `[...document.querySelectorAll("#needed [data-need]")].map((e) => e.dataset.need).join(" ")`
	choose := func(quantity string) {
		b.eval(`(() => { const s = document.querySelector("#f-quantity"); s.value = "` + quantity + `"; s.dispatchEvent(new Event("change")); return "" })()`)
	}
	require.Empty(t, b.eval(beside))
	choose("fixing_count_board")
	require.Equal(t, "zone area_m2", b.eval(beside))
	choose("plumb")
	require.Equal(t, "base_length_m", b.eval(beside))
	b.fits()
	b.quiet()
}

func TestARefusalIsWhereTheFocusGoes(t *testing.T) {
	t.Parallel()
	w, _, address := measuredSnag(t)
	b := openTab(t, w, screens[1])
	b.signIn(defects.Installer)
	b.open(address)
	form := b.unfold("offer")
	b.eval(`document.querySelector('form[action$="/offer"]').noValidate = true; ""`)
	b.press(form + "button.main")
	require.Equal(t, "offer-made_good.kind-rework", b.eval(`document.activeElement.id`))
	b.open(address)
	form = b.unfold("offer")
	b.eval(`document.querySelector('form[action$="/offer"]').noValidate = true; document.querySelector('form[action$="/offer"] [name="version"]').value = "1"; ""`)
	b.press(form + "button.main")
	require.Equal(t, "notice", b.eval(`document.activeElement.id`), "no field is at fault")
}
