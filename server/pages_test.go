package server_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"storeyrod/defects"
)

const inventedLine = "All people, sites, photos and readings here are invented for demonstration."

// othersTests marks an address of tests by another than an operative's gang.
const othersTests = "tests that are not the operative's"

// furnished is a world with something on every page.
func furnished(t *testing.T) (w *world, addresses map[string]string) {
	t.Helper()
	w = onSQLite(t)
	walls := w.walls()
	north := walls["North"]
	clerk, installer := w.as(defects.Clerk), w.as(defects.Installer)
	photo := clerk.send("POST", w.path("/photos?elevation=%s&bay=1&lift=1&name=overview.jpg", north), "image/jpeg", shot(t, 1, nil)).want(http.StatusCreated).str("id")
	reading := clerk.post(w.path("/readings"), m{
		"quantity": "joint_width_bed", "value": "19", "unit": "mm", "elevation": north,
		"bay": 1, "lift": 1, "stage": "SL",
	}).want(http.StatusCreated).str("reading.id")
	clerk.post(w.path("/snags"), m{
		"code": "SL-12", "text": "chipped <b>corner</b>", "photos": []string{photo},
		"place": m{"elevation_id": north, "bay": 2, "lift": 2},
	}).want(http.StatusCreated)
	set := clerk.post(w.path("/sets"), m{"quantity": "pull_out_load", "name": "North, solid brick", "stage": "SV"}).want(http.StatusCreated).str("id")
	tests := map[string]string{}
	for quantity, test := range map[string]m{
		"bond_strength": {"value": "0.084", "unit": "N/mm2", "dolly": "50 mm round", "failure_plane": "insulation"},
		"proof_load":    {"value": "0.6", "unit": "kN", "nominal": "0.75", "failure_plane": "pull-out", "note": "hole too wide"},
	} {
		tests[quantity] = w.testSet(quantity, "North "+quantity, north)
		test["quantity"], test["set"], test["elevation"] = quantity, tests[quantity], north
		clerk.post(w.path("/readings"), test).want(http.StatusCreated)
	}
	clerk.post(w.path("/readings"), m{
		"quantity": "fixing_count_board", "value": "6", "unit": "count", "elevation": north, "x_m": "0.4", "z_m": "1", "zone": "edge", "area_m2": "0.72",
	}).want(http.StatusCreated)
	worked := w.pullOutSet(north)
	installer.post(w.path("/instruments"), m{"name": "taper gauge 2", "kind": "taper gauge", "unit": "mm", "resolution": "0.1"}).want(http.StatusCreated)
	survey := clerk.post(w.path("/surveys"), hollowAt(north)).want(http.StatusCreated).str("id")
	clerk.post(w.path("/weather"), m{"at": "2026-03-31T08:05:00+01:00", "air_c": "4.1", "surface_c": "3.6", "relative_humidity": "90", "elevation": north}).want(http.StatusCreated)
	site := "/sites/" + w.site.ID
	building := clerk.get(w.path("/elevations/%s", north)).str("building_id")
	w.visit(defects.Manager).post(site+"/dates", url.Values{"kind": {"strike"}, "on": {"2026-07-01"}, "elevation": {north}}).want(http.StatusOK)
	return w, map[string]string{
		"/": "", "/me": "", site: "", site + "/elevations/" + north: "", site + "/elevations/" + north + "/edit": "edit the site's geometry and dates",
		site + "/snags": "", site + "/snags/1": "", site + "/snags/new": "raise snags", site + "/snags/new?elevation=" + north: "raise snags",
		site + "/snags/new?reading=" + reading: "raise snags", site + "/photos": "", site + "/photos/" + photo: "",
		site + "/take-in": "add photos", site + "/photo-plan": "", site + "/photo-plan?photo=" + photo: "", site + "/photos/" + photo + "?draw=yes&elevation=" + walls["South"]: "", site + "/elevations/" + north + "/coverage": "",
		site + "/elevations/" + north + "/coverage?stage=BM&worst=A": "", site + "/photo-plan?day=2026-06-01": "", site + "/plan": "", site + "/plan?stage=BM&worst=A&elevation=" + north: "", site + "/storage": "", site + "/settings": "edit the site's geometry and dates", site + "/buildings/new": "edit the site's geometry and dates",
		site + "/buildings/" + building + "/outline": "edit the site's geometry and dates", site + "/elevations/" + north + "/openings": "edit the site's geometry and dates",
		site + "/elevations/" + north + "/copy": "edit the site's geometry and dates", site + "/photos?offered=yes": "", site + "/readings": "", site + "/readings/new": "add readings",
		site + "/readings/new?elevation=" + north: "add readings", site + "/readings/" + reading: "", site + "/statistics": "", site + "/statistics?quantity=joint_width_bed&aql=1.0": "", site + "/sets": "", site + "/sets/" + set: "",
		site + "/surveys": "", site + "/surveys/new": "add readings", site + "/surveys/" + survey + "?target=best-fit&cut_back_mm=2": "",
		site + "/weather": "", site + "/weather/shift?day=2026-03-31&frost_hours=24": "",
		site + "/instruments": "", site + "/limits": "", site + "/limits/ewi-common-practice@1": "", site + "/dates": "", site + "/hold-points": "",
		site + "/sets/" + worked + "?suction_edge=1.2&ordered_edge=6": othersTests, site + "/sets/" + tests["bond_strength"] + "?peak_N=610&dolly=50+mm+round": othersTests,
		site + "/sets/" + tests["proof_load"]: othersTests, site + "/proof-tests?anchors-" + tests["proof_load"] + "=240&action-" + tests["proof_load"] + "=0.5": "",
		site + "/fixings?edge=12&field=8&counted=6&left_m=3&elevation=" + north: "", site + "/fixings": "", site + "/sample": "draw an audit sample",
		site + "/sample?of=cells&by=building&seed=s&scheme=zero&level=II&aql=2.5&risk=Terrace+A+/+North+/+bay+1+/+lift+1&extend=Terrace+A": "draw an audit sample",
		site + "/hold-points?hold_point=H3&elevation=" + north:                                                                             "", site + "/people": "", site + "/log": "read the log", site + "/cautions": "",
	}
}

