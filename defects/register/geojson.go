package register

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"storeyrod/defects"
)

// maxFeatures bounds a file of footprints; more belong into several.
const maxFeatures = maxBuildings

// geoObject is any GeoJSON object of RFC 7946, its parts not yet read.
type geoObject struct {
	Type        string            `json:"type"`
	Features    []json.RawMessage `json:"features"`
	Geometry    json.RawMessage   `json:"geometry"`
	Coordinates json.RawMessage   `json:"coordinates"`
	Properties  json.RawMessage   `json:"properties"`
	CRS         json.RawMessage   `json:"crs"`
}

// ParseGeoJSON reads footprints: an RFC 7946 FeatureCollection or Feature of
// Polygons in WGS84, longitude first, either way round. The outline keeps the
// order of the file, so edge i runs from its point i to the next. Properties:
// building (or name), height_m, lift_height_m, bay_width_m, completed_on,
// defects_months. Further rings are courtyards. An outline in metres, as
// EncodeGeoJSON writes it, is read from plan_m and plan_courts_m when there is no
// geometry.
//
// A feature that cannot be taken is refused by its name and the others go on.
// The error is for a file that is no GeoJSON at all, or over max bytes.
func ParseGeoJSON(r io.Reader, max int64) ([]NewBuilding, []Refusal, error) {
	return parseFeatures(r, max, func(raw json.RawMessage) (NewBuilding, string, error) {
		b, err := parseFeature(raw)
		return b, b.Name, err
	})
}

// parseFeatures reads a file feature by feature; two of one name are refused.
func parseFeatures[T any](r io.Reader, max int64, parse func(json.RawMessage) (T, string, error)) ([]T, []Refusal, error) {
	text, err := io.ReadAll(io.LimitReader(r, max+1))
	if err != nil {
		return nil, nil, fmt.Errorf("read GeoJSON: %w", err)
	}
	if int64(len(text)) > max {
		return nil, nil, defects.Refuse(defects.TooLarge, "file_too_large", fmt.Sprintf("a file of buildings holds at most %d bytes", max))
	}
	features, err := featuresOf(text)
	if err != nil {
		return nil, nil, err
	}
	var taken []T
	var refused []Refusal
	names := map[string]bool{}
	for i, raw := range features {
		item := fmt.Sprintf("feature %d", i+1)
		b, name, err := parse(raw)
		if name != "" {
			item = shorten(name, maxName)
		}
		if err == nil && names[foldName(name)] {
			err = defects.RefuseField(defects.Conflict, "building", "name_twice", "another building of this file has this name")
		}
		if err != nil {
			e, ok := asError(err)
			if !ok {
				return nil, nil, err
			}
			refused = append(refused, Refusal{Item: item, Err: e})
			continue
		}
		names[foldName(name)] = true
		taken = append(taken, b)
	}
	return taken, refused, nil
}

// featuresOf cuts a file into its features without reading them.
func featuresOf(text []byte) ([]json.RawMessage, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	var root geoObject
	if err := json.Unmarshal(text, &root); err != nil {
		refused := defects.Refuse(defects.Invalid, "bad_geojson", "not a GeoJSON file: "+err.Error())
		refused.Err = err
		return nil, refused
	}
	if err := checkCRS(root.CRS); err != nil {
		return nil, err
	}
	switch root.Type {
	case "Feature":
		return []json.RawMessage{text}, nil
	case "FeatureCollection":
		if n := len(root.Features); n > maxFeatures {
			return nil, defects.RefuseField(defects.TooLarge, "features", "too_many_buildings", fmt.Sprintf("at most %d in one file, not %d", maxFeatures, n))
		}
		return root.Features, nil
	}
	return nil, defects.RefuseField(defects.Invalid, "type", "bad_geojson",
		fmt.Sprintf("must be a FeatureCollection or a Feature, not %q", shorten(root.Type, 40)))
}

