package models

import (
	"context"

	"storeyrod/defects"
)

func toXYs(ring []defects.XY) [][2]float64 {
	out := make([][2]float64, len(ring))
	for i, p := range ring {
		out[i] = [2]float64{p.X, p.Y}
	}
	return out
}

func fromXYs(pairs [][2]float64) []defects.XY {
	if len(pairs) == 0 {
		return nil
	}
	out := make([]defects.XY, len(pairs))
	for i, p := range pairs {
		out[i] = defects.XY{X: p[0], Y: p[1]}
	}
	return out
}

func toLonLats(ring []defects.LonLat) [][2]float64 {
	out := make([][2]float64, len(ring))
	for i, p := range ring {
		out[i] = [2]float64{p.Lon, p.Lat}
	}
	return out
}

func fromLonLats(pairs [][2]float64) []defects.LonLat {
	if len(pairs) == 0 {
		return nil
	}
	out := make([]defects.LonLat, len(pairs))
	for i, p := range pairs {
		out[i] = defects.LonLat{Lon: p[0], Lat: p[1]}
	}
	return out
}

// courtsJSON are courtyards, of a ring in degrees or of a plan in metres.
type courtsJSON struct {
	Ring [][][2]float64 `json:"ring,omitempty"`
	Plan [][][2]float64 `json:"plan,omitempty"`
}

type buildingRow struct {
	ID            string `gorm:"primaryKey"`
	SiteID        string
	Name          string
	Ring          string
	Plan          string
	Courts        string
	HeightMm      int64
	CompletedOn   string
	DefectsMonths int
	Version       int
}

func (buildingRow) TableName() string { return "buildings" }

func toBuildingRow(b defects.Building, version int) (buildingRow, error) {
	var c columns
	var courts courtsJSON
	for _, court := range b.Courts {
		courts.Ring = append(courts.Ring, toLonLats(court))
	}
	for _, court := range b.PlanCourts {
		courts.Plan = append(courts.Plan, toXYs(court))
	}
	r := buildingRow{
		ID: b.ID, SiteID: b.SiteID, Name: b.Name,
		Ring: c.json(toLonLats(b.Ring), len(b.Ring) == 0), Plan: c.json(toXYs(b.Plan), len(b.Plan) == 0),
		Courts:   c.json(courts, len(courts.Ring)+len(courts.Plan) == 0),
		HeightMm: int64(b.Height), CompletedOn: b.CompletedOn, DefectsMonths: b.DefectsMonths, Version: version,
	}
	return r, c.err
}

func (r buildingRow) building() (defects.Building, error) {
	var c columns
	var ring, plan [][2]float64
	c.read(r.Ring, &ring)
	var courts courtsJSON
	c.read(r.Plan, &plan)
	c.read(r.Courts, &courts)
	b := defects.Building{
		ID: r.ID, SiteID: r.SiteID, Name: r.Name, Ring: fromLonLats(ring), Plan: fromXYs(plan), Height: defects.MM(r.HeightMm),
		CompletedOn: r.CompletedOn, DefectsMonths: r.DefectsMonths, Version: r.Version,
	}
	for _, court := range courts.Ring {
		b.Courts = append(b.Courts, fromLonLats(court))
	}
	for _, court := range courts.Plan {
		b.PlanCourts = append(b.PlanCourts, fromXYs(court))
	}
	return b, c.err
}

// elevationRow is an elevation; Building is the name of its building.
type elevationRow struct {
	ID         string `gorm:"primaryKey"`
	SiteID     string
	BuildingID string
	Name       string
	Position   int
	Court      int
	Edge       int
	LengthMm   int64
	HeightMm   int64
	Bearing    string
	BaseLineMm int64
	Bays       string
	Lifts      string
	Openings   string
	Version    int
	Building   string `gorm:"->"`
}

func (elevationRow) TableName() string { return "elevations" }

type openingJSON struct {
	Name   string `json:"name"`
	Kind   string `json:"kind"`
	X      int64  `json:"x_mm"`
	Z      int64  `json:"z_mm"`
	Width  int64  `json:"width_mm"`
	Height int64  `json:"height_mm"`
}

func toElevationRow(e defects.Elevation, version int) (elevationRow, error) {
	var c columns
	openings := make([]openingJSON, len(e.Openings))
	for i, o := range e.Openings {
		openings[i] = openingJSON{
			Name: o.Name, Kind: o.Kind, X: int64(o.X), Z: int64(o.Z),
			Width: int64(o.Width), Height: int64(o.Height),
		}
	}
	r := elevationRow{
		ID: e.ID, SiteID: e.SiteID, BuildingID: e.BuildingID, Name: e.Name, Position: e.Order, Court: e.Court, Edge: e.Edge,
		LengthMm: int64(e.Length), HeightMm: int64(e.Height), Bearing: e.Bearing.String(), BaseLineMm: int64(e.BaseLine),
		Bays: c.json(e.Bays, len(e.Bays) == 0), Lifts: c.json(e.Lifts, len(e.Lifts) == 0),
		Openings: c.json(openings, len(openings) == 0), Version: version,
	}
	return r, c.err
}

