package server_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func (w *world) inForce(refs ...string) {
	w.t.Helper()
	site := w.as(defects.Manager).get(w.path("")).want(http.StatusOK)
	w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).
		json("PATCH", w.path(""), map[string]any{"schedules": refs, "decision_rule": "simple"}).want(http.StatusOK)
}

func bedLevel(lower string) m {
	line := m{"from": "nhbc-2011-fair-faced@1#1"}
	if lower != "" {
		line["figure"], line["reason"] = lower, "agreed with the designer after the sample panel"
	}
	return m{
		"name": "larkrow", "title": "Agreed limits of Larkrow Court (invented)", "rank": "contract",
		"agreed_by": "Designer Example", "agreed_on": "2026-05-09", "lines": []m{line},
	}
}

func TestJ22AChangedLimitLeavesOldVerdictsUntilSomebodyDecides(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		one := w.as(defects.Designer).post(w.path("/schedules/compose"), bedLevel("")).want(http.StatusCreated)
		require.Equal(t, "larkrow@1", one.str("ref"))
		w.inForce("larkrow", "labc-v7-fair-faced")
		read := func() answer {
			return w.as(defects.Clerk).post(w.path("/readings"), m{
				"quantity": "bed_joint_level", "value": "9", "unit": "mm", "base_length_m": "5", "stage": "SL", "elevation": walls["North"],
			}).want(http.StatusCreated)
		}
		old := read()
		require.Equal(t, "fail", old.str("reading.verdict.outcome"))
		require.Equal(t, "read", old.str("reading.verdict.basis"), "a line taken over keeps its source")
		require.Equal(t, "2011", old.str("reading.verdict.edition"))
		require.Equal(t, "labc-v7-fair-faced@1", old.obj()["reading"].(m)["verdict"].(m)["passed_over"].([]any)[0].(m)["schedule"])
		id := old.str("reading.id")
		w.as(defects.Clerk).post(w.path("/snags"), m{"reading_id": id}).want(http.StatusCreated)

		w.as(defects.Designer).post(w.path("/schedules/compose"), bedLevel("10")).want(http.StatusCreated)
		w.clock.advance(time.Minute)
		w.inForce("larkrow@2")
		fresh := read()
		require.Equal(t, "pass", fresh.str("reading.verdict.outcome"))
		require.Equal(t, "project", fresh.str("reading.verdict.basis"))
		require.Contains(t, fresh.str("reading.verdict.line"), "in place of NHBC Standards")
		require.Equal(t, "fail", w.as(defects.Auditor).get(w.path("/readings/%s", id)).want(http.StatusOK).str("verdict.outcome"))

		order := m{"elevation": walls["North"], "quantity": "bed_joint_level", "schedules": []string{"larkrow@2"}, "preview": true}
		preview := w.as(defects.Designer).post(w.path("/rejudgements"), order).want(http.StatusOK)
		require.Equal(t, "preview", preview.str("state"))
		require.EqualValues(t, 2, preview.obj()["readings"])
		require.EqualValues(t, 1, preview.obj()["changed"])
		require.Equal(t, "fail", w.as(defects.Auditor).get(w.path("/readings/%s", id)).want(http.StatusOK).str("verdict.outcome"), "a preview writes nothing")
		delete(order, "preview")
		w.as(defects.Designer).post(w.path("/rejudgements"), order).refused(http.StatusUnprocessableEntity, "reason_missing")
		order["reason"] = "limit agreed on 9 May"
		w.as(defects.Clerk).post(w.path("/rejudgements"), order).refused(http.StatusForbidden, "role_forbidden")
		done := w.as(defects.Designer).post(w.path("/rejudgements"), order).want(http.StatusCreated)
		require.Equal(t, "done", done.str("state"))
		require.EqualValues(t, 1, done.obj()["before"].(m)["fail"])
		require.EqualValues(t, 2, done.obj()["after"].(m)["pass"])
		require.Len(t, done.obj()["snags"], 1)

		after := w.as(defects.Auditor).get(w.path("/readings/%s", id)).want(http.StatusOK)
		require.Equal(t, "pass", after.str("verdict.outcome"))
		require.Equal(t, "larkrow@2", after.str("verdict.schedule"))
		past := w.as(defects.Auditor).get(w.path("/readings/%s/verdicts", id)).want(http.StatusOK).list("items")
		require.Len(t, past, 1)
		require.Equal(t, "fail", past[0]["outcome"])
		require.Equal(t, "larkrow@1", past[0]["schedule"])
		require.Equal(t, "limit agreed on 9 May", past[0]["reason"])
		log := string(w.as(defects.Auditor).get(w.path("/log?limit=200")).want(http.StatusOK).Body)
		for _, want := range []string{"rejudgement.decide", "rejudgement.done", "reading.rejudge", "limit agreed on 9 May", "larkrow@1"} {
			require.Contains(t, log, want, "the old verdict stays in the log")
		}
		list := w.as(defects.Auditor).get(w.path("/rejudgements")).want(http.StatusOK).list("items")
		require.Len(t, list, 1)
	})
}