// checkCRS lets the member of the 2008 format pass when it names WGS84 with
// longitude first; any other one would put the buildings somewhere else.
func checkCRS(raw json.RawMessage) error {
	if len(raw) == 0 || string(raw) == "null" {
		return nil
	}
	var crs struct {
		Properties struct {
			Name string `json:"name"`
		} `json:"properties"`
	}
	err := json.Unmarshal(raw, &crs)
	name := crs.Properties.Name
	if err == nil && (strings.HasSuffix(name, ":CRS84") || strings.HasSuffix(name, ":4326")) {
		return nil
	}
	return defects.RefuseField(defects.Invalid, "crs", "crs_not_taken",
		fmt.Sprintf("coordinates must be WGS84 degrees, not in %q; convert the file", shorten(name, 60)))
}

// parseFeature reads one feature. The name is given even when it is refused.
func parseFeature(raw json.RawMessage) (NewBuilding, error) {
	var b NewBuilding
	f, props, err := readFeature(raw)
	if err != nil {
		return b, err
	}
	if b.Name, err = cleanName("building", featureName(props)); err != nil {
		return b, err
	}
	if err := readProperties(&b, props); err != nil {
		return b, err
	}
	if len(f.Geometry) == 0 || string(f.Geometry) == "null" {
		return b, readPlan(&b, props)
	}
	rings, err := parseRings(f.Geometry)
	if err != nil {
		return b, err
	}
	b.Ring = rings[0]
	if len(rings) > 1 {
		b.Courts = rings[1:]
	}
	return b, checkOutline(defects.Building{Ring: b.Ring, Courts: b.Courts})
}

// readFeature gives a feature and its properties.
func readFeature(raw json.RawMessage) (f geoObject, props map[string]json.RawMessage, err error) {
	if err := json.Unmarshal(raw, &f); err != nil || f.Type != "Feature" {
		return f, nil, defects.RefuseField(defects.Invalid, "type", "bad_geojson", "is not a GeoJSON Feature")
	}
	if len(f.Properties) > 0 {
		if err := json.Unmarshal(f.Properties, &props); err != nil {
			return f, nil, defects.RefuseField(defects.Invalid, "properties", "bad_geojson", "must be an object")
		}
	}
	return f, props, nil
}

// parseRings gives all rings of a polygon, the outer one first, each without its
// repeated last point.
func parseRings(raw json.RawMessage) ([][]defects.LonLat, error) {
	var g geoObject
	if err := json.Unmarshal(raw, &g); err != nil {
		return nil, defects.RefuseField(defects.Invalid, "geometry", "bad_geojson", "is not a GeoJSON geometry")
	}
	// Counted before anything is made of them; each point has one bracket.
	if n := bytes.Count(g.Coordinates, []byte("[")); n > defects.MaxRingPoints+100 {
		return nil, defects.RefuseField(defects.TooLarge, "geometry", "too_many_points", fmt.Sprintf("an outline has at most %d points", defects.MaxRingPoints))
	}
	parts, err := ringsOf(g)
	if err != nil {
		return nil, err
	}
	if len(parts) == 0 {
		return nil, defects.RefuseField(defects.Invalid, "geometry", "too_few_points", "the polygon is empty")
	}
	rings := make([][]defects.LonLat, len(parts))
	for i, points := range parts {
		if rings[i], err = parseRing(points, ringField(i)); err != nil {
			return nil, err
		}
	}
	return rings, nil
}

// ringField names a ring in a refusal: the outer one is "ring".
func ringField(i int) string {
	if i == 0 {
		return "ring"
	}
	return defects.CourtField(i)
}

