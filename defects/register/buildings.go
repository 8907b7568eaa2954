package register

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"storeyrod/defects"
)

// What is taken when a file or a person does not say. Common practice, no
// source; everything made from it can be changed.
const (
	defaultBayWidth   = defects.MM(2500)
	defaultLiftHeight = defects.MM(2000)
	defaultHeight     = defects.MM(6000) // two storeys; said in Notes when it is used

	maxBuildings     = 500  // in one batch
	maxElevations    = 5000 // in one batch
	maxHeight        = defects.MM(500_000)
	maxDefectsMonths = 240
	maxOpenings      = 400 // of one elevation; its log entry, before and after, must stay small
)

// NewBuilding is what a building and its elevations are made from. Either Ring
// or Plan is given.
type NewBuilding struct {
	Name          string
	Ring          []defects.LonLat   // WGS84, in the order given, either way round
	Plan          []defects.XY       // metres
	Courts        [][]defects.LonLat // courtyards, with Ring
	PlanCourts    [][]defects.XY     // courtyards, with Plan
	Height        defects.MM         // 0 = not known: 6 m, with a note
	LiftHeight    defects.MM         // 0 = 2 m
	BayWidth      defects.MM         // greatest; 0 = 2.5 m
	CompletedOn   string             // "2006-01-02" or ""
	DefectsMonths int                // 0 = 12
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

// prepared is one building of a batch, checked and cut into elevations.
type prepared struct {
	item     string
	building defects.Building
	walls    []defects.Elevation
	assumed  bool // its height was not given
	err      error
}

// AddBuildings makes buildings and, from their edges, elevations with even bays
// and lifts. Each building stands alone: one that is refused does not stop the
// others. A name the site has already, with the same outline, is left as it is and
// counted as known; its height and dates may have been changed on purpose. With
// another outline it is refused as building_differs.
func (r *Register) AddBuildings(ctx context.Context, a Actor, siteID string, n []NewBuilding) (BuildingsTaken, error) {
	err := r.Store.Read(ctx, func(tx Tx) error {
		_, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		return err
	})
	if err != nil {
		return BuildingsTaken{}, err
	}
	batch, err := r.prepare(siteID, n) // outside the transaction: long outlines take time to check
	if err != nil {
		return BuildingsTaken{}, err
	}
	var taken BuildingsTaken
	err = r.Store.Write(ctx, func(tx Tx) error {
		taken = BuildingsTaken{} // may run again
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		before, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if err := r.addBuildings(ctx, tx, a, m, siteID, batch, &taken); err != nil || len(taken.Buildings) == 0 {
			return err
		}
		return r.followAdded(ctx, tx, a, m, before, &taken)
	})
	if err != nil {
		return BuildingsTaken{}, err
	}
	return taken, nil
}

// prepare checks a batch. The error is for the batch as a whole.
func (r *Register) prepare(siteID string, n []NewBuilding) ([]prepared, error) {
	if len(n) > maxBuildings {
		return nil, defects.RefuseField(defects.TooLarge, "buildings", "too_many_buildings", fmt.Sprintf("at most %d in one go, not %d", maxBuildings, len(n)))
	}
	batch, walls := make([]prepared, len(n)), 0
	for i, one := range n {
		p := prepared{item: itemName(one.Name, i), assumed: one.Height == 0}
		p.building, p.walls, p.err = r.buildingOf(siteID, one)
		walls += len(p.walls)
		batch[i] = p
	}
	if walls > maxElevations {
		return nil, defects.RefuseField(defects.TooLarge, "buildings", "too_many_elevations", fmt.Sprintf("at most %d elevations in one go, not %d", maxElevations, walls))
	}
	return batch, nil
}

// addBuildings takes, knows or refuses each of a batch; an error stops it.
func (r *Register) addBuildings(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, batch []prepared, taken *BuildingsTaken) error {
	there, err := tx.Walls().Buildings(ctx, siteID)
	if err != nil {
		return err
	}
	before, now := map[string]defects.Building{}, map[string]bool{}
	for _, b := range there {
		before[foldName(b.Name)] = b
	}
	for _, p := range batch {
		name := foldName(p.item)
		if known, ok := before[name]; ok {
			if sameOutline(known, p.building) {
				taken.Known = append(taken.Known, p.item)
				continue
			}
			p.err = cmp.Or(p.err, errDiffers(known, p.building))
		}
		if now[name] && p.err == nil {
			p.err = defects.RefuseField(defects.Conflict, "name", "name_twice", "another building of this batch has this name")
		}
		if p.err != nil {
			refused, ok := asError(p.err)
			if !ok {
				return p.err
			}
			taken.Refused = append(taken.Refused, Refusal{Item: p.item, Err: refused})
			continue
		}
		now[name] = true
		if err := r.insertBuilding(ctx, tx, a, m, p.building, p.walls); err != nil {
			return err
		}
		taken.add(p)
	}
	return nil
}

// sameOutline reports whether two outlines run through the same corners in the
// same direction, whichever comes first.
func sameOutline(x, y defects.Building) bool {
	return sameRing(x.Ring, y.Ring) && sameRing(x.Plan, y.Plan) &&
		slices.EqualFunc(x.Courts, y.Courts, sameRing) && slices.EqualFunc(x.PlanCourts, y.PlanCourts, sameRing)
}

func sameRing[P comparable](x, y []P) bool {
	if len(x) != len(y) {
		return false
	}
	for from := range max(len(x), 1) {
		if slices.Equal(x, slices.Concat(y[from:], y[:from])) {
			return true
		}
	}
	return false
}

// errDiffers says in what an outline differs from the one the site has. It would
// move the walls under snags and readings, so nothing is changed.
func errDiffers(known, given defects.Building) error {
	corners := func(b defects.Building) string {
		text := fmt.Sprintf("%d corners in degrees", len(b.Ring))
		if len(b.Plan) > 0 {
			text = fmt.Sprintf("%d corners in metres", len(b.Plan))
		}
		if courts := len(b.Courts) + len(b.PlanCourts); courts > 0 {
			text += fmt.Sprintf(" and %d courtyards", courts)
		}
		return text
	}
	text := "the site has " + corners(known) + ", this one " + corners(given)
	if corners(known) == corners(given) {
		text = "corners lie elsewhere"
	}
	return defects.RefuseField(defects.Conflict, "name", "building_differs",
		"the site has a building "+known.Name+" with another outline: "+text+"; give the new one another name")
}

func (t *BuildingsTaken) add(p prepared) {
	t.Buildings = append(t.Buildings, p.building)
	t.Elevations = append(t.Elevations, p.walls...)
	if p.assumed {
		t.Notes = append(t.Notes, fmt.Sprintf("%s: no height given, %s m assumed; set it on the building and its elevations",
			p.building.Name, defaultHeight.Metres()))
	}
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
		Courts: openRings(n.Courts), PlanCourts: openRings(n.PlanCourts),
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

// checkOutline looks at an outline that Normalise has opened. A first point that
// still comes back at the end would be an edge of no length, which the checks
// below it would open once more and not see.
func checkOutline(b defects.Building) error {
	field, err, again := "ring", error(nil), false
	switch n := len(b.Plan); {
	case n > 0 && len(b.Ring) > 0:
		return defects.RefuseField(defects.Invalid, "plan", "two_outlines", "give the outline in degrees or in metres, not both")
	case n > 0:
		field, err, again = "plan", defects.CheckPlan(b.Plan, "plan"), b.Plan[0] == b.Plan[n-1]
	default:
		n = len(b.Ring)
		err, again = defects.CheckRing(b.Ring, "ring"), n > 0 && b.Ring[0] == b.Ring[n-1]
	}
	if err == nil && again {
		return defects.RefuseField(defects.Invalid, field, "zero_edge", "the first point is there three times")
	}
	if err != nil {
		return err
	}
	return checkCourts(b)
}

// checkCourts looks at the courtyards of an outline that is right.
func checkCourts(b defects.Building) error {
	if (len(b.Plan) > 0 && len(b.Courts) > 0) || (len(b.Ring) > 0 && len(b.PlanCourts) > 0) {
		return defects.RefuseField(defects.Invalid, defects.CourtField(1), "two_outlines", "give the courtyards as the outline is given, in degrees or in metres")
	}
	if len(b.Plan) > 0 {
		return defects.CheckPlanCourts(b.Plan, b.PlanCourts)
	}
	return defects.CheckCourts(b.Ring, b.Courts)
}

// openRings drops the repeated last point of each ring.
func openRings[P comparable](rings [][]P) [][]P {
	var out [][]P
	for _, ring := range rings {
		out = append(out, defects.Normalise(ring))
	}
	return out
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
