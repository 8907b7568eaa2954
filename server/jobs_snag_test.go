package server_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// snag is one snag that a test walks through its life.
type snag struct {
	w      *world
	number string
	tag    string
}

func (w *world) raise(who defects.Role, body m) *snag {
	w.t.Helper()
	got := w.as(who).post(w.path("/snags"), body).want(http.StatusCreated)
	return &snag{w: w, number: got.str("number"), tag: got.Header.Get("ETag")}
}

// try takes a step and answers whatever came.
func (s *snag) try(who defects.Role, step string, body m) answer {
	s.w.t.Helper()
	got := s.w.as(who).with("If-Match", s.tag).post(s.w.path("/snags/%s/%s", s.number, step), body)
	if got.Status == http.StatusOK {
		s.tag = got.Header.Get("ETag")
	}
	return got
}

func (s *snag) step(who defects.Role, step string, body m) answer {
	s.w.t.Helper()
	return s.try(who, step, body).want(http.StatusOK)
}

// after takes a photo of the elevation now and answers its id.
func (w *world) after(seed uint64, elevation string) string {
	w.t.Helper()
	now := w.clock.Now()
	data := shot(w.t, seed, func(c *defects.Capture) {
		c.TakenLocal, c.TakenUTC = now.In(time.FixedZone("", 3600)).Format("2006-01-02T15:04:05"), &now
	})
	return w.as(defects.Installer).photo(data, url.Values{"elevation": {elevation}, "label_seen": {"true"}}).want(http.StatusCreated).str("id")
}

func TestJ7SeparationOfDuties(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		s := w.raise(defects.Clerk, m{"code": "FB-01", "text": "no barrier over the door", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
		s.step(defects.Manager, "instruct", m{"text": "open up and fit", "due": "2026-06-02", "gang": "gang 2"})
		s.step(defects.Installer, "acknowledge", m{"gang": "gang 2", "planned_on": "2026-06-02"})
		w.clock.advance(24 * time.Hour)
		photo := w.after(21, north)
		w.clock.advance(time.Minute)
		s.step(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "barrier fitted and fixed"}, "photos": []string{photo}})

		p := s.try(defects.Installer, "close", m{"inspection": "on-site"}).refused(http.StatusForbidden, "role_forbidden")
		require.Contains(t, p.Detail, "clerk", "names who may")
		p = s.try(defects.Clerk, "concede", m{"concession": m{"part": "grant"}}).refused(http.StatusForbidden, "role_forbidden")
		require.Contains(t, p.Detail, "designer")
		reading := w.as(defects.Clerk).post(w.path("/readings"), m{
			"quantity": "barrier_height", "value": "210", "unit": "mm",
			"elevation": north, "bay": 1, "lift": 1,
		}).want(http.StatusCreated)
		w.as(defects.Auditor).with("If-Match", reading.Header.Get("ETag")).
			post(w.path("/readings/%s/withdraw", reading.str("reading.id")), m{"reason": "no"}).refused(http.StatusForbidden, "role_forbidden")

		s.try(defects.Clerk, "close", m{"inspection": "from-photo"}).refused(http.StatusConflict, "critical_needs_visit")
		waits := s.step(defects.Clerk, "close", m{"inspection": "on-site", "text": "seen"})
		require.Equal(t, "offered", waits.str("state"), "a critical one waits for the second signature")
		require.NotEmpty(t, waits.str("first_signed.name"))
		s.try(defects.Clerk, "close", m{"inspection": "on-site", "text": "again"}).want(http.StatusForbidden)
		closed := s.step(defects.Designer, "close", m{"inspection": "on-site", "text": "fire designer, answer FD-12"})
		require.Equal(t, "closed", closed.str("state"))
	})
}

func TestJ7WhoMadeGoodDoesNotAccept(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	s := w.raise(defects.Installer, m{"code": "SL-12", "text": "chipped slip", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
	s.step(defects.Clerk, "instruct", m{"text": "cut out and replace"})
	w.clock.advance(time.Hour)
	photo := w.after(31, north)
	w.clock.advance(time.Minute)
	s.step(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "replaced", "by_id": w.as(defects.Clerk).id}, "photos": []string{photo}})
	s.try(defects.Clerk, "close", m{"inspection": "on-site"}).refused(http.StatusForbidden, "own_work")
}

