package server_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/statistics"
)

// ownLimits is an invented project's schedule of the given lines.
func ownLimits(name string, lines ...string) string {
	return fmt.Sprintf(`{"name":%q,"version":1,"title":"Fixing design (invented)","basis":"project","limits":[%s]}`, name, strings.Join(lines, ","))
}

// testSet starts a set on a wall.
func (w *world) testSet(quantity, name, wall string) string {
	w.t.Helper()
	return w.as(defects.Clerk).post(w.path("/sets"), m{
		"quantity": quantity, "name": name, "substrate": "solid brick", "stage": "FX", "place": m{"elevation_id": wall},
	}).want(http.StatusCreated).str("id")
}

// quarryPeaks are the loads of J2.
func quarryPeaks() []string {
	return strings.Fields("0.92 1.05 0.88 1.21 1.10 0.79 0.95 1.30 1.02 0.84 0.98 1.15 0.90 1.08 0.97")
}

// pullOutSet is a set of fifteen tests that holds.
func (w *world) pullOutSet(wall string) string {
	w.t.Helper()
	set := w.testSet("pull_out_load", "worked out", wall)
	w.outcomes(m{"quantity": "pull_out_load", "unit": "kN", "stage": "SV", "elevation": wall, "set": set, "failure_plane": "pull-out"}, quarryPeaks()...)
	return set
}

func TestJ2TheWorkingOfAPullOutSetGoesFromLoadsToAnchors(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		east := w.walls()["East"]
		// The steps are those of ETAG 014, from memory.
		w.schedule(ownLimits("quarry-terrace", `{"quantity":"pull_out_load","kind":"pull-out","clause":"note 4",
			"pull_out":{"factor":"0.6","lowest":5,"cap_kN":"1.5","min_tests":15,"gamma":"2.0","required_kN":"0.50",
			"steps_kN":["0.3","0.4","0.5","0.6","0.75","0.9","1.2","1.5"]}}`,
			`{"quantity":"fixing_density","kind":"fixed","zone":"edge","lower":"8","clause":"note 5"}`))
		set := w.testSet("pull_out_load", "east", east)
		base := m{"quantity": "pull_out_load", "unit": "kN", "stage": "FX", "elevation": east, "set": set}
		peaks := quarryPeaks()
		w.outcomes(base, peaks[:14]...)
		path := w.path("/sets/%s/pull-out", set)
		short := w.as(defects.Clerk).get(path).want(http.StatusOK)
		require.Equal(t, "1 test short: 14 of 15", short.str("verdict.reason_text"))
		require.Empty(t, short.obj()["lowest_kN"])
		w.as(defects.Clerk).get(path+"?suction_edge=1.2").refused(http.StatusConflict, "no_design_value")

		w.outcomes(base, peaks[14])
		got := w.as(defects.Auditor).get(path + "?suction_edge=1.26&suction_field=0.9&ordered_edge=6&ordered_field=6").want(http.StatusOK)
		require.Equal(t, []any{"0.79", "0.84", "0.88", "0.90", "0.92"}, got.obj()["lowest_kN"])
		for field, want := range map[string]string{
			"n1_kN": "0.866", "factor_n1_kN": "0.5196", "nrk_kN": "0.5", "gamma_m": "2.0", "nrd_kN": "0.25", "required_kN": "0.50",
			"n": "15", "min_tests": "15", "ends_not_noted": "15", "verdict.outcome": "pass", "gamma_q": "1.5",
		} {
			require.Equal(t, want, got.str(field), field)
		}
		require.Contains(t, got.str("caution"), "competent structural designer")
		anchors := got.list("anchors")
		require.Len(t, anchors, 2)
		require.Equal(t, []any{"edge", 8.0, "8", true, true}, []any{
			anchors[0]["zone"], anchors[0]["by_load_per_m2"], anchors[0]["needed_per_m2"], anchors[0]["ordered_by_limits"], anchors[0]["ordered_is_enough"],
		}, "1.5 × 1.26 / 0.25 = 7.56; 6 entered gives way to the 8 of the limits")
		require.Equal(t, []any{"field", 6.0, "ordered pattern"}, []any{anchors[1]["zone"], anchors[1]["by_load_per_m2"], anchors[1]["governing"]})
		few := w.as(defects.Auditor).get(path + "?suction_field=1.4&ordered_field=6").want(http.StatusOK).list("anchors")[0]
		require.Equal(t, []any{"9", false, "load"}, []any{few["needed_per_m2"], few["ordered_is_enough"], few["governing"]})
		for query, field := range map[string]string{
			"suction_field=1.4": "ordered_field", "suction_field=x&ordered_field=6": "suction_field", "suction_field=0&ordered_field=6": "suction_field",
			"suction_edge=1&gamma_q=0": "gamma_q",
		} {
			p := w.as(defects.Clerk).get(path + "?" + query)
			p.want(http.StatusUnprocessableEntity)
			require.Equal(t, field, p.str("field"), query)
		}

		base["failure_plane"] = "anchor broke"
		w.outcomes(base, "1.40")
		void := w.as(defects.Clerk).get(path).want(http.StatusOK)
		require.Equal(t, defects.ReasonFailureMode, void.str("stored_verdict.reason"))
		require.Contains(t, void.str("verdict.reason_text"), "test 16")
		require.Empty(t, void.str("nrd_kN"))
		w.as(defects.Clerk).get(w.path("/sets/%s/bond", set)).refused(http.StatusUnprocessableEntity, "other_quantity")
	})
}