func parseRing(points [][]json.RawMessage, field string) ([]defects.LonLat, error) {
	ring := make([]defects.LonLat, len(points))
	for i, p := range points {
		var err error
		if ring[i].Lon, ring[i].Lat, err = parsePair(p, fmt.Sprintf("%s[%d]", field, i)); err != nil {
			return nil, err
		}
	}
	if n := len(ring); n < 4 || ring[0] != ring[n-1] {
		return nil, defects.RefuseField(defects.Invalid, field, "ring_open", "the outline must end at the point it starts from, with at least four positions")
	}
	return ring[:len(ring)-1], nil
}

// ringsOf reads a Polygon, or a MultiPolygon of one.
func ringsOf(g geoObject) ([][][]json.RawMessage, error) {
	bad := defects.RefuseField(defects.Invalid, "geometry", "bad_geojson", "the coordinates are not those of a "+shorten(g.Type, 40))
	switch g.Type {
	case "Polygon":
		var rings [][][]json.RawMessage
		if json.Unmarshal(g.Coordinates, &rings) != nil {
			return nil, bad
		}
		return rings, nil
	case "MultiPolygon":
		var parts [][][][]json.RawMessage
		if json.Unmarshal(g.Coordinates, &parts) != nil {
			return nil, bad
		}
		if len(parts) != 1 {
			return nil, defects.RefuseField(defects.Invalid, "geometry", "several_outlines",
				fmt.Sprintf("a building has one outline, not %d; name each part", len(parts)))
		}
		return parts[0], nil
	}
	return nil, defects.RefuseField(defects.Invalid, "geometry", "not_a_polygon", fmt.Sprintf("must be a Polygon, not %q", shorten(g.Type, 40)))
}

// parsePair reads a position; a third number, the height, is not used.
func parsePair(p []json.RawMessage, field string) (x, y float64, err error) {
	bad := defects.RefuseField(defects.Invalid, field, "bad_coordinate", "must be two numbers, longitude first")
	if len(p) < 2 || len(p) > 4 {
		return 0, 0, bad
	}
	// Unmarshal refuses texts, null becomes no number, 1e400 is out of range.
	var first, second *float64
	if json.Unmarshal(p[0], &first) != nil || json.Unmarshal(p[1], &second) != nil || first == nil || second == nil {
		return 0, 0, bad
	}
	return *first, *second, nil
}

func noOutline() error {
	return defects.RefuseField(defects.Invalid, "geometry", "not_a_polygon", "the feature has no outline")
}

// readPlan reads an outline in metres and its courtyards.
func readPlan(b *NewBuilding, props map[string]json.RawMessage) error {
	raw, yards := props["plan_m"], props["plan_courts_m"]
	if len(raw) == 0 {
		return noOutline()
	}
	var points [][]json.RawMessage
	var courts [][][]json.RawMessage
	bad := func(field string) error {
		return defects.RefuseField(defects.Invalid, field, "bad_coordinate", "must be a list of points in metres")
	}
	if bytes.Count(raw, []byte("["))+bytes.Count(yards, []byte("[")) > defects.MaxRingPoints+100 || json.Unmarshal(raw, &points) != nil {
		return bad("plan_m")
	}
	if len(yards) > 0 && json.Unmarshal(yards, &courts) != nil {
		return bad("plan_courts_m")
	}
	plan, err := planRing(points, "plan_m")
	if err != nil {
		return err
	}
	b.Plan = plan
	for i, court := range courts {
		ring, err := planRing(court, fmt.Sprintf("plan_courts_m[%d]", i))
		if err != nil {
			return err
		}
		b.PlanCourts = append(b.PlanCourts, ring)
	}
	return checkOutline(defects.Building{Plan: b.Plan, PlanCourts: b.PlanCourts})
}

func planRing(points [][]json.RawMessage, field string) ([]defects.XY, error) {
	var ring []defects.XY
	for i, p := range points {
		x, y, err := parsePair(p, fmt.Sprintf("%s[%d]", field, i))
		if err != nil {
			return nil, err
		}
		ring = append(ring, defects.XY{X: x, Y: y})
	}
	return slices.Clip(defects.Normalise(ring)), nil
}
