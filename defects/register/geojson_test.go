package register_test

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const maxFile = 1 << 20

// square is a closed ring of about 20 m by 11 m, anticlockwise.
const square = `[[-1.5000,53.4000],[-1.4997,53.4000],[-1.4997,53.4001],[-1.5000,53.4001],[-1.5000,53.4000]]`

// yard is a closed ring within it.
const yard = `[[-1.4999,53.40003],[-1.4999,53.40006],[-1.4998,53.40006],[-1.4998,53.40003],[-1.4999,53.40003]]`

func feature(props, geometry string) string {
	return `{"type":"Feature","properties":` + props + `,"geometry":` + geometry + `}`
}

func polygon(rings ...string) string {
	return `{"type":"Polygon","coordinates":[` + strings.Join(rings, ",") + `]}`
}

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

func TestParseGeoJSONReadsFootprints(t *testing.T) {
	t.Parallel()
	taken, refused, err := register.ParseGeoJSON(strings.NewReader(collection(
		feature(`{"building":"Quarry Terrace","height_m":7.4,"lift_height_m":"1.9","bay_width_m":2.0000000001,"completed_on":"2026-03-31","defects_months":24}`, polygon(square)),
		feature(`{"building":"yes","name":"Mill Terrace"}`, `{"type":"MultiPolygon","coordinates":[[`+square+`]]}`),
		feature(`{"building":12,"height_m":null}`, polygon(square)),
	)), maxFile)
	require.NoError(t, err)
	require.Empty(t, refused)
	require.Len(t, taken, 3)
	require.Equal(t, register.NewBuilding{
		Name: "Quarry Terrace", Height: 7400, LiftHeight: 1900, BayWidth: 2000, CompletedOn: "2026-03-31", DefectsMonths: 24,
		Ring: []defects.LonLat{{Lon: -1.5, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4001}, {Lon: -1.5, Lat: 53.4001}},
	}, taken[0])
	require.Equal(t, "Mill Terrace", taken[1].Name)
	require.Equal(t, "12", taken[2].Name)
}

func TestParseGeoJSONTakesOneFeatureAndAByteOrderMark(t *testing.T) {
	t.Parallel()
	taken, refused, err := register.ParseGeoJSON(strings.NewReader("\ufeff"+feature(`{"name":"A"}`, polygon(square))), maxFile)
	require.NoError(t, err)
	require.Empty(t, refused)
	require.Len(t, taken, 1)
}

func TestParseGeoJSONKeepsTheOrderOfARingEitherWayRound(t *testing.T) {
	t.Parallel()
	clockwise := `[[-1.5000,53.4000],[-1.5000,53.4001],[-1.4997,53.4001],[-1.4997,53.4000],[-1.5000,53.4000]]`
	taken, _, err := register.ParseGeoJSON(strings.NewReader(collection(feature(`{"building":"A","height_m":6}`, polygon(clockwise)))), maxFile)
	require.NoError(t, err)
	require.Len(t, taken, 1)
	require.Equal(t, defects.LonLat{Lon: -1.5, Lat: 53.4001}, taken[0].Ring[1], "edge 0 runs to the second point of the file")
	edges := defects.ElevationsOf(defects.Building{Ring: taken[0].Ring, Height: 6000}, defects.ElevationOptions{})
	require.Equal(t, "West", edges[0].Name, "the first edge is the west side")
	require.Equal(t, 0, edges[0].Edge)
}