func TestEveryPageRendersForEveryRoleThatMaySeeIt(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	for _, role := range defects.Roles() {
		v := w.visit(role)
		for address, needs := range addresses {
			p := v.get(address)
			p.what = string(role) + " " + p.what
			hidden := role == defects.Operative && (needs == othersTests || strings.HasSuffix(address, "/snags/1") || strings.Contains(address, "/photos/") || strings.Contains(address, "?photo=") ||
				strings.Contains(address, "reading=") || strings.Contains(address, "/readings/0"))
			switch {
			case hidden:
				p.want(http.StatusNotFound)
			case needs == "" || needs == othersTests || role.May(defects.Permission(needs)):
				p.want(http.StatusOK)
			default:
				p.want(http.StatusForbidden)
				require.Contains(t, p.text(), "this is for:", p.what)
			}
			p.sound(t)
			if address != "/me" { // the person's own page belongs to no site
				require.Contains(t, p.Body, inventedLine, p.what)
			}
		}
	}
}

func TestAStrangersSiteIsNotFoundAndNothingLeaks(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	other := map[defects.Role]*client{}
	w.newSite("Quarry Terrace", other)
	w.people[defects.Clerk] = other[defects.Clerk]
	v := w.visit(defects.Clerk)
	for address := range addresses {
		if !strings.HasPrefix(address, "/sites/") {
			continue
		}
		p := v.get(address).want(http.StatusNotFound)
		p.sound(t)
		require.NotContains(t, p.Body, "Larkrow", p.what)
	}
}

func TestErrorPagesSpeakPlainlyAndLeadBack(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	p := w.visit(defects.Clerk).get(site + "/snags/999").want(http.StatusNotFound)
	p.sound(t)
	require.NotEmpty(t, p.all("a", "href", site), "a way back to the site")
	p = w.visit(defects.Auditor).post(site+"/snags/1/withdraw", url.Values{"version": {"1"}, "text": {"no"}}).want(http.StatusForbidden)
	require.Contains(t, p.text(), "as auditor you may not")
	require.NotContains(t, p.text(), "goroutine")
	p = w.visit(defects.Clerk).get("/no/such/page").want(http.StatusNotFound)
	p.sound(t)
}