// The published limits disagree on 9 mm off plumb in a storey.
func TestASecondOpinionShowsWhereSchedulesDisagree(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		var id string
		for _, value := range []string{"9", "3"} {
			id = w.as(defects.Clerk).post(w.path("/readings"), m{
				"quantity": "plumb", "value": value, "unit": "mm", "base_length_m": "2.5", "stage": "SL", "elevation": walls["East"],
			}).want(http.StatusCreated).str("reading.id")
		}
		ask := "schedule=" + strings.Join([]string{"labc-v7-fair-faced", "nhbc-2019-fair-faced", "en-1996-2-2006"}, "&schedule=")
		one := w.as(defects.Auditor).get(w.path("/readings/%s/opinions?%s", id, ask)).want(http.StatusOK)
		require.Equal(t, false, one.obj()["differ"])
		require.Len(t, one.list("verdicts"), 3)
		require.Equal(t, true, one.list("verdicts")[2]["unverified"])
		all := w.as(defects.Auditor).get(w.path("/opinions?elevation=%s&%s", walls["East"], ask)).want(http.StatusOK)
		require.EqualValues(t, 2, all.obj()["readings"])
		require.EqualValues(t, 1, all.obj()["differing"])
		require.EqualValues(t, 1, all.list("counts")[1]["fail"])
		w.as(defects.Auditor).get(w.path("/opinions?schedule=no-such")).refused(http.StatusUnprocessableEntity, "unknown_schedule")
	})
}

func TestAComposedScheduleSaysWhoAgreedAndWhy(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		bad := bedLevel("10")
		bad["lines"].([]m)[0]["reason"] = ""
		p := w.as(defects.Designer).post(w.path("/schedules/compose"), bad).refused(http.StatusUnprocessableEntity, "reason_missing")
		require.Contains(t, p.Detail, "line 1")
		bad = bedLevel("")
		bad["agreed_by"] = " "
		w.as(defects.Designer).post(w.path("/schedules/compose"), bad).refused(http.StatusUnprocessableEntity, "not_agreed")
		bad = bedLevel("")
		bad["agreed_on"] = "2030-01-01"
		w.as(defects.Designer).post(w.path("/schedules/compose"), bad).refused(http.StatusUnprocessableEntity, "bad_date")
		bad = bedLevel("")
		bad["lines"] = []m{{"from": "nhbc-2011-fair-faced@1#1"}, {"from": "nhbc-2011-fair-faced@1#1"}}
		p = w.as(defects.Designer).post(w.path("/schedules/compose"), bad).refused(http.StatusUnprocessableEntity, "bad_schedule")
		require.Contains(t, p.Detail, "line 2 (bed_joint_level): overlaps line 1")
		bad["lines"] = []m{{"from": "nhbc-2011-fair-faced@1#9"}}
		w.as(defects.Designer).post(w.path("/schedules/compose"), bad).refused(http.StatusUnprocessableEntity, "unknown_line")
		w.as(defects.Clerk).post(w.path("/schedules/compose"), bedLevel("")).refused(http.StatusForbidden, "role_forbidden")
	})
}

