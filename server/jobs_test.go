package server_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// The jobs are worked cases of the trade; sites, people and numbers are
// invented, and the limits named in a case are that site's own rules (common
// practice, no source, unless the case names one).

// schedule adds a schedule of the project's own and puts it in force first.
func (w *world) schedule(doc string) {
	w.t.Helper()
	got := w.as(defects.Designer).send("POST", w.path("/schedules"), "application/json", []byte(doc)).want(http.StatusCreated)
	site := w.as(defects.Designer).get(w.path("")).want(http.StatusOK)
	in := []any{got.str("ref")}
	in = append(in, site.obj()["schedules"].([]any)...)
	w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).
		json("PATCH", w.path(""), map[string]any{"schedules": in}).want(http.StatusOK)
}

func (w *world) instrument(name string, calibrations ...map[string]any) string {
	w.t.Helper()
	got := w.as(defects.Clerk).post(w.path("/instruments"), map[string]any{"name": name, "kind": name}).want(http.StatusCreated)
	for _, c := range calibrations {
		got = w.as(defects.Clerk).with("If-Match", got.Header.Get("ETag")).
			post(w.path("/instruments/%s/calibrations", got.str("id")), c).want(http.StatusOK)
	}
	return got.str("id")
}

type m = map[string]any

// outcomes adds readings of one quantity at one place and gives their verdicts.
func (w *world) outcomes(base m, values ...string) (verdicts, follow []string) {
	w.t.Helper()
	var batch []m
	for _, v := range values {
		one := m{"value": v}
		for k, x := range base {
			one[k] = x
		}
		batch = append(batch, one)
	}
	got := w.as(defects.Clerk).post(w.path("/readings"), batch).want(http.StatusOK)
	for _, r := range got.list("results") {
		require.NotContains(w.t, r, "problem")
		verdicts = append(verdicts, r["reading"].(m)["verdict"].(m)["outcome"].(string))
		kind := ""
		if f, ok := r["follow_up"].(m); ok {
			kind, _ = f["kind"].(string)
		}
		follow = append(follow, kind)
	}
	return verdicts, follow
}

const pullOutSchedule = `{"name":"quarry-terrace","version":1,"title":"Fixing design of Quarry Terrace (invented)","basis":"project",
"limits":[{"quantity":"pull_out_load","kind":"pull-out","clause":"note 4",
"pull_out":{"factor":"0.6","lowest":5,"cap_kN":"1.5","min_tests":15,"gamma":"2.0","required_kN":"%s"}}]}`

func TestJ2APullOutSetIsJudgedUnrounded(t *testing.T) {
	t.Parallel()
	peaks := strings.Fields("0.92 1.05 0.88 1.21 1.10 0.79 0.95 1.30 1.02 0.84 0.98 1.15 0.90 1.08 0.97")
	onBoth(t, func(w *world) {
		walls := w.walls()
		valid := w.instrument("tester", m{"certificate": "T-1", "on": "2026-01-10", "due": "2026-12-31"})
		ended := w.instrument("old tester", m{"certificate": "T-0", "on": "2025-05-31", "due": "2026-05-31"})
		set := func(name, instrument string, values []string) answer {
			id := w.as(defects.Clerk).post(w.path("/sets"), m{
				"quantity": "pull_out_load", "name": name, "substrate": "solid brick",
				"stage": "SV", "place": m{"elevation_id": walls["East"]},
			}).want(http.StatusCreated).str("id")
			w.outcomes(m{
				"quantity": "pull_out_load", "unit": "kN", "instrument": instrument, "stage": "SV",
				"elevation": walls["East"], "set": id,
			}, values...)
			return w.as(defects.Clerk).get(w.path("/sets/%s", id)).want(http.StatusOK)
		}

		w.schedule(fmt.Sprintf(pullOutSchedule, "0.50"))
		pass := set("required 0.50", valid, peaks)
		require.Equal(t, "pass", pass.str("verdict.outcome"))
		require.Equal(t, "0.5196", pass.str("result"), "0.6 × 0.866")
		require.Contains(t, pass.str("caution"), "competent structural designer")

		last := pass.list("readings")
		var id, tag string
		for _, r := range last {
			if r["value"] == "0.97" {
				id, tag = r["id"].(string), fmt.Sprintf(`"v%v"`, r["version"])
			}
		}
		w.as(defects.Clerk).with("If-Match", tag).post(w.path("/readings/%s/withdraw", id), m{"reason": "wrong anchor"}).want(http.StatusOK)
		short := w.as(defects.Clerk).get(w.path("/sets/%s", pass.str("id"))).want(http.StatusOK)
		require.Equal(t, "none", short.str("verdict.outcome"))
		require.Contains(t, short.str("verdict.reason_text"), "1 test short")

		w.schedule(strings.Replace(fmt.Sprintf(pullOutSchedule, "0.52"), `"version":1`, `"version":2`, 1))
		require.Equal(t, "fail", set("required 0.52", valid, peaks).str("verdict.outcome"), "0.5196 is below 0.52 unrounded")

		void := set("calibration ended the day before", ended, peaks)
		require.Equal(t, "none", void.str("verdict.outcome"))
		require.Equal(t, defects.ReasonCalibrationExpired, void.str("verdict.reason"))
	})
}