func TestParseGeoJSONRefusesBadFeaturesByNameAndTakesTheRest(t *testing.T) {
	t.Parallel()
	good := feature(`{"building":"Good"}`, polygon(square))
	many := make([]string, 2200)
	for i := range many {
		many[i] = "[0,0]"
	}
	for name, tc := range map[string]struct{ feature, item, code string }{
		"crossing": {
			feature(`{"building":"Bow tie"}`, polygon(`[[-1.5,53.4],[-1.4997,53.4001],[-1.4997,53.4],[-1.5,53.4001],[-1.5,53.4]]`)),
			"Bow tie", "ring_crosses",
		},
		"open ring": {
			feature(`{"building":"Open"}`, polygon(`[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4001]]`)),
			"Open", "ring_open",
		},
		"metres typed as degrees": {
			feature(`{"building":"Grid"}`, polygon(`[[433000,387000],[433020,387000],[433020,387010],[433000,387000]]`)),
			"Grid", "metres_not_degrees",
		},
		"local metres typed as degrees": {
			feature(`{"building":"Local"}`, polygon(`[[0,0],[20,0],[20,10],[0,10],[0,0]]`)), "Local", "too_large",
		},
		"same name":         {feature(`{"building":"good "}`, polygon(square)), "good", "name_twice"},
		"no name":           {feature(`{"height_m":6}`, polygon(square)), "feature 2", "name_empty"},
		"no properties":     {feature(`null`, polygon(square)), "feature 2", "name_empty"},
		"properties a list": {feature(`[1]`, polygon(square)), "feature 2", "bad_geojson"},
		"a hole":            {feature(`{"building":"Court"}`, polygon(square, square)), "Court", "court_outside"},
		"latitude 91": {
			feature(`{"building":"Pole"}`, polygon(`[[10,91],[10.0003,91],[10.0003,91.0001],[10,91]]`)), "Pole", "swapped_coordinates",
		},
		"swapped": {
			feature(`{"building":"Swap"}`, polygon(`[[53.4,-101.5],[53.4001,-101.5],[53.4001,-101.4997],[53.4,-101.5]]`)), "Swap", "swapped_coordinates",
		},
		"duplicate points": {
			feature(`{"building":"Twin"}`, polygon(`[[-1.5,53.4],[-1.4997,53.4],[-1.4997,53.4],[-1.4997,53.4001],[-1.5,53.4]]`)), "Twin", "zero_edge",
		},
		"an open hole": {
			feature(`{"building":"Court"}`, polygon(square, `[[-1.4999,53.40003],[-1.4998,53.40003],[-1.4998,53.40006]]`)), "Court", "ring_open",
		},
		"a hole that crosses itself": {
			feature(`{"building":"Court"}`, polygon(square, `[[-1.4999,53.40003],[-1.4998,53.40006],[-1.4998,53.40003],[-1.4999,53.40006],[-1.4999,53.40003]]`)), "Court", "ring_crosses",
		},
		"two holes in each other": {
			feature(`{"building":"Court"}`, polygon(square, yard, `[[-1.49988,53.40004],[-1.49982,53.40004],[-1.49982,53.40005],[-1.49988,53.40004]]`)), "Court", "courts_meet",
		},
		"two parts": {
			feature(`{"building":"Two"}`, `{"type":"MultiPolygon","coordinates":[[`+square+`],[`+square+`]]}`), "Two", "several_outlines",
		},
		"a point":          {feature(`{"building":"Dot"}`, `{"type":"Point","coordinates":[1,2]}`), "Dot", "not_a_polygon"},
		"no geometry":      {feature(`{"building":"Nowhere"}`, `null`), "Nowhere", "not_a_polygon"},
		"empty polygon":    {feature(`{"building":"Empty"}`, polygon()), "Empty", "too_few_points"},
		"number too large": {feature(`{"building":"Far"}`, polygon(`[[1e400,0],[1,0],[1,1],[1e400,0]]`)), "Far", "bad_coordinate"},
		"text as number":   {feature(`{"building":"Text"}`, polygon(`[["1",0],[1,0],[1,1],["1",0]]`)), "Text", "bad_coordinate"},
		"null as number":   {feature(`{"building":"Null"}`, polygon(`[[null,0],[1,0],[1,1],[null,0]]`)), "Null", "bad_coordinate"},
		"one number":       {feature(`{"building":"One"}`, polygon(`[[1],[1],[1],[1]]`)), "One", "bad_coordinate"},
		"flat list":        {feature(`{"building":"Flat"}`, `{"type":"Polygon","coordinates":[1,2]}`), "Flat", "bad_geojson"},
		"too many points":  {feature(`{"building":"Many"}`, polygon(`[`+strings.Join(many, ",")+`]`)), "Many", "too_many_points"},
		"height 1e400":     {feature(`{"building":"Tall","height_m":1e400}`, polygon(square)), "Tall", "bad_number"},
		"height in words":  {feature(`{"building":"Tall","height_m":"7 m"}`, polygon(square)), "Tall", "bad_number"},
		"height nought":    {feature(`{"building":"Low","height_m":0}`, polygon(square)), "Low", "bad_size"},
		"height negative":  {feature(`{"building":"Low","height_m":-3}`, polygon(square)), "Low", "bad_size"},
		"no such day":      {feature(`{"building":"Day","completed_on":"2026-02-30"}`, polygon(square)), "Day", "bad_date"},
		"not a feature":    {`{"type":"Polygon"}`, "feature 2", "bad_geojson"},
		"a number":         {`7`, "feature 2", "bad_geojson"},
		"null":             {`null`, "feature 2", "bad_geojson"},
		"hidden letters":   {feature(`{"building":"A\u202eB"}`, polygon(square)), "feature 2", "bad_text"},
		"control letters":  {feature(`{"building":"A\u0000B"}`, polygon(square)), "feature 2", "bad_text"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			taken, refused, err := register.ParseGeoJSON(strings.NewReader(collection(good, tc.feature)), maxFile)
			require.NoError(t, err)
			require.Len(t, taken, 1)
			require.Equal(t, "Good", taken[0].Name)
			require.Len(t, refused, 1)
			require.Equal(t, tc.item, refused[0].Item)
			require.Equal(t, tc.code, refused[0].Err.CodeOrKind(), refused[0].Err.Error())
			require.NotEmpty(t, refused[0].Err.Field)
		})
	}
}

