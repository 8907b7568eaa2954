package report

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"storeyrod/defects"
)

type featureCollection struct {
	Type     string    `json:"type"`
	Features []feature `json:"features"`
}

type feature struct {
	Type       string    `json:"type"`
	ID         string    `json:"id"`
	Geometry   *geometry `json:"geometry"`
	Properties SnagRow   `json:"properties"`
}

type geometry struct {
	Type        string     `json:"type"`
	Coordinates [2]float64 `json:"coordinates"`
}

// WriteSnagGeoJSON writes lists as an RFC 7946 FeatureCollection: each snag is
// a Point on the foot of its wall. A snag without a place along the wall, or on
// a building typed in metres, has a null geometry.
func WriteSnagGeoJSON(w io.Writer, lists []defects.SnagList, buildings []defects.Building, zone *time.Location) error {
	byID := map[string]defects.Building{}
	for _, b := range buildings {
		byID[b.ID] = b
	}
	out := featureCollection{Type: "FeatureCollection", Features: []feature{}}
	for _, list := range lists {
		wall := newWallLine(list.Elevation, byID[list.Elevation.BuildingID])
		for i, row := range Rows(list, zone) {
			out.Features = append(out.Features, feature{
				Type: "Feature", ID: row.Ref,
				Geometry: wall.at(along(list.Elevation, list.Items[i].Snag.Place)), Properties: row,
			})
		}
	}
	return json.NewEncoder(w).Encode(out)
}

// wallLine is the foot of one elevation on the ground.
type wallLine struct {
	frame       defects.Frame
	left, right defects.XY
	length      defects.MM
	ok          bool
}

func newWallLine(e defects.Elevation, b defects.Building) wallLine {
	frame, ok := defects.BuildingFrame(b)
	s, on := defects.SideOf(b, e)
	if !ok || !on || e.Length <= 0 {
		return wallLine{}
	}
	return wallLine{frame: frame, left: s.Left, right: s.Right, length: e.Length, ok: true}
}

// at gives the point x along the wall from its left end.
func (w wallLine) at(x *defects.MM) *geometry {
	if !w.ok || x == nil {
		return nil
	}
	t := float64(*x) / float64(w.length)
	p := w.frame.ToLonLat(defects.XY{X: w.left.X + t*(w.right.X-w.left.X), Y: w.left.Y + t*(w.right.Y-w.left.Y)})
	const centimetre = 1e7 // seven places of a degree
	return &geometry{Type: "Point", Coordinates: [2]float64{
		math.Round(p.Lon*centimetre) / centimetre, math.Round(p.Lat*centimetre) / centimetre,
	}}
}

// along is a place's distance from the left end: its x, else the middle of its
// bay, else nothing.
func along(e defects.Elevation, p defects.Place) *defects.MM {
	if p.X != nil {
		return p.X
	}
	if x, ok := middleOf(e.Bays, p.Bay); ok {
		return &x
	}
	return nil
}

// middleOf gives the middle of the n-th cell, counted from 1, of ascending ends.
func middleOf(ends []defects.MM, n int) (defects.MM, bool) {
	if n < 1 || n > len(ends) {
		return 0, false
	}
	var start defects.MM
	if n > 1 {
		start = ends[n-2]
	}
	return (start + ends[n-1]) / 2, true
}