func TestWhatTheDesignerStatesIsNotedWithTheSet(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		east := w.walls()["East"]
		w.schedule(ownLimits("quarry-terrace", `{"quantity":"pull_out_load","kind":"pull-out",
			"pull_out":{"factor":"0.6","lowest":5,"cap_kN":"1.5","min_tests":15,"gamma":"2.0"}}`))
		set := w.pullOutSet(east)
		clerk := w.as(defects.Clerk)
		note := func(tag string, body m) answer {
			return clerk.with("If-Match", tag).post(w.path("/sets/%s/statement", set), body)
		}
		tag := clerk.get(w.path("/sets/%s", set)).want(http.StatusOK).Header.Get("ETag")
		zones := []m{{"zone": "edge", "suction_kN_m2": "1.26", "ordered_per_m2": "8"}, {"zone": "field", "suction_kN_m2": "0.9", "ordered_per_m2": "6"}}
		body := m{"source": "drawing S-12, rev B (invented)", "zones": zones}
		for code, edit := range map[string]m{
			"source_missing":  {"source": " "},
			"suction_missing": {"zones": []m{}},
			"unknown_zone":    {"zones": []m{zones[0], zones[0]}},
			"bad_value":       {"gamma_q": "0"},
		} {
			wrong := maps.Clone(body)
			maps.Copy(wrong, edit)
			note(tag, wrong).refused(http.StatusUnprocessableEntity, code)
		}
		noted := note(tag, body).want(http.StatusOK)
		require.Equal(t, "1.5", noted.str("stated.gamma_q"), "the usual one")
		note(tag, body).refused(http.StatusPreconditionFailed, "stale")

		got := w.as(defects.Auditor).get(w.path("/sets/%s/pull-out", set)).want(http.StatusOK)
		require.Equal(t, "drawing S-12, rev B (invented)", got.str("stated.source"))
		require.Len(t, got.list("anchors"), 2, "worked out from what is noted")
		few := w.as(defects.Auditor).get(w.path("/sets/%s/pull-out?suction_edge=2&ordered_edge=8", set)).want(http.StatusOK)
		require.Len(t, few.list("anchors"), 1, "what the request states goes before it")
		last := w.as(defects.Auditor).get(w.path("/log?kind=set.state")).want(http.StatusOK)
		require.Contains(t, string(last.Body), "set.state")

		page := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/sets/" + set).want(http.StatusOK)
		require.Contains(t, page.text(), "By the designer, from drawing S-12, rev B (invented)")
		require.Contains(t, page.text(), "ordered is enough")
		page.sound(t)
		anew := url.Values{"version": {fmt.Sprint(noted.obj()["version"])}, "source": {"letter of 9 May (invented)"}, "suction_field": {"1"}, "ordered_field": {"7"}, "gamma_q": {"1.5"}}
		address := "/sites/" + w.site.ID + "/sets/" + set + "/statement"
		anew.Set("suction_field", "-1")
		w.visit(defects.Clerk).post(address, anew).want(http.StatusUnprocessableEntity).sound(t)
		anew.Set("suction_field", "1")
		page = w.visit(defects.Clerk).post(address, anew).want(http.StatusOK)
		require.Contains(t, page.text(), "from letter of 9 May (invented)")

		area := w.testSet("proof_load", "roof edge", east)
		w.visit(defects.Clerk).post("/sites/"+w.site.ID+"/sets/"+area+"/statement", url.Values{"version": {"1"}, "source": {"S-13"}, "anchors-" + area: {"0"}}).want(http.StatusUnprocessableEntity)
		page = w.visit(defects.Clerk).post("/sites/"+w.site.ID+"/sets/"+area+"/statement",
			url.Values{"version": {"1"}, "source": {"drawing S-13 (invented)"}, "anchors-" + area: {"240"}, "action-" + area: {"0.5"}}).want(http.StatusOK)
		require.Contains(t, page.text(), "6 tests to do")
		due := w.as(defects.Auditor).get(w.path("/proof-tests")).want(http.StatusOK).list("items")
		require.EqualValues(t, 240, due[0]["anchors"])
		require.EqualValues(t, 6, due[0]["more"])
		w.as(defects.Auditor).post(w.path("/sets/%s/statement", area), m{"source": "x", "anchors": 5}).refused(http.StatusForbidden, "role_forbidden")
	})
}