func TestJ8AConcessionBindsItsAreaAndItsValueOnly(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		west := w.walls()["West"]
		w.schedule(`{"name":"mill-leat","version":1,"title":"Project limits of Mill Leat House (invented)","basis":"project",
			"limits":[{"quantity":"plumb","kind":"fixed","lower":"-8","upper":"8","clause":"A2"}]}`)
		fail := func(bay int, value string) *snag {
			r := w.as(defects.Clerk).post(w.path("/readings"), m{
				"quantity": "plumb", "value": value, "unit": "mm", "base_length_m": "2.6",
				"expanded_uncertainty": "2", "stage": "SL", "elevation": west, "bay": bay, "lift": 2,
			}).want(http.StatusCreated)
			require.Equal(t, "fail", r.str("reading.verdict.outcome"))
			s := w.raise(defects.Clerk, m{"reading_id": r.str("reading.id"), "code": "CR-01"})
			s.step(defects.Clerk, "instruct", m{"text": "re-form the arris"})
			return s
		}
		s := fail(3, "14")
		w.clock.set(day(8, 0).AddDate(0, 0, 1))
		s.step(defects.Installer, "concede", m{"text": "cannot be cured without stripping", "concession": m{
			"part": "ask",
			"area": "2.6 m run of the arris", "deviation": "14", "conditions": "none visible from the path",
		}})
		w.clock.set(day(9, 10).AddDate(0, 0, 1))
		first := s.step(defects.Designer, "concede", m{"text": "no effect on strength", "concession": m{"part": "grant"}})
		require.NotEqual(t, "conceded", first.str("state"), "one grant is not enough")
		w.clock.set(day(11, 40).AddDate(0, 0, 1))
		done := s.step(defects.Owner, "concede", m{"text": "accepted as built", "concession": m{"part": "grant"}})
		require.Equal(t, "conceded", done.str("state"))
		require.Equal(t, "14", done.str("concession.deviation"))
		require.Equal(t, "true", done.str("concession.granted"))

		other := fail(4, "16")
		other.try(defects.Installer, "concede", m{"text": "same as the other", "concession": m{"part": "ask", "from": atoi(t, s.number)}}).
			refused(http.StatusConflict, "outside_concession")
	})
}

func TestASnagRunsThroughRoundsToItsClose(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		place := m{"elevation": north, "bay": 1, "lift": 1, "stage": "SL", "quantity": "joint_width_bed", "unit": "mm", "expanded_uncertainty": "0.5"}
		read := func(value string) string {
			r := m{"value": value}
			for k, v := range place {
				r[k] = v
			}
			return w.as(defects.Installer).post(w.path("/readings"), r).want(http.StatusCreated).str("reading.id")
		}
		s := w.raise(defects.Clerk, m{"reading_id": read("13.6")})
		w.as(defects.Clerk).post(w.path("/snags"), m{"reading_id": firstFail(w)}).want(http.StatusConflict)
		s.step(defects.Clerk, "instruct", m{"text": "relay"})
		w.clock.advance(time.Hour)
		photo := w.after(41, north)
		w.clock.advance(time.Minute)
		offer := m{"made_good": m{"kind": "rework", "text": "three courses relaid"}, "photos": []string{photo}}
		s.try(defects.Installer, "offer", offer).refused(http.StatusUnprocessableEntity, "reading_missing")
		offer["reading_id"] = read("12.8")
		s.step(defects.Installer, "offer", offer)
		refused := s.step(defects.Clerk, "refuse", m{"text": "still wide at W03", "inspection": "on-site"})
		require.Equal(t, "2", refused.str("round"))
		w.clock.advance(time.Hour)
		offer["reading_id"] = read("10.1")
		s.try(defects.Installer, "offer", offer).refused(http.StatusConflict, "photo_reused")
		offer["photos"] = []string{w.after(42, north)}
		w.clock.advance(time.Minute)
		s.step(defects.Installer, "offer", offer)
		closed := s.step(defects.Clerk, "close", m{"inspection": "on-site"})
		require.Equal(t, "closed", closed.str("state"))

		detail := w.as(defects.Auditor).get(w.path("/snags/%s", s.number)).want(http.StatusOK)
		var steps []string
		for _, e := range detail.list("history") {
			steps = append(steps, fmt.Sprint(e["step"]))
		}
		require.Equal(t, []string{"raise", "instruct", "offer", "refuse", "offer", "close"}, steps)
	})
}

func firstFail(w *world) any {
	return w.as(defects.Clerk).get(w.path("/readings?outcome=fail")).list("items")[0]["id"]
}

func TestALostRaceAnswersThePresentState(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		s := w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
		old := *s
		s.step(defects.Clerk, "instruct", m{"text": "replace"})
		p := old.try(defects.Manager, "withdraw", m{"text": "mistake"}).refused(http.StatusPreconditionFailed, "stale")
		require.Contains(t, fmt.Sprint(p.Errors), "instructed")
		w.as(defects.Manager).post(w.path("/snags/%s/withdraw", s.number), m{"text": "x"}).refused(http.StatusPreconditionRequired, "version_needed")
	})
}
