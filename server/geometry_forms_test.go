package server_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestABuildingIsDrawnByNumbersWithoutAScript(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	clerk, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/buildings/new"
	page := clerk.get(address).want(http.StatusOK)
	require.Contains(t, page.Body, `draft-sheet`)
	form := page.one("form", "action", address)
	lon, lat := page.value(form, "lon"), page.value(form, "lat")
	require.Equal(t, []string{"-1.4998500", "53.4000500"}, []string{lon, lat}, "the middle of what the site has")

	fields := url.Values{
		"name": {"Court"}, "height": {"9"}, "unit": {"metres"}, "lon": {lon}, "lat": {lat}, "do": {"preview"},
		"corners": {"40 0\n70 0\n70 25\n40 25\nCourtyard\n48 8\n48 17\n62 17\n62 8\n"},
	}
	p := clerk.post(address, fields).want(http.StatusOK)
	require.Contains(t, p.text(), "Court would cover 624.0 m² and have a place on the map")
	require.Contains(t, p.text(), "Courtyard North")
	require.Equal(t, strings.Fields(fields.Get("corners")), strings.Fields(p.value(p.one("form", "action", address), "corners")), "what was typed stands")
	p.sound(t)
	require.NotContains(t, string(w.as(defects.Clerk).get(w.path("/buildings")).Body), "Court", "nothing is saved")
	fields.Set("do", "make")
	clerk.post(address, fields).want(http.StatusOK)
	out := string(w.as(defects.Clerk).get(w.path("/buildings")).Body)
	require.Contains(t, out, `"building":"Court","height_m":9.000`)
	require.Contains(t, out, `"name":"Courtyard North","court":1`)

	degrees := url.Values{"name": {"Mapped"}, "height": {"6"}, "unit": {"degrees"}, "corners": {"-1.4990, 53.4000\n-1.4987, 53.4000\n-1.4987, 53.4001"}}
	clerk.post(address, degrees).want(http.StatusOK)
	require.Contains(t, string(w.as(defects.Clerk).get(w.path("/buildings")).Body), "[[[-1.499,53.4],[-1.4987,53.4],[-1.4987,53.4001],[-1.499,53.4]]]")

	turned := url.Values{"name": {"Turned"}, "height": {"6"}, "length": {"20"}, "depth": {"8"}, "turn": {"30.5"}, "east": {"0"}, "north": {"60"}, "lon": {lon}, "lat": {lat}}
	clerk.post(address, turned).want(http.StatusOK)
	require.Contains(t, string(w.as(defects.Clerk).get(w.path("/buildings")).Body), `"bearing_deg":30.5`)
}

func TestAnOutlineThatCannotBeIsRefusedAtItsCorners(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	clerk, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/buildings/new"
	for corners, says := range map[string]string{
		"0 0\n10 5\n10 0\n0 5": "may not cross itself",
		"0 0\n10 0":            "at least three different points",
		"0 0\n10 0\n10 ten":    "is not a number",
		"0 0\n10 0\n10 0\n0 5": "are the same place",
		"0 0\n10 0\n10 9\n0 9\ncourtyard\n8 8\n12 8\n12 12": "does not lie within the outline",
	} {
		p := clerk.post(address, url.Values{"name": {"B"}, "height": {"6"}, "corners": {corners}}).want(http.StatusUnprocessableEntity)
		require.Contains(t, p.text(), says, corners)
		require.NotEmpty(t, p.all("textarea", "aria-invalid", "true"), corners)
		p.sound(t)
	}
	p := clerk.post(address, url.Values{"name": {"B"}, "height": {"6"}, "unit": {"degrees"}, "corners": {"10 91\n10.0003 91\n10.0003 91.0001"}}).want(http.StatusUnprocessableEntity)
	require.Contains(t, p.text(), "is no place")
	p = clerk.post(address, url.Values{"name": {"B"}, "height": {"6"}, "lon": {"-1.5"}, "corners": {"0 0\n10 0\n10 9"}}).want(http.StatusUnprocessableEntity)
	require.Contains(t, p.text(), "leave both out")
}

