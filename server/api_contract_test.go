package server_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/server"
)

// description is the part of an OpenAPI 3.1 document that these tests read.
type description struct {
	OpenAPI    string
	Info       struct{ Title, Version string }
	Paths      map[string]map[string]operation
	Components struct {
		Schemas map[string]any
	}
}

type operation struct {
	OperationID string                    `json:"operationId"`
	Parameters  []parameter               `json:"parameters"`
	Responses   map[string]map[string]any `json:"responses"`
	RequestBody *struct {
		Content map[string]struct {
			Schema      map[string]any
			Description string
		}
	} `json:"requestBody"`
}

type parameter struct {
	Name, In string
	Required bool
	Schema   map[string]any
}

func TestTheDescriptionIsWholeAndSound(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	raw := (&client{w: w}).get("/api/v1/openapi.json").want(http.StatusOK).Body
	var doc description
	require.NoError(t, json.Unmarshal(raw, &doc))
	require.NotEmpty(t, doc.Info.Title)
	require.NotEmpty(t, doc.Info.Version)
	for _, ref := range regexp.MustCompile(`"\$ref":"([^"]*)"`).FindAllSubmatch(raw, -1) {
		name, ok := strings.CutPrefix(string(ref[1]), "#/components/schemas/")
		require.True(t, ok, "%s", ref[1])
		require.Contains(t, doc.Components.Schemas, name)
	}
	word := regexp.MustCompile(`\{([^}]*)\}`)
	ids := map[string]string{}
	for path, operations := range doc.Paths {
		for method, op := range operations {
			at := method + " " + path
			require.NotEmpty(t, op.OperationID, at)
			require.Empty(t, ids[op.OperationID], "%s has the id of %s", at, ids[op.OperationID])
			ids[op.OperationID] = at
			require.NotEmpty(t, op.Responses, at)
			for status, r := range op.Responses {
				require.NotEmpty(t, r["description"], "%s: %s", at, status)
			}
			declared := map[string]bool{}
			for _, p := range op.Parameters {
				require.Contains(t, []string{"path", "query", "header"}, p.In, at)
				require.NotEmpty(t, p.Schema, "%s: %s", at, p.Name)
				require.False(t, declared[p.In+" "+p.Name], "%s: %s twice", at, p.Name)
				require.True(t, p.In != "path" || p.Required, "%s: %s", at, p.Name)
				declared[p.In+" "+p.Name] = true
			}
			words := word.FindAllStringSubmatch(path, -1)
			for _, m := range words {
				require.True(t, declared["path "+m[1]], "%s does not declare %s", at, m[1])
				delete(declared, "path "+m[1])
			}
			for d := range declared {
				require.False(t, strings.HasPrefix(d, "path "), "%s: %s is not in the path", at, d)
			}
			keyed := method != "get" && !strings.HasSuffix(path, "/photos") && !strings.Contains(path, "/uploads") && path != "/me/tokens"
			require.Equal(t, keyed, declared["header Idempotency-Key"], at)
			if op.RequestBody != nil {
				require.NotEmpty(t, op.RequestBody.Content, at)
				for kind, body := range op.RequestBody.Content {
					require.NotEmpty(t, body.Schema, "%s says nothing of its %s", at, kind)
				}
			}
		}
	}
	for _, at := range []string{"/sites/{site} patch", "/sites/{site}/snags/{number}/close post", "/sites/{site}/milestones/{milestone} delete"} {
		path, method, _ := strings.Cut(at, " ")
		found := false
		for _, p := range doc.Paths[path][method].Parameters {
			found = found || p.Name == "If-Match"
		}
		require.True(t, found, at)
	}
}

func TestAFilterNeverFailsSilently(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	w.walls()
	nowhere := "00000000-0000-7000-8000-999999999999"
	for _, c := range []struct{ path, field, code string }{
		{"/snag-lists?stat=closed", "stat", "unknown_parameter"},
		{"/snags?stat=closed", "stat", "unknown_parameter"},
		{"/buildings?x=1", "x", "unknown_parameter"},
		{"/snag-lists?all=yes", "all", "bad_flag"},
		{"/snag-lists?state=shut", "state", "unknown_state"},
		{"/snags?state=shut", "state", "unknown_state"},
		{"/snags?severity=dire", "severity", "unknown_severity"},
		{"/snags?stage=XX", "stage", "unknown_stage"},
		{"/snags?due_reason=soon", "due_reason", "unknown_due_reason"},
		{"/snags?elevation=" + nowhere, "elevation", "unknown_elevation"},
		{"/snags?after=forged", "after", "bad_cursor"},
		{"/photos?stage=XX", "stage", "unknown_stage"},
		{"/photos?elevation=" + nowhere, "elevation", "unknown_elevation"},
		{"/photos?after=forged", "after", "bad_cursor"},
		{"/readings?stage=XX", "stage", "unknown_stage"},
		{"/readings?outcome=good", "outcome", "unknown_outcome"},
		{"/readings?elevation=" + nowhere, "elevation", "unknown_elevation"},
		{"/readings?after=forged", "after", "bad_cursor"},
		{"/follow-ups?elevation=" + nowhere, "elevation", "unknown_elevation"},
	} {
		p := w.as(defects.Clerk).get(w.path("%s", c.path)).refused(http.StatusUnprocessableEntity, c.code)
		require.Equal(t, c.field, p.Field, c.path)
		require.Equal(t, w.path("%s", strings.Split(c.path, "?")[0]), p.Instance, c.path)
	}
	w.as(defects.Clerk).photo(shot(t, 77, nil), url.Values{"label_seen": {"yes"}}).refused(http.StatusUnprocessableEntity, "bad_flag")
}