func TestTheWorkingIsNotToldToWhomSomeOfTheTestsAreHidden(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		east := w.walls()["East"]
		set := w.testSet("pull_out_load", "east", east)
		load := m{"quantity": "pull_out_load", "value": "1.1", "unit": "kN", "stage": "FX", "elevation": east, "set": set}
		w.as(defects.Operative).post(w.path("/readings"), load).want(http.StatusCreated)
		mine := w.as(defects.Operative).get(w.path("/sets/%s/pull-out", set)).want(http.StatusOK)
		require.Nil(t, mine.obj()["hidden"])
		require.Equal(t, "14 tests short: 1 of 15", mine.str("verdict.reason_text"))
		delete(load, "value")
		w.outcomes(load, quarryPeaks()[:14]...)
		hidden := w.as(defects.Operative).get(w.path("/sets/%s/pull-out", set)).want(http.StatusOK)
		require.Equal(t, "true", hidden.str("hidden"))
		require.Empty(t, hidden.obj()["lowest_kN"])
		require.Empty(t, hidden.str("nrk_kN"))
		require.Equal(t, "0.866", w.as(defects.Clerk).get(w.path("/sets/%s/pull-out", set)).want(http.StatusOK).str("n1_kN"))
		p := w.visit(defects.Operative).get("/sites/" + w.site.ID + "/sets/" + set).want(http.StatusOK)
		require.Contains(t, textOf(p.one("section", "id", "working")), "for those who may see them all")
		p.sound(t)
	})
}