func TestParseGeoJSONRefusesWhatIsNoFileOfFootprints(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct{ text, code string }{
		"empty":             {"", "bad_geojson"},
		"cut off":           {collection(feature(`{"building":"A"}`, polygon(square)))[:90], "bad_geojson"},
		"two documents":     {"{} {}", "bad_geojson"},
		"another object":    {`{"type":"Topology"}`, "bad_geojson"},
		"features no list":  {`{"type":"FeatureCollection","features":{}}`, "bad_geojson"},
		"too long":          {strings.Repeat(" ", maxFile+1), "file_too_large"},
		"too many features": {collection(strings.Split(strings.Repeat("{} ", 501), " ")[:501]...), "too_many_buildings"},
		"another grid": {
			`{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::27700"}},"features":[]}`, "crs_not_taken",
		},
		"nested too deep": {strings.Repeat("[", 20000), "bad_geojson"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, _, err := register.ParseGeoJSON(strings.NewReader(tc.text), maxFile)
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, tc.code, e.CodeOrKind())
		})
	}
}

func TestGeoJSONRoundTrips(t *testing.T) {
	t.Parallel()
	buildings := []defects.Building{
		{ID: "b1", Name: "Quarry Terrace", Height: 7400, CompletedOn: "2026-03-31", DefectsMonths: 24, Version: 3, Ring: []defects.LonLat{
			{Lon: -1.5, Lat: 53.4}, {Lon: -1.49970000001, Lat: 53.4}, {Lon: -1.4997, Lat: 53.40010000000001}, {Lon: -1.5, Lat: 53.4001},
		}},
		{ID: "b2", Name: "Typed", Height: 5000, Version: 1, Plan: []defects.XY{{X: 0, Y: 0}, {X: 12.5, Y: 0}, {X: 12.5, Y: 7}, {X: 0, Y: 7}}},
	}
	walls := defects.ElevationsOf(buildings[0], defects.ElevationOptions{})
	text, err := register.EncodeGeoJSON(buildings, walls)
	require.NoError(t, err)
	taken, refused, err := register.ParseGeoJSON(strings.NewReader(string(text)), maxFile)
	require.NoError(t, err)
	require.Empty(t, refused)
	require.Len(t, taken, 2)
	for i, b := range buildings {
		require.Equal(t, b.Name, taken[i].Name)
		require.Equal(t, b.Height, taken[i].Height)
		require.Equal(t, b.CompletedOn, taken[i].CompletedOn)
		require.Equal(t, b.DefectsMonths, taken[i].DefectsMonths)
		require.Equal(t, b.Ring, taken[i].Ring)
		require.Equal(t, b.Plan, taken[i].Plan)
	}
}