func (r elevationRow) elevation() (defects.Elevation, error) {
	var c columns
	var openings []openingJSON
	e := defects.Elevation{
		ID: r.ID, SiteID: r.SiteID, BuildingID: r.BuildingID, Building: r.Building, Name: r.Name, Order: r.Position,
		Court: r.Court, Edge: r.Edge, Length: defects.MM(r.LengthMm), Height: defects.MM(r.HeightMm), Bearing: c.number(r.Bearing),
		BaseLine: defects.MM(r.BaseLineMm), Version: r.Version,
	}
	c.read(r.Bays, &e.Bays)
	c.read(r.Lifts, &e.Lifts)
	c.read(r.Openings, &openings)
	for _, o := range openings {
		e.Openings = append(e.Openings, defects.Opening{
			Name: o.Name, Kind: o.Kind, X: defects.MM(o.X), Z: defects.MM(o.Z),
			Width: defects.MM(o.Width), Height: defects.MM(o.Height),
		})
	}
	return e, c.err
}

// walls implements register.Walls.
type walls struct{ *tx }

func (w walls) InsertBuilding(ctx context.Context, b defects.Building) (err error) {
	defer wrap("insert building", &err)
	if err := w.enter(ctx, b.SiteID); err != nil {
		return err
	}
	r, err := toBuildingRow(b, firstVersion(b.Version))
	if err != nil {
		return err
	}
	return insert(ctx, w.tx, r)
}

func (w walls) UpdateBuilding(ctx context.Context, b defects.Building) (err error) {
	defer wrap("update building", &err)
	if err := w.enter(ctx, b.SiteID); err != nil {
		return err
	}
	r, err := toBuildingRow(b, b.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, w.tx, "building", b.SiteID, b.ID, b.Version, r, "site_id")
}

func (w walls) Buildings(ctx context.Context, siteID string) (_ []defects.Building, err error) {
	defer wrap("buildings", &err)
	if err := w.enter(ctx, siteID); err != nil {
		return nil, err
	}
	q := from[buildingRow](w.tx)
	q.add(" WHERE site_id = ? ORDER BY name, id", siteID)
	rows, err := list[buildingRow](ctx, w.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, buildingRow.building)
}

func (w walls) InsertElevation(ctx context.Context, e defects.Elevation) (err error) {
	defer wrap("insert elevation", &err)
	if err := w.enter(ctx, e.SiteID); err != nil {
		return err
	}
	r, err := toElevationRow(e, firstVersion(e.Version))
	if err != nil {
		return err
	}
	return insert(ctx, w.tx, r)
}

func (w walls) UpdateElevation(ctx context.Context, e defects.Elevation) (err error) {
	defer wrap("update elevation", &err)
	if err := w.enter(ctx, e.SiteID); err != nil {
		return err
	}
	r, err := toElevationRow(e, e.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, w.tx, "elevation", e.SiteID, e.ID, e.Version, r, "site_id", "building_id")
}

const elevationQuery = `SELECT e.id, e.site_id, e.building_id, e.name, e.position, e.court, e.edge, e.length_mm, e.height_mm,
	e.bearing, e.base_line_mm, e.bays, e.lifts, e.openings, e.version, b.name AS building
	FROM elevations e JOIN buildings b ON b.id = e.building_id WHERE e.site_id = ?`

func (w walls) Elevation(ctx context.Context, siteID, id string) (_ defects.Elevation, err error) {
	defer wrap("elevation", &err)
	if err := w.enter(ctx, siteID); err != nil {
		return defects.Elevation{}, err
	}
	r, err := one[elevationRow](ctx, w.tx, "elevation", sqlText(elevationQuery+" AND e.id = ?", siteID, id))
	if err != nil {
		return defects.Elevation{}, err
	}
	return r.elevation()
}

func (w walls) Elevations(ctx context.Context, siteID string) (_ []defects.Elevation, err error) {
	defer wrap("elevations", &err)
	if err := w.enter(ctx, siteID); err != nil {
		return nil, err
	}
	rows, err := list[elevationRow](ctx, w.tx, sqlText(elevationQuery+" ORDER BY b.name, b.id, e.position, e.id", siteID))
	if err != nil {
		return nil, err
	}
	return convert(rows, elevationRow.elevation)
}