func TestJ9ProofTestsEscalateFromWhatIsRecorded(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		gable := w.testSet("proof_load", "tower A, gable", walls["East"])
		second := w.testSet("proof_load", "tower A, rear", walls["North"])
		ask := func(who defects.Role, areas string) answer {
			return w.as(who).get(w.path("/proof-tests%s", areas)).want(http.StatusOK)
		}
		area := func(a answer, id string) m {
			for _, item := range a.list("items") {
				if item["set"].(m)["id"] == id {
					return item
				}
			}
			return nil
		}
		both := fmt.Sprintf("?area=%s:240:0.5&area=%s:90", gable, second)
		got := ask(defects.Auditor, both)
		require.Contains(t, got.str("caution"), "competent structural designer")
		first := area(got, gable)
		require.Equal(t, []any{"2.5 %", 6.0, 6.0, "0.750", false}, []any{first["stage"], first["tests"], first["more"], first["load_kN"], first["release"]})
		require.Equal(t, 3.0, area(got, second)["tests"], "2.25 is 3")

		test := m{"quantity": "proof_load", "unit": "kN", "stage": "FX", "elevation": walls["East"], "set": gable, "nominal": "0.75", "failure_plane": "held"}
		w.outcomes(test, "0.75", "0.75", "0.75", "0.75", "0.75")
		test["failure_plane"] = "pull-out"
		w.outcomes(test, "0.60")
		doubled := area(ask(defects.Clerk, both), gable)
		require.Equal(t, []any{"5 %", 12.0, 6.0, "0.625", true}, []any{doubled["stage"], doubled["tests"], doubled["more"], doubled["load_kN"], doubled["cause_needed"]})
		require.Len(t, doubled["failed_readings"], 1)
		hold := func() answer {
			return w.as(defects.Clerk).post(w.path("/releases"), m{"hold_point": "H5", "elevation_id": walls["East"], "outcome": "released"})
		}
		hold().refused(http.StatusConflict, "hold_point_not_ready")

		test["note"] = "hole drilled with the hammer on"
		w.outcomes(test, "0.55")
		all := area(ask(defects.Clerk, both), gable)
		require.Equal(t, []any{"100 %", 240.0, 233.0, true, false, true}, []any{
			all["stage"], all["tests"], all["more"], all["inform_designer"], all["release"], all["cause_needed"],
		}, "the first failure has no cause yet")
		require.NotContains(t, all, "load_kN", "the designer sets it")
		hold().refused(http.StatusConflict, "hold_point_not_ready")

		for query, code := range map[string]string{
			"?area=" + gable + ":3": "bad_value", "?area=" + gable: "bad_area", "?area=" + gable + ":x": "bad_area", "?area=" + gable + ":3:x": "bad_number",
		} {
			w.as(defects.Clerk).get(w.path("/proof-tests%s", query)).refused(http.StatusUnprocessableEntity, code)
		}
		w.as(defects.Clerk).get(w.path("/proof-tests?area=none:3")).refused(http.StatusNotFound, "set_not_found")
	})
}

func TestJ16FixingsAreCountedByZoneAndTheLargerNumberGoverns(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		path := w.path("/elevations/%s/fixings", north)
		w.as(defects.Clerk).get(path).refused(http.StatusUnprocessableEntity, "ordered_missing")
		w.schedule(ownLimits("osier", `{"quantity":"fixing_density","kind":"fixed","zone":"edge","lower":"12","clause":"sheet 3"}`,
			`{"quantity":"fixing_density","kind":"fixed","zone":"field","lower":"8","clause":"sheet 3"}`))
		for x, n := range map[string]string{"5.0": "6", "0.4": "6", "0.9": "9"} {
			w.as(defects.Clerk).post(w.path("/readings"), m{
				"quantity": "fixing_count_board", "value": n, "unit": "count", "stage": "FX", "elevation": north, "x_m": x, "z_m": "1", "zone": "field", "area_m2": "0.72",
			}).want(http.StatusCreated)
		}
		w.as(defects.Clerk).post(w.path("/readings"), m{
			"quantity": "fixing_count_board", "value": "6", "unit": "count", "stage": "FX", "elevation": north, "bay": 1, "lift": 1, "zone": "edge", "area_m2": "0.72",
		}).want(http.StatusCreated)
		got := w.as(defects.Auditor).get(path + "?board=0.4:1.2:0.6:6&board=3:1.2:0.6:6&edge=10").want(http.StatusOK)
		require.Contains(t, got.str("caution"), "competent structural designer")
		require.EqualValues(t, 1, got.obj()["unplaced"])
		boards := got.list("boards")
		require.Len(t, boards, 5)
		require.Equal(t, []any{"edge", 9.0, 3.0, "fail", "FX-02"}, []any{
			boards[0]["zone"], boards[0]["needed"], boards[0]["short"], boards[0]["outcome"], boards[0]["code"],
		}, "0.4 m from the corner the field rule would pass; 10 entered gives way to the 12 of the limits")
		require.Contains(t, boards[0]["text"], "short by 3: 6 of 9, 8.3/m2 against 12")
		require.Equal(t, []any{"field", 6.0, "pass"}, []any{boards[1]["zone"], boards[1]["needed"], boards[1]["outcome"]})
		byLeft := map[any]m{}
		for _, b := range boards[2:] {
			require.NotEmpty(t, b["reading_id"])
			byLeft[b["left_m"]] = b
		}
		require.Equal(t, "pass", byLeft["5.000"]["outcome"])
		require.Equal(t, "fail", byLeft["0.400"]["outcome"])
		require.Equal(t, []any{true, "edge", 9.0, "pass"}, []any{byLeft["0.900"]["across_zones"], byLeft["0.900"]["zone"], byLeft["0.900"]["needed"], byLeft["0.900"]["outcome"]})
		zones := got.list("zones")
		require.Equal(t, []any{"edge", "12", 3.0, 2.0}, []any{zones[0]["zone"], zones[0]["per_m2"], zones[0]["boards"], zones[0]["short"]})
		require.Equal(t, []any{"field", 2.0, 0.0}, []any{zones[1]["zone"], zones[1]["boards"], zones[1]["short"]})
		for _, bad := range []string{"board=1:2:3", "board=1:2:3:x", "board=x:1:1:1", "edge=x", "edge_width_m=x", "board_width_m=0"} {
			w.as(defects.Clerk).get(path + "?" + bad).want(http.StatusUnprocessableEntity)
		}
	})
}

