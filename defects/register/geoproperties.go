package register

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"storeyrod/defects"
)

// featureName takes the property building, or name. Many maps say only that a
// shape is a building ("yes"); then name goes first.
func featureName(props map[string]json.RawMessage) string {
	building, name := textOf(props["building"]), textOf(props["name"])
	if building == "" || (building == "yes" && name != "") {
		return name
	}
	return building
}

// textOf reads a text, or a number as it is written; anything else is none.
func textOf(raw json.RawMessage) string {
	var s string
	if json.Unmarshal(raw, &s) == nil {
		return s
	}
	var n json.Number
	if json.Unmarshal(raw, &n) == nil {
		return n.String()
	}
	return ""
}

// readProperties reads sizes and dates. What is not there stays zero.
func readProperties(b *NewBuilding, props map[string]json.RawMessage) error {
	for _, size := range []struct {
		field string
		out   *defects.MM
	}{{"height_m", &b.Height}, {"lift_height_m", &b.LiftHeight}, {"bay_width_m", &b.BayWidth}} {
		v, err := metresOf(size.field, props[size.field])
		if err != nil {
			return err
		}
		*size.out = v
	}
	b.CompletedOn = textOf(props["completed_on"])
	if err := checkDate("completed_on", b.CompletedOn); err != nil {
		return err
	}
	if text := textOf(props["defects_months"]); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > maxDefectsMonths {
			return defects.RefuseField(defects.Invalid, "defects_months", "bad_months", fmt.Sprintf("must be 0 to %d months; 0 means 12", maxDefectsMonths))
		}
		b.DefectsMonths = n
	}
	return nil
}

// metresOf reads a size in metres: a JSON number, which programs compute and
// which is rounded to the millimetre, or a text that somebody typed.
func metresOf(field string, raw json.RawMessage) (defects.MM, error) {
	if len(raw) == 0 || string(raw) == "null" {
		return 0, nil
	}
	var metres float64
	if err := json.Unmarshal(raw, &metres); err != nil {
		d, err := defects.ParseDecimal(textOf(raw))
		if err != nil {
			return 0, defects.RefuseField(defects.Invalid, field, "bad_number", "must be a number of metres, such as 7.5")
		}
		metres = d.Float()
	}
	mm := math.Round(metres * 1000)
	if mm < 1 || mm > float64(maxHeight) {
		return 0, defects.RefuseField(defects.Invalid, field, "bad_size", "must be above 0 and at most 500 m; leave it out when it is not known")
	}
	return defects.MM(mm), nil
}

// The written form of EncodeGeoJSON.
type (
	geoCollection struct {
		Type     string       `json:"type"`
		Features []geoFeature `json:"features"`
	}
	geoFeature struct {
		Type       string        `json:"type"`
		ID         string        `json:"id"`
		Geometry   *geoPolygon   `json:"geometry"`
		Properties geoProperties `json:"properties"`
	}
	geoPolygon struct {
		Type        string         `json:"type"`
		Coordinates [][][2]float64 `json:"coordinates"`
	}
	geoProperties struct {
		Building      string         `json:"building"`
		Height        json.Number    `json:"height_m"`
		CompletedOn   string         `json:"completed_on,omitempty"`
		DefectsMonths int            `json:"defects_months,omitempty"`
		Plan          [][2]float64   `json:"plan_m,omitempty"`
		PlanCourts    [][][2]float64 `json:"plan_courts_m,omitempty"`
		Version       int            `json:"version"`
		Elevations    []geoElevation `json:"elevations"`
	}
	geoElevation struct {
		ID      string      `json:"id"`
		Name    string      `json:"name"`
		Court   int         `json:"court,omitempty"` // 0 = an outer face, else the courtyard, from 1
		Edge    int         `json:"edge"`
		Length  json.Number `json:"length_m"`
		Height  json.Number `json:"height_m"`
		Bearing json.Number `json:"bearing_deg"`
	}
)

// EncodeGeoJSON writes buildings as an RFC 7946 FeatureCollection that
// ParseGeoJSON reads back: outlines in the order they were given, and under
// elevations which edge is which face. Courtyards are further rings. A building typed in metres has no place
// on earth; its geometry is null and its outline is in plan_m.
func EncodeGeoJSON(b []defects.Building, e []defects.Elevation) ([]byte, error) {
	walls := map[string][]geoElevation{}
	for _, one := range e {
		walls[one.BuildingID] = append(walls[one.BuildingID], geoElevation{
			ID: one.ID, Name: one.Name, Court: one.Court, Edge: one.Edge, Length: metresNumber(one.Length),
			Height: metresNumber(one.Height), Bearing: json.Number(one.Bearing.String()),
		})
	}
	out := geoCollection{Type: "FeatureCollection", Features: []geoFeature{}}
	for _, one := range b {
		f := geoFeature{Type: "Feature", ID: one.ID, Properties: geoProperties{
			Building: one.Name, Height: metresNumber(one.Height), CompletedOn: one.CompletedOn,
			DefectsMonths: one.DefectsMonths, Version: one.Version, Elevations: walls[one.ID],
		}}
		if f.Properties.Elevations == nil {
			f.Properties.Elevations = []geoElevation{}
		}
		f.Properties.Plan = metresOfRing(one.Plan)
		for _, court := range one.PlanCourts {
			f.Properties.PlanCourts = append(f.Properties.PlanCourts, metresOfRing(court))
		}
		if len(one.Ring) > 0 {
			f.Geometry = polygonOf(one)
		}
		out.Features = append(out.Features, f)
	}
	text, err := json.Marshal(out)
	if err != nil {
		return nil, fmt.Errorf("encode buildings: %w", err)
	}
	return text, nil
}

// polygonOf closes the rings, as the format wants it, the outer one first.
func polygonOf(b defects.Building) *geoPolygon {
	out := &geoPolygon{Type: "Polygon"}
	for _, ring := range append([][]defects.LonLat{b.Ring}, b.Courts...) {
		points := make([][2]float64, 0, len(ring)+1)
		for _, p := range ring {
			points = append(points, [2]float64{p.Lon, p.Lat})
		}
		out.Coordinates = append(out.Coordinates, append(points, points[0]))
	}
	return out
}

func metresOfRing(ring []defects.XY) [][2]float64 {
	var out [][2]float64
	for _, p := range ring {
		out = append(out, [2]float64{p.X, p.Y})
	}
	return out
}

func metresNumber(m defects.MM) json.Number { return json.Number(m.Metres().String()) }
