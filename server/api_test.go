package server_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func atoi(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

// form makes a multipart body with one file.
func form(t *testing.T, field, name string, data []byte, values url.Values) (body []byte, contentType string) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part, err := w.CreateFormFile(field, name)
	require.NoError(t, err)
	_, err = part.Write(data)
	require.NoError(t, err)
	for k, vs := range values {
		for _, v := range vs {
			require.NoError(t, w.WriteField(k, v))
		}
	}
	require.NoError(t, w.Close())
	return b.Bytes(), w.FormDataContentType()
}

func TestTheDescriptionAndTheRoutesAgree(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	var doc struct {
		OpenAPI string                                `json:"openapi"`
		Paths   map[string]map[string]json.RawMessage `json:"paths"`
	}
	got := (&client{w: w}).get("/api/v1/openapi.json").want(http.StatusOK)
	require.NoError(t, json.Unmarshal(got.Body, &doc))
	require.True(t, strings.HasPrefix(doc.OpenAPI, "3.1"), doc.OpenAPI)
	described := map[string]bool{}
	for path, operations := range doc.Paths {
		for method := range operations {
			described[strings.ToUpper(method)+" "+path] = true
		}
	}
	routed := map[string]bool{}
	for _, r := range w.srv.Table() {
		if !r.API || !strings.HasPrefix(r.Path, "/api/v1/") || r.Path == "/api/v1/openapi.json" {
			continue
		}
		var parts []string
		for _, p := range strings.Split(strings.TrimPrefix(r.Path, "/api/v1"), "/") {
			if name, ok := strings.CutPrefix(p, ":"); ok {
				p = "{" + name + "}"
			}
			parts = append(parts, p)
		}
		routed[r.Method+" "+strings.Join(parts, "/")] = true
	}
	require.Equal(t, routed, described)
	require.Greater(t, len(routed), 40)
}

func TestBadInputGetsACodedProblemThatNamesTheField(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	walls := w.walls()
	reading := func(change m) m {
		r := m{"quantity": "joint_width_bed", "value": "10", "unit": "mm", "elevation": walls["North"], "bay": 1, "lift": 1}
		for k, v := range change {
			r[k] = v
		}
		return r
	}
	for _, c := range []struct {
		name   string
		change m
		status int
		code   string
		field  string
	}{
		{"a number no float holds", m{"value": json.RawMessage("1e400")}, 422, "bad_number", "value"},
		{"the same as text", m{"value": "1e400"}, 422, "bad_number", "value"},
		{"not a number", m{"value": "NaN"}, 422, "bad_number", "value"},
		{"a decimal comma", m{"value": "9,5"}, 422, "bad_number", "value"},
		{"a wrong unit", m{"unit": "cm"}, 422, "wrong_unit", "unit"},
		{"an unknown quantity", m{"quantity": "beauty"}, 422, "unknown_quantity", "quantity"},
		{"an unknown field", m{"colour": "red"}, 422, "bad_json", ""},
		{"a bay beyond the wall", m{"bay": 99}, 422, "", "bay"},
		{"a wall of nowhere", m{"elevation": "00000000-0000-7000-8000-999999999999"}, 422, "", "elevation"},
	} {
		p := w.as(defects.Clerk).post(w.path("/readings"), reading(c.change))
		require.Equal(t, c.status, p.Status, "%s: %s", c.name, p.Body)
		if c.code != "" {
			require.Equal(t, c.code, p.str("code"), "%s: %s", c.name, p.Body)
		}
		require.Equal(t, c.field, p.str("field"), "%s: %s", c.name, p.Body)
	}
	require.Empty(t, w.as(defects.Clerk).get(w.path("/readings")).list("items"), "nothing is half-written")
}

func TestATableOfReadingsTellsWhatBecameOfEachRow(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		table := "quantity,value,unit,elevation,bay,lift,id\n" +
			"joint_width_bed,10.0,mm,North,1,1,a\n" +
			"joint_width_bed,10.0,inch,North,1,1,b\n" +
			"joint_width_bed,1e400,mm,North,1,1,c\n" +
			"joint_width_bed,11.5,mm,North,2,1,d\n"
		got := w.as(defects.Clerk).send("POST", w.path("/readings"), "text/csv", []byte(table)).want(http.StatusOK)
		require.Equal(t, "2", got.str("taken"))
		require.Equal(t, "2", got.str("refused"))
		require.Len(t, w.as(defects.Clerk).get(w.path("/readings")).list("items"), 2)
		require.Contains(t, string(got.Body), "wrong_unit")
		require.Contains(t, string(got.Body), "bad_number")
	})
}

