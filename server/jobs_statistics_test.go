package server_test

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models/modelstest"
)

const jointSchedule = `{"name":"joints","version":1,"title":"Joints of Larkrow Court (invented)","basis":"project",
"limits":[{"quantity":"joint_width_bed","kind":"fixed","lower":"7","upper":"13","clause":"6.1"}]}`

// jointReadings adds joints one after another and gives their ids.
func (w *world) jointReadings(base m, values ...string) []string {
	w.t.Helper()
	var ids []string
	for _, v := range values {
		one := m{"quantity": "joint_width_bed", "unit": "mm", "value": v, "stage": "SL"}
		for k, x := range base {
			one[k] = x
		}
		ids = append(ids, w.as(defects.Clerk).post(w.path("/readings"), one).want(http.StatusCreated).str("reading.id"))
	}
	return ids
}

// manyReadings stores invented joints of eight gangs, judged by one limit, past
// the use cases.
func (w *world) manyReadings(elevation string, n int) {
	w.t.Helper()
	limit := func(text string) *defects.Decimal { d := defects.MustDecimal(text); return &d }
	require.NoError(w.t, w.store.Write(w.t.Context(), func(tx register.Tx) error {
		for i := range n {
			p := float64(i%1000) / 1000
			rd := defects.Reading{
				ID: fmt.Sprintf("r%07d", i), SiteID: w.site.ID, Quantity: "joint_width_bed", Unit: "mm", Stage: "SL",
				Value: defects.MustDecimal(fmt.Sprintf("%d.%d", 9+i*7%3, i*13%10)), Gang: fmt.Sprintf("gang %d", i%8),
				Place: defects.Place{ElevationID: elevation}, MeasuredAt: w.clock.Now().Add(-time.Duration(n-i) * time.Minute),
				EnteredAt: w.clock.Now(), ByName: "Invented",
				Verdict: defects.Verdict{
					Outcome: defects.Pass, Lower: limit("7"), Upper: limit("13"), Expanded: limit("0.2"), Guard: limit("0.2"), PConform: &p,
					Rule: defects.FourWay, Schedule: "invented@1", Title: "An invented specification", Clause: "6.1", Basis: defects.Project,
				},
			}
			if err := tx.Readings().InsertReading(w.t.Context(), rd); err != nil {
				return err
			}
		}
		return nil
	}))
}

func number(t testing.TB, in m, path string) float64 {
	t.Helper()
	var at any = in
	for part := range strings.SplitSeq(path, ".") {
		object, ok := at.(m)
		require.True(t, ok, "%s in %v", part, at)
		at = object[part]
	}
	f, ok := at.(float64)
	require.True(t, ok, "%s is %v", path, at)
	return f
}

// J2, its last part: the tester's calibration ended the day before.
func TestJ2AVoidPullOutSetCountsTheReadingsHit(t *testing.T) {
	t.Parallel()
	peaks := strings.Fields("0.92 1.05 0.88 1.21 1.10 0.79 0.95 1.30 1.02 0.84 0.98 1.15 0.90 1.08 0.97")
	onBoth(t, func(w *world) {
		walls := w.walls()
		w.schedule(fmt.Sprintf(pullOutSchedule, "0.50"))
		ended := w.instrument("old tester", m{"certificate": "T-0", "on": "2025-05-31", "due": "2026-05-31"})
		set := w.as(defects.Clerk).post(w.path("/sets"), m{"quantity": "pull_out_load", "name": "east", "stage": "SV"}).want(http.StatusCreated).str("id")
		w.outcomes(m{"quantity": "pull_out_load", "unit": "kN", "set": set, "elevation": walls["East"], "instrument": ended}, peaks...)
		got := w.as(defects.Auditor).get(w.path("/sets/%s", set)).want(http.StatusOK)
		require.Equal(t, "none", got.str("verdict.outcome"))
		require.Contains(t, got.str("verdict.reason_text"), "the set is void: 15 of its 15 readings hit")
		all := w.as(defects.Auditor).get(w.path("/statistics?quantity=pull_out_load&set=%s", set)).want(http.StatusOK).obj()
		require.InDelta(t, 15, number(t, all, "n"), 0)
		require.InDelta(t, 1.0093333, number(t, all, "mean"), 1e-6, "void readings keep their values")
		require.Equal(t, false, all["limit"].(m)["shared"], "what is required of the set is not required of each test")
	})
}

