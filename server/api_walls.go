package server

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

const geoJSON = "application/geo+json"

// Opening is a door, window or vent hole.
type Opening struct {
	Name   string `json:"name"`
	Kind   string `json:"kind" doc:"window, door, vent or other"`
	X      Exact  `json:"x_m" doc:"metres from the left end to its left side"`
	Z      Exact  `json:"z_m" doc:"metres above the base line to its foot"`
	Width  Exact  `json:"width_m"`
	Height Exact  `json:"height_m"`
}

// Elevation is one outer face, as seen from outside, facing the wall.
type Elevation struct {
	ID         string    `json:"id"`
	BuildingID string    `json:"building_id"`
	Building   string    `json:"building"`
	Name       string    `json:"name"`
	Court      int       `json:"court,omitempty" doc:"courtyard whose edge it is, from 1; absent = an outer face"`
	Edge       int       `json:"edge" doc:"0-based edge of that ring of the footprint as given; -1 = typed"`
	Length     Exact     `json:"length_m"`
	Height     Exact     `json:"height_m"`
	Bearing    Exact     `json:"bearing_deg" doc:"outward normal, clockwise from true north"`
	BaseLine   Exact     `json:"base_line_m" doc:"base line above finished ground"`
	Bays       []Exact   `json:"bays_m" doc:"right end of each bay from the left end"`
	Lifts      []Exact   `json:"lifts_m" doc:"top of each lift above the base line"`
	Openings   []Opening `json:"openings"`
	Gross      Exact     `json:"gross_area_m2"`
	Net        Exact     `json:"net_area_m2"`
	Version    int       `json:"version"`
}

func elevationOf(e defects.Elevation) Elevation {
	return Elevation{
		ID: e.ID, BuildingID: e.BuildingID, Building: e.Building, Name: e.Name, Court: e.Court, Edge: e.Edge,
		Length: mmText(e.Length), Height: mmText(e.Height), Bearing: Exact(e.Bearing.String()), BaseLine: mmText(e.BaseLine),
		Bays: each(e.Bays, mmText), Lifts: each(e.Lifts, mmText), Openings: each(e.Openings, openingOf),
		Gross: Exact(defects.GrossArea(e).String()), Net: Exact(defects.NetArea(e).String()), Version: e.Version,
	}
}

func openingOf(o defects.Opening) Opening {
	return Opening{Name: o.Name, Kind: o.Kind, X: mmText(o.X), Z: mmText(o.Z), Width: mmText(o.Width), Height: mmText(o.Height)}
}

// ElevationIn is the path of one elevation.
type ElevationIn struct {
	SiteIn
	Elevation string `path:"elevation"`
}

type elevationOut struct {
	ETag string `header:"ETag"`
	Body Elevation
}

type elevationsOut struct {
	Body struct {
		Items []Elevation `json:"items"`
	}
}

type elevationPatchIn struct {
	ElevationIn
	Changed
	Body struct {
		Name     *string    `json:"name,omitempty"`
		Height   Exact      `json:"height_m,omitempty"`
		BaseLine Exact      `json:"base_line_m,omitempty"`
		Bearing  Exact      `json:"bearing_deg,omitempty" doc:"outward direction, within 45° of that of its side"`
		Bays     *[]Exact   `json:"bays_m,omitempty"`
		Lifts    *[]Exact   `json:"lifts_m,omitempty"`
		Openings *[]Opening `json:"openings,omitempty"`
	}
}

// TakenBuildings says what became of the buildings sent.
type TakenBuildings struct {
	Taken      []string    `json:"taken" doc:"names of the buildings added"`
	Elevations []Elevation `json:"elevations"`
	Known      []string    `json:"known" doc:"names the site had already"`
	Refused    []Refused   `json:"refused"`
	Notes      []string    `json:"notes"`
}

// Refused is one part of a batch that was not taken.
type Refused struct {
	Item  string `json:"item" doc:"file, row or feature"`
	Field string `json:"field,omitempty"`
	Code  string `json:"code"`
	Text  string `json:"text"`
}

func refusedOf(r register.Refusal) Refused {
	return Refused{Item: r.Item, Field: r.Err.Field, Code: r.Err.CodeOrKind(), Text: r.Err.Error()}
}

