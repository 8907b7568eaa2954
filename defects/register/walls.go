package register

import (
	"context"

	"storeyrod/defects"
)

// NewBuilding is what a building and its elevations are made from. Either Ring
// or Plan is given.
type NewBuilding struct {
	Name          string
	Ring          []defects.LonLat // WGS84, as in the file, without the closing point
	Plan          []defects.XY     // metres
	Height        defects.MM
	LiftHeight    defects.MM // 0 = 2 m
	BayWidth      defects.MM // 0 = 2.5 m
	CompletedOn   string     // "2006-01-02" or ""
	DefectsMonths int        // 0 = 12
}

// Refusal is one part of a batch that was not taken.
type Refusal struct {
	Item string // names the file, row or feature
	Err  *defects.Error
}

// BuildingsTaken sums up a batch of buildings.
type BuildingsTaken struct {
	Buildings  []defects.Building
	Elevations []defects.Elevation
	Known      []string // names that the site had already
	Refused    []Refusal
}

// ElevationPatch changes the fields that are not nil.
type ElevationPatch struct {
	Name     *string
	Height   *defects.MM
	BaseLine *defects.MM
	Bays     *[]defects.MM
	Lifts    *[]defects.MM
	Openings *[]defects.Opening
}

// BuildingPatch changes the fields that are not nil.
type BuildingPatch struct {
	Name          *string
	CompletedOn   *string
	DefectsMonths *int
	Height        *defects.MM
}

func (r *Register) AddBuildings(ctx context.Context, a Actor, siteID string, n []NewBuilding) (BuildingsTaken, error) {
	return BuildingsTaken{}, errUnfinished
}
func (r *Register) Buildings(ctx context.Context, a Actor, siteID string) ([]defects.Building, error) {
	return nil, errUnfinished
}
func (r *Register) Elevations(ctx context.Context, a Actor, siteID string) ([]defects.Elevation, error) {
	return nil, errUnfinished
}
func (r *Register) Elevation(ctx context.Context, a Actor, siteID, id string) (defects.Elevation, error) {
	return defects.Elevation{}, errUnfinished
}
func (r *Register) UpdateElevation(ctx context.Context, a Actor, siteID, id string, version int, p ElevationPatch) (defects.Elevation, error) {
	return defects.Elevation{}, errUnfinished
}
func (r *Register) UpdateBuilding(ctx context.Context, a Actor, siteID, id string, version int, p BuildingPatch) (defects.Building, error) {
	return defects.Building{}, errUnfinished
}
