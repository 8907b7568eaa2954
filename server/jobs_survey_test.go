package server_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// hollowAt is a survey of 3 × 3 points, 1 m apart, with a hollow of 6 mm in the
// middle and a right end that leans 3 mm.
func hollowAt(elevation string) m {
	return m{
		"elevation": elevation, "stage": "SV", "dx_m": "1", "dz_m": 1, "x_m": "0.5", "z_m": 0,
		"offsets": []any{[]any{0, "0.0", 3}, []any{"0", -6, 1.5}, []any{0, 0, 0}}, "note": "from a string line",
	}
}

// J15 and J25 with a grid in place of single readings: the distance of the high
// points decides which limit a gap has, a missing point is told and none is made up.
func TestASurveyIsJudgedByTheDistanceOfItsHighPoints(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.inForce("din-18202-t3-line6", "labc-v7-fair-faced")
		add := func(change func(m)) answer {
			in := hollowAt(north)
			change(in)
			return w.as(defects.Clerk).post(w.path("/surveys"), in).want(http.StatusCreated)
		}
		far := add(func(m) {})
		require.Equal(t, "pass", far.str("outcome"))
		require.Equal(t, "7", far.str("flatness.verdict.limit_upper"), "high points 2 m apart: 5 + 1/3 of 5, rounded")
		require.Equal(t, "secondary", far.str("flatness.verdict.basis"))
		near := add(func(in m) { in["dx_m"], in["dz_m"] = "0.5", "0.5" })
		require.Equal(t, "fail", near.str("outcome"))
		require.Equal(t, "5", near.str("flatness.verdict.limit_upper"), "1 m apart")
		require.Equal(t, "1.000000", near.str("flatness.base_length_m"))
		require.Equal(t, "1.000", near.str("flatness.place.x_m"), "0.5 m and one step of 0.5 m")

		one := w.as(defects.Auditor).get(w.path("/surveys/%s?target=best-fit&cut_back_mm=1", near.str("id"))).want(http.StatusOK)
		require.Equal(t, near.Header.Get("ETag"), one.Header.Get("ETag"))
		require.Len(t, one.list("findings"), 5, "flatness over 1 m and along the diagonal, plumb of three columns")
		require.Len(t, one.list("largest_gaps"), 3)
		require.InDelta(t, 7.5, one.list("largest_gaps")[1]["depth_mm"], 1e-9)
		require.Equal(t, "best-fit", one.str("dubbing.target"))
		rows := one.obj()["offsets"].([]any)
		require.Equal(t, []any{"0", "0.0", "3"}, rows[0], "the top row first, as typed")
		w.as(defects.Auditor).get(w.path("/surveys/%s?target=level", near.str("id"))).want(http.StatusUnprocessableEntity)

		gap := add(func(in m) { in["offsets"] = []any{[]any{0, nil, 0}, []any{nil, nil, nil}, []any{0, nil, 0}} })
		require.Equal(t, "none", gap.str("flatness.verdict.outcome"))
		require.Equal(t, "pass", gap.str("plumb.verdict.outcome"))

		list := w.as(defects.Auditor).get(w.path("/surveys?elevation=%s&limit=2", north)).want(http.StatusOK)
		require.Len(t, list.list("items"), 2)
		require.Contains(t, list.Header.Get("Link"), `rel="next"`)
		require.NotContains(t, list.list("items")[0], "offsets")
	})
}

