package server_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// courtyard is an invented building with a courtyard, and five features that are
// refused, each by its name.
const courtyard = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"building":"Court","height_m":9},"geometry":{"type":"Polygon","coordinates":[
 [[-1.4980,53.4],[-1.4974,53.4],[-1.4974,53.4003],[-1.4980,53.4003],[-1.4980,53.4]],
 [[-1.49785,53.40008],[-1.49785,53.40022],[-1.49755,53.40022],[-1.49755,53.40008],[-1.49785,53.40008]]]}},
{"type":"Feature","properties":{"building":"Bow tie"},"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4001],[-1.4997,53.4],[-1.5,53.4001],[-1.5,53.4]]]}},
{"type":"Feature","properties":{"building":"Open"},"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4001]]]}},
{"type":"Feature","properties":{"building":"Grid"},"geometry":{"type":"Polygon","coordinates":[[[433000,387000],[433020,387000],[433020,387010],[433000,387000]]]}},
{"type":"Feature","properties":{"building":"Twin"},"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4]]]}},
{"type":"Feature","properties":{"building":"court"},"geometry":{"type":"Polygon","coordinates":[[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4]]]}},
{"type":"Feature","properties":{"building":"Far","height_m":6},"geometry":{"type":"Polygon","coordinates":[[[18,59.3],[18.0003,59.3],[18.0003,59.3001],[18,59.3]]]}}]}`

func TestAFileOfFootprintsIsJudgedFeatureByFeature(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		w.walls()
		clerk := w.as(defects.Clerk)
		got := clerk.send("POST", w.path("/buildings"), "application/geo+json", []byte(courtyard)).want(http.StatusOK)
		require.Equal(w.t, []any{"Court", "Far"}, got.obj()["taken"])
		codes := map[string]string{}
		for _, r := range got.list("refused") {
			codes[r["item"].(string)] = r["code"].(string)
		}
		require.Equal(w.t, map[string]string{
			"Bow tie": "ring_crosses", "Open": "ring_open", "Grid": "metres_not_degrees", "Twin": "zero_edge", "court": "name_twice",
		}, codes)
		notes := fmt.Sprint(got.obj()["notes"])
		require.Regexp(w.t, `Far: lies 1[34]\d\d km from the nearest of the site's other buildings`, notes)

		out := clerk.get(w.path("/buildings")).want(http.StatusOK)
		for _, f := range out.list("features") {
			if f["properties"].(map[string]any)["building"] == "Court" {
				require.Len(w.t, f["geometry"].(map[string]any)["coordinates"], 2, "outline and courtyard")
			}
		}
		again := clerk.send("POST", w.path("/buildings"), "application/geo+json", out.Body).want(http.StatusOK)
		require.Equal(w.t, []any{"Court", "Far", "Terrace A"}, again.obj()["known"], "what comes out goes in")
		svg := w.visit(defects.Clerk).get("/sites/" + w.site.ID).want(http.StatusOK)
		require.Equal(w.t, 2, strings.Count(svg.Body[strings.Index(svg.Body, `class="plan-block"`):][:400], "Z"), "the plan draws the courtyard")
	})
}

// metreNorth is roughly one metre in degrees of latitude.
const metreNorth = 1 / 111_270.0