func TestJ3NearTheLimitFourWaysAndSimple(t *testing.T) {
	t.Parallel()
	values := strings.Fields("9.5 12.3 12.8 13.2 13.6 7.3 6.8 6.4")
	onBoth(t, func(w *world) {
		walls := w.walls()
		base := m{
			"quantity": "joint_width_bed", "unit": "mm", "expanded_uncertainty": "0.5", "stage": "SL",
			"elevation": walls["North"], "bay": 1, "lift": 1,
		}
		verdicts, follow := w.outcomes(base, values...)
		require.Equal(t, []string{"pass", "pass", "conditional-pass", "conditional-fail", "fail", "conditional-pass", "conditional-fail", "fail"}, verdicts)
		require.Equal(t, []string{"", "", "measure-again", "measure-again", "raise", "measure-again", "measure-again", "raise"}, follow)

		site := w.as(defects.Manager).get(w.path("")).want(http.StatusOK)
		w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).json("PATCH", w.path(""), m{"decision_rule": "simple"}).want(http.StatusOK)
		verdicts, _ = w.outcomes(base, values...)
		require.Equal(t, []string{"pass", "pass", "pass", "fail", "fail", "pass", "fail", "fail"}, verdicts)
	})
}

func TestJ15LapsRefuseTheHoldPointAndAPatternAsksForMore(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		base := m{
			"quantity": "mesh_lap", "unit": "mm", "expanded_uncertainty": "3", "stage": "BM",
			"elevation": walls["North"], "bay": 2, "lift": 1,
		}
		verdicts, _ := w.outcomes(base, strings.Fields("110 104 95 88 102 98")...)
		require.Equal(t, []string{"pass", "pass", "fail", "fail", "conditional-pass", "conditional-fail"}, verdicts)

		hold := m{"hold_point": "H7", "elevation_id": walls["North"], "bay_from": 2, "bay_to": 2, "lift_from": 1, "lift_to": 1, "outcome": "released"}
		p := w.as(defects.Clerk).post(w.path("/releases"), hold).refused(http.StatusConflict, "hold_point_not_ready")
		require.NotEmpty(t, p.Errors)

		failed := w.as(defects.Clerk).get(w.path("/readings?outcome=fail")).want(http.StatusOK).list("items")
		require.Len(t, failed, 2)
		w.as(defects.Clerk).post(w.path("/snags"), m{"reading_id": failed[0]["id"], "extent": "pattern"}).want(http.StatusCreated)
		var search m
		for _, f := range w.as(defects.Clerk).get(w.path("/follow-ups")).want(http.StatusOK).list("items") {
			if f["kind"] == "search" {
				search = f
			}
		}
		require.NotNil(t, search, "a pattern asks for further readings")
		require.EqualValues(t, 6, search["want"])
	})
}

