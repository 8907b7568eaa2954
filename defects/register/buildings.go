package register

import (
	"context"
	"fmt"
	"strings"

	"storeyrod/defects"
)

// What is taken when a file or a person does not say. Common practice, no
// source; everything made from it can be changed.
const (
	defaultBayWidth   = defects.MM(2500)
	defaultLiftHeight = defects.MM(2000)
	defaultHeight     = defects.MM(6000) // two storeys; said in Notes when it is used

	maxBuildings     = 500 // in one batch
	maxHeight        = defects.MM(500_000)
	maxDefectsMonths = 240
	maxOpenings      = 400 // of one elevation; its log entry, before and after, must stay small
)

// NewBuilding is what a building and its elevations are made from. Either Ring
// or Plan is given.
type NewBuilding struct {
	Name          string
	Ring          []defects.LonLat // WGS84, in the order given, either way round
	Plan          []defects.XY     // metres
	Height        defects.MM       // 0 = not known: 6 m, with a note
	LiftHeight    defects.MM       // 0 = 2 m
	BayWidth      defects.MM       // greatest; 0 = 2.5 m
	CompletedOn   string           // "2006-01-02" or ""
	DefectsMonths int              // 0 = 12
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
	Known      []string // names the site had already; those buildings are as they were
	Refused    []Refusal
	Notes      []string // what was assumed, for a person
}