func TestAFaultOfOursTellsNothingInternal(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	v := w.visit(defects.Clerk)
	require.NoError(t, w.store.Close())
	p := v.get("/").want(http.StatusInternalServerError)
	require.NotContains(t, strings.ToLower(p.Body), "sql")
	require.NotContains(t, strings.ToLower(p.Body), "closed")
	require.Contains(t, w.logs.String(), "closed", "the cause is in the log")
}

func TestAStaleStepShowsThePresentStateAndKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/snags/1"
	clerk := w.visit(defects.Clerk)
	w.visit(defects.Manager).post(address+"/instruct", url.Values{"version": {"1"}, "due": {"2026-06-20"}}).want(http.StatusOK)
	p := clerk.post(address+"/instruct", url.Values{"version": {"1"}, "text": {"replace the slip in bay 2"}}).want(http.StatusPreconditionFailed)
	require.Contains(t, p.text(), "changed meanwhile")
	require.Contains(t, p.text(), "instructed")
	require.Contains(t, p.text(), "replace the slip in bay 2")
	p.sound(t)
	p = clerk.post(address+"/withdraw", url.Values{"version": {"1"}, "text": {"seen wrongly"}}).want(http.StatusPreconditionFailed)
	form := p.one("form", "action", address+"/withdraw")
	require.Equal(t, "seen wrongly", p.value(form, "text"))
	require.Equal(t, "2", p.value(form, "version"), "sent again it is made against the present state")
}

func TestTypedMarkupStaysText(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	p := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/snags/1")
	require.Contains(t, p.text(), "chipped <b>corner</b>")
	require.Empty(t, p.all("b"))
}

func TestARefusedFormNamesTheFieldAndKeepsTheRest(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	v := w.visit(defects.Clerk)
	p := v.post(site+"/readings", url.Values{"quantity": {"joint_width_bed"}, "value": {"9,5"}, "note": {"by the door"}}).want(http.StatusUnprocessableEntity)
	form := p.one("form", "action", site+"/readings")
	require.Equal(t, "9,5", p.value(form, "value"))
	require.Equal(t, "by the door", p.value(form, "note"))
	require.Equal(t, "joint_width_bed", p.value(form, "quantity"))
	require.NotEmpty(t, p.all("input", "name", "value", "aria-invalid", "true"))
	p.sound(t)
}

func TestAnImplausibleValueIsAskedAboutAndTakenWhenConfirmed(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	v := w.visit(defects.Clerk)
	fields := url.Values{"quantity": {"pull_out_load"}, "value": {"1500"}}
	p := v.post(site+"/readings", fields).want(http.StatusUnprocessableEntity)
	require.Contains(t, p.text(), "1500 N")
	require.Contains(t, p.text(), "Yes, it is as typed")
	p.sound(t)
	fields.Set("confirmed", "yes")
	p = v.post(site+"/readings", fields).want(http.StatusOK)
	require.Contains(t, p.text(), "1500 kN")
}

func TestSignInTakesThePersonWhereHeWantedToGo(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	res, err := http.Get(w.http.URL + "/sites/" + w.site.ID + "/snags")
	require.NoError(t, err)
	p := readPage(t, "snags", res).want(http.StatusOK)
	p.sound(t)
	require.Equal(t, "/sites/"+w.site.ID+"/snags", p.value(p.one("form", "action", "/sign-in"), "next"))
	v := visitor{w, w.browser(defects.Clerk)}
	for _, next := range []string{"https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"} {
		got := v.post("/sign-in", url.Values{"login": {w.as(defects.Clerk).login}, "password": {testPassword}, "next": {next}})
		require.Contains(t, got.text(), "Sites", next)
	}
	bad := v.post("/sign-in", url.Values{"login": {"nobody"}, "password": {"x"}}).want(http.StatusUnauthorized)
	wrong := v.post("/sign-in", url.Values{"login": {w.as(defects.Clerk).login}, "password": {"x"}}).want(http.StatusUnauthorized)
	require.Equal(t, strings.ReplaceAll(bad.text(), "nobody", ""), strings.ReplaceAll(wrong.text(), w.as(defects.Clerk).login, ""))
}

func TestGuessingPasswordsIsSlowedDown(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	v := visitor{w, &http.Client{}}
	for range 10 {
		v.post("/sign-in", url.Values{"login": {"nobody"}, "password": {"x"}}).want(http.StatusUnauthorized)
	}
	v.post("/sign-in", url.Values{"login": {"nobody"}, "password": {"x"}}).want(http.StatusTooManyRequests)
}