func TestTheEvidenceOfACloseOutStandsInTheAnswer(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	north := w.walls()["North"]
	s := w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped slip", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
	s.step(defects.Clerk, "instruct", m{"text": "cut out and replace", "due": "2026-06-05"})
	s.step(defects.Installer, "dispute", m{"ground": "not ours", "text": "the scaffolder did it"})
	detail := func() map[string]any {
		return w.as(defects.Auditor).get(w.path("/snags/%s", s.number)).want(http.StatusOK).obj()
	}
	require.Equal(t, "not ours", detail()["dispute"].(m)["ground"])
	s.step(defects.Manager, "decide", m{"stands": true, "text": "it stands"})
	w.clock.advance(time.Hour)
	photo := w.after(31, north)
	w.clock.advance(time.Minute)
	s.step(defects.Installer, "offer", m{"made_good": m{"kind": "rework", "text": "replaced", "batch": "B-7"}, "photos": []string{photo}})
	s.step(defects.Clerk, "close", m{"inspection": "on-site"})
	got := detail()
	offer := got["offer"].(m)
	require.Equal(t, []any{photo}, offer["photos"])
	require.Equal(t, "B-7", offer["made_good"].(m)["batch"])
	by := map[string]m{}
	for _, e := range got["history"].([]any) {
		by[e.(m)["step"].(string)] = e.(m)
	}
	require.Equal(t, "2026-06-05", by["instruct"]["due"])
	require.Equal(t, "not ours", by["dispute"]["ground"])
	require.Equal(t, true, by["decide"]["stands"])
	require.Equal(t, "replaced", by["offer"]["made_good"].(m)["text"])
	require.Equal(t, photo, by["offer"]["photos"].([]any)[0].(m)["id"])
	require.NotEmpty(t, by["offer"]["photos"].([]any)[0].(m)["grade"])
	require.Equal(t, "on-site", by["close"]["inspection"])
}

func TestWhateverCanBeGotCanBeAskedForItsHead(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	s := samples(t, w)
	for _, line := range apiLines(w) {
		if line.Method != http.MethodGet {
			continue
		}
		got := s.send(w.as(defects.Clerk), line)
		head := s.send(w.as(defects.Clerk), server.TableLine{Method: http.MethodHead, Path: line.Path})
		require.Equal(t, got.Status, head.Status, line.Path)
		require.Equal(t, got.Header.Get("Content-Type"), head.Header.Get("Content-Type"), line.Path)
		require.Empty(t, head.Body)
	}
	nobody := &client{w: w}
	nobody.send("HEAD", "/sign-in", "", nil).want(http.StatusOK)
	nobody.send("HEAD", "/healthz", "", nil).want(http.StatusOK)
}

func TestRefusalsSayWhereTheyBelong(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	clerk := w.as(defects.Clerk)
	nobody := &client{w: w}
	nobody.get("/api/v1/sites/").refused(http.StatusNotFound, "no_such_address")
	require.Equal(t, "/sign-in", nobody.get("/sign-in/").want(http.StatusMovedPermanently).Header.Get("Location"))
	nobody.get("//elsewhere.example/")
	p := w.as(defects.Manager).json("PATCH", w.path(""), m{"name": "x"}).refused(http.StatusPreconditionRequired, "version_needed")
	require.Equal(t, "If-Match", p.Field)
	p = w.as(defects.Manager).with("If-Match", `"v9"`).json("PATCH", w.path(""), m{"name": "x"}).refused(http.StatusPreconditionFailed, "stale")
	require.Equal(t, "If-Match", p.Field)
	p = clerk.post(w.path("/snags"), m{"code": 5}).refused(http.StatusUnprocessableEntity, "invalid")
	require.Equal(t, w.path("/snags"), p.Instance)
	for _, path := range []string{"/snags", "/readings"} {
		clerk.send("POST", w.path("%s", path), "application/json", []byte("{\"text\":\"\xff\"}")).refused(http.StatusUnprocessableEntity, "bad_encoding")
		clerk.send("POST", w.path("%s", path), "application/json", []byte(`{"text":"a","text":"b"}`)).refused(http.StatusUnprocessableEntity, "named_twice")
	}
	mile := clerk.post(w.path("/milestones"), m{"kind": "completion", "on": "2026-12-01"}).want(http.StatusOK).str("id")
	clerk.with("If-Match", `"v7"`).send("DELETE", w.path("/milestones/%s", mile), "", nil).refused(http.StatusPreconditionFailed, "stale")
	clerk.with("If-Match", `"v1"`).send("DELETE", w.path("/milestones/%s", mile), "", nil).want(http.StatusNoContent)
	bad := clerk.send("POST", w.path("/readings"), "text/csv", []byte("quantity,value,unit\na,b\n")).want(http.StatusOK)
	require.EqualValues(t, 2, bad.list("results")[0]["row"])
}

func TestAnOriginalWithoutANameIsSavedUnderItsID(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	id := w.as(defects.Clerk).send("POST", w.path("/photos"), "image/jpeg", shot(t, 55, nil)).want(http.StatusCreated).str("id")
	got := w.as(defects.Clerk).get(w.path("/photos/%s/original", id)).want(http.StatusOK)
	require.Equal(t, "attachment; filename="+id+".jpg", got.Header.Get("Content-Disposition"))
	page := w.visit(defects.Clerk).get("/sites/" + w.site.ID + "/photos/" + id + "/original")
	require.Equal(t, http.StatusOK, page.Status)
	require.Equal(t, "attachment; filename="+id+".jpg", page.Header.Get("Content-Disposition"))
}