func TestAnOutlineIsMovedAndItsCornersCorrectedByNumbers(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	walls, rest := w.walls(), w.as(defects.Clerk)
	photo := rest.photo(shot(t, 1, func(c *defects.Capture) { at, lon := 53.4001+9*metreNorth, -1.49985; c.Lat, c.Lon = &at, &lon }), nil).want(http.StatusCreated).str("id")
	building := rest.get(w.path("/elevations/%s", walls["North"])).str("building_id")
	clerk, site := w.visit(defects.Clerk), "/sites/"+w.site.ID
	address := site + "/buildings/" + building + "/outline"
	p := clerk.get(address).want(http.StatusOK)
	forms := p.all("form", "action", address)
	require.Len(t, forms, 2)
	corners := p.value(forms[1], "corners")
	require.Len(t, strings.Fields(corners), 8)

	look := clerk.post(address, url.Values{"version": {"1"}, "do": {"preview-move"}, "east_m": {"5"}, "turn_deg": {"90"}}).want(http.StatusOK)
	require.Contains(t, look.Body, `class="draft-was"`)
	require.Contains(t, look.text(), "Nothing is saved yet")
	look.sound(t)
	require.Contains(t, clerk.post(address, url.Values{"version": {"1"}, "do": {"move"}}).want(http.StatusUnprocessableEntity).text(), "how far to move it")
	moved := clerk.post(address, url.Values{"version": {"1"}, "do": {"move"}, "turn_deg": {"90"}}).want(http.StatusOK)
	require.Contains(t, moved.text(), "These photos would show another wall now")
	require.Contains(t, moved.text(), "offered anew: it more likely shows Terrace A / West")
	require.Contains(t, clerk.post(address, url.Values{"version": {"1"}, "do": {"move"}, "turn_deg": {"1"}}).want(http.StatusPreconditionFailed).text(), "changed meanwhile")

	one := clerk.get(site + "/photos/" + photo).want(http.StatusOK)
	require.Contains(t, one.text(), "Offered anew:")
	offer := one.one("form", "action", site+"/photos/"+photo+"/offer")
	kept := clerk.post(site+"/photos/"+photo+"/offer", url.Values{"version": {one.value(offer, "version")}, "to": {walls["North"]}}).want(http.StatusOK)
	require.NotContains(t, kept.text(), "Offered anew:")
	require.Equal(t, walls["North"], rest.get(w.path("/photos/%s", photo)).str("place.elevation_id"))
	require.Equal(t, "person", rest.get(w.path("/photos/%s", photo)).str("placed_by"))
	w.visit(defects.Auditor).post(site+"/photos/"+photo+"/offer", url.Values{"version": {"3"}, "to": {walls["West"]}}).want(http.StatusForbidden)

	numbers := strings.Fields(corners)
	lines := make([]string, 4)
	for i := range lines {
		lines[i] = numbers[2*i] + " " + numbers[2*i+1]
	}
	fresh := clerk.get(address)
	form := fresh.all("form", "action", address)[1]
	fields := url.Values{"version": {fresh.value(form, "version")}, "lon": {fresh.value(form, "lon")}, "lat": {fresh.value(form, "lat")}, "do": {"save"}, "corners": {strings.Join(lines[:3], "\n")}}
	require.Contains(t, clerk.post(address, fields).want(http.StatusUnprocessableEntity).text(), "must keep its number of corners")
	fields.Set("corners", strings.Join(lines, "\n")) // as it lay at first
	clerk.post(address, fields).want(http.StatusOK)
	require.Equal(t, "0.0", rest.get(w.path("/elevations/%s", walls["North"])).str("bearing_deg"))
}

func TestAnElevationIsTurnedAndPutOnAnotherSideByItsForm(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	walls := w.walls()
	clerk, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/elevations/"+walls["North"]+"/edit"
	p := clerk.get(address).want(http.StatusOK)
	form, side := p.one("form", "action", address), strings.TrimSuffix(address, "edit")+"side"
	require.NotEmpty(t, p.all("form", "action", side))
	require.Contains(t, p.text(), "side 1, 19.955 m long, faces 180°: South")
	fields := url.Values{"version": {"1"}}
	for _, name := range []string{"name", "height", "base_line", "bays", "lifts", "openings"} {
		fields.Set(name, p.value(form, name))
	}
	fields.Set("name", "Garden front")
	fields.Set("bearing", "120")
	require.Contains(t, clerk.post(address, fields).want(http.StatusUnprocessableEntity).text(), "choose another side")
	fields.Set("bearing", "2.5")
	clerk.post(address, fields).want(http.StatusOK)
	clerk.post(side, url.Values{"version": {"2"}, "side": {"nowhere"}}).want(http.StatusUnprocessableEntity).sound(t)
	clerk.post(side, url.Values{"version": {"2"}, "side": {"0/0"}}).want(http.StatusOK)
	e := w.as(defects.Clerk).get(w.path("/elevations/%s", walls["North"]))
	require.Equal(t, []string{"Garden front", "182.5", "0"}, []string{e.str("name"), e.str("bearing_deg"), e.str("edge")})
	require.Equal(t, "0.0", w.as(defects.Clerk).get(w.path("/elevations/%s", walls["South"])).str("bearing_deg"))
}