func TestASurveyComesAsATableAndIsHeldToItsSize(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		clerk := w.as(defects.Clerk)
		ask := "?" + url.Values{"elevation": {"North"}, "dx_m": {"0.5"}, "dz_m": {"0.5"}, "stage": {"SV"}}.Encode()
		taken := clerk.send("POST", w.path("/surveys%s", ask), "text/csv", []byte("0,0,0\r\n0;-6;\r\n")).refused(http.StatusUnprocessableEntity, "bad_offset")
		require.Equal(t, "offsets", taken.Field)
		one := clerk.send("POST", w.path("/surveys%s", ask), "text/csv", []byte("0;0;0\r\n0;-6;\r\n")).want(http.StatusCreated)
		require.Equal(t, north, one.str("elevation_id"))
		require.EqualValues(t, 3, one.obj()["columns"])
		big := []byte(strings.Repeat("1,", defects.MaxSurveyBytes))
		clerk.send("POST", w.path("/surveys%s", ask), "text/csv", big).refused(http.StatusRequestEntityTooLarge, "survey_too_large")
		clerk.send("POST", w.path("/surveys%s", ask), "text/csv", big[:100_000]).refused(http.StatusUnprocessableEntity, "bad_grid")
		clerk.send("POST", w.path("/surveys%s&wall=North", ask), "text/csv", []byte("1")).refused(http.StatusUnprocessableEntity, "unknown_parameter")
		clerk.send("POST", w.path("/surveys"), "text/plain", []byte("1")).refused(http.StatusUnsupportedMediaType, "unsupported_type")
		in := hollowAt(north)
		in["offsets"] = []any{[]any{"1,2"}}
		clerk.post(w.path("/surveys"), in).refused(http.StatusUnprocessableEntity, "bad_offset")
		in["offsets"], in["x_m"] = []any{[]any{1, 2}}, "100"
		clerk.post(w.path("/surveys"), in).refused(http.StatusUnprocessableEntity, "outside_elevation")
		w.as(defects.Auditor).post(w.path("/surveys"), hollowAt(north)).refused(http.StatusForbidden, "role_forbidden")
	})
}

// J22 with a survey.
func TestJ22ASurveyIsJudgedAnewOnlyByDecision(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.inForce("din-18202-t3-line6", "labc-v7-fair-faced")
		in := hollowAt(north)
		in["dx_m"], in["dz_m"] = "0.5", "0.5"
		s := w.as(defects.Clerk).post(w.path("/surveys"), in).want(http.StatusCreated)
		id := s.str("id")
		w.clock.advance(time.Minute)
		w.inForce("din-18202-t3-line5", "labc-v7-fair-faced")
		require.Equal(t, "fail", w.as(defects.Auditor).get(w.path("/surveys/%s", id)).want(http.StatusOK).str("outcome"))
		fresh := w.as(defects.Clerk).post(w.path("/surveys"), in).want(http.StatusCreated)
		require.Equal(t, "pass", fresh.str("outcome"), "10 mm over 1 m")
		order := m{"elevation": north, "quantity": "flatness", "reason": "raw wall, line 5", "preview": true}
		preview := w.as(defects.Designer).post(w.path("/rejudgements"), order).want(http.StatusOK)
		require.Equal(t, m{"judged": 2.0, "changed": 1.0}, preview.obj()["surveys"], "counted before it is decided")
		require.Equal(t, m{"judged": 0.0, "changed": 0.0}, preview.obj()["sets"])
		order["preview"] = false
		done := w.as(defects.Designer).post(w.path("/rejudgements"), order).want(http.StatusCreated)
		require.Equal(t, preview.obj()["surveys"], done.obj()["surveys"])
		now := w.as(defects.Auditor).get(w.path("/surveys/%s", id)).want(http.StatusOK)
		require.Equal(t, "pass", now.str("outcome"))
		past := now.list("judged_before")
		require.Len(t, past, 1)
		require.Equal(t, "fail", past[0]["outcome"])
		require.Equal(t, "raw wall, line 5", past[0]["reason"])
		require.Equal(t, "din-18202-t3-line6@1", past[0]["flatness"].(m)["schedule"])
		log := string(w.as(defects.Auditor).get(w.path("/log?limit=200")).want(http.StatusOK).Body)
		for _, want := range []string{"survey.add", "survey.rejudge", "offsets_sha256"} {
			require.Contains(t, log, want)
		}
		tag := now.Header.Get("ETag")
		w.as(defects.Clerk).with("If-Match", `"v1"`).post(w.path("/surveys/%s/withdraw", id), m{"reason": "no"}).want(http.StatusPreconditionFailed)
		gone := w.as(defects.Clerk).with("If-Match", tag).post(w.path("/surveys/%s/withdraw", id), m{"reason": "string line sagged"}).want(http.StatusOK)
		require.Equal(t, "string line sagged", gone.str("withdrawn"))
		w.as(defects.Designer).with("If-Match", gone.Header.Get("ETag")).post(w.path("/surveys/%s/rejudge", id), m{"reason": "x"}).refused(http.StatusConflict, "survey_withdrawn")
	})
}