func TestAFootprintThatLiesTurnedIsCorrectedAndPhotosAreOfferedAnew(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls, clerk := w.walls(), w.as(defects.Clerk)
		photo := clerk.photo(shot(t, 1, func(c *defects.Capture) { at, lon := 53.4001+9*metreNorth, -1.49985; c.Lat, c.Lon = &at, &lon }), nil).want(http.StatusCreated)
		require.Equal(w.t, walls["North"], photo.str("place.elevation_id"), "%s", photo.Body)
		building := clerk.get(w.path("/elevations/%s", walls["North"])).str("building_id")
		address := w.path("/buildings/%s/move", building)
		clerk.post(address, m{"turn_deg": "90"}).want(http.StatusPreconditionRequired)
		clerk.with("If-Match", `"v7"`).post(address, m{"turn_deg": "90"}).want(http.StatusPreconditionFailed)
		clerk.with("If-Match", `"v1"`).post(address, m{}).refused(http.StatusUnprocessableEntity, "nothing_moves")
		got := clerk.with("If-Match", `"v1"`).post(address, m{"turn_deg": "90"}).want(http.StatusOK)
		require.Equal(w.t, `"v2"`, got.Header.Get("ETag"))
		require.EqualValues(w.t, 1, got.obj()["photos_offered"])
		require.Len(w.t, got.list("elevations"), 4)

		list := clerk.get(w.path("/photos?offered=true")).want(http.StatusOK).list("items")
		require.Len(w.t, list, 1)
		require.Contains(w.t, list[0]["offered"], "Terrace A / West")
		require.Equal(w.t, walls["North"], list[0]["place"].(map[string]any)["elevation_id"], "it is not moved")
		require.Empty(w.t, clerk.get(w.path("/photos?unplaced=true")).list("items"))

		north := clerk.get(w.path("/elevations/%s", walls["North"]))
		require.Equal(w.t, "90.0", north.str("bearing_deg"))
		west := clerk.get(w.path("/elevations/%s", walls["West"]))
		side := clerk.with("If-Match", north.Header.Get("ETag")).post(w.path("/elevations/%s/side", walls["North"]), m{"edge": west.obj()["edge"]}).refused(http.StatusUnprocessableEntity, "outside_elevation")
		require.Contains(w.t, side.Detail, "North")

		clerk.with("If-Match", fmt.Sprintf(`"v%v"`, list[0]["version"])).json("PATCH", w.path("/photos/%s", photo.str("id")), m{"elevation_id": walls["West"]}).want(http.StatusOK)
		require.Empty(w.t, clerk.get(w.path("/photos?offered=true")).list("items"), "somebody decided")

		ring := [][][]float64{{{-1.5, 53.4}, {-1.4997, 53.4}, {-1.4997, 53.4001}, {-1.5, 53.4001}, {-1.5, 53.4}}}
		put := clerk.with("If-Match", `"v2"`).json("PUT", w.path("/buildings/%s/outline", building), m{"coordinates": ring}).want(http.StatusOK)
		require.EqualValues(w.t, 3, put.obj()["version"])
		require.Contains(w.t, string(clerk.get(w.path("/buildings")).Body), "[-1.4997,53.4001]")
		clerk.with("If-Match", `"v3"`).json("PUT", w.path("/buildings/%s/outline", building), m{"coordinates": [][][]float64{ring[0][2:]}}).refused(http.StatusUnprocessableEntity, "corners_differ")
		w.as(defects.Auditor).with("If-Match", `"v3"`).post(address, m{"turn_deg": "1"}).refused(http.StatusForbidden, "role_forbidden")
	})
}

func TestAnElevationIsCopiedOverREST(t *testing.T) {
	t.Parallel()
	onBoth(t, func(w *world) {
		walls, clerk := w.walls(), w.as(defects.Clerk)
		north, south := w.path("/elevations/%s", walls["North"]), w.path("/elevations/%s", walls["South"])
		clerk.with("If-Match", `"v1"`).json("PATCH", north, m{
			"openings": []m{{"name": "D01", "kind": "door", "x_m": "1.0", "z_m": "0", "width_m": "0.9", "height_m": "2.1"}},
			"lifts_m":  []string{"3", "6"},
		}).want(http.StatusOK)
		target := []m{{"elevation": walls["South"], "version": 1}}
		got := clerk.post(north+"/copy", m{"to": target, "mirrored": true}).want(http.StatusOK).list("items")
		require.Len(w.t, got, 1)
		opening := got[0]["openings"].([]any)[0].(map[string]any)
		require.Equal(w.t, "18.055", opening["x_m"], "1.0 m from the right end of 19.955 m")
		require.Equal(w.t, []any{"3.000", "6.000"}, got[0]["lifts_m"])
		require.Equal(w.t, `"v2"`, clerk.get(south).Header.Get("ETag"))
		clerk.post(north+"/copy", m{"to": target}).want(http.StatusPreconditionFailed)
		east := []m{{"elevation": walls["East"], "version": 1}}
		clerk.post(north+"/copy", m{"to": east}).refused(http.StatusUnprocessableEntity, "length_differs")
		clerk.post(north+"/copy", m{"to": east, "parts": []string{"roof"}}).refused(http.StatusUnprocessableEntity, "unknown_part")

		clerk.post(w.path("/snags"), m{"code": "SL-12", "text": "chipped", "place": m{"elevation_id": walls["South"], "x_m": "2", "z_m": "5.5"}}).want(http.StatusCreated)
		low := clerk.with("If-Match", `"v2"`).json("PATCH", north, m{"height_m": "5", "lifts_m": []string{"2.5", "5"}, "base_line_m": "0"}).want(http.StatusOK)
		require.Equal(w.t, "5.000", low.str("height_m"))
		target[0]["version"] = 2
		p := clerk.post(north+"/copy", m{"to": target}).refused(http.StatusConflict, "things_outside")
		require.Contains(w.t, p.Detail, "SN-0001")
		clerk.post(north+"/copy", m{"to": target, "anyway": true}).want(http.StatusOK)
	})
}