func TestOpeningsArePlacedByNumbersWithoutAScript(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	clerk, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/elevations/"+north+"/openings"
	row := func(f url.Values, i int, name, kind, x, z, width, height string) {
		for n, v := range map[string]string{"name": name, "kind": kind, "x": x, "z": z, "width": width, "height": height} {
			f.Set(fmt.Sprintf("%s-%d", n, i), v)
		}
	}
	p := clerk.get(address).want(http.StatusOK)
	require.Equal(t, "3", p.value(p.one("form", "action", address), "rows"), "empty rows for new ones")
	fields := url.Values{"version": {"1"}, "rows": {"3"}}
	row(fields, 0, "W01", "window", "1", "1", "1.2", "1.3")
	row(fields, 2, "D01", "door", "2", "0", "0.9", "2.1")
	p = clerk.post(address, fields).want(http.StatusUnprocessableEntity)
	require.Contains(t, p.text(), "D01 overlaps W01")
	require.NotEmpty(t, p.all("input", "name", "x-2"), "at its row")
	p.sound(t)
	fields.Set("x-2", "3")
	clerk.post(address, fields).want(http.StatusOK)
	e := w.as(defects.Clerk).get(w.path("/elevations/%s", north))
	require.Len(t, e.list("openings"), 2)

	fields = url.Values{"version": {"2"}, "rows": {"5"}}
	row(fields, 0, "W01", "window", "1", "1", "1.2", "1.3")
	row(fields, 1, "D01", "door", "3", "0", "0.9", "")
	require.Contains(t, clerk.post(address, fields).want(http.StatusUnprocessableEntity).text(), "give it in metres")
	fields.Set("drop-1", "yes")
	clerk.post(address, fields).want(http.StatusOK)
	require.Len(t, w.as(defects.Clerk).get(w.path("/elevations/%s", north)).list("openings"), 1)
	require.Contains(t, clerk.post(address, fields).want(http.StatusPreconditionFailed).text(), "changed meanwhile")
	w.visit(defects.Auditor).post(address, fields).want(http.StatusForbidden)
}

func TestAnElevationIsCopiedByItsForm(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	walls, rest := w.walls(), w.as(defects.Clerk)
	rest.with("If-Match", `"v1"`).json("PATCH", w.path("/elevations/%s", walls["North"]), m{
		"height_m": "5", "lifts_m": []string{"2.5", "5"},
		"openings": []m{{"name": "D01", "kind": "door", "x_m": "1.0", "z_m": "0", "width_m": "0.9", "height_m": "2.1"}},
	}).want(http.StatusOK)
	rest.post(w.path("/snags"), m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": walls["South"], "x_m": "2", "z_m": "5.5"}}).want(http.StatusCreated)
	clerk, address := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/elevations/"+walls["North"]+"/copy"
	p := clerk.get(address).want(http.StatusOK)
	require.Contains(t, p.text(), "2 elevations of the site are longer or shorter by more than 1 m")
	boxes := p.all("input", "name", "to")
	require.Len(t, boxes, 1, "South alone is about as long")
	require.Contains(t, clerk.post(address, url.Values{"parts": {"openings"}}).want(http.StatusUnprocessableEntity).text(), "choose the elevations to copy to")
	fields := url.Values{"parts": {"outline", "lifts", "openings"}, "mirrored": {"yes"}, "tolerance": {"0.05"}, "to": {walls["South"] + "@1"}}
	p = clerk.post(address, fields).want(http.StatusConflict)
	require.Contains(t, p.text(), "SN-0001 would lie outside")
	require.Contains(t, p.text(), "Copy anyway")
	p.sound(t)
	fields.Set("anyway", "yes")
	clerk.post(address, fields).want(http.StatusOK)
	require.Equal(t, "5.000", rest.get(w.path("/elevations/%s", walls["South"])).str("height_m"))
}