// J19: a laser was used six days after its calibration had ended; 31 readings. The
// clock of these tests stands at 1 June, so the days are those of May.
func TestJ19AnExpiredCalibrationVoidsReadingsAndTheyAreCounted(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		w.schedule(`{"name":"level","version":1,"title":"Bed joints of Gasworks Cottages (invented)","basis":"project",
			"limits":[{"quantity":"bed_joint_level","kind":"fixed","lower":"-8","upper":"8"}]}`)
		laser := w.instrument("laser", m{"certificate": "L-1", "on": "2025-08-04", "due": "2026-05-20", "expanded_uncertainty": "1"})
		batch := func(on string, n int) {
			var rows []m
			for i := range n {
				rows = append(rows, m{
					"quantity": "bed_joint_level", "unit": "mm", "value": fmt.Sprint(i%5 - 2), "base_length_m": "5", "stage": "SL",
					"elevation": walls["West"], "instrument": laser, "measured_at": on, "gang": "Larch",
				})
			}
			w.as(defects.Clerk).post(w.path("/readings"), rows).want(http.StatusOK)
		}
		batch("2026-05-20T10:00:00+01:00", 9)
		batch("2026-05-26T10:00:00+01:00", 31)
		got := w.as(defects.Auditor).get(w.path("/statistics?quantity=bed_joint_level&elevation=%s&aql=1.0", walls["West"])).want(http.StatusOK)
		all := got.obj()
		require.InDelta(t, 40, number(t, all, "n"), 0)
		require.InDelta(t, 31, number(t, all, "void"), 0)
		require.InDelta(t, 31, number(t, all, "outcomes.none"), 0)
		require.InDelta(t, 9, number(t, all, "outcomes.pass"), 0)
		require.NotContains(t, all, "acceptance")
		require.Contains(t, string(got.Body), "31 of the 40 readings are void")
		before := w.as(defects.Auditor).get(w.path("/statistics?quantity=bed_joint_level&to=2026-05-20&aql=1.0")).want(http.StatusOK).obj()
		require.InDelta(t, 9, number(t, before, "n"), 0, "the day itself is meant by “to”")
		require.InDelta(t, 0, number(t, before, "void"), 0)
		after := w.as(defects.Auditor).get(w.path("/statistics?quantity=bed_joint_level&from=2026-05-21")).want(http.StatusOK).obj()
		require.InDelta(t, 31, number(t, after, "n"), 0)
		page := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/statistics?quantity=bed_joint_level").want(http.StatusOK)
		require.Contains(t, page.text(), "31 readings of 40 are void")
	})
}

// J25: 6 mm under a straightedge fails over 1 m, passes over 2 m, and is nothing
// without a distance. Both parties' readings stay, and no one limit is shown.
func TestJ25ReadingsOverDifferentLengthsShareNoLimit(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		w.inForce("din-18202-t3-line6")
		for _, base := range []string{"1", "2", ""} {
			rd := m{"quantity": "flatness", "value": "6", "unit": "mm", "stage": "SL", "elevation": walls["West"]}
			if base != "" {
				rd["base_length_m"] = base
			}
			w.as(defects.Clerk).post(w.path("/readings"), rd).want(http.StatusCreated)
		}
		all := w.as(defects.Auditor).get(w.path("/statistics?quantity=flatness")).want(http.StatusOK).obj()
		require.Equal(t, m{"fail": 1.0, "pass": 1.0, "none": 1.0}, all["outcomes"])
		limit := all["limit"].(m)
		require.Equal(t, false, limit["shared"])
		require.Equal(t, "these readings were judged by 2 different limits; one of them was judged by none", limit["why"])
		require.NotContains(t, all, "outside")
		page := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/statistics?quantity=flatness").want(http.StatusOK)
		require.Contains(t, page.text(), "judged by 2 different limits")
	})
}

