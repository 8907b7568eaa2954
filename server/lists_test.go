package server_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// dated is a world with two open snags on the north wall: the first instructed
// and due on 8 June, both under a strike on 1 July.
func dated(t *testing.T) (w *world, north, strike string) {
	t.Helper()
	w = onSQLite(t)
	north = w.walls()["North"]
	for bay := 1; bay <= 2; bay++ {
		s := w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "gang": "gang 2", "place": m{"elevation_id": north, "bay": bay, "lift": bay}})
		if bay == 1 {
			s.step(defects.Clerk, "instruct", m{"text": "replace", "due": "2026-06-08"})
		}
	}
	w.visit(defects.Manager).post("/sites/"+w.site.ID+"/dates", url.Values{"kind": {"strike"}, "on": {"2026-07-01"}, "elevation": {north}}).want(http.StatusOK)
	items := w.as(defects.Clerk).get(w.path("/snags")).want(http.StatusOK).list("items")
	for _, item := range items {
		due, _ := item["due"].(map[string]any)
		if due["milestone"] != nil {
			strike = fmt.Sprint(due["milestone"])
		}
	}
	require.NotEmpty(t, strike)
	return w, north, strike
}

func TestAFilterByDateAnswersTheSameInEveryForm(t *testing.T) {
	t.Parallel()
	w, north, strike := dated(t)
	w.clock.set(time.Date(2026, 6, 28, 12, 0, 0, 0, time.UTC)) // the first is 20 days late
	clerk, v, site := w.as(defects.Clerk), w.visit(defects.Clerk), "/sites/"+w.site.ID
	for filter, want := range map[string][]string{
		"due_reason=strike":      {"SN-0001", "SN-0002"},
		"due_reason=instruction": {"SN-0001"},
		"due_reason=cover-up":    nil,
		"milestone=" + strike:    {"SN-0001", "SN-0002"},
		"overdue=true":           {"SN-0001"},
		"bay=2":                  {"SN-0002"},
		"lift=1":                 {"SN-0001"},
		"code=SL":                {"SN-0001", "SN-0002"},
		"code=BM":                nil,
	} {
		var byNumber, walk []string
		for _, item := range clerk.get(w.path("/snags?%s", filter)).want(http.StatusOK).list("items") {
			byNumber = append(byNumber, fmt.Sprint(item["ref"]))
		}
		require.Equal(t, want, byNumber, filter)
		for _, item := range clerk.get(w.path("/elevations/%s/snag-list?%s", north, filter)).want(http.StatusOK).list("snags") {
			walk = append(walk, fmt.Sprint(item["ref"]))
		}
		require.ElementsMatch(t, want, walk, filter)
		table := clerk.get(w.path("/snag-lists?format=csv&%s", filter)).want(http.StatusOK)
		rows, err := csv.NewReader(strings.NewReader(string(table.Body))).ReadAll()
		require.NoError(t, err)
		require.Len(t, rows, 1+len(want), filter)
		for _, address := range []string{site + "/snags?" + filter, site + "/elevations/" + north + "?" + filter} {
			p := v.get(address).want(http.StatusOK)
			p.sound(t)
			var listed []string
			for _, a := range p.all("a", "class", "number") {
				listed = append(listed, textOf(a))
			}
			require.ElementsMatch(t, want, listed, address)
		}
	}
	for _, wrong := range []struct{ filter, code string }{
		{"due_reason=whenever", "unknown_due_reason"},
		{"state=lost", "unknown_state"},
		{"severity=awful", "unknown_severity"},
	} {
		clerk.get(w.path("/snags?%s", wrong.filter)).refused(http.StatusUnprocessableEntity, wrong.code)
		clerk.get(w.path("/snag-lists?%s", wrong.filter)).refused(http.StatusUnprocessableEntity, wrong.code)
		v.get(site + "/snags?" + wrong.filter).want(http.StatusUnprocessableEntity).sound(t)
	}
	clerk.get(w.path("/snag-lists?milestone=none")).refused(http.StatusNotFound, "milestone_not_found")
	clerk.get(w.path("/snag-lists?bay=two")).refused(http.StatusUnprocessableEntity, "bad_number")
}