// J13: two limits for the same air, each from its own source.
func TestJ13TwoDegreesAndRisingIsAllowedWithANote(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		w.inForce("nhbc-2022-render", "ewi-common-practice", "dew-point-practice")
		air := m{"quantity": "air_temperature", "value": "2.4", "unit": "degC", "stage": "BM", "elevation": walls["West"], "trend": "rising"}
		got := w.as(defects.Clerk).post(w.path("/readings"), air).want(http.StatusCreated)
		require.Equal(t, "pass", got.str("reading.verdict.outcome"))
		require.Equal(t, defects.ReasonProtect, got.str("reading.verdict.reason"))
		require.Equal(t, "ewi-common-practice@1", got.obj()["reading"].(m)["verdict"].(m)["passed_over"].([]any)[0].(m)["schedule"])
		delete(air, "trend")
		require.Equal(t, defects.ReasonTrendMissing, w.as(defects.Clerk).post(w.path("/readings"), air).want(http.StatusCreated).str("reading.verdict.reason"))
		wall := m{"quantity": "surface_temperature", "value": "15", "unit": "degC", "stage": "BM", "elevation": walls["West"], "air_temperature_c": "20", "relative_humidity": "70"}
		got = w.as(defects.Clerk).post(w.path("/readings"), wall).want(http.StatusCreated)
		require.Equal(t, "pass", got.str("reading.verdict.outcome"))
		require.Contains(t, got.str("reading.verdict.warning"), "danger of condensation")
	})
}

func TestLimitsArePutTogetherComparedAndUsedAnewOnPages(t *testing.T) {
	t.Parallel()
	for _, screen := range screens {
		w := onSQLite(t)
		walls := w.walls()
		var id string
		for _, value := range []string{"9", "3"} {
			id = w.as(defects.Clerk).post(w.path("/readings"), m{
				"quantity": "plumb", "value": value, "unit": "mm", "base_length_m": "2.5", "stage": "SL", "elevation": walls["East"],
			}).want(http.StatusCreated).str("reading.id")
		}
		b := openTab(t, w, screen)
		b.signIn(defects.Designer)
		b.open("/sites/" + w.site.ID + "/limits/compose?from1=nhbc-2019-fair-faced@1&from2=labc-v7-fair-faced@1")
		b.fits()
		b.shoot("compose")
		b.eval(`(() => { const set = (n, v) => { document.querySelector('[name="' + n + '"]').value = v };
			set("name", "larkrow"); set("title", "Agreed limits of Larkrow Court (invented)"); set("agreed_by", "Designer Example"); set("agreed_on", "2026-05-09");
			document.querySelector('[name="use-1"]').checked = true; set("steps-1", "10"); set("reason-1", "sample panel"); return "" })()`)
		b.press(`form[method="post"] button.main`)
		require.Contains(t, b.eval(`document.body.innerText`), "Why: sample panel")
		b.fits()
		b.shoot("own")
		b.open("/sites/" + w.site.ID + "/opinions?schedule1=larkrow@1&schedule2=nhbc-2019-fair-faced@1&schedule3=en-1996-2-2006@1")
		require.Contains(t, b.eval(`document.body.innerText`), "2 readings, 1 judged differently")
		b.fits()
		b.shoot("opinions")
		b.open("/sites/" + w.site.ID + "/opinions?reading=" + id + "&schedule1=larkrow@1")
		b.fits()
		b.open("/sites/" + w.site.ID + "/rejudge?schedule1=larkrow@1&quantity=plumb")
		require.Contains(t, b.eval(`document.body.innerText`), "2 readings, 2 with another outcome")
		b.fits()
		b.eval(`document.querySelector('[name="reason"]').value = "agreed on 9 May"; ""`)
		b.shoot("rejudge")
		b.press(`form[method="post"] button.main`)
		require.Contains(t, b.eval(`document.body.innerText`), "agreed on 9 May")
		b.open("/sites/" + w.site.ID + "/readings/" + id)
		require.Contains(t, b.eval(`document.body.innerText`), "Judged before")
		require.Contains(t, b.eval(`document.body.innerText`), "larkrow@1")
		b.fits()
		b.shoot("reading")
		b.quiet()
	}
}
