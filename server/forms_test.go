package server_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"storeyrod/defects"
)

// upload is a form with files, as a browser sends it.
func upload(t *testing.T, fields url.Values, files map[string][]byte) (string, []byte) {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, values := range fields {
		for _, v := range values {
			require.NoError(t, w.WriteField(name, v))
		}
	}
	for name, data := range files {
		part, err := w.CreateFormFile("file", name)
		require.NoError(t, err)
		_, err = part.Write(data)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return w.FormDataContentType(), body.Bytes()
}

// tickedIn are the photos ticked in a form.
func tickedIn(form *html.Node) []string {
	var out []string
	for n := range form.Descendants() {
		if n.Data != "input" || attrOf(n, "name") != "photos" {
			continue
		}
		for _, a := range n.Attr {
			if a.Key == "checked" {
				out = append(out, attrOf(n, "value"))
			}
		}
	}
	return out
}

// measuredSnag is a snag from a failed joint in bay 1, lift 1, instructed.
func measuredSnag(t *testing.T) (w *world, north, address string) {
	t.Helper()
	w = onSQLite(t)
	north = w.walls()["North"]
	reading := w.as(defects.Clerk).post(w.path("/readings"), m{
		"quantity": "joint_width_bed", "value": "19", "unit": "mm", "elevation": north, "bay": 1, "lift": 1, "stage": "SL",
	}).want(http.StatusCreated).str("reading.id")
	site := "/sites/" + w.site.ID
	w.visit(defects.Clerk).post(site+"/snags", url.Values{"elevation": {north}, "reading": {reading}, "code": {"SL-07"}, "bay": {"1"}, "lift": {"1"}}).want(http.StatusOK)
	address = site + "/snags/1"
	w.clock.advance(time.Hour)
	w.visit(defects.Manager).post(address+"/instruct", url.Values{"version": {"1"}, "text": {"rake out and point anew"}}).want(http.StatusOK)
	w.clock.advance(2 * time.Hour)
	return w, north, address
}

func TestARefusedPhotoIsUntickedAndDoesNotBlockTheNextTry(t *testing.T) {
	t.Parallel()
	w, north, address := measuredSnag(t)
	reading := w.as(defects.Installer).post(w.path("/readings"), m{
		"quantity": "joint_width_bed", "value": "10", "unit": "mm", "elevation": north, "bay": 1, "lift": 1,
	}).want(http.StatusCreated).str("reading.id")
	installer := w.visit(defects.Installer)
	fields := url.Values{
		"version": {"2"}, "made_good.kind": {"rework"}, "made_good.text": {"raked out and pointed"}, "reading": {reading},
	}
	old := shot(t, 21, func(c *defects.Capture) {
		c.TakenLocal, c.UTCOffset = "2026-05-01T09:00:00", "+01:00"
		at := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
		c.TakenUTC = &at
	})
	kind, body := upload(t, fields, map[string][]byte{"old.jpg": old, "good.jpg": shot(t, 22, w.afterwards)})
	p := installer.send(address+"/offer", kind, body)
	require.Contains(t, []int{http.StatusConflict, http.StatusUnprocessableEntity}, p.Status)
	p.sound(t)
	form := p.one("form", "action", address+"/offer")
	kept := tickedIn(form)
	require.Len(t, kept, 1, "the refused one is unticked, the good one kept")
	notice := textOf(p.one("div", "id", "notice"))
	require.Contains(t, notice, "old.jpg, taken 1 May 2026, 09:00")
	require.Contains(t, notice, "good.jpg", "what is taken in already is named")
	require.NotContains(t, notice, "Photos 0")
	require.NotRegexp(t, `\d{4}-\d\d-\d\dT`, p.text(), "times are told in the site's zone, in words")
	require.NotEmpty(t, p.all("input", "id", "offer-file", "aria-invalid", "true"))
	fields["photos"] = kept
	fields.Set("version", p.value(form, "version"))
	kind, body = upload(t, fields, map[string][]byte{"more.jpg": shot(t, 23, w.afterwards)})
	require.Contains(t, installer.send(address+"/offer", kind, body).want(http.StatusOK).text(), "offered , round 1")
}

func TestAFileThatIsNoPictureDoesNotKeepTheOthersOut(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	site := "/sites/" + w.site.ID
	fields := url.Values{"elevation": {north}, "code": {"SL-12"}, "bay": {"1"}, "lift": {"1"}}
	kind, body := upload(t, fields, map[string][]byte{"notes.jpg": []byte("no picture"), "wall.jpg": shot(t, 31, nil)})
	p := w.visit(defects.Clerk).send(site+"/snags", kind, body)
	require.GreaterOrEqual(t, p.Status, 400)
	notice := textOf(p.one("div", "id", "notice"))
	require.Contains(t, notice, "notes.jpg:")
	require.Contains(t, notice, "wall.jpg, ")
	require.Len(t, tickedIn(p.one("form", "action", site+"/snags")), 1)
}

func TestAnOffersReadingIsMeasuredOnTheWayAndTheRestIsKept(t *testing.T) {
	t.Parallel()
	w, north, address := measuredSnag(t)
	for _, rd := range []m{
		{"quantity": "joint_width_bed", "value": "10", "bay": 5, "lift": 1},     // elsewhere
		{"quantity": "joint_width_perpend", "value": "10", "bay": 1, "lift": 1}, // another quantity
	} {
		rd["unit"], rd["elevation"] = "mm", north
		w.as(defects.Installer).post(w.path("/readings"), rd).want(http.StatusCreated)
	}
	installer := w.visit(defects.Installer)
	p := installer.get(address).want(http.StatusOK)
	choices := func(p pageOf) []*html.Node {
		var out []*html.Node
		for n := range p.one("form", "action", address+"/offer").Descendants() {
			if n.Data == "option" && attrOf(n, "value") != "" && attrOf(n.Parent, "name") == "reading" {
				out = append(out, n)
			}
		}
		return out
	}
	require.Empty(t, choices(p), "neither elsewhere nor of another quantity")
	p = installer.post(address+"/offer", url.Values{
		"version": {"2"}, "made_good.kind": {"rework"}, "made_good.text": {"raked out & pointed"}, "then": {"measure"},
	}).want(http.StatusOK)
	form := p.one("form", "action", "/sites/"+w.site.ID+"/readings")
	require.Equal(t, "joint_width_bed", p.value(form, "quantity"))
	fields := url.Values{"value": {"10"}}
	for _, name := range []string{"quantity", "elevation", "bay", "lift", "snag", "offer"} {
		fields.Set(name, p.value(form, name))
	}
	p = installer.post("/sites/"+w.site.ID+"/readings", fields).want(http.StatusOK)
	p.sound(t)
	offer := p.one("form", "action", address+"/offer")
	require.Equal(t, "raked out & pointed", p.value(offer, "made_good.text"))
	require.Len(t, p.all("input", "id", "offer-made_good.kind-rework", "checked", ""), 1)
	require.Len(t, choices(p), 1)
	require.Equal(t, attrOf(choices(p)[0], "value"), p.value(offer, "reading"))
	require.Contains(t, textOf(choices(p)[0]), "10 mm against 7 to 13 mm, pass, bay 1, lift 1")
	w.clock.advance(time.Minute)
	w.as(defects.Installer).post(w.path("/readings"), m{
		"quantity": "joint_width_bed", "value": "18", "unit": "mm", "elevation": north, "bay": 1, "lift": 1,
	}).want(http.StatusCreated)
	p = installer.get(address)
	require.Len(t, choices(p), 2)
	require.Contains(t, textOf(choices(p)[0]), "fail")
	require.Equal(t, attrOf(choices(p)[1], "value"), p.value(p.one("form", "action", address+"/offer"), "reading"), "the newest that passes")
}

func TestTheNextReadingNeedsItsValueAlone(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	north := w.elevation("North")
	tools := w.as(defects.Clerk).get(w.path("/instruments")).want(http.StatusOK).list("items")
	tool := tools[0]["id"].(string)
	clerk := w.visit(defects.Clerk)
	p := clerk.post(site+"/readings", url.Values{
		"quantity": {"plumb"}, "value": {"4"}, "instrument": {tool}, "elevation": {north}, "bay": {"2"}, "lift": {"1"},
		"stage": {"SL"}, "gang": {"gang 2"}, "base_length_m": {"2"},
	}).want(http.StatusOK)
	p = clerk.get(attrOf(p.one("a", "id", "next-reading"), "href")).want(http.StatusOK)
	p.sound(t)
	form := p.one("form", "action", site+"/readings")
	for name, want := range map[string]string{
		"quantity": "plumb", "instrument": tool, "elevation": north, "bay": "2", "lift": "1", "stage": "SL", "gang": "gang 2",
		"base_length_m": "2", "value": "",
	} {
		require.Equal(t, want, p.value(form, name), name)
	}
	require.Len(t, p.all("input", "name", "value", "autofocus", ""), 1)
	beside := textOf(p.one("div", "id", "needed"))
	require.Contains(t, beside, "Base length", "plumb needs it")
	require.NotContains(t, beside, "Zone")
	require.Contains(t, textOf(p.one("div", "id", "not-needed")), "U (k = 2)")
	require.Contains(t, textOf(p.one("select", "name", "by")), "Installer Example", "people by name")
}

func TestAVerdictSaysWhatItHadToDoWithout(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	tool := w.as(defects.Clerk).get(w.path("/instruments")).list("items")[0]["id"].(string)
	clerk := w.visit(defects.Clerk)
	fields := url.Values{"quantity": {"joint_width_bed"}, "value": {"10"}}
	p := clerk.post(site+"/readings", fields).want(http.StatusOK)
	require.Contains(t, textOf(p.one("p", "id", "unstated")), "No instrument and no uncertainty")
	fields.Set("instrument", tool)
	require.Empty(t, clerk.post(site+"/readings", fields).want(http.StatusOK).all("p", "id", "unstated"))
}

func TestABuildingIsTypedInMetres(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	site := "/sites/" + w.site.ID
	clerk := w.visit(defects.Clerk)
	require.Contains(t, clerk.get(site).text(), "how a site begins")
	p := clerk.post(site+"/buildings/new", url.Values{"name": {"Block B"}, "height": {"9"}}).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "name", "length", "aria-invalid", "true"), 1)
	p = clerk.post(site+"/buildings/new", url.Values{"name": {"Block B"}, "height": {"9"}, "corners": {"0 0\n10"}}).want(http.StatusUnprocessableEntity)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "Corner 2:")
	require.Len(t, p.all("textarea", "name", "corners", "aria-invalid", "true"), 1)
	p.sound(t)
	fields := url.Values{"name": {"Block B"}, "height": {"9"}, "length": {"24.5"}, "depth": {"8"}, "faces": {"south-east"}}
	p = clerk.post(site+"/buildings/new", fields).want(http.StatusOK)
	require.Contains(t, p.text(), "24.500 m × 9.000 m")
	clerk.post(site+"/buildings/new", fields).want(http.StatusConflict).sound(t)
	long := 0
	for _, e := range w.as(defects.Clerk).get(w.path("/elevations")).want(http.StatusOK).list("items") {
		if e["name"] == "South-east" {
			long++
		}
	}
	require.Equal(t, 1, long)
	p = clerk.post(site+"/buildings/new", url.Values{"name": {"Block L"}, "height": {"6"}, "corners": {"0; 0\n12; 0\n12; 5\n5; 5\n5; 11\n0; 11"}}).want(http.StatusOK)
	require.Contains(t, p.text(), "Block L")
	require.Contains(t, clerk.get(site+"/snags").Body, ">Block L, South</option>", "a closed select says the building too")
}