func TestStaticFilesAreKeptForEver(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	p := visitor{w, &http.Client{}}.get("/sign-in").want(http.StatusOK)
	style := attrOf(p.one("link", "rel", "stylesheet"), "href")
	got := visitor{w, &http.Client{}}.get(style).want(http.StatusOK)
	require.Contains(t, got.Header.Get("Cache-Control"), "immutable")
	require.Equal(t, "text/css; charset=utf-8", got.Header.Get("Content-Type"))
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, w.http.URL+style, nil)
	require.NoError(t, err)
	req.Header.Set("If-None-Match", got.Header.Get("ETag"))
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusNotModified, res.StatusCode)
	visitor{w, &http.Client{}}.get("/static/000000000000/app.css").want(http.StatusNotFound)
}

func TestPhotosAreTakenInWithoutAScriptAndEachFileIsAnswered(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	body, kind := form(t, "photo", "again.jpg", shot(t, 1, nil), url.Values{"kind": {"context"}})
	p := w.visit(defects.Operative).send(site+"/take-in/photos", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "1 known")
	body, kind = form(t, "photo", "notes.jpg", []byte("no picture at all"), nil)
	p = w.visit(defects.Operative).send(site+"/take-in/photos", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "1 refused")
	body, kind = form(t, "photo", "new.jpg", shot(t, 2, nil), nil)
	p = w.visit(defects.Operative).send(site+"/take-in/photos", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "1 taken")
	p.sound(t)
}

func TestTablesAreTakenInAndEachRowIsAnswered(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	body, kind := form(t, "file", "readings.csv", []byte("quantity,value,unit\njoint_width_bed,10,mm\njoint_width_bed,ten,mm\n"), nil)
	p := w.visit(defects.Clerk).send(site+"/take-in/readings", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "1 taken, 1 refused")
	body, kind = form(t, "file", "walls.geojson", []byte(terrace), nil)
	p = w.visit(defects.Clerk).send(site+"/take-in/buildings", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "1 known")
	body, kind = form(t, "file", "walls.geojson", []byte("{"), nil)
	w.visit(defects.Clerk).send(site+"/take-in/buildings", kind, body).want(http.StatusUnprocessableEntity).sound(t)
}

func TestTheDrawingOfAWallIsEditedAsRowsOfText(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	address := fmt.Sprintf("/sites/%s/elevations/%s", w.site.ID, north)
	v := w.visit(defects.Clerk)
	p := v.get(address + "/edit").want(http.StatusOK)
	edit := p.one("form", "action", address+"/edit")
	fields := url.Values{}
	for _, name := range []string{"version", "name", "height", "base_line", "bays", "lifts"} {
		fields.Set(name, p.value(edit, name))
	}
	fields.Set("openings", "W01; window; 1.2; 0.9; 1.2; 1.5\nD01; door; 4; 0; 1; 2.1")
	p = v.post(address+"/edit", fields).want(http.StatusOK)
	walls := slices.DeleteFunc(p.all("svg"), func(n *html.Node) bool { return !strings.HasPrefix(attrOf(n, "class"), "wall") })
	require.Len(t, walls, 1)
	require.Contains(t, textOf(walls[0]), "W01")
	fields.Set("openings", "W01; window; 1.2; 0.9; 1.2; 1.5")
	v.post(address+"/edit", fields).want(http.StatusPreconditionFailed)
	fields.Set("openings", "W01; window")
	v.post(address+"/edit", fields).want(http.StatusUnprocessableEntity).sound(t)
}

func TestATokenIsShownOnceAndEnds(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	v := w.visit(defects.Clerk)
	p := v.post("/me/tokens", url.Values{"label": {"export job"}, "ttl": {"30"}}).want(http.StatusCreated)
	secret := textOf(p.one("code", "class", "secret"))
	api := &client{w: w, token: secret}
	api.get("/api/v1/sites").want(http.StatusOK)
	p = v.get("/me").want(http.StatusOK)
	require.NotContains(t, p.Body, secret)
	for _, n := range p.all("form") {
		if strings.HasPrefix(attrOf(n, "action"), "/me/keys/") {
			v.post(attrOf(n, "action"), nil).want(http.StatusOK)
		}
	}
	api.get("/api/v1/sites").want(http.StatusUnauthorized)
}