type planIn struct {
	SiteIn
	Body struct {
		Name       string        `json:"name"`
		Plan       [][]float64   `json:"plan_m" doc:"corners in metres, east and north of any point, in order"`
		Courts     [][][]float64 `json:"courts_m,omitempty" doc:"courtyards, likewise"`
		Height     Exact         `json:"height_m"`
		LiftHeight Exact         `json:"lift_height_m,omitempty"`
		BayWidth   Exact         `json:"bay_width_m,omitempty"`
	}
}

type takenOut struct{ Body TakenBuildings }

func (a *api) walls() {
	reg := a.s.reg
	a.stream(withAnswer(get("/sites/{site}/buildings", "Buildings and their elevations as GeoJSON (RFC 7946)"), "200", geoJSON),
		may(defects.ViewSite), a.getBuildings)
	add := withBody(post("/sites/{site}/buildings", "Add buildings from GeoJSON"), geoJSON, "application/json")
	add.RequestBody.Content["application/json"].Schema = bodySchema(geoJSON)
	a.stream(add, may(defects.EditSite), a.postBuildings)
	handle(a, post("/sites/{site}/buildings/plan", "Add a building typed in metres"), may(defects.EditSite), a.postPlan)
	handle(a, get("/sites/{site}/elevations", "Elevations by building, then order"), may(defects.ViewSite),
		func(ctx context.Context, in *SiteIn) (*elevationsOut, error) {
			list, err := reg.Elevations(ctx, actorFrom(ctx), in.Site)
			out := &elevationsOut{}
			out.Body.Items = each(list, elevationOf)
			return out, err
		})
	handle(a, get("/sites/{site}/elevations/{elevation}", "One elevation"), may(defects.ViewSite),
		func(ctx context.Context, in *ElevationIn) (*elevationOut, error) {
			e, err := reg.Elevation(ctx, actorFrom(ctx), in.Site, in.Elevation)
			return &elevationOut{ETag: etag(e.Version), Body: elevationOf(e)}, err
		})
	handle(a, patch("/sites/{site}/elevations/{elevation}", "Change an elevation"), may(defects.EditSite), a.patchElevation)
}

func (a *api) getBuildings(c *gin.Context) error {
	ctx, actor, site := c.Request.Context(), actorOf(c), c.Param("site")
	buildings, err := a.s.reg.Buildings(ctx, actor, site)
	if err != nil {
		return err
	}
	elevations, err := a.s.reg.Elevations(ctx, actor, site)
	if err != nil {
		return err
	}
	doc, err := register.EncodeGeoJSON(buildings, elevations)
	if err != nil {
		return err
	}
	c.Data(http.StatusOK, geoJSON, doc)
	return nil
}

func (a *api) postBuildings(c *gin.Context) error {
	list, refused, err := register.ParseGeoJSON(c.Request.Body, maxTableBytes)
	if err != nil {
		return err
	}
	taken, err := a.s.reg.AddBuildings(c.Request.Context(), actorOf(c), c.Param("site"), list)
	if err != nil {
		return err
	}
	taken.Refused = append(refused, taken.Refused...)
	c.JSON(http.StatusOK, takenOf(taken))
	return nil
}

func takenOf(t register.BuildingsTaken) TakenBuildings {
	return TakenBuildings{
		Taken:      each(t.Buildings, func(b defects.Building) string { return b.Name }),
		Elevations: each(t.Elevations, elevationOf), Known: each(t.Known, itself), Refused: each(t.Refused, refusedOf),
		Notes: each(t.Notes, itself),
	}
}

func itself(s string) string { return s }