func TestNameAndTimeZoneOfASiteAreChanged(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/settings"
	manager := w.visit(defects.Manager)
	p := manager.get(address).want(http.StatusOK)
	fields := url.Values{"version": {p.value(p.one("form", "action", address), "version")}, "name": {"Larkrow Yard"}, "time_zone": {"Mars"}}
	p = manager.post(address, fields).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "name", "time_zone", "aria-invalid", "true"), 1)
	fields.Set("time_zone", "Europe/Dublin")
	require.Contains(t, manager.post(address, fields).want(http.StatusOK).text(), "Larkrow Yard")
	w.clock.advance(time.Minute)
	p = w.visit(defects.Clerk).post(address, fields).want(http.StatusPreconditionFailed)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "Changed by Manager Example, manager, on 1 Jun 2026, 13:00")
	w.visit(defects.Auditor).get(address).want(http.StatusForbidden)
}

func TestWhatPhotosMayTakeIsShownAndSet(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	address := "/sites/" + w.site.ID + "/storage"
	require.Empty(t, w.visit(defects.Clerk).get(address).want(http.StatusOK).all("input", "name", "quota_mb"))
	owner := w.visit(defects.Owner)
	p := owner.get(address).want(http.StatusOK)
	require.Contains(t, p.text(), "no limit")
	fields := url.Values{"version": {p.value(p.one("form", "action", address), "version")}, "quota_mb": {"many"}}
	p = owner.post(address, fields).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "name", "quota_mb", "aria-invalid", "true"), 1)
	fields.Set("quota_mb", "5")
	require.Contains(t, owner.post(address, fields).want(http.StatusOK).text(), "4 MB left.", "a photo of some kilobytes is there")
	owner.post(address, fields).want(http.StatusPreconditionFailed)
	w.visit(defects.Clerk).post(address, fields).want(http.StatusForbidden)
	require.Contains(t, w.visit(defects.Auditor).get(address).want(http.StatusOK).text(), "5 MB")
}