// J13: base coat at 15:10 with air 4.1 and wall 3.6 against +5, a night of −1.2;
// another schedule allows 2 and rising.
func TestJ13TheLogSaysWhatTheWeatherWas(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.inForce("ewi-common-practice", "dew-point-practice")
		clerk := w.as(defects.Clerk)
		table := "at,air_c,surface_c,relative_humidity,elevation,note\n" +
			"2025-11-18 15:10,4.1,3.6,85,North,base coat\n2025-11-19 04:30,-1.2,,,,night's minimum\n2025-11-19 08:30,2.4,,,,\n2025-11-19 09:00,3.1,,,,\n" +
			"2025-11-19 16:00,40o,,,,\n"
		taken := clerk.send("POST", w.path("/weather"), "text/csv", []byte(table)).want(http.StatusOK)
		require.EqualValues(t, 4, taken.obj()["taken"])
		require.EqualValues(t, 1, taken.obj()["refused"])
		again := clerk.send("POST", w.path("/weather"), "text/csv", []byte(table)).want(http.StatusOK)
		require.EqualValues(t, 4, again.obj()["known"], "the same file is taken in once")
		shift := func(ask string) answer {
			return w.as(defects.Auditor).get(w.path("/weather/shift?stage=BM&%s", ask)).want(http.StatusOK)
		}
		cold := shift("day=2025-11-18&start=15:10&end=15:40&frost_hours=24&elevation=" + north)
		require.Equal(t, "fail", cold.str("outcome"))
		require.Equal(t, "BM-08", cold.str("proposed_code"))
		require.Equal(t, "major", cold.str("proposed_severity"))
		looks := cold.list("looks")
		require.Equal(t, "surface_too_cold", looks[0]["reason"])
		last := looks[len(looks)-1]
		require.Equal(t, "frost_afterwards", last["reason"])
		require.Equal(t, "common-practice", looks[0]["findings"].([]any)[0].(m)["verdict"].(m)["basis"])
		require.Equal(t, []string{"BM-08", "CL-03"}, codesOf(cold.list("proposed")), "nothing shows the work sheeted that night")

		whole := shift("day=2025-11-18&start=08:00&end=16:30")
		require.Equal(t, "fail", whole.str("outcome"))
		var gaps []any
		for _, look := range whole.list("looks") {
			if look["reason"] == "weather_gap" {
				gaps = append(gaps, look["text"])
			}
		}
		require.Equal(t, []any{"the log has no entry within 1 h of 08:00 (start)", "the log has no entry within 1 h of 12:00 (noon)", "the log has no entry within 1 h of 16:30 (end)"}[:2], gaps[:2], "gaps are named")

		w.inForce("nhbc-2022-render")
		rising := shift("day=2025-11-19&start=08:30&end=08:40")
		require.Equal(t, "pass", rising.str("outcome"))
		require.Equal(t, "allowed_while_rising", rising.list("looks")[0]["reason"])
		finding := rising.list("looks")[0]["findings"].([]any)[0].(m)
		require.Equal(t, defects.ReasonProtect, finding["verdict"].(m)["reason"], "allowed with a note")
		require.Equal(t, "2022", finding["verdict"].(m)["edition"])
		require.Equal(t, "none", shift("day=2025-11-19&start=09:00&end=09:10").str("outcome"), "nothing after it says that it still rises")
		w.as(defects.Auditor).get(w.path("/weather/shift?day=yesterday&start=08:00&end=09:00")).refused(http.StatusUnprocessableEntity, "bad_time")
		require.Len(t, w.as(defects.Auditor).get(w.path("/weather")).want(http.StatusOK).list("items"), 4)
		clerk.post(w.path("/weather"), m{"air_c": "140"}).refused(http.StatusUnprocessableEntity, "implausible")
		clerk.post(w.path("/weather"), m{}).refused(http.StatusUnprocessableEntity, "nothing_taken")
	})
}