func TestABudgetShowsEverySourceAndWhatWouldSettleTheVerdict(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.schedule(jointSchedule)
		clerk := w.as(defects.Clerk)
		tool := clerk.post(w.path("/instruments"), m{"name": "taper gauge", "unit": "mm", "resolution": "0.1"}).want(http.StatusCreated)
		tool = clerk.with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/calibrations", tool.str("id")),
			m{"certificate": "C-7", "on": "2026-01-10", "due": "2026-12-31", "expanded_uncertainty": "0.6", "k": "3"}).want(http.StatusOK)
		early := w.jointReadings(m{"instrument": tool.str("id")}, "12.7")[0]
		tool = clerk.with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/repeats", tool.str("id")),
			m{"values": []string{"10.2", "10.4", "10.1", "10.3", "10.2"}}).want(http.StatusOK)
		require.Equal(t, "0.114018", tool.str("repeatability"))
		require.InDelta(t, 5, number(t, tool.obj(), "repeats"), 0)

		id := w.jointReadings(m{"instrument": tool.str("id")}, "12.7")[0]
		require.Equal(t, "conditional-pass", clerk.get(w.path("/readings/%s", id)).want(http.StatusOK).str("verdict.outcome"))
		got := w.as(defects.Auditor).get(w.path("/readings/%s/budget", id)).want(http.StatusOK)
		b := got.obj()
		// √(0.2² + 0.114018²) = 0.230218; the repeats spread by more than a step of
		// the display, so the resolution is in them.
		require.InDelta(t, 0.230218, number(t, b, "combined"), 1e-6)
		require.InDelta(t, 0.460435, number(t, b, "expanded"), 2e-6)
		require.Len(t, b["sources"], 2)
		require.NotEmpty(t, b["notes"])
		require.InDelta(t, 4*0.052999/0.013000*0.052999/0.013000, number(t, b, "effective_degrees_of_freedom"), 0.1, "ν = 4·(u_c²/s²)²")
		require.Equal(t, true, b["decision"].(m)["accepted"])
		require.InDelta(t, 1, number(t, b, "decision.consumer_risk_if_accepted")+number(t, b, "decision.producer_risk_if_refused"), 1e-9)
		require.Greater(t, number(t, b, "decision.consumer_risk_if_accepted"), 0.09)
		require.InDelta(t, 0.3, number(t, b, "settle.expanded_at_most"), 1e-9)
		require.Contains(t, got.str("settle.text"), "repeating alone cannot settle it; an instrument with U of at most 0.3 mm")
		require.NotContains(t, b, "moved")

		old := w.as(defects.Auditor).get(w.path("/readings/%s/budget", early)).want(http.StatusOK).obj()
		require.Equal(t, true, old["moved"], "the repeats came after the verdict")
		require.InDelta(t, 0.202073, number(t, old, "decision.standard"), 1e-6, "√(0.2² + 0.1²/12), the verdict's own")
		page := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/readings/" + id).want(http.StatusOK)
		for _, want := range []string{"How U comes about", "certificate C-7", "Welch–Satterthwaite", "What would settle it"} {
			require.Contains(t, page.text(), want)
		}
		page.sound(t)
	})
}

func TestTheMeanOfAsManyObservationsAsAreAskedForSettlesTheVerdict(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.schedule(jointSchedule)
		clerk := w.as(defects.Clerk)
		tool := clerk.post(w.path("/instruments"), m{"name": "taper gauge", "unit": "mm", "resolution": "0.1"}).want(http.StatusCreated)
		tool = clerk.with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/repeats", tool.str("id")),
			m{"values": []string{"10.2", "10.4", "10.1", "10.3", "10.2"}}).want(http.StatusOK)
		tool = clerk.with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/calibrations", tool.str("id")),
			m{"certificate": "C-7", "on": "2026-01-10", "due": "2026-12-31", "expanded_uncertainty": "0.1"}).want(http.StatusOK)
		doubtful := w.jointReadings(m{"instrument": tool.str("id")}, "12.8")[0]
		got := clerk.get(w.path("/readings/%s/budget", doubtful)).want(http.StatusOK)
		require.Contains(t, got.str("settle.text"), "2 repeats in all would settle it if their mean stays")

		again := m{"quantity": "joint_width_bed", "unit": "mm", "instrument": tool.str("id"), "observations": []string{"12.7", "12.9"}}
		made := clerk.post(w.path("/readings"), again).want(http.StatusCreated)
		require.Equal(t, "12.800", made.str("reading.value"))
		require.Equal(t, []any{"12.7", "12.9"}, made.obj()["reading"].(m)["observations"])
		require.Equal(t, "pass", made.str("reading.verdict.outcome"), "2·√(0.05² + 0.114018²/2) = 0.189737 is less than the 0.2 mm to the limit")
		require.Equal(t, "0.189737", made.str("reading.verdict.expanded_uncertainty"))
		budget := clerk.get(w.path("/readings/%s/budget", made.str("reading.id"))).want(http.StatusOK).obj()
		require.InDelta(t, 0.189737, number(t, budget, "expanded"), 2e-6)
		require.NotContains(t, budget, "settle")
		require.NotContains(t, budget, "moved")
		page := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/readings/" + made.str("reading.id")).want(http.StatusOK)
		require.Contains(t, page.text(), "12.7, 12.9 mm")
		require.Contains(t, page.text(), "divides the instrument's repeatability by √2")
		page.sound(t)

		for name, c := range map[string]struct {
			with m
			code string
		}{
			"a single one":         {m{"observations": []string{"12.7"}}, "too_few"},
			"another value":        {m{"observations": []string{"12.7", "12.9"}, "value": "12.9"}, "value_twice"},
			"no number":            {m{"observations": []string{"12.7", "NaN"}}, "bad_number"},
			"more than are read":   {m{"observations": slices.Repeat([]string{"12.7"}, 51)}, "too_many"},
			"something is counted": {m{"observations": []string{"6", "7"}, "quantity": "fixing_count_board", "unit": "count"}, "counted_not_measured"},
		} {
			in := maps.Clone(again)
			maps.Copy(in, c.with)
			res := clerk.post(w.path("/readings"), in)
			require.Contains(t, []int{http.StatusUnprocessableEntity, http.StatusRequestEntityTooLarge}, res.Status, name)
			require.Contains(t, string(res.Body), c.code, name)
		}
		again["value"] = "12.80"
		clerk.post(w.path("/readings"), again).want(http.StatusCreated)
	})
}

