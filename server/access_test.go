package server_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/server"
)

// sample is what the walk over all routes fills addresses and bodies with.
type sample struct {
	ids    map[string]string // by the name in the path
	bodies map[string]any    // by "METHOD path", raw text or JSON value
	types  map[string]string
}

// samples makes one of everything on the world's site.
func samples(t *testing.T, w *world) sample {
	t.Helper()
	walls := w.walls()
	clerk, north := w.as(defects.Clerk), walls["North"]
	reading := clerk.post(w.path("/readings"), m{"quantity": "joint_width_bed", "value": "10", "unit": "mm", "elevation": north, "bay": 1, "lift": 1}).
		want(http.StatusCreated).str("reading.id")
	set := clerk.post(w.path("/sets"), m{"quantity": "pull_out_load", "name": "set"}).want(http.StatusCreated).str("id")
	photo := clerk.photo(shot(t, 900, nil), nil).want(http.StatusCreated).str("id")
	milestone := clerk.post(w.path("/milestones"), m{"kind": "completion", "on": "2026-12-01"}).want(http.StatusOK).str("id")
	clerk.post(w.path("/snags"), m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}}).want(http.StatusCreated)
	upload := w.as(defects.Clerk).with("Tus-Resumable", "1.0.0").with("Upload-Length", "900").send("POST", w.path("/uploads"), "", nil).
		want(http.StatusCreated).Header.Get("Location")
	survey := clerk.post(w.path("/surveys"), hollowAt(north)).want(http.StatusCreated).str("id")
	line := clerk.post(w.path("/weather"), m{"air_c": "6"}).want(http.StatusCreated).str("id")
	s := sample{types: map[string]string{}, ids: map[string]string{
		"survey": survey, "line": line,
		"upload": upload[strings.LastIndex(upload, "/")+1:],
		"site":   w.site.ID, "elevation": north, "reading": reading, "set": set, "photo": photo,
		"milestone": milestone, "building": clerk.get(w.path("/elevations/%s", north)).str("building_id"), "number": "1", "instrument": w.instrument("gauge"), "login": w.as(defects.Owner).login,
	}}
	s.bodies = map[string]any{
		"POST /sites":                                            m{"name": "Another Court"},
		"PATCH /sites/:site":                                     m{"name": "Larkrow Court"},
		"POST /sites/:site/buildings":                            strings.ReplaceAll(terrace, "Terrace A", "Terrace C"),
		"POST /sites/:site/buildings/plan":                       m{"name": "Terrace P", "height_m": "6", "plan_m": [][]float64{{0, 0}, {9, 0}, {9, 6}, {0, 6}}},
		"PATCH /sites/:site/elevations/:elevation":               m{"name": "North"},
		"POST /sites/:site/elevations/:elevation/side":           m{"edge": 0},
		"POST /sites/:site/elevations/:elevation/copy":           m{"to": []m{{"elevation": walls["South"], "version": 1}}},
		"POST /sites/:site/buildings/:building/move":             m{"turn_deg": "1"},
		"PUT /sites/:site/buildings/:building/outline":           m{"coordinates": [][][]float64{{{0, 0}, {0.001, 0}, {0.001, 0.001}}}},
		"POST /sites/:site/photos/known":                         m{"sha256": []string{strings.Repeat("0", 64)}},
		"PATCH /sites/:site/photos/:photo":                       m{"note": "seen"},
		"POST /sites/:site/readings":                             m{"quantity": "joint_width_bed", "value": "10", "unit": "mm", "elevation": north, "bay": 1, "lift": 1},
		"POST /sites/:site/readings/:reading/withdraw":           m{"reason": "slip of the pen"},
		"POST /sites/:site/readings/:reading/rejudge":            m{"reason": "new limits"},
		"POST /sites/:site/surveys":                              hollowAt(north),
		"POST /sites/:site/surveys/:survey/withdraw":             m{"reason": "slip of the pen"},
		"POST /sites/:site/surveys/:survey/rejudge":              m{"reason": "new limits"},
		"POST /sites/:site/weather":                              m{"air_c": "7"},
		"POST /sites/:site/weather/:line/withdraw":               m{"reason": "slip of the pen"},
		"POST /sites/:site/rejudgements":                         m{"reason": "new limits"},
		"POST /sites/:site/schedules/compose":                    bedLevel(""),
		"POST /sites/:site/sample":                               m{"items": []m{{"id": "North"}}},
		"POST /sites/:site/sets":                                 m{"quantity": "pull_out_load", "name": "another set"},
		"POST /sites/:site/sets/:set/statement":                  m{"source": "drawing S-12 (invented)", "zones": []m{{"zone": "edge", "suction_kN_m2": "1.2", "ordered_per_m2": "8"}}},
		"POST /sites/:site/instruments":                          m{"name": "another gauge"},
		"POST /sites/:site/instruments/:instrument/calibrations": m{"certificate": "C", "on": "2026-01-01", "due": "2026-12-31"},
		"POST /sites/:site/instruments/:instrument/repeats":      m{"values": []string{"10.2", "10.4"}},
		"POST /sites/:site/schedules":                            fmt.Sprintf(pullOutSchedule, "0.5"),
		"POST /sites/:site/snags":                                m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}},
		"POST /sites/:site/releases":                             m{"hold_point": "H7", "elevation_id": north, "outcome": "refused", "text": "not yet"},
		"POST /sites/:site/milestones":                           m{"kind": "completion", "on": "2026-12-02"},
		"PUT /sites/:site/people/:login":                         m{"role": "owner"},
		"POST /me/tokens":                                        m{"label": "another program", "days": 3},
		"PUT /sites/:site/storage":                               m{"quota_bytes": 0},
		"POST /sites/:site/uploads":                              "",
		"PATCH /sites/:site/uploads/:upload":                     "not a photo",
	}
	s.types["PATCH /sites/:site/uploads/:upload"] = "application/offset+octet-stream"
	s.bodies["POST /sites/:site/photos"] = string(shot(t, 901, nil))
	s.types["POST /sites/:site/photos"] = "image/jpeg"
	s.types["POST /sites/:site/buildings"] = "application/geo+json"
	return s
}