func TestOverdueIsWordedWithItsDaysEverywhere(t *testing.T) {
	t.Parallel()
	w, north, strike := dated(t)
	w.clock.set(time.Date(2026, 6, 27, 22, 30, 0, 0, time.UTC)) // 23:30 of the 27th in London
	require.Equal(t, "19", w.as(defects.Clerk).get(w.path("/snags/1")).str("overdue_days"))
	w.clock.advance(time.Hour) // the 28th there, the 27th in UTC
	require.Equal(t, "20", w.as(defects.Clerk).get(w.path("/snags/1")).str("overdue_days"))
	v, site := w.visit(defects.Clerk), "/sites/"+w.site.ID
	for _, address := range []string{site, site + "/snags", site + "/snags/1", site + "/elevations/" + north} {
		p := v.get(address).want(http.StatusOK)
		require.Equal(t, "overdue 20 days", textOf(p.one("span", "class", "word overdue")), address)
	}
	require.Contains(t, v.get(site+"/snags/1").text(), "also: scaffold strike 1 Jul 2026")
	require.NotContains(t, v.get(site+"/snags/2").text(), "overdue")

	dates := v.get(site + "/dates").want(http.StatusOK)
	require.Equal(t, "2 open here", textOf(dates.one("a", "href", site+"/snags?milestone="+strike)))
	require.Contains(t, dates.text(), "scaffold strike")
}

func TestAListIsFoldedByLiftAndSaysWhatItShows(t *testing.T) {
	t.Parallel()
	w, north, _ := dated(t)
	for range 70 {
		w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 2}})
	}
	v, address := w.visit(defects.Installer), "/sites/"+w.site.ID+"/elevations/"+north
	p := v.get(address).want(http.StatusOK)
	p.sound(t)
	require.Equal(t, "Lift 2 71 snags", textOf(p.one("details", "id", "lift-2").FirstChild))
	open := func(p pageOf, id string) bool {
		for _, a := range p.one("details", "id", id).Attr {
			if a.Key == "open" {
				return true
			}
		}
		return false
	}
	require.True(t, open(p, "lift-2"))
	require.False(t, open(p, "lift-1"), "after many lines the rest is folded")
	require.True(t, open(v.get(address+"?unfold=yes"), "lift-1"))
	require.Contains(t, p.text(), "My gang: gang 2")
	for _, cell := range p.all("td", "data-name", "State") {
		require.NotContains(t, textOf(cell), "gang gang")
	}

	p = v.get(address + "?gang=gang+2&overdue=true&severity=minor&due_reason=strike").want(http.StatusOK)
	require.Equal(t, "Shown: open, minor, gang 2, before a scaffold strike, overdue.", textOf(p.one("p", "class", "on-paper")))
	var gangs []string
	for _, o := range p.all("option", "value", "gang 2") {
		gangs = append(gangs, textOf(o))
	}
	require.Equal(t, []string{"gang 2"}, gangs, "the choice holds all gangs of the site, whatever is listed")
}

func TestTheLogPageIsNewestFirstAndNarrowed(t *testing.T) {
	t.Parallel()
	w, north, _ := dated(t)
	for range 110 {
		w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 2}})
	}
	v, address := w.visit(defects.Auditor), "/sites/"+w.site.ID+"/log"
	p := v.get(address).want(http.StatusOK)
	p.sound(t)
	require.Contains(t, p.text(), "snag raised SN-0112")
	require.NotContains(t, p.text(), "snag.raise ")
	older := v.get(attrOf(p.one("a", "rel", "next"), "href")).want(http.StatusOK)
	require.Contains(t, older.text(), "elevation Terrace A, North", "a thing of the site is named")
	require.Contains(t, older.text(), "date set")
	require.Equal(t, "Newest", textOf(older.one("a", "href", address+"?before=")))

	count := func(query string) int { return len(v.get(address+"?"+query).want(http.StatusOK).all("tr")) - 1 }
	require.Equal(t, 2, count("number=SN-0001"))
	require.Equal(t, 1, count("kind=snag.instruct"))
	require.Equal(t, 1, count("type=milestone"))
	require.Equal(t, 1, count("by="+w.as(defects.Manager).id))
	require.Equal(t, -1, count("day=2026-05-31"), "nothing, and so no table")
	require.Equal(t, 100, count("day=2026-06-01"))
	for _, wrong := range []string{"day=today", "number=first", "before=x"} {
		v.get(address + "?" + wrong).want(http.StatusUnprocessableEntity).sound(t)
	}

	api := w.as(defects.Auditor)
	items := api.get(w.path("/log?kind=snag.raise&limit=2")).want(http.StatusOK)
	list := items.list("items")
	require.Equal(t, []any{"snag.raise", "snag.raise"}, []any{list[0]["kind"], list[1]["kind"]})
	require.Less(t, list[0]["seq"], list[1]["seq"], "the interface stays oldest first")
	require.Contains(t, items.Header.Get("Link"), "kind=snag.raise")
	require.Len(t, api.get(w.path("/log?by=%s", w.as(defects.Manager).id)).list("items"), 1)
}