func TestRepeatsAreStatedOnceAndSensibly(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		clerk := w.as(defects.Clerk)
		tool := clerk.post(w.path("/instruments"), m{"name": "gauge", "unit": "mm", "repeatability": "0.2", "repeats": 6}).want(http.StatusCreated)
		require.Equal(t, "0.2", tool.str("repeatability"))
		state := func(body m) answer {
			return clerk.with("If-Match", tool.Header.Get("ETag")).post(w.path("/instruments/%s/repeats", tool.str("id")), body)
		}
		state(m{}).refused(http.StatusUnprocessableEntity, "repeats_missing")
		state(m{"values": []string{"10"}}).refused(http.StatusUnprocessableEntity, "repeats_missing")
		state(m{"repeatability": "0.1"}).refused(http.StatusUnprocessableEntity, "repeats_missing")
		state(m{"repeatability": "-0.1", "repeats": 5}).refused(http.StatusUnprocessableEntity, "negative")
		state(m{"repeatability": "0.1", "repeats": 1001}).refused(http.StatusRequestEntityTooLarge, "too_many")
		state(m{"repeatability": "0.1", "repeats": 5, "values": []string{"1", "2"}}).refused(http.StatusUnprocessableEntity, "repeats_twice")
		state(m{"repeatability": "0.1", "repeats": 5}).want(http.StatusOK)
		state(m{"repeatability": "0.1", "repeats": 7}).refused(http.StatusPreconditionFailed, "stale")
		bare := clerk.post(w.path("/instruments"), m{"name": "no unit"}).want(http.StatusCreated)
		clerk.with("If-Match", bare.Header.Get("ETag")).post(w.path("/instruments/%s/repeats", bare.str("id")), m{"values": []string{"1", "2"}}).
			refused(http.StatusUnprocessableEntity, "unit_needed")
		clerk.with("If-Match", bare.Header.Get("ETag")).post(w.path("/instruments/%s/calibrations", bare.str("id")),
			m{"certificate": "C", "on": "2026-01-01", "due": "2026-12-31", "k": "2"}).refused(http.StatusUnprocessableEntity, "bad_factor")
	})
}