func TestJ18ABondTestIsItsLoadItsDollyAndWhatTore(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		south := w.walls()["South"]
		w.schedule(ownLimits("bond", `{"quantity":"bond_strength","kind":"fixed","lower":"0.08","except_plane":"insulation","clause":"sheet 6"}`))
		site := w.as(defects.Manager).get(w.path("")).want(http.StatusOK)
		w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).json("PATCH", w.path(""), m{"decision_rule": "simple"}).want(http.StatusOK)
		set := w.testSet("bond_strength", "south, lift 2", south)
		path := w.path("/sets/%s/bond", set)
		try := func(peak, dolly, plane string) answer {
			return w.as(defects.Clerk).get(path + "?" + url.Values{"peak_N": {peak}, "dolly": {dolly}, "failure_plane": {plane}}.Encode())
		}
		round := func(a answer, places int) string {
			return defects.MustDecimal(a.want(http.StatusOK).str("trial.strength_N_mm2")).Round(places).String()
		}
		require.Equal(t, "0.311", round(try("610", "50 mm round", "adhesive"), 3))
		require.Equal(t, "0.244", round(try("610", "50 x 50 square", "adhesive"), 3))
		try("610", "50", "adhesive").refused(http.StatusUnprocessableEntity, "dolly_unknown")
		try("much", "50 mm round", "adhesive").refused(http.StatusUnprocessableEntity, "bad_number")
		require.Equal(t, "none", try("128", "50 mm round", "").str("trial.verdict.outcome"))

		test := m{"quantity": "bond_strength", "unit": "N/mm2", "stage": "SL", "elevation": south, "set": set, "dolly": "50 mm round", "failure_plane": "insulation"}
		verdicts, _ := w.outcomes(test, "0.311", round(try("165", "50 mm round", "insulation"), 3), round(try("128", "50 mm round", "insulation"), 3))
		require.Equal(t, []string{"pass", "pass", "pass"}, verdicts)
		got := w.as(defects.Auditor).get(path).want(http.StatusOK)
		require.Equal(t, "pass", got.str("worst"))
		require.Contains(t, got.str("caution"), "competent structural designer")
		tests := got.list("tests")
		require.Equal(t, []any{"0.065", "128"}, []any{tests[2]["strength_N_mm2"], tests[2]["peak_N"]})
		require.Contains(t, tests[2]["words"], "torn wholly in the insulation")

		release := func() answer {
			return w.as(defects.Clerk).post(w.path("/releases"), m{"hold_point": "H9", "elevation_id": south, "outcome": "released"})
		}
		delete(test, "failure_plane")
		verdicts, _ = w.outcomes(test, "0.065")
		require.Equal(t, []string{"none"}, verdicts)
		got = w.as(defects.Auditor).get(path).want(http.StatusOK)
		require.Equal(t, "none", got.str("worst"))
		require.Contains(t, got.list("tests")[3]["words"], "what tore is not named")
		p := release().refused(http.StatusConflict, "hold_point_not_ready")
		require.Equal(t, "unjudged_reading", p.Errors[0].Code, "H9 stays")
		one := w.as(defects.Clerk).get(w.path("/readings/%s", p.Errors[0].Field)).want(http.StatusOK)
		w.as(defects.Clerk).with("If-Match", one.Header.Get("ETag")).post(w.path("/readings/%s/withdraw", p.Errors[0].Field), m{"reason": "plane not noted"}).want(http.StatusOK)
		release().want(http.StatusCreated)
	})
}