func TestCrossingRingsAreRefusedByNameAndTheRestGoesOn(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	bad := `{"type":"FeatureCollection","features":[
	{"type":"Feature","properties":{"building":"Bow tie"},"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4001],[-1.4997,53.4],[-1.5,53.4001],[-1.5,53.4]]]}},
	{"type":"Feature","properties":{"building":"Terrace B","height_m":6},"geometry":{"type":"Polygon","coordinates":[[[-1.499,53.4],[-1.4987,53.4],[-1.4987,53.4001],[-1.499,53.4001],[-1.499,53.4]]]}}]}`
	got := w.as(defects.Clerk).send("POST", w.path("/buildings"), "application/geo+json", []byte(bad)).want(http.StatusOK)
	require.Equal(t, []any{"Terrace B"}, got.obj()["taken"])
	refused := got.list("refused")
	require.Len(t, refused, 1)
	require.Contains(t, refused[0]["item"], "Bow tie")
	require.Equal(t, "ring_crosses", refused[0]["code"])
}

func TestListsArePagedByLinksWithoutLossOrRepeat(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls := w.walls()
		var values []string
		for i := range 25 {
			values = append(values, fmt.Sprint(8+i%5))
		}
		w.outcomes(m{"quantity": "joint_width_bed", "unit": "mm", "elevation": walls["North"], "bay": 1, "lift": 1, "stage": "SL"}, values...)
		seen := map[string]bool{}
		path := w.path("/readings?limit=10&stage=SL")
		for pages := 0; path != ""; pages++ {
			require.Less(t, pages, 4)
			got := w.as(defects.Auditor).get(path).want(http.StatusOK)
			for _, r := range got.list("items") {
				id := r["id"].(string)
				require.False(t, seen[id], "repeated")
				seen[id] = true
			}
			path = ""
			if link := got.Header.Get("Link"); link != "" {
				require.True(t, strings.HasSuffix(link, `; rel="next"`), link)
				path = link[1:strings.Index(link, ">")]
			}
		}
		require.Len(t, seen, 25)
		w.as(defects.Auditor).get(w.path("/readings?after=forged")).refused(http.StatusUnprocessableEntity, "bad_cursor")
	})
}

func TestARepeatedWriteWithAKeyIsDoneOnce(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		body := m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}}
		clerk := w.as(defects.Clerk).with("Idempotency-Key", "phone-1-capture-77")
		var wg sync.WaitGroup
		for range 4 {
			wg.Go(func() {
				got := clerk.post(w.path("/snags"), body)
				if got.Status == http.StatusConflict {
					got.refused(http.StatusConflict, "idempotency_in_progress")
					require.Equal(t, "2", got.Header.Get("Retry-After"))
					return
				}
				require.Equal(t, "1", got.want(http.StatusCreated).str("number"), "one snag, not four")
			})
		}
		wg.Wait()
		again := clerk.post(w.path("/snags"), body).want(http.StatusCreated)
		require.Equal(t, "true", again.Header.Get("Idempotency-Replayed"))
		require.Equal(t, "1", again.str("number"))
		require.Len(t, w.as(defects.Clerk).get(w.path("/snags")).list("items"), 1)
		body["text"] = "another"
		clerk.post(w.path("/snags"), body).refused(http.StatusConflict, "idempotency_key_reused")
	})
}

func TestSnagNumbersNeverRepeatUnderManyWriters(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		var mu sync.Mutex
		seen := map[string]int{}
		var wg sync.WaitGroup
		for i := range 16 {
			wg.Go(func() {
				got := w.as(defects.Clerk).post(w.path("/snags"), m{"code": "SL-12", "text": fmt.Sprint(i), "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
				mu.Lock()
				defer mu.Unlock()
				seen[got.want(http.StatusCreated).str("number")]++
			})
		}
		wg.Wait()
		require.Len(t, seen, 16)
	})
}

func TestTheLogHoldsEveryWriteInOrderWithoutGaps(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		north := w.walls()["North"]
		w.raise(defects.Clerk, m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": north, "bay": 1, "lift": 1}})
		items := w.as(defects.Auditor).get(w.path("/log?limit=500")).want(http.StatusOK).list("items")
		for i, e := range items {
			require.EqualValues(t, i+1, e["seq"])
			require.NotEmpty(t, e["actor"].(m)["id"])
		}
		last := items[len(items)-1]
		require.Equal(t, "snag.raise", last["kind"])
		require.Equal(t, "clerk", last["actor"].(m)["role"])
		w.as(defects.Installer).get(w.path("/log")).refused(http.StatusForbidden, "role_forbidden")
	})
}

func TestAStoreThatFailsIsA500WithoutItsInnerText(t *testing.T) {
	t.Parallel()
	w := onSQLite(t)
	require.NoError(t, w.store.Close())
	got := w.as(defects.Clerk).get("/api/v1/sites")
	p := got.refused(http.StatusInternalServerError, "internal")
	require.NotContains(t, strings.ToLower(p.Detail), "sql")
	require.Contains(t, w.logs.String(), "request failed")
	require.NotContains(t, w.logs.String(), w.as(defects.Clerk).token, "no secret in the log")
}