func codesOf(list []m) []string {
	var out []string
	for _, one := range list {
		out = append(out, one["code"].(string))
	}
	return out
}

// J13, what follows: the area is that of the shift, H7 waits for a pull-off, and
// a photo of the sheeting answers CL-03.
func TestJ13ColdWorkIsTestedBeforeItIsCovered(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.inForce("ewi-common-practice")
		clerk := w.as(defects.Clerk)
		clerk.send("POST", w.path("/weather"), "text/csv", []byte("at,air_c,surface_c,elevation\n2025-11-18 15:10,4.1,3.6,North\n2025-11-19 04:30,-1.2,,\n")).want(http.StatusOK)
		depth := m{"quantity": "mesh_lap", "value": "120", "unit": "mm", "stage": "BM", "elevation": north, "bay": 2, "lift": 1, "measured_at": "2025-11-18T15:20:00Z"}
		clerk.post(w.path("/readings"), depth).want(http.StatusCreated)
		shift := w.path("/weather/shift?stage=BM&day=2025-11-18&start=15:10&end=15:40&frost_hours=24&elevation=%s", north)
		got := clerk.get(shift).want(http.StatusOK)
		require.Equal(t, m{"bay_from": 2.0, "bay_to": 2.0, "lift_from": 1.0, "lift_to": 1.0, "readings": 1.0, "photos": 0.0, "sheeted": false}, got.obj()["work"])
		page := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/weather/shift?stage=BM&day=2025-11-18&start=15:10&end=15:40&frost_hours=24&elevation=" + north).want(http.StatusOK)
		require.Contains(t, page.text(), "bay 2, lift 1, by 1 reading and 0 photos")
		require.Contains(t, page.text(), "Raise a snag of CL-03")
		page.sound(t)

		sheeting := shot(t, 5, func(c *defects.Capture) {
			at := time.Date(2025, 11, 18, 17, 5, 0, 0, time.UTC)
			c.TakenLocal, c.UTCOffset, c.TakenUTC = "2025-11-18T17:05:00", "+00:00", &at
		})
		clerk.photo(sheeting, url.Values{"elevation": {north}, "kind": {"Protection"}}).want(http.StatusCreated)
		require.Equal(t, []string{"BM-08"}, codesOf(clerk.get(shift).want(http.StatusOK).list("proposed")))

		snag := clerk.post(w.path("/snags"), m{"code": "BM-08", "no_reading_reason": "the weather log stands for it", "text": "base coat at 4 °C, frost in the night", "place": m{"elevation_id": north, "bay": 2, "lift": 1}}).want(http.StatusCreated)
		h7 := m{"hold_point": "H7", "elevation_id": north, "bay_from": 1, "bay_to": 3, "outcome": "released with conditions", "text": snag.str("ref") + ": watch it"}
		refusal := clerk.post(w.path("/releases"), h7).refused(http.StatusConflict, "hold_point_not_ready")
		require.Equal(t, []string{"weather_untested"}, []string{refusal.Errors[0].Code})
		require.Len(t, refusal.Errors, 1)
		w.clock.advance(time.Hour)
		bond := m{"quantity": "bond_strength", "value": "0.12", "unit": "N/mm2", "stage": "BM", "elevation": north, "bay": 2, "lift": 1, "failure_plane": "insulation", "dolly": "50 mm round"}
		require.Equal(t, "pass", clerk.post(w.path("/readings"), bond).want(http.StatusCreated).str("reading.verdict.outcome"))
		clerk.post(w.path("/releases"), h7).want(http.StatusCreated)
	})
}