// send asks for one line of the URL table as somebody.
func (s sample) send(c *client, line server.TableLine) answer {
	path := line.Path
	for name, id := range s.ids {
		path = strings.ReplaceAll(path, ":"+name, id)
	}
	if strings.HasSuffix(line.Path, "/readiness") {
		path += "?hold_point=H7&elevation_id=" + s.ids["elevation"]
	}
	key := line.Method + " " + strings.TrimPrefix(line.Path, "/api/v1")
	body, ok := s.bodies[key]
	if !ok && (line.Method == http.MethodPost) {
		body = m{"text": "because"}
	}
	kind := s.types[key]
	if kind == "" {
		kind = "application/json"
	}
	tag := `"v1"`
	if base, _, ok := strings.Cut(path, "/snags/1"); ok {
		if seen := c.get(base + "/snags/1").Header.Get("ETag"); seen != "" {
			tag = seen // a step taken by the role before has moved it on
		}
	}
	c = c.with("If-Match", tag)
	if strings.Contains(line.Path, "/uploads") {
		c = c.with("Tus-Resumable", "1.0.0").with("Upload-Length", "900").with("Upload-Offset", "0")
	}
	switch b := body.(type) {
	case nil:
		return c.send(line.Method, path, "", nil)
	case string:
		return c.send(line.Method, path, kind, []byte(b))
	default:
		return c.json(line.Method, path, b)
	}
}

// mayCall says from the tables of package defects whether a role is let in.
func mayCall(role defects.Role, line server.TableLine) bool {
	if line.Permission != string(defects.StepSnag) {
		return role.May(defects.Permission(line.Permission))
	}
	step := line.Path[strings.LastIndex(line.Path, "/")+1:]
	return slices.ContainsFunc(defects.StepRules(), func(r defects.StepRule) bool {
		second := r.Part == defects.PartSecond      // only once there is a first signature
		raiser := r.Raiser && role == defects.Clerk // who raised the sample
		return string(r.Step) == step && !second && (raiser || slices.Contains(r.Roles, role))
	})
}

func apiLines(w *world) (lines []server.TableLine) {
	for _, line := range w.srv.Table() {
		if strings.HasPrefix(line.Path, "/api/v1/") {
			lines = append(lines, line)
		}
	}
	return lines
}

func TestEveryRouteTimesEveryRoleIsLetInOrRefusedAsTheTablesSay(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	s := samples(t, w)
	asked := 0
	for _, line := range apiLines(w) {
		if line.Permission == "" {
			continue
		}
		for _, role := range defects.Roles() {
			got := s.send(w.as(role), line)
			name := fmt.Sprintf("%s %s as %s: %d %s", line.Method, line.Path, role, got.Status, got.Body)
			require.NotEqual(t, http.StatusUnauthorized, got.Status, name)
			require.Less(t, got.Status, 500+4, name)
			switch {
			case mayCall(role, line):
				require.NotEqual(t, "role_forbidden", codeOf(got), name)
			case role == defects.Operative && got.Status == http.StatusNotFound:
				// He does not learn that another gang's record exists.
			default:
				got.refused(http.StatusForbidden, "role_forbidden")
			}
			asked++
		}
	}
	require.Greater(t, asked, 250)
}

func TestAStrangerFindsNothingOnAnySiteRoute(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	s := samples(t, w)
	elsewhere := map[defects.Role]*client{}
	w.newSite("Osier Close", elsewhere)
	for _, line := range apiLines(w) {
		if !strings.Contains(line.Path, ":site") {
			continue
		}
		for _, role := range defects.Roles() {
			s.send(elsewhere[role], line).refused(http.StatusNotFound, "site_not_found")
		}
		s.send(&client{w: w}, line).refused(http.StatusUnauthorized, "sign_in_needed")
		s.send(&client{w: w, token: "made up"}, line).want(http.StatusUnauthorized)
	}
}

func TestThingsOfAForeignSiteAreNotFoundUnderOnesOwn(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	s := samples(t, w)
	elsewhere := map[defects.Role]*client{}
	other := w.newSite("Osier Close", elsewhere)
	foreign := s
	foreign.ids = map[string]string{}
	for k, v := range s.ids {
		foreign.ids[k] = v
	}
	foreign.ids["site"] = other.ID
	for _, line := range apiLines(w) {
		if line.Method != http.MethodGet || strings.Count(line.Path, ":") < 2 {
			continue
		}
		got := foreign.send(elsewhere[defects.Clerk], line)
		require.Equal(t, http.StatusNotFound, got.Status, "%s: %s", line.Path, got.Body)
	}
}

func TestAdminRoutesAreForAdminsOnly(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.as(defects.Manager).post("/api/v1/sites", m{"name": "Tanyard Lane"}).want(http.StatusForbidden)
	admin := w.person("admin.example", "Admin Example", true)
	admin.post("/api/v1/sites", m{"name": "Tanyard Lane"}).want(http.StatusCreated)
}

// codeOf is the code of a problem document, "" for anything else.
func codeOf(a answer) string {
	if !strings.HasPrefix(a.Header.Get("Content-Type"), "application/problem") {
		return ""
	}
	return a.str("code")
}