func (a *api) postPlan(ctx context.Context, in *planIn) (*takenOut, error) {
	n := register.NewBuilding{Name: in.Body.Name}
	var err error
	if n.Plan, err = metreRing(in.Body.Plan, "plan_m"); err != nil {
		return nil, err
	}
	for _, court := range in.Body.Courts {
		ring, err := metreRing(court, "courts_m")
		if err != nil {
			return nil, err
		}
		n.PlanCourts = append(n.PlanCourts, ring)
	}
	for _, f := range []struct {
		name string
		from Exact
		to   *defects.MM
	}{{"height_m", in.Body.Height, &n.Height}, {"lift_height_m", in.Body.LiftHeight, &n.LiftHeight}, {"bay_width_m", in.Body.BayWidth, &n.BayWidth}} {
		if err := f.from.into(f.to, f.name); err != nil {
			return nil, err
		}
	}
	taken, err := a.s.reg.AddBuildings(ctx, actorFrom(ctx), in.Site, []register.NewBuilding{n})
	if err != nil {
		return nil, err
	}
	return &takenOut{Body: takenOf(taken)}, nil
}

func metreRing(points [][]float64, field string) ([]defects.XY, error) {
	var ring []defects.XY
	for _, p := range points {
		if len(p) != 2 {
			return nil, defects.RefuseField(defects.Invalid, field, "bad_position", "give each corner as [east, north] in metres")
		}
		ring = append(ring, defects.XY{X: p[0], Y: p[1]})
	}
	return ring, nil
}

// into stores metres where they are given.
func (e Exact) into(to *defects.MM, field string) error {
	m, err := e.mm(field)
	if m != nil {
		*to = *m
	}
	return err
}

func (a *api) patchElevation(ctx context.Context, in *elevationPatchIn) (*elevationOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	p := register.ElevationPatch{Name: in.Body.Name}
	if p.Height, err = in.Body.Height.mm("height_m"); err != nil {
		return nil, err
	}
	if p.BaseLine, err = in.Body.BaseLine.mm("base_line_m"); err != nil {
		return nil, err
	}
	if p.Bearing, err = in.Body.Bearing.decimal("bearing_deg"); err != nil {
		return nil, err
	}
	if p.Bays, err = mmList(in.Body.Bays, "bays_m"); err != nil {
		return nil, err
	}
	if p.Lifts, err = mmList(in.Body.Lifts, "lifts_m"); err != nil {
		return nil, err
	}
	if p.Openings, err = openingList(in.Body.Openings); err != nil {
		return nil, err
	}
	e, err := a.s.reg.UpdateElevation(ctx, actorFrom(ctx), in.Site, in.Elevation, version, p)
	return &elevationOut{ETag: etag(e.Version), Body: elevationOf(e)}, err
}

func mmList(in *[]Exact, field string) (*[]defects.MM, error) {
	if in == nil {
		return nil, nil
	}
	out := make([]defects.MM, len(*in))
	for i, e := range *in {
		if err := e.into(&out[i], field); err != nil {
			return nil, err
		}
	}
	return &out, nil
}

func openingList(in *[]Opening) (*[]defects.Opening, error) {
	if in == nil {
		return nil, nil
	}
	out := make([]defects.Opening, len(*in))
	for i, o := range *in {
		out[i].Name, out[i].Kind = o.Name, o.Kind
		for _, f := range []struct {
			name string
			from Exact
			to   *defects.MM
		}{{"x_m", o.X, &out[i].X}, {"z_m", o.Z, &out[i].Z}, {"width_m", o.Width, &out[i].Width}, {"height_m", o.Height, &out[i].Height}} {
			if err := f.from.into(f.to, "openings."+o.Name+"."+f.name); err != nil {
				return nil, err
			}
		}
	}
	return &out, nil
}

// withAnswer describes what a raw operation answers.
func withAnswer(op huma.Operation, status string, types ...string) huma.Operation {
	content := map[string]*huma.MediaType{}
	for _, t := range types {
		content[t] = &huma.MediaType{}
	}
	if op.Responses == nil {
		op.Responses = map[string]*huma.Response{}
	}
	op.Responses[status] = &huma.Response{Description: op.Summary, Content: content}
	return op
}

// withBody describes what a raw operation takes.
func withBody(op huma.Operation, types ...string) huma.Operation {
	content := map[string]*huma.MediaType{}
	for _, t := range types {
		content[t] = &huma.MediaType{Schema: bodySchema(t)}
	}
	op.RequestBody = &huma.RequestBody{Required: true, Content: content}
	return withAnswer(op, "200", "application/json")
}