// J14: a meter's index is no percentage; a carbide sample is.
func TestJ14AMeterIsNotPerCent(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.as(defects.Designer).post(w.path("/schedules/compose"), m{
			"name": "dry", "title": "Moisture agreed (invented)", "rank": "contract", "agreed_by": "Designer Example", "agreed_on": "2026-01-02",
			"lines": []m{{"quantity": "moisture_mass", "upper": "5", "source": "specification 3.1", "reason": "agreed"}},
		}).want(http.StatusCreated)
		w.inForce("dry")
		site := w.as(defects.Manager).get(w.path("")).want(http.StatusOK)
		w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).json("PATCH", w.path(""), m{"decision_rule": "four-way"}).want(http.StatusOK)
		meter := w.as(defects.Clerk).post(w.path("/readings"), m{
			"quantity": "moisture_index", "value": "19", "unit": "index", "mode": "wood", "elevation": north, "stage": "SV",
		}).want(http.StatusCreated)
		require.Equal(t, "none", meter.str("reading.verdict.outcome"))
		require.Equal(t, defects.ReasonNotComparable, meter.str("reading.verdict.reason"))
		require.Contains(t, meter.str("reading.verdict.reason_text"), "carbide")
		carbide := w.as(defects.Clerk).post(w.path("/readings"), m{
			"quantity": "moisture_mass", "value": "4.9", "unit": "%", "expanded_uncertainty": "0.3", "elevation": north, "stage": "SV",
		}).want(http.StatusCreated)
		require.Equal(t, "conditional-pass", carbide.str("reading.verdict.outcome"))
	})
}

// quietButRefused is quiet for a test that sends what is refused on purpose: the
// browser notes each such answer.
func (b *tab) quietButRefused() {
	b.t.Helper()
	b.mu.Lock()
	b.faults = slices.DeleteFunc(b.faults, func(text string) bool { return strings.Contains(text, "status of 422 (") })
	b.mu.Unlock()
	b.quiet()
}

func TestASurveyIsEnteredShownWithdrawnAndJudgedAnewOnPages(t *testing.T) {
	t.Parallel()
	for _, screen := range screens {
		w := onSQLite(t)
		north := w.walls()["North"]
		w.inForce("din-18202-t3-line6", "labc-v7-fair-faced")
		b := openTab(t, w, screen)
		b.signIn(defects.Clerk)
		site := "/sites/" + w.site.ID
		b.open(site + "/surveys/new?elevation=" + north)
		b.eval(`(() => { const set = (n, v) => { document.querySelector('main form [name="' + n + '"]').value = v };
			set("dx_m", "0.5"); set("dz_m", "0,5"); set("offsets", "0\t0\t0\n0\t-6\t0\n0\t0\t0"); set("note", "string line"); return "" })()`)
		b.press(`main form[method="post"] button.main`)
		require.Contains(t, b.says("main"), "Step up the wall")
		require.Equal(t, "0\t0\t0\n0\t-6\t0\n0\t0\t0", b.eval(`document.querySelector('[name="offsets"]').value`), "what was pasted is still there")
		b.fits()
		b.eval(`document.querySelector('[name="dz_m"]').value = "0.5"; ""`)
		b.press(`main form[method="post"] button.main`)
		require.Contains(t, b.says("main"), "6.0 mm over 1.00 m")
		require.Contains(t, b.says("main"), "at most 5 mm")
		require.Contains(t, b.says("main"), "read in a text that quotes it")
		require.Equal(t, "1", b.eval(`document.querySelectorAll("svg .survey-gap").length + ""`))
		b.fits()
		b.barriers()
		b.shoot("survey")
		address := b.eval(`location.pathname`)
		b.eval(`document.querySelector('[name="cut_back_mm"]').value = "x"; ""`)
		b.press(`#packing form button`)
		require.Contains(t, b.says("main"), "May be cut back")
		b.open(address + "?target=best-fit&cut_back_mm=2")
		require.Contains(t, b.says("main"), "mm cut back")

		w.clock.advance(time.Minute)
		w.inForce("din-18202-t3-line5")
		b.signIn(defects.Designer)
		b.open(address)
		b.eval(`(() => { const f = document.querySelector('form[action$="/rejudge"]'); f.closest("details").open = true; f.querySelector('[name="reason"]').value = "raw wall"; return "" })()`)
		b.press(`form[action$="/rejudge"] button`)
		require.Contains(t, b.says("main"), "raw wall")
		require.Contains(t, b.says("main"), "at most 10 mm")
		b.signIn(defects.Clerk)
		b.open(address)
		b.eval(`(() => { const f = document.querySelector('form[action$="/withdraw"]'); f.closest("details").open = true; f.querySelector('[name="reason"]').value = "line sagged"; return "" })()`)
		b.press(`form[action$="/withdraw"] button`)
		require.Contains(t, b.says("main"), "Withdrawn: line sagged")
		b.quietButRefused()
	}
}