// What we write must be readable by others: Python's json module reads it, and
// each ring is closed as RFC 7946 section 3.1.6 asks.
func TestEncodedGeoJSONIsReadByAnotherParser(t *testing.T) {
	t.Parallel()
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Log("no python3 here; checked with our own reader only")
	}
	text, err := register.EncodeGeoJSON([]defects.Building{{ID: "b1", Name: "A", Height: 6000, Ring: []defects.LonLat{
		{Lon: 1e-7, Lat: 53.4}, {Lon: 3e-4, Lat: 53.4}, {Lon: 3e-4, Lat: 53.4001},
	}}}, nil)
	require.NoError(t, err)
	var any map[string]any
	require.NoError(t, json.Unmarshal(text, &any))
	if python == "" {
		return
	}
	cmd := exec.Command(python, "-c", `import json,sys
f=json.load(sys.stdin)["features"][0]
r=f["geometry"]["coordinates"][0]
print(f["type"],f["geometry"]["type"],len(r),r[0]==r[-1],r[0][0],f["properties"]["height_m"])`)
	cmd.Stdin = strings.NewReader(string(text))
	out, err := cmd.Output()
	require.NoError(t, err)
	require.Equal(t, "Feature Polygon 4 True 1e-07 6.0\n", string(out))
}

func FuzzParseGeoJSON(f *testing.F) {
	f.Add(collection(feature(`{"building":"A","height_m":7.4}`, polygon(square))))
	f.Add(feature(`{"name":"A","height_m":"7.4"}`, `{"type":"MultiPolygon","coordinates":[[`+square+`]]}`))
	f.Add(feature(`{"name":"A","plan_m":[[0,0],[5,0],[5,5]]}`, `null`))
	f.Add(collection(feature(`{"building":"A"}`, polygon(`[[1e400,0],[1,0]]`))))
	f.Add(`{"type":"FeatureCollection","features":[null,1,[]]}`)
	f.Add(feature(`{"building":"A"}`, polygon(square+`,`+square)))
	f.Add(feature(`{"building":"A"}`, polygon(square, yard)))
	f.Add(feature(`{"name":"A","plan_m":[[0,0],[9,0],[9,9]],"plan_courts_m":[[[5,1],[6,1],[6,2]]]}`, `null`))
	f.Fuzz(func(t *testing.T, text string) {
		outlines, _, _ := register.ParseFootprints(strings.NewReader(text), 64<<10)
		for _, o := range outlines {
			require.NotEmpty(t, o.Rings, o.Name)
		}
		taken, refused, err := register.ParseGeoJSON(strings.NewReader(text), 64<<10)
		if err != nil {
			var e *defects.Error
			require.ErrorAs(t, err, &e)
			return
		}
		for _, r := range refused {
			require.NotEmpty(t, r.Item)
			require.NotEmpty(t, r.Err.CodeOrKind())
		}
		for i, n := range taken {
			b := defects.Building{ID: fmt.Sprint(i), Name: n.Name, Ring: n.Ring, Plan: n.Plan, Courts: n.Courts, PlanCourts: n.PlanCourts, Height: max(n.Height, 1), CompletedOn: n.CompletedOn, DefectsMonths: n.DefectsMonths}
			again, err := register.EncodeGeoJSON([]defects.Building{b}, nil)
			require.NoError(t, err)
			back, bad, err := register.ParseGeoJSON(strings.NewReader(string(again)), 1<<20)
			require.NoError(t, err)
			require.Empty(t, bad)
			require.Equal(t, b.Ring, back[0].Ring)
			require.Equal(t, b.Plan, back[0].Plan)
			require.Equal(t, b.Courts, back[0].Courts)
			require.Equal(t, b.PlanCourts, back[0].PlanCourts)
			require.Equal(t, b.Name, back[0].Name)
		}
	})
}
