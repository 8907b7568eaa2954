package server_test

import (
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models/modelstest"
)

// stranger is a browser nobody has signed in with.
func (w *world) stranger() visitor {
	w.t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(w.t, err)
	return visitor{w, &http.Client{Jar: jar}}
}

func TestAnAdministratorMakesAccountsLinksAndSites(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	admin := w.stranger()
	w.person("boss", "Boss Example", true)
	admin.post("/sign-in", url.Values{"login": {"boss"}, "password": {testPassword}}).want(http.StatusOK)
	admin.get("/accounts").want(http.StatusOK).sound(t)
	admin.post("/accounts", url.Values{"name": {"New Example"}, "login": {"new.person"}}).want(http.StatusOK)
	admin.post("/accounts", url.Values{"name": {"Twice"}, "login": {"new.person"}}).want(http.StatusConflict).sound(t)
	p := admin.post("/accounts/new.person/link", nil).want(http.StatusCreated)
	address, err := url.Parse(textOf(p.one("code", "class", "secret")))
	require.NoError(t, err)
	guest := w.stranger()
	guest.get(address.RequestURI()).want(http.StatusOK).sound(t)
	guest.get(address.RequestURI()).want(http.StatusOK) // looking does not spend it
	secret := url.Values{"secret": {address.Query().Get("secret")}, "password": {"short"}}
	guest.post("/link", secret).want(http.StatusUnprocessableEntity).sound(t)
	secret.Set("password", "another invented one")
	require.Contains(t, guest.post("/link", secret).want(http.StatusOK).text(), "Sites")
	w.stranger().post("/link", secret).want(http.StatusUnauthorized)
	p = admin.post("/sites", url.Values{"name": {"Quarry Terrace"}, "time_zone": {"Europe/London"}, "schedule": {"ewi-common-practice@1"}, "rule": {"four-way"}})
	require.Contains(t, p.want(http.StatusOK).text(), "how a site begins")
	admin.post("/sites", url.Values{"name": {"Elsewhere"}, "time_zone": {"Atlantis"}}).want(http.StatusUnprocessableEntity).sound(t)
	guest.get("/accounts").want(http.StatusForbidden)
	guest.post("/sites", url.Values{"name": {"Mine"}, "time_zone": {"Europe/London"}}).want(http.StatusForbidden)
	admin.post("/accounts/new.person/disable", url.Values{"disabled": {"yes"}}).want(http.StatusOK)
	require.Contains(t, guest.get("/").text(), "Sign in", "locked out at once")
}

func TestAnAdministratorWhoIsNoMemberSeesPeopleAndNoRecord(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	w.person("boss", "Boss Example", true)
	admin := w.stranger()
	admin.post("/sign-in", url.Values{"login": {"boss"}, "password": {testPassword}})
	p := admin.get("/sites/" + w.site.ID).want(http.StatusOK)
	require.Contains(t, p.text(), "Clerk Example")
	for address := range addresses {
		if strings.Contains(address, "/snags") || strings.Contains(address, "/photos") || strings.Contains(address, "/log") {
			require.Contains(t, []int{http.StatusForbidden, http.StatusNotFound}, admin.get(address).Status, address)
		}
	}
}

func TestTheFirstSetUpWorksOnce(t *testing.T) {
	t.Parallel()
	w := bareWorld(t, modelstest.Open(t))
	v := w.stranger()
	require.Contains(t, v.get("/sign-in").text(), "set-up link")
	link, err := w.reg.CreateSetupLink(t.Context())
	require.NoError(t, err)
	v.get("/set-up?link=" + link).want(http.StatusOK).sound(t)
	fields := url.Values{"link": {link}, "name": {"First Example"}, "login": {"first"}, "password": {"short"}}
	p := v.post("/set-up", fields).want(http.StatusUnprocessableEntity)
	require.Equal(t, "First Example", p.value(p.one("form", "action", "/set-up"), "name"))
	fields.Set("password", testPassword)
	require.Contains(t, v.post("/set-up", fields).want(http.StatusOK).text(), "Make a site")
	w.stranger().post("/set-up", fields).want(http.StatusConflict)
}