func TestTheWeatherIsNotedTakenInAndJudgedOnPages(t *testing.T) {
	t.Parallel()
	for _, screen := range screens {
		w := onSQLite(t)
		w.walls()
		w.inForce("ewi-common-practice", "dew-point-practice")
		b := openTab(t, w, screen)
		b.signIn(defects.Clerk)
		site := "/sites/" + w.site.ID
		b.open(site + "/weather")
		note := func(air, at string) {
			b.eval(`(() => { const set = (n, v) => { document.querySelector('form[action$="/weather"][method="post"] [name="' + n + '"]').value = v };
				set("air_c", "` + air + `"); set("at", "` + at + `"); set("surface_c", "6.8"); set("relative_humidity", "84"); return "" })()`)
			b.press(`form[action$="/weather"] button.main`)
		}
		note("72", "2026-05-31T08:00")
		require.Contains(t, b.says("main"), "It is right as typed", "one that can hardly be meant is asked about")
		b.fits()
		note("7.2", "2026-05-31T08:00")
		require.Contains(t, b.says("main"), "The line is in the log.")
		b.do(chromedp.SetUploadFiles(chromedp.CSS("#weather-file"), []string{b.file("log.csv", []byte("at,air_c\n2026-05-31 12:00,9\n2026-05-31 12:10,x\n"))}))
		b.press(`form[action$="/weather/table"] button`)
		require.Contains(t, b.says("main"), "1 taken, 1 refused")
		b.fits()
		b.barriers()
		b.open(site + "/weather/shift?day=2026-05-31")
		b.open(site + "/weather/shift?day=2026-05-31&stage=BM")
		require.Contains(t, b.says("main"), "The log has no entry within 1 h of 16:30 (end).")
		require.Contains(t, b.says("main"), "danger of condensation")
		b.fits()
		b.barriers()
		b.shoot("shift")
		b.open(site + "/weather")
		note("2.0", "2026-05-31T16:20")
		b.open(site + "/weather/shift?day=2026-05-31&stage=BM")
		b.press(`.notice.ask a`)
		b.eval(`(() => { const s = document.querySelector('[name="elevation"]'); s.selectedIndex = 1; return "" })()`)
		b.press(`main form button.main`)
		require.Equal(t, "BM-08", b.eval(`document.querySelector('[name="code"]').value`), "what the weather proposes is kept while the wall is chosen")
		require.Contains(t, b.eval(`document.querySelector('[name="text"]').value`), "air 2.0 °C, at least 5 °C")
		b.open(site + "/weather")
		b.eval(`(() => { const f = document.querySelector('form[action$="/weather/withdraw"]'); f.closest("details").open = true; f.querySelector('[name="reason"]').value = "read off wrongly"; return "" })()`)
		b.press(`form[action$="/weather/withdraw"] button`)
		require.Contains(t, b.says("main"), "withdrawn: read off wrongly")
		b.quietButRefused()
	}
}