// AddBuildings makes buildings and, from their edges, elevations with even bays
// and lifts. Each building stands alone: one that is refused does not stop the
// others. A name the site has already is left as it is and counted as known.
func (r *Register) AddBuildings(ctx context.Context, a Actor, siteID string, n []NewBuilding) (BuildingsTaken, error) {
	var taken BuildingsTaken
	if len(n) > maxBuildings {
		return taken, defects.RefuseField(defects.TooLarge, "buildings", "too_many_buildings", fmt.Sprintf("at most %d in one go, not %d", maxBuildings, len(n)))
	}
	err := r.Store.Write(ctx, func(tx Tx) error {
		taken = BuildingsTaken{} // may run again
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		there, err := tx.Walls().Buildings(ctx, siteID)
		if err != nil {
			return err
		}
		names := map[string]bool{} // true: on the site before
		for _, b := range there {
			names[foldName(b.Name)] = true
		}
		for i, one := range n {
			if err := r.addBuilding(ctx, tx, a, m, siteID, i, one, names, &taken); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return BuildingsTaken{}, err
	}
	return taken, nil
}

// addBuilding takes, knows or refuses one building; an error stops the batch.
func (r *Register) addBuilding(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, i int, n NewBuilding, names map[string]bool, taken *BuildingsTaken) error {
	before, twice := names[foldName(n.Name)]
	if before {
		taken.Known = append(taken.Known, strings.TrimSpace(n.Name))
		return nil
	}
	b, walls, err := r.buildingOf(siteID, n)
	if err == nil && twice {
		err = defects.RefuseField(defects.Conflict, "name", "name_twice", "another building of this batch has this name")
	}
	if err != nil {
		refused, ok := asError(err)
		if !ok {
			return err
		}
		taken.Refused = append(taken.Refused, Refusal{Item: itemName(n.Name, i), Err: refused})
		return nil
	}
	names[foldName(n.Name)] = false
	if err := r.insertBuilding(ctx, tx, a, m, b, walls); err != nil {
		return err
	}
	taken.Buildings = append(taken.Buildings, b)
	taken.Elevations = append(taken.Elevations, walls...)
	if n.Height == 0 {
		taken.Notes = append(taken.Notes, fmt.Sprintf("%s: no height given, %s m assumed; set it on the building and its elevations", b.Name, defaultHeight.Metres()))
	}
	return nil
}

func (r *Register) insertBuilding(ctx context.Context, tx Tx, a Actor, m defects.Membership, b defects.Building, walls []defects.Elevation) error {
	if err := tx.Walls().InsertBuilding(ctx, b); err != nil {
		return err
	}
	err := r.note(ctx, tx, a, m, b.SiteID, change{kind: "building.add", typ: "building", id: b.ID, data: buildingEvent(nil, &b)})
	if err != nil {
		return err
	}
	for i := range walls {
		if err := tx.Walls().InsertElevation(ctx, walls[i]); err != nil {
			return err
		}
		err := r.note(ctx, tx, a, m, b.SiteID, change{
			kind: "elevation.add", typ: "elevation", id: walls[i].ID, data: elevationEvent(nil, &walls[i]),
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// buildingOf checks one building and makes its elevations.
func (r *Register) buildingOf(siteID string, n NewBuilding) (defects.Building, []defects.Elevation, error) {
	b := defects.Building{
		ID: r.NewID(), SiteID: siteID, Ring: defects.Normalise(n.Ring), Plan: defects.Normalise(n.Plan),
		Height: orMM(n.Height, defaultHeight), CompletedOn: n.CompletedOn, DefectsMonths: n.DefectsMonths, Version: 1,
	}
	var err error
	if b.Name, err = cleanName("name", n.Name); err != nil {
		return b, nil, err
	}
	if err := checkOutline(b); err != nil {
		return b, nil, err
	}
	if err := checkBuilding(b); err != nil {
		return b, nil, err
	}
	if n.LiftHeight < 0 || n.BayWidth < 0 {
		return b, nil, defects.RefuseField(defects.Invalid, "bay_width", "bad_size", "bays and lifts must be above 0")
	}
	walls := defects.ElevationsOf(b, defects.ElevationOptions{
		BayWidth: orMM(n.BayWidth, defaultBayWidth), LiftHeight: orMM(n.LiftHeight, defaultLiftHeight),
	})
	if len(walls) == 0 {
		return b, nil, defects.RefuseField(defects.Invalid, "ring", "no_elevation", "no side is long enough to be an elevation")
	}
	for i := range walls {
		walls[i].ID, walls[i].Version = r.NewID(), 1
		if err := defects.CheckElevation(walls[i]); err != nil {
			return b, nil, err
		}
	}
	return b, walls, nil
}

func checkOutline(b defects.Building) error {
	switch {
	case len(b.Ring) > 0 && len(b.Plan) > 0:
		return defects.RefuseField(defects.Invalid, "plan", "two_outlines", "give the outline in degrees or in metres, not both")
	case len(b.Plan) > 0:
		return defects.CheckPlan(b.Plan, "plan")
	}
	return defects.CheckRing(b.Ring, "ring")
}

// checkBuilding looks at what a person can change of a building.
func checkBuilding(b defects.Building) error {
	if b.Height <= 0 || b.Height > maxHeight {
		return defects.RefuseField(defects.Invalid, "height", "bad_height", "must be above 0 and at most 500 m")
	}
	if b.DefectsMonths < 0 || b.DefectsMonths > maxDefectsMonths {
		return defects.RefuseField(defects.Invalid, "defects_months", "bad_months", fmt.Sprintf("must be 0 to %d months; 0 means 12", maxDefectsMonths))
	}
	return checkDate("completed_on", b.CompletedOn)
}

func cleanOpenings(in []defects.Opening) ([]defects.Opening, error) {
	if len(in) > maxOpenings {
		return nil, defects.RefuseField(defects.TooLarge, "openings", "too_many", fmt.Sprintf("at most %d on one elevation", maxOpenings))
	}
	out := make([]defects.Opening, 0, len(in))
	for i, o := range in {
		var err error
		field := fmt.Sprintf("openings[%d]", i)
		if o.Name, err = cleanName(field+".name", o.Name); err != nil {
			return nil, err
		}
		switch o.Kind {
		case "":
			o.Kind = "other"
		case "window", "door", "vent", "other":
		default:
			return nil, defects.RefuseField(defects.Invalid, field+".kind", "unknown_kind", "must be window, door, vent or other")
		}
		out = append(out, o)
	}
	return out, nil
}

// itemName names a building of a batch in a refusal, even one without a name.
func itemName(name string, i int) string {
	if name = strings.TrimSpace(name); name != "" {
		return shorten(name, maxName)
	}
	return fmt.Sprintf("building %d", i+1)
}

func orMM(v, otherwise defects.MM) defects.MM {
	if v == 0 {
		return otherwise
	}
	return v
}

func foldName(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

func sameName(a, b string) bool { return foldName(a) == foldName(b) }