func TestLimitsAreChosenInOrderByThoseWhoMay(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/limits"
	designer := w.visit(defects.Designer)
	p := designer.get(address).want(http.StatusOK)
	version := p.value(p.one("form", "action", address), "version")
	fields := url.Values{
		"version": {version}, "rule": {"simple"}, "guard": {"1"},
		"schedule1": {"din-18202-t2@1"}, "schedule2": {""}, "schedule3": {"ewi-common-practice@1"},
	}
	p = designer.post(address, fields).want(http.StatusOK)
	inForce := textOf(p.all("ol")[0])
	require.Less(t, strings.Index(inForce, "din-18202-t2"), strings.Index(inForce, "ewi-common-practice"))
	designer.post(address, fields).want(http.StatusPreconditionFailed).sound(t)
	fields.Set("guard", "many")
	designer.post(address, fields).want(http.StatusUnprocessableEntity).sound(t)
	w.visit(defects.Clerk).post(address, fields).want(http.StatusUnprocessableEntity)
	fields.Set("guard", "1")
	w.visit(defects.Clerk).post(address, fields).want(http.StatusForbidden)
	body, kind := form(t, "file", "own.json", []byte(`{"name":"larkrow","version":1,"title":"Larkrow specification","basis":"project",
		"limits":[{"quantity":"joint_width_bed","kind":"fixed","lower":"8","upper":"12"}]}`), nil)
	require.Contains(t, designer.send(address+"/own", kind, body).want(http.StatusOK).text(), "larkrow")
	designer.get(address + "/larkrow@1").want(http.StatusOK).sound(t)
	body, kind = form(t, "file", "own.json", []byte(`{}`), nil)
	designer.send(address+"/own", kind, body).want(http.StatusUnprocessableEntity).sound(t)
}

func TestDatesAreMovedAndTakenAway(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/dates"
	v := w.visit(defects.Manager)
	p := v.get(address).want(http.StatusOK)
	require.Contains(t, p.text(), "1 Jul 2026")
	move := ""
	for _, a := range p.all("a") {
		if textOf(a) == "Move" {
			move = attrOf(a, "href")
		}
	}
	p = v.get(move).want(http.StatusOK)
	edit := p.one("form", "action", address)
	fields := url.Values{"on": {"2026-07-15"}}
	for _, name := range []string{"id", "version", "kind", "stage", "elevation"} {
		fields.Set(name, p.value(edit, name))
	}
	require.Contains(t, v.post(address, fields).want(http.StatusOK).text(), "15 Jul 2026")
	v.post(address, fields).want(http.StatusPreconditionFailed).sound(t)
	v.post(address, url.Values{"kind": {"cover-up"}, "on": {"2026-07-15"}}).want(http.StatusUnprocessableEntity).sound(t)
	require.NotContains(t, v.post(address+"/"+fields.Get("id")+"/remove", nil).want(http.StatusOK).text(), "15 Jul 2026")
}

func TestAHoldPointIsAskedAndAnswered(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/hold-points"
	north := w.elevation("North")
	clerk := w.visit(defects.Clerk)
	p := clerk.get(address + "?hold_point=H9&elevation=" + north).want(http.StatusOK)
	require.Contains(t, p.text(), "Not ready", "a failed reading stands unanswered")
	answer := url.Values{"hold_point": {"H9"}, "elevation": {north}, "outcome": {"released"}}
	p = clerk.post(address, answer).want(http.StatusConflict)
	require.Contains(t, p.text(), "failed and no snag answers it")
	p.sound(t)
	answer.Set("outcome", "refused")
	clerk.post(address, answer).want(http.StatusUnprocessableEntity).sound(t)
	answer.Set("text", "joints too wide in bay 1")
	p = clerk.post(address, answer).want(http.StatusOK)
	require.Contains(t, p.text(), "joints too wide in bay 1")
	refused := 0
	for _, g := range p.all("g") {
		if attrOf(g, "class") == "course-brick refused" {
			refused++
		}
	}
	require.Equal(t, 2, refused, "the brick of H9 on the north wall, and the legend's")
	w.visit(defects.Installer).post(address, answer).want(http.StatusForbidden)
}

func TestRolesAreGivenByTheManager(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/people"
	w.person("second.clerk", "Second Clerk", false)
	manager := w.visit(defects.Manager)
	fields := url.Values{"login": {"second.clerk"}, "role": {"operative"}}
	manager.post(address, fields).want(http.StatusUnprocessableEntity).sound(t)
	fields.Set("role", "clerk")
	require.Contains(t, manager.post(address, fields).want(http.StatusOK).text(), "Second Clerk")
	fields.Set("login", "nobody")
	manager.post(address, fields).want(http.StatusNotFound).sound(t)
	w.visit(defects.Clerk).post(address, fields).want(http.StatusForbidden)
}

func TestAReadingIsWithdrawnWithAReasonAndStays(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	reading := addressWith(addresses, "/readings/0")
	clerk := w.visit(defects.Clerk)
	p := clerk.post(reading+"/withdraw", url.Values{"version": {"1"}}).want(http.StatusUnprocessableEntity)
	p.sound(t)
	p = clerk.post(reading+"/withdraw", url.Values{"version": {"1"}, "reason": {"gauge slipped"}}).want(http.StatusOK)
	require.Contains(t, p.text(), "Withdrawn: gauge slipped")
	p = clerk.get("/sites/" + w.site.ID + "/readings")
	require.Len(t, p.all("tr", "class", "struck"), 1)
}