// Osier Close has 64 elevations: sixteen houses of four faces.
func (w *world) osierClose() {
	w.t.Helper()
	var features []string
	for i := range 16 {
		lon := -1.5 + float64(i)*0.001
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"building":"House %02d","height_m":6},"geometry":{"type":"Polygon",
"coordinates":[[[%[2]f,53.4],[%[3]f,53.4],[%[3]f,53.4001],[%[2]f,53.4001],[%[2]f,53.4]]]}}`, i+1, lon, lon+0.0003))
	}
	w.as(defects.Clerk).send("POST", w.path("/buildings"), "application/geo+json",
		[]byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`)).want(http.StatusOK)
}

func TestJ11AnAuditDrawIsTheSameEverywhereAndSaysWhatItMisses(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.osierClose()
		ask := "?of=elevations&scheme=zero&seed=" + url.QueryEscape("May audit")
		got := w.as(defects.Auditor).get(w.path("/sample%s&risk=%s&risk=%s", ask, url.QueryEscape("House 03 / North"), url.QueryEscape("House 11 / East"))).want(http.StatusOK)
		for field, want := range map[string]string{"lot": "64", "lot_code": "E", "n": "13", "ac": "0", "re": "1", "seed": "May audit"} {
			require.Equal(t, want, got.str(field), field)
		}
		require.Contains(t, got.str("method"), "SHA-256")
		drawn := ids(got.list("drawn"))
		require.Len(t, drawn, 13)
		require.Equal(t, []string{"House 03 / North", "House 11 / East"}, ids(got.list("risk")), "kept apart")
		detect := got.list("detect")
		for bad, want := range map[int]float64{1: 0.20, 3: 0.50, 6: 0.76} {
			require.InDelta(t, want, detect[bad-1]["p"], 0.005, "13 of 64 and %d bad ones", bad)
		}
		w.as(defects.Auditor).get(got.list("drawn")[0]["href"].(string)).want(http.StatusOK)
		require.Equal(t, drawn, ids(w.as(defects.Designer).get(w.path("/sample%s", ask)).want(http.StatusOK).list("drawn")))

		// Gangs are known to the auditor: 17 of the 64 are gang 4's.
		var items []m
		for i, row := range strings.Split(strings.TrimSpace(string(w.as(defects.Auditor).get(w.path("/sample/lot?of=elevations")).want(http.StatusOK).Body)), "\n")[1:] {
			gang := "gang 4"
			if i >= 17 {
				gang = fmt.Sprintf("gang %d", i%3+1)
			}
			items = append(items, m{"id": strings.TrimSuffix(row, ","), "stratum": gang})
		}
		require.Len(t, items, 64)
		byGang := w.as(defects.Auditor).post(w.path("/sample"), m{"items": items, "scheme": "zero", "seed": "May audit", "extend": "gang 4"}).want(http.StatusOK)
		require.Len(t, byGang.list("drawn"), 13)
		require.Len(t, byGang.list("extend"), 17, "one major found proposes all of gang 4")
		for _, s := range byGang.list("strata") {
			require.GreaterOrEqual(t, s["drawn"], 1.0, s["stratum"])
		}

		for query, code := range map[string]string{
			"of=walls": "unknown_lot", "of=elevations&by=gang": "no_such_division", "of=elevations&by=moon": "unknown_division", "of=number&lot=0": "bad_value",
			"of=elevations&aql=3": "unknown_aql", "of=elevations&level=IV": "unknown_level", "of=elevations&scheme=x": "unknown_scheme",
			"of=elevations&risk=nowhere": "unknown_item", "of=closed-snags": "bad_value",
		} {
			w.as(defects.Auditor).get(w.path("/sample?%s", query)).refused(http.StatusUnprocessableEntity, code)
		}
		w.as(defects.Auditor).post(w.path("/sample"), m{"items": []m{}}).refused(http.StatusUnprocessableEntity, "lot_missing")
		w.as(defects.Operative).get(w.path("/sample%s", ask)).refused(http.StatusForbidden, "role_forbidden")
	})
}