func TestJ25FlatnessNeedsTheDistanceBetweenTheHighPoints(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		site := w.as(defects.Manager).get(w.path("")).want(http.StatusOK)
		w.as(defects.Manager).with("If-Match", site.Header.Get("ETag")).
			json("PATCH", w.path(""), m{"schedules": []string{"din-18202-t3-line6"}, "decision_rule": "simple"}).want(http.StatusOK)
		read := func(who defects.Role, length string) answer {
			r := m{"quantity": "flatness", "value": "6", "unit": "mm", "stage": "BM", "elevation": walls["South"], "bay": 1, "lift": 1}
			if length != "" {
				r["base_length_m"] = length
			}
			return w.as(who).post(w.path("/readings"), r).want(http.StatusCreated)
		}
		one := read(defects.Clerk, "1.0")
		require.Equal(t, "fail", one.str("reading.verdict.outcome"))
		require.Equal(t, "5", one.str("reading.verdict.limit_upper"), "DIN 18202 table 3 line 6 at 1 m")
		two := read(defects.Installer, "2.0")
		require.Equal(t, "pass", two.str("reading.verdict.outcome"))
		require.Equal(t, "7", two.str("reading.verdict.limit_upper"), "6.67 rounded half up to whole mm")
		none := read(defects.Clerk, "")
		require.Equal(t, "none", none.str("reading.verdict.outcome"))
		require.Equal(t, defects.ReasonBaseLengthMissing, none.str("reading.verdict.reason"))
		require.Len(t, w.as(defects.Auditor).get(w.path("/readings")).want(http.StatusOK).list("items"), 3, "both parties' readings stay")
	})
}

func TestJ28AnImplausibleValueIsAskedAboutAndNeverChanged(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		pull := m{"quantity": "pull_out_load", "value": "920", "unit": "kN", "elevation": walls["East"], "bay": 1, "lift": 1}
		p := w.as(defects.Clerk).post(w.path("/readings"), pull).refused(http.StatusUnprocessableEntity, "implausible")
		require.Contains(t, p.Detail, "920 N")
		joint := m{"quantity": "joint_width_bed", "value": "102", "unit": "mm", "elevation": walls["East"], "bay": 1, "lift": 1}
		p = w.as(defects.Clerk).post(w.path("/readings"), joint).refused(http.StatusUnprocessableEntity, "implausible")
		require.Contains(t, p.Detail, "10.2")
		require.Empty(t, w.as(defects.Clerk).get(w.path("/readings")).list("items"), "nothing is stored before the answer")

		joint["confirmed"] = true
		got := w.as(defects.Clerk).post(w.path("/readings"), joint).want(http.StatusCreated)
		require.Equal(t, "102", got.str("reading.value"), "a yes keeps it as typed")
		require.Equal(t, "true", got.str("reading.confirmed"))
	})
}

func TestJ12TheWalkRunsBackAndForth(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		east := w.walls()["East"]
		tag := w.as(defects.Clerk).get(w.path("/elevations/%s", east)).want(http.StatusOK).Header.Get("ETag")
		length := w.as(defects.Clerk).get(w.path("/elevations/%s", east)).str("length_m")
		w.as(defects.Clerk).with("If-Match", tag).json("PATCH", w.path("/elevations/%s", east),
			m{"bays_m": []string{"3", "6", "9", length}, "lifts_m": []string{"2", "4", "6"}}).want(http.StatusOK)
		raise := func(name string, bay, lift int) {
			place := m{"elevation_id": east}
			if bay > 0 {
				place["bay"], place["lift"] = bay, lift
			}
			w.as(defects.Clerk).post(w.path("/snags"), m{"code": "SL-12", "text": name, "place": place}).want(http.StatusCreated)
		}
		raise("unclear", 0, 0)
		raise("A", 4, 3)
		raise("B", 1, 3)
		raise("C", 2, 2)
		raise("D", 4, 2)
		raise("E", 1, 1)
		path := w.path("/elevations/%s/snag-list", east)
		list := w.as(defects.Installer).get(path).want(http.StatusOK)
		var order []string
		for _, s := range list.list("snags") {
			order = append(order, s["text"].(string))
		}
		require.Equal(t, []string{"B", "A", "D", "C", "E", "unclear"}, order)

		csv := w.as(defects.Installer).get(path + "?format=csv").want(http.StatusOK)
		require.Equal(t, "text/csv; charset=utf-8", csv.Header.Get("Content-Type"))
		lines := strings.Split(strings.TrimSpace(string(csv.Body)), "\n")
		require.Len(t, lines, 7)
		for i, s := range list.list("snags") {
			require.True(t, strings.HasPrefix(lines[i+1], fmt.Sprintf("%v,%v,%v,", s["walk"], s["number"], s["ref"])), lines[i+1])
		}
	})
}

// day is a time on the world's first day.
func day(hour, minute int) time.Time { return time.Date(2026, 6, 1, hour, minute, 0, 0, time.UTC) }