func TestAPhotoIsPlacedAndItsBytesAreServedWithTagAndRange(t *testing.T) {
	t.Parallel()
	w, addresses := furnished(t)
	photo := addressWith(addresses, "/photos/0")
	clerk := w.visit(defects.Clerk)
	p := clerk.post(photo+"/place", url.Values{"version": {"1"}, "elevation": {w.elevation("North")}, "bay": {"99"}}).want(http.StatusUnprocessableEntity)
	p.sound(t)
	p = clerk.post(photo+"/place", url.Values{"version": {"1"}, "elevation": {w.elevation("North")}, "bay": {"3"}, "lift": {"1"}, "stage": {"SL"}}).want(http.StatusOK)
	require.Contains(t, p.text(), "bay 3, lift 1")
	require.Contains(t, clerk.get(photo+"/thumb").want(http.StatusOK).Header.Get("Content-Type"), "svg", "stands in until it is made")
	_, err := w.reg.DeriveWaiting(t.Context(), 10)
	require.NoError(t, err)
	thumb := clerk.get(photo + "/thumb").want(http.StatusOK)
	require.Equal(t, "image/jpeg", thumb.Header.Get("Content-Type"))
	require.Contains(t, thumb.Header.Get("Cache-Control"), "private")
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, w.http.URL+photo+"/original", nil)
	require.NoError(t, err)
	req.Header.Set("Range", "bytes=0-1")
	res, err := clerk.b.Do(req)
	require.NoError(t, err)
	part := readPage(t, "range", res).want(http.StatusPartialContent)
	require.Equal(t, "\xff\xd8", part.Body)
	req.Header.Del("Range")
	req.Header.Set("If-None-Match", res.Header.Get("ETag"))
	res, err = clerk.b.Do(req)
	require.NoError(t, err)
	readPage(t, "tag", res).want(http.StatusNotModified)
	w.visit(defects.Owner).get(photo + "/original").want(http.StatusForbidden)
	clerk.get(photo + "/elsewhere").want(http.StatusNotFound)
}

func TestPhotosOfAWalkArePlacedByTheirNeighboursOnThePage(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	sender := w.as(defects.Clerk)
	sender.photo(shot(t, 1, nil), nil).want(http.StatusCreated)
	open := sender.photo(shot(t, 2, func(c *defects.Capture) {
		lat, lon, heading := 53.400127, -1.49966, 222.0 // off the corner
		c.Lat, c.Lon, c.Direction = &lat, &lon, &heading
		later := c.TakenUTC.Add(15 * time.Second)
		c.TakenUTC, c.TakenLocal = &later, "2026-06-01T12:30:15"
	}), nil).want(http.StatusCreated)
	require.Empty(t, open.str("placed_by"))

	clerk, site := w.visit(defects.Clerk), "/sites/"+w.site.ID
	require.NotContains(t, clerk.get(site+"/photos").want(http.StatusOK).text(), "by their neighbours")
	require.Contains(t, clerk.get(site+"/photos?unplaced=yes").want(http.StatusOK).text(), "Place them by their neighbours")
	p := clerk.post(site+"/photos?unplaced=yes", nil).want(http.StatusOK)
	p.sound(t)
	require.Contains(t, p.text(), "2 photos were looked at")
	require.Contains(t, p.text(), "1 of them have a place now")
	require.Contains(t, p.text(), "No photo under this choice.")
	again := sender.post(w.path("/photos/place-together"), nil).want(http.StatusOK)
	require.Equal(t, "2", again.str("looked"))
	w.visit(defects.Auditor).post(site+"/photos", nil).want(http.StatusForbidden)
}

func TestTheStepsOfferedAreThoseThatTheRoleMayTake(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/snags/1"
	for role, steps := range map[defects.Role]string{
		defects.Clerk: "instruct withdraw", defects.Manager: "instruct defer concede withdraw", defects.Installer: "concede", defects.Auditor: "",
	} {
		p := w.visit(role).get(address).want(http.StatusOK)
		var offered []string
		for _, form := range p.all("form") {
			if rest, ok := strings.CutPrefix(attrOf(form, "action"), address+"/"); ok {
				offered = append(offered, rest)
			}
		}
		require.Equal(t, steps, strings.Join(offered, " "), role)
		require.Contains(t, p.text(), "this is for:", role)
	}
}

func TestASetShowsItsResultWithTheDesignersCaution(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	id := w.testSet("pull_out_load", "North, solid brick", w.walls()["North"])
	set := "/sites/" + w.site.ID + "/sets/" + id
	clerk := w.visit(defects.Clerk)
	for _, value := range []string{"2.1", "2.3", "1.9"} {
		clerk.post("/sites/"+w.site.ID+"/readings", url.Values{"quantity": {"pull_out_load"}, "value": {value}, "set": {id}}).want(http.StatusOK)
		w.clock.advance(time.Minute)
	}
	p := clerk.get(set).want(http.StatusOK)
	require.Contains(t, p.text(), "competent structural designer")
	require.Contains(t, p.text(), "2.3 kN")
	require.Contains(t, textOf(p.one("div", "id", "short")), "12 tests short: 3 of 15")
	require.Contains(t, p.text(), "Without a design value no number of anchors follows")
	p.sound(t)
}