func ids(items []m) []string {
	var out []string
	for _, it := range items {
		out = append(out, it["id"].(string))
	}
	return out
}

// The command line draws by the same function; its script holds the same figures.
func TestPageRESTAndTheStatisticsDrawTheSame(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	want, err := statistics.TakeSample(statistics.SampleSpec{
		Lot: statistics.Numbered(64), Level: "II", AQL: "2.5", Inspection: statistics.NormalInspection, Seed: "May audit",
	})
	require.NoError(t, err)
	const ask = "?of=number&lot=64&seed=May+audit"
	rest := w.as(defects.Auditor).get(w.path("/sample%s", ask)).want(http.StatusOK)
	require.Equal(t, []string{"26", "59", "39", "64", "20"}, ids(rest.list("drawn"))[:5], "as in the script of the verb")
	require.Len(t, rest.list("drawn"), want.Plan.N)
	p := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/sample" + ask + "&level=II&aql=2.5&inspection=normal&scheme=single").want(http.StatusOK)
	list := p.one("ol", "class", "drawn")
	require.Equal(t, strings.Join(ids(rest.list("drawn")), " "), textOf(list))
	for i, it := range want.Drawn.Sample {
		require.Equal(t, it.ID, rest.list("drawn")[i]["id"])
	}
}

func TestALotOfASiteIsGivenOutSoThatTheVerbDrawsTheSame(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.pullOutSet(north)
		w.as(defects.Clerk).photo(shot(t, 950, nil), nil).want(http.StatusCreated)
		sn := w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped slip", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
		w.as(defects.Auditor).get(w.path("/sample?of=closed-snags")).refused(http.StatusUnprocessableEntity, "bad_value")
		sn.step(defects.Clerk, "instruct", m{"text": "cut out and replace"})
		w.clock.advance(time.Hour)
		photo := w.after(951, north)
		w.clock.advance(time.Minute)
		sn.step(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "replaced"}, "photos": []string{photo}})
		sn.step(defects.Clerk, "close", m{"inspection": "on-site"})
		for of, by := range map[string]string{"cells": "building", "readings": "gang", "photos": "stage", "closed-snags": "stage", "elevations": "", "number": ""} {
			ask := fmt.Sprintf("of=%s&by=%s&lot=30", of, by)
			rows, err := csv.NewReader(bytes.NewReader(w.as(defects.Auditor).get(w.path("/sample/lot?%s", ask)).want(http.StatusOK).Body)).ReadAll()
			require.NoError(t, err)
			spec := statistics.SampleSpec{Level: "II", AQL: "2.5", Inspection: statistics.NormalInspection, Seed: "s"}
			for _, row := range rows[1:] {
				spec.Lot = append(spec.Lot, statistics.Item{ID: row[0], Stratum: row[1]})
			}
			verb, err := statistics.TakeSample(spec) // what the verb does with the file
			require.NoError(t, err, of)
			rest := w.as(defects.Auditor).get(w.path("/sample?%s&seed=s", ask)).want(http.StatusOK)
			require.EqualValues(t, len(rows)-1, rest.obj()["lot"], of)
			drawn := rest.list("drawn")
			require.Len(t, drawn, len(verb.Drawn.Sample), of)
			for i, it := range verb.Drawn.Sample {
				require.Equal(t, it.ID, drawn[i]["id"], of)
				require.Equal(t, by != "", drawn[i]["stratum"] != nil, of)
				if href, ok := drawn[i]["href"].(string); ok {
					w.as(defects.Auditor).get(href).want(http.StatusOK)
				} else {
					require.Equal(t, "number", of)
				}
			}
		}
		require.NotEmpty(t, w.as(defects.Auditor).get(w.path("/sample?of=cells")).want(http.StatusOK).str("seed"), "one is made and told")
	})
}
