package server

import (
	"context"
	"fmt"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// BuildingIn is the path of one building.
type BuildingIn struct {
	SiteIn
	Building string `path:"building"`
}

type moveIn struct {
	BuildingIn
	Changed
	Body struct {
		East  Exact `json:"east_m,omitempty" doc:"metres to the east"`
		North Exact `json:"north_m,omitempty" doc:"metres to the north"`
		Turn  Exact `json:"turn_deg,omitempty" doc:"degrees clockwise seen from above, about the middle of the outline's bounding box"`
	}
}

type outlineIn struct {
	BuildingIn
	Changed
	Body struct {
		Rings [][][]float64 `json:"coordinates,omitempty" doc:"for a building on the map: as in a GeoJSON Polygon, the outline and then its courtyards, each as [longitude, latitude]"`
		Plan  [][][]float64 `json:"plan_m,omitempty" doc:"for a building in metres: the outline and then its courtyards, each as [east, north]"`
	}
}

type sideIn struct {
	ElevationIn
	Changed
	Body struct {
		Court int `json:"court,omitempty" minimum:"0" doc:"courtyard whose edge it is, from 1; 0 = an outer face"`
		Edge  int `json:"edge" minimum:"0" doc:"0-based edge of that ring as given"`
	}
}

// ReshapedBuilding is what came of a change of outlines.
type ReshapedBuilding struct {
	Building   string      `json:"building" doc:"its name"`
	Version    int         `json:"version"`
	Elevations []Elevation `json:"elevations" doc:"those that changed with it"`
	Offered    int         `json:"photos_offered" doc:"photos that would show another wall now; they stay where they are and are listed with offered=true"`
}

type reshapedOut struct {
	ETag string `header:"ETag"`
	Body ReshapedBuilding
}

// CopyTarget is an elevation to copy to.
type CopyTarget struct {
	Elevation string `json:"elevation"`
	Version   int    `json:"version" doc:"the version seen"`
}

type copyIn struct {
	ElevationIn
	Body struct {
		To        []CopyTarget `json:"to"`
		Parts     []string     `json:"parts,omitempty" doc:"outline (height and base line, from which the coursing starts), bays, lifts, openings; all when left out"`
		Mirrored  bool         `json:"mirrored,omitempty" doc:"left and right change places, as in handed houses"`
		Tolerance Exact        `json:"tolerance_m,omitempty" doc:"how much the lengths may differ; 0.05 when left out"`
		Anyway    bool         `json:"anyway,omitempty" doc:"copy though snags, readings or photos of a target would lie outside its new outline"`
	}
}

func (a *api) geometry() {
	handle(a, post("/sites/{site}/buildings/{building}/move", "Move and turn a building's footprint"), may(defects.EditSite), a.moveBuilding)
	handle(a, put("/sites/{site}/buildings/{building}/outline", "Give a building's corners anew"), may(defects.EditSite), a.putOutline)
	handle(a, post("/sites/{site}/elevations/{elevation}/side", "Put an elevation on another side of its building's footprint"), may(defects.EditSite), a.assignSide)
	handle(a, post("/sites/{site}/elevations/{elevation}/copy", "Copy an elevation to others of its house type"), may(defects.EditSite), a.copyElevation)
}

func (a *api) moveBuilding(ctx context.Context, in *moveIn) (*reshapedOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	var move defects.Move
	if err := in.Body.East.into(&move.East, "east_m"); err != nil {
		return nil, err
	}
	if err := in.Body.North.into(&move.North, "north_m"); err != nil {
		return nil, err
	}
	turn, err := in.Body.Turn.decimal("turn_deg")
	if err != nil {
		return nil, err
	}
	if turn != nil {
		move.TurnDeg = *turn
	}
	got, err := a.s.reg.ReshapeBuilding(ctx, actorFrom(ctx), in.Site, in.Building, version, register.Reshape{Move: &move})
	return reshapedOf(got, got.Building.Version), err
}

func (a *api) putOutline(ctx context.Context, in *outlineIn) (*reshapedOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	var s register.Reshape
	for i, points := range in.Body.Rings {
		ring, err := metreRing(points, fmt.Sprintf("coordinates[%d]", i))
		if err != nil {
			return nil, err
		}
		geodetic := each(ring, func(p defects.XY) defects.LonLat { return defects.LonLat{Lon: p.X, Lat: p.Y} })
		if i == 0 {
			s.Ring = geodetic
			continue
		}
		s.Courts = append(s.Courts, geodetic)
	}
	for i, points := range in.Body.Plan {
		ring, err := metreRing(points, fmt.Sprintf("plan_m[%d]", i))
		if err != nil {
			return nil, err
		}
		if i == 0 {
			s.Plan = ring
			continue
		}
		s.PlanCourts = append(s.PlanCourts, ring)
	}
	got, err := a.s.reg.ReshapeBuilding(ctx, actorFrom(ctx), in.Site, in.Building, version, s)
	return reshapedOf(got, got.Building.Version), err
}

func (a *api) assignSide(ctx context.Context, in *sideIn) (*reshapedOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	got, err := a.s.reg.AssignSide(ctx, actorFrom(ctx), in.Site, in.Elevation, version, in.Body.Court, in.Body.Edge)
	tag := version
	for _, e := range got.Elevations {
		if e.ID == in.Elevation {
			tag = e.Version
		}
	}
	return reshapedOf(got, tag), err
}

func reshapedOf(r register.Reshaped, version int) *reshapedOut {
	return &reshapedOut{ETag: etag(version), Body: ReshapedBuilding{
		Building: r.Building.Name, Version: r.Building.Version, Elevations: each(r.Elevations, elevationOf), Offered: r.Offered,
	}}
}

func (a *api) copyElevation(ctx context.Context, in *copyIn) (*elevationsOut, error) {
	c := register.ElevationCopy{Anyway: in.Body.Anyway}
	for _, t := range in.Body.To {
		c.To = append(c.To, register.CopyTarget{ID: t.Elevation, Version: t.Version})
	}
	tolerance, err := in.Body.Tolerance.mm("tolerance_m")
	if err != nil {
		return nil, err
	}
	parts := in.Body.Parts
	if parts == nil {
		parts = each(register.CopyParts(), func(p register.CopyPart) string { return p.Word })
	}
	if c.Options, err = register.CopyOptionsOf(parts, in.Body.Mirrored, tolerance); err != nil {
		return nil, err
	}
	list, err := a.s.reg.CopyElevation(ctx, actorFrom(ctx), in.Site, in.Elevation, c)
	out := &elevationsOut{}
	out.Body.Items = each(list, elevationOf)
	return out, err
}