func TestPagesOfTestsSayWhatIsDueAndKeepWhatCannotBe(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site, north := "/sites/"+w.site.ID, w.elevation("North")
	clerk := w.visit(defects.Clerk)
	worked, bond, proof := w.pullOutSet(north), w.testSet("bond_strength", "bond", north), w.testSet("proof_load", "proof", north)
	p := clerk.get(site + "/sets/" + worked + "?suction_edge=1.4&ordered_edge=6").want(http.StatusOK)
	require.Contains(t, textOf(p.one("section", "id", "anchors")), "ordered is too few", "1.5 × 1.4 / 0.2598 is 9")
	require.Contains(t, textOf(p.one("section", "id", "working")), "0.79 0.84 0.88 0.90 0.92 kN")
	p = clerk.get(site + "/sets/" + worked + "?suction_edge=1,4").want(http.StatusUnprocessableEntity)
	require.NotEmpty(t, p.all("input", "name", "suction_edge", "aria-invalid", "true"))
	p.sound(t)
	p = clerk.get(site + "/sets/" + bond + "?peak_N=610&dolly=50+mm+round&failure_plane=adhesive").want(http.StatusOK)
	require.Contains(t, textOf(p.one("section", "id", "trial")), "0.311 N/mm²")
	clerk.get(attrOf(p.one("a", "class", "button main"), "href")).want(http.StatusOK)
	p = clerk.get(site + "/sets/" + bond + "?peak_N=610&dolly=50").want(http.StatusUnprocessableEntity)
	require.NotEmpty(t, p.all("input", "name", "dolly", "aria-invalid", "true"))
	p = clerk.get(site + "/sets/" + proof + "?anchors-" + proof + "=240").want(http.StatusOK)
	require.Contains(t, p.text(), "6 tests to do. The hold on the fixings stays.")
	p = clerk.get(site + "/proof-tests?anchors-" + proof + "=0").want(http.StatusUnprocessableEntity)
	require.NotEmpty(t, p.all("input", "name", "anchors-"+proof, "aria-invalid", "true"))
	p = clerk.get(site + "/fixings?elevation=" + north + "&edge=12&field=8&left_m=0.4&counted=6").want(http.StatusOK)
	require.Contains(t, textOf(p.one("section", "id", "boards")), "short by 3: 6 of 9")
	require.Contains(t, p.text(), "FX-02")
	clerk.get(site + "/fixings?elevation=" + north + "&edge=12&field=8&counted=6").want(http.StatusUnprocessableEntity).sound(t)
	p = clerk.get(site + "/sample?of=elevations&by=gang&seed=s").want(http.StatusUnprocessableEntity)
	require.NotEmpty(t, p.all("select", "name", "by", "aria-invalid", "true"))
	p = clerk.get(site + "/sample?of=number&lot=20&scheme=discovery&bad=3&seed=s").want(http.StatusOK)
	require.Contains(t, p.text(), "What this sample can miss")
}

func addressWith(addresses map[string]string, part string) string {
	shortest := ""
	for address := range addresses {
		if strings.Contains(address, part) && (shortest == "" || len(address) < len(shortest)) {
			shortest = address
		}
	}
	return shortest
}

// elevation finds an elevation of the world's site by its name.
func (w *world) elevation(name string) string {
	w.t.Helper()
	list, err := w.reg.Elevations(w.t.Context(), register.System("test"), w.site.ID)
	require.NoError(w.t, err)
	for _, e := range list {
		if e.Name == name {
			return e.ID
		}
	}
	require.Fail(w.t, "no elevation "+name)
	return ""
}

// Not parallel: it looks at the machine's folder for temporary files.
func TestNoSpooledFileOutlivesItsRequest(t *testing.T) {
	spool := t.TempDir()
	t.Setenv("TMPDIR", spool)
	w, _ := furnished(t)
	large := append(shot(t, 7, nil), make([]byte, 9<<20)...) // more than is held in memory
	body, kind := form(t, "file", "large.jpg", large, url.Values{"version": {"1"}, "text": {"seen wrongly"}})
	w.visit(defects.Clerk).send("/sites/"+w.site.ID+"/snags/1/instruct", kind, body)
	require.Eventually(t, func() bool {
		left, err := filepath.Glob(filepath.Join(spool, "multipart-*"))
		return err == nil && len(left) == 0
	}, 5*time.Second, 20*time.Millisecond)
}