func TestARefusalOfAnOfferSaysHowItWasInspected(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	s := w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
	s.step(defects.Clerk, "instruct", m{"text": "replace"})
	w.clock.advance(time.Hour)
	photo := w.after(7, north)
	w.clock.advance(time.Minute)
	s.step(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "slip replaced"}, "photos": []string{photo}})
	p := s.try(defects.Clerk, "refuse", m{"text": "loose"}).refused(http.StatusUnprocessableEntity, "inspection_missing")
	require.Equal(t, "inspection", p.Field)
	v, step := w.visit(defects.Clerk), "/sites/"+w.site.ID+"/snags/1/refuse"
	fields := url.Values{"text": {"loose"}, "version": {"3"}}
	page := v.post(step, fields).want(http.StatusUnprocessableEntity)
	page.sound(t)
	require.Contains(t, page.text(), "how it was inspected")
	fields.Set("inspection", "from-photo")
	require.Contains(t, v.post(step, fields).want(http.StatusOK).text(), "inspected: from-photo")
}

func TestAPhotoWithoutATimeIsRefusedOrTold(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	timeless := func(seed uint64) string {
		data := shot(t, seed, func(c *defects.Capture) { c.TakenLocal, c.TakenUTC = "", nil })
		return w.as(defects.Installer).photo(data, url.Values{"elevation": {north}, "label_seen": {"true"}}).want(http.StatusCreated).str("id")
	}
	offered := func(severity string, seed uint64) answer {
		s := w.raise(defects.Clerk, m{"code": "SL-12", "severity": severity, "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
		s.step(defects.Clerk, "instruct", m{"text": "replace"})
		w.clock.advance(time.Hour)
		photo := timeless(seed)
		w.clock.advance(time.Minute)
		return s.try(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "slip replaced"}, "photos": []string{photo}})
	}
	p := offered("major", 11).refused(http.StatusConflict, "photo_time_unknown")
	require.Contains(t, p.Detail, "original file from the phone")
	offered("minor", 12).want(http.StatusOK)
	require.Contains(t, w.visit(defects.Auditor).get("/sites/"+w.site.ID+"/snags/2").text(), "time of the photo not proven")
}

func TestAReadingShowsAnAuditorWhatStandsBehindIt(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	tool := w.as(defects.Installer).post(w.path("/instruments"), m{
		"name": "taper gauge 2", "kind": "taper gauge", "serial": "TG-0042", "unit": "mm", "resolution": "0.1",
	}).want(http.StatusCreated)
	id := tool.str("id")
	w.as(defects.Installer).with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/calibrations", id), m{
		"certificate": "C-77", "on": "2026-01-05", "due": "2026-06-01", "expanded_uncertainty": "0.2",
	}).want(http.StatusOK)
	read := func() string {
		return w.as(defects.Installer).post(w.path("/readings"), m{
			"quantity": "joint_width_bed", "value": "19", "unit": "mm", "elevation": north, "bay": 1, "lift": 1, "stage": "SL", "instrument": id,
		}).want(http.StatusCreated).str("reading.id")
	}
	v, site := w.visit(defects.Auditor), "/sites/"+w.site.ID
	first := read()
	w.as(defects.Clerk).post(w.path("/snags"), m{"reading_id": first}).want(http.StatusCreated)
	p := v.get(site + "/readings/" + first).want(http.StatusOK)
	p.sound(t)
	for _, want := range []string{
		"taper gauge 2 , serial no. TG-0042", "certificate C-77, valid from 5 Jan 2026 to 1 Jun 2026", "in calibration on the day",
		"from certificate C-77", "Answered by SN-0001", "by Installer Example, installer",
	} {
		require.Contains(t, p.text(), want)
	}
	require.Len(t, p.all("a", "href", site+"/instruments#"+id), 1)
	w.clock.advance(48 * time.Hour)
	require.Contains(t, v.get(site+"/readings/"+read()).text(), "not in calibration on the day")
}

func TestErrorPagesHaveHeadingsInPlainWords(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	p := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/snags/99").want(http.StatusNotFound)
	require.Equal(t, "There is nothing here", textOf(p.one("h1")))
}