func TestStatisticsOfReadingsSayWhatTheyCan(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		w.schedule(jointSchedule)
		base := m{"elevation": walls["North"], "gang": "Larch", "expanded_uncertainty": "0.2"}
		values := strings.Fields("9.8 10.1 10.4 9.6 10.0 10.2 9.9 10.3 10.1 9.7 10.0 10.5 9.9 10.2 14.9")
		ids := w.jointReadings(base, values...)
		gone := w.jointReadings(base, "12.9")[0]
		w.as(defects.Clerk).with("If-Match", `"v1"`).post(w.path("/readings/%s/withdraw", gone), m{"reason": "wrong joint"}).want(http.StatusOK)
		w.jointReadings(m{"elevation": walls["South"], "gang": "Rowan"}, "9.0", "9.2")

		got := w.as(defects.Auditor).get(w.path("/statistics?quantity=joint_width_bed&elevation=%s&aql=1.0&proportion=0.95", walls["North"])).want(http.StatusOK)
		all := got.obj()
		require.InDelta(t, 15, number(t, all, "n"), 0)
		require.InDelta(t, 1, number(t, all, "withdrawn"), 0)
		require.InDelta(t, 155.6/15, number(t, all, "mean"), 1e-9)
		require.Equal(t, "9.6", got.str("min"))
		require.Equal(t, "14.9", got.str("max"))
		require.InDelta(t, 10.1, number(t, all, "median"), 1e-9)
		require.Equal(t, "outlier", got.str("outlier.class"))
		require.Equal(t, ids[14], got.str("outlier.reading_id"))
		require.Equal(t, "7", got.str("limit.lower"))
		require.Equal(t, "Joints of Larkrow Court (invented)", all["limit"].(m)["sources"].([]any)[0].(m)["title"])
		require.InDelta(t, 2.965, number(t, all, "tolerance_interval.k"), 5e-4, "Berthouex and Brown, table 21.1")
		require.InDelta(t, 1, number(t, all, "outside.found"), 0)
		require.InDelta(t, 1.79, number(t, all, "acceptance.k"), 1e-9, "MIL-STD-414 Table B-1, n = 15")
		require.Equal(t, true, all["acceptance"].(m)["accepted"])
		require.Len(t, all["charts"], 1)
		chart := all["charts"].([]any)[0].(m)
		require.Equal(t, "Larch", chart["gang"])
		require.Equal(t, true, chart["points"].([]any)[14].(m)["outside"])

		site := w.as(defects.Auditor).get(w.path("/statistics?quantity=joint_width_bed")).want(http.StatusOK).obj()
		require.Len(t, site["charts"], 2, "a chart for each gang")
		gang := w.as(defects.Auditor).get(w.path("/statistics?quantity=joint_width_bed&gang=Rowan")).want(http.StatusOK).obj()
		require.InDelta(t, 2, number(t, gang, "n"), 0)
		empty := w.as(defects.Auditor).get(w.path("/statistics?quantity=plumb")).want(http.StatusOK).obj()
		require.InDelta(t, 0, number(t, empty, "n"), 0)
		require.NotContains(t, empty, "mean")

		for query, code := range map[string]string{
			"": "unknown_quantity", "quantity=weight": "unknown_quantity", "quantity=plumb&from=1.6.2026": "bad_date", "quantity=plumb&proportion=90": "bad_number",
			"quantity=plumb&aql=2.5": "no_plan", "quantity=plumb&side=left": "bad_value", "quantity=plumb&run=1": "bad_value", "quantity=plumb&run=x": "bad_number",
			"quantity=plumb&elevation=none": "unknown_elevation", "quantity=plumb&colour=red": "unknown_parameter", "quantity=plumb&stage=ZZ": "unknown_stage",
			"quantity=plumb&producer_share=0.05&producer_accept=0.95&consumer_share=0.051&consumer_accept=0.1": "no_plan",
		} {
			w.as(defects.Auditor).get(w.path("/statistics?%s", query)).refused(http.StatusUnprocessableEntity, code)
		}
		w.as(defects.Auditor).get(w.path("/statistics?quantity=plumb&set=none")).want(http.StatusNotFound)
	})
}

func TestAnOperativeSeesTheStatisticsOfHisGangOnly(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		mine := gangOf(defects.Operative)
		w.jointReadings(m{"gang": mine}, "9.8", "10.1", "10.4")
		others := w.jointReadings(m{"gang": "another gang"}, "11", "12")
		operative := w.as(defects.Operative)
		got := operative.get(w.path("/statistics?quantity=joint_width_bed")).want(http.StatusOK)
		require.InDelta(t, 3, number(t, got.obj(), "n"), 0)
		require.NotContains(t, string(got.Body), "another gang")
		asked := operative.get(w.path("/statistics?quantity=joint_width_bed&gang=another+gang")).want(http.StatusOK)
		require.InDelta(t, 0, number(t, asked.obj(), "n"), 0)
		operative.get(w.path("/readings/%s/budget", others[0])).want(http.StatusNotFound)
		page := w.visit(defects.Operative).get("/sites/" + w.site.ID + "/statistics?quantity=joint_width_bed").want(http.StatusOK)
		require.NotContains(t, page.text(), "another gang")
	})
}

func TestMoreReadingsThanOnePageHoldsAreRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t, modelstest.Open(t))
	w.manyReadings("", 20_001)
	p := w.as(defects.Auditor).get(w.path("/statistics?quantity=joint_width_bed")).refused(http.StatusRequestEntityTooLarge, "too_many_readings")
	require.Contains(t, p.Detail, "choose an elevation, a stage, a gang or a span of days")
	page := w.visit(defects.Auditor).get("/sites/" + w.site.ID + "/statistics?quantity=joint_width_bed").want(http.StatusRequestEntityTooLarge)
	require.Contains(t, page.text(), "More than 20000 readings")
	page.sound(t)
	some := w.as(defects.Auditor).get(w.path("/statistics?quantity=joint_width_bed&gang=gang+3")).want(http.StatusOK).obj()
	require.InDelta(t, 2500, number(t, some, "n"), 0)
}