func TestFormsAreRefusedAtOnceToWhoMayNotSendThem(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	auditor := w.visit(defects.Auditor)
	for _, form := range []string{"/snags/new", "/take-in", "/readings/new", "/buildings/new", "/settings"} {
		p := auditor.get("/sites/" + w.site.ID + form).want(http.StatusForbidden)
		require.Contains(t, p.text(), "as auditor you may not", form)
		p.sound(t)
	}
}

func TestRefusalsStandAtFieldsOfTheForm(t *testing.T) {
	t.Parallel()
	w, north, address := measuredSnag(t)
	site := "/sites/" + w.site.ID
	clerk, installer := w.visit(defects.Clerk), w.visit(defects.Installer)
	p := clerk.post(site+"/snags", url.Values{"elevation": {north}, "code": {"SL-07"}, "bay": {"1"}, "lift": {"1"}, "text": {"wide"}}).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "name", "no_reading_reason", "aria-invalid", "true"), 1)
	p = clerk.post(site+"/snags", url.Values{"elevation": {north}, "code": {"SL-12"}, "bay": {"1"}, "lift": {"1"}}).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "id", "f-file", "aria-invalid", "true"), 1)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "“What is to be seen”")
	require.Len(t, p.all("a", "href", "#f-text"), 1)
	p = installer.post(address+"/offer", url.Values{"version": {"2"}}).want(http.StatusUnprocessableEntity)
	require.Len(t, p.all("input", "name", "made_good.kind", "aria-invalid", "true"), 2, "both of the choice")
	require.Len(t, p.all("span", "id", "offer-made_good.kind-wrong"), 1)
	require.Len(t, p.all("textarea", "name", "made_good.text", "aria-invalid", "true"), 1)
	require.Len(t, p.all("select", "id", "offer-reading", "aria-invalid", "true"), 1)
	notice := textOf(p.one("div", "id", "notice"))
	for _, part := range []string{"Rework or repair:", "What was removed, what was used:", "Add a photo taken after", "Reading: measure joint width bed again"} {
		require.Contains(t, notice, part)
	}
	p = w.visit(defects.Manager).post(address+"/withdraw", url.Values{"version": {"2"}}).want(http.StatusUnprocessableEntity)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "Why it is taken back:")
	edit := site + "/elevations/" + north + "/edit"
	p = clerk.post(edit, url.Values{"version": {"1"}, "name": {"North"}, "height": {"6"}, "base_line": {"0"}, "bays": {"2.5 5,0"}, "lifts": {"2"}}).want(http.StatusUnprocessableEntity)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "Bay 2:")
}

