package server_test

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestTheDrawingOfASurveyIsAFileOfItsOwn(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	survey := w.as(defects.Clerk).get(w.path("/surveys")).want(http.StatusOK).list("items")[0]["id"].(string)
	address := w.path("/surveys/%s/contours.svg", survey)
	for _, role := range defects.Roles() {
		got := w.as(role).get(address).want(http.StatusOK)
		require.Equal(t, "image/svg+xml", got.Header.Get("Content-Type"), role)
		require.Contains(t, got.Header.Get("Content-Security-Policy"), "default-src 'none'")
	}
	w.person("stranger", "Stranger Example", false).get(address).want(http.StatusNotFound)
	(&client{w: w}).get(address).want(http.StatusUnauthorized)
	w.as(defects.Clerk).get(w.path("/surveys/nothing/contours.svg")).want(http.StatusNotFound)
	w.as(defects.Clerk).get(address + "?size=2").want(http.StatusUnprocessableEntity)

	svg := string(w.as(defects.Clerk).get(address).Body)
	reader := xml.NewDecoder(strings.NewReader(svg))
	var err error
	for ; err == nil; _, err = reader.Token() {
	}
	require.True(t, errors.Is(err, io.EOF), "%v", err)
	require.Contains(t, svg, `class="contour`)

	b := openTab(t, w, screens[1])
	b.signIn(defects.Clerk)
	b.open("/sites/" + w.site.ID + "/surveys/" + survey)
	b.do(chromedp.Navigate(w.http.URL + address))
	require.Equal(t, "none", b.eval(`getComputedStyle(document.querySelector(".contour")).fill`), "its style is allowed")
	b.shoot("contours")
	b.quiet()
}