func TestAStaleStepNamesWhoChangedItAndTheFields(t *testing.T) {
	t.Parallel()
	w, _, address := measuredSnag(t)
	p := w.visit(defects.Clerk).post(address+"/instruct", url.Values{"version": {"1"}, "due": {"2026-06-20"}, "text": {"point anew"}}).want(http.StatusPreconditionFailed)
	require.Contains(t, textOf(p.one("div", "id", "notice")), "Instructed by Manager Example, manager, on 1 Jun 2026, 14:00")
	require.Contains(t, p.text(), "By when 20 Jun 2026")
	require.Contains(t, p.text(), "What is to be done point anew")
}

func TestADateIsTakenAwayAfterAsking(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	p := w.visit(defects.Manager).get("/sites/" + w.site.ID + "/dates").want(http.StatusOK)
	for _, b := range p.all("button") {
		if strings.Contains(textOf(b), "take it away") {
			require.Equal(t, "details", b.Parent.Parent.Data)
			return
		}
	}
	require.Fail(t, "no button takes a date away")
}

func TestAnInstallerAcknowledgesForHisOwnGang(t *testing.T) {
	t.Parallel()
	w, _, address := measuredSnag(t)
	p := w.visit(defects.Installer).get(address).want(http.StatusOK)
	require.Equal(t, "gang 2", p.value(p.one("form", "action", address+"/acknowledge"), "gang"))
}

func TestWhatIsTakenInAndErrorPagesNameNoInnerFields(t *testing.T) {
	t.Parallel()
	w, _ := furnished(t)
	site := "/sites/" + w.site.ID
	body, kind := form(t, "photo", "notes.jpg", []byte("no picture at all"), nil)
	require.NotRegexp(t, `(file|photo): `, w.visit(defects.Clerk).send(site+"/take-in/photos", kind, body).want(http.StatusOK).text())
	body, kind = form(t, "file", "readings.csv", []byte("quantity,value,unit,base_length_m\nplumb,4,mm,two\n"), nil)
	p := w.visit(defects.Clerk).send(site+"/take-in/readings", kind, body).want(http.StatusOK)
	require.Contains(t, p.text(), "Base length:")
	require.NotContains(t, p.text(), "base_length_m:")
	p = w.visit(defects.Clerk).get(site + "/snags/999").want(http.StatusNotFound)
	require.NotContains(t, p.text(), "number: no such snag")
}
