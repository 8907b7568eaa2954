package register

import (
	"context"
	"slices"

	"storeyrod/defects"
)

// Reshape changes a building's outline: either it is moved and turned, or its
// corners are given anew, in degrees or in metres as they are stored.
type Reshape struct {
	Move       *defects.Move
	Ring       []defects.LonLat
	Plan       []defects.XY
	Courts     [][]defects.LonLat
	PlanCourts [][]defects.XY
}

// Reshaped is what came of a change of geometry.
type Reshaped struct {
	Building   defects.Building
	Elevations []defects.Elevation // those that changed
	Offered    int                 // photos offered anew
}

// ReshapeBuilding corrects an outline that lies shifted or turned, or whose corners
// are wrong. Its elevations follow their sides and keep what is on them; photos
// that would show another wall now are offered anew and stay where they are.
func (r *Register) ReshapeBuilding(ctx context.Context, a Actor, siteID, id string, version int, s Reshape) (Reshaped, error) {
	return r.changeGeometry(ctx, a, siteID, func(w walls) (geometry, error) {
		faces, err := w.building(id)
		if err != nil {
			return geometry{}, err
		}
		if err := checkVersion(version, faces.Building.Version, "building"); err != nil {
			return geometry{}, err
		}
		after, err := s.on(faces.Building)
		if err != nil {
			return geometry{}, err
		}
		elevations, err := defects.Refit(faces.Building, after, faces.Elevations)
		if err != nil {
			return geometry{}, err
		}
		return geometry{of: faces, building: &after, elevations: elevations, kind: "building.reshape"}, nil
	})
}

// on gives a building its new outline, checked.
func (s Reshape) on(b defects.Building) (defects.Building, error) {
	switch {
	case s.Move != nil && (len(s.Ring) > 0 || len(s.Plan) > 0):
		return b, defects.RefuseField(defects.Invalid, "move", "two_changes", "either move the outline or give its corners")
	case s.Move != nil:
		if err := s.Move.Check(); err != nil {
			return b, err
		}
		b = defects.Moved(b, *s.Move)
	case (len(s.Ring) > 0) != (len(b.Ring) > 0):
		return b, defects.RefuseField(defects.Invalid, "corners", "other_unit",
			"give the corners as they are stored: in degrees for a building on the map, else in metres")
	default:
		b.Ring, b.Plan = defects.Normalise(s.Ring), defects.Normalise(s.Plan)
		b.Courts, b.PlanCourts = openRings(s.Courts), openRings(s.PlanCourts)
	}
	return b, checkOutline(b)
}

// AssignSide puts an elevation on another side of its building's footprint; the
// elevation that had it gets the other's. Photos are offered anew.
func (r *Register) AssignSide(ctx context.Context, a Actor, siteID, elevationID string, version, court, edge int) (Reshaped, error) {
	return r.changeGeometry(ctx, a, siteID, func(w walls) (geometry, error) {
		at := slices.IndexFunc(w.all, func(e defects.Elevation) bool { return e.ID == elevationID })
		if at < 0 {
			return geometry{}, defects.RefuseField(defects.NotFound, "elevation", "elevation_not_found", "the site has no such elevation")
		}
		e := w.all[at]
		if err := checkVersion(version, e.Version, "elevation"); err != nil {
			return geometry{}, err
		}
		faces, err := w.building(e.BuildingID)
		if err != nil {
			return geometry{}, err
		}
		moved, err := defects.AssignSide(faces.Building, faces.Elevations, elevationID, court, edge)
		return geometry{of: faces, elevations: moved, kind: "elevation.turn"}, err
	})
}

// geometry is a change that was decided and is to be stored.
type geometry struct {
	of         defects.BuildingFaces
	building   *defects.Building   // with its new outline; nil = that stays
	elevations []defects.Elevation // some or all of the building's
	kind       string              // of the event on the building, or on the elevations
}

// changeGeometry stores and logs a change of outlines and what follows from it,
// in one transaction.
func (r *Register) changeGeometry(ctx context.Context, a Actor, siteID string, decide func(walls) (geometry, error)) (Reshaped, error) {
	var out Reshaped
	err := r.Store.Write(ctx, func(tx Tx) error {
		out = Reshaped{} // may run again
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		before, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		g, err := decide(before)
		if err != nil {
			return err
		}
		out, err = r.storeGeometry(ctx, tx, a, m, g)
		if err != nil {
			return err
		}
		out.Offered, err = r.offerAnew(ctx, tx, a, m, before, idsOf(g.of.Elevations))
		return err
	})
	return out, err
}

func (r *Register) storeGeometry(ctx context.Context, tx Tx, a Actor, m defects.Membership, g geometry) (out Reshaped, err error) {
	out.Building = g.of.Building
	if g.building != nil {
		out.Building = *g.building
		if err := tx.Walls().UpdateBuilding(ctx, out.Building); err != nil {
			return out, err
		}
		out.Building.Version++
		err := r.note(ctx, tx, a, m, out.Building.SiteID, change{
			kind: g.kind, typ: "building", id: out.Building.ID, data: buildingEvent(&g.of.Building, &out.Building),
		})
		if err != nil {
			return out, err
		}
	}
	for _, after := range g.elevations {
		at := slices.IndexFunc(g.of.Elevations, func(e defects.Elevation) bool { return e.ID == after.ID })
		before := g.of.Elevations[at]
		if sameFace(before, after) {
			continue
		}
		if after, err = r.storeElevation(ctx, tx, a, m, before, after, change{kind: "elevation.turn"}); err != nil {
			return out, err
		}
		out.Elevations = append(out.Elevations, after)
	}
	return out, nil
}

// sameFace reports whether a change of outlines left an elevation as it was.
func sameFace(x, y defects.Elevation) bool {
	return x.Court == y.Court && x.Edge == y.Edge && x.Length == y.Length && x.Bearing.Cmp(y.Bearing) == 0
}

// storeElevation stores a changed elevation, lets its snags follow, and logs it
// as c says, with before and after where c has no data of its own.
func (r *Register) storeElevation(ctx context.Context, tx Tx, a Actor, m defects.Membership, before, after defects.Elevation, c change) (defects.Elevation, error) {
	if err := tx.Walls().UpdateElevation(ctx, after); err != nil {
		return after, err
	}
	after.Version++
	if err := r.followGeometry(ctx, tx, a, m, before, after); err != nil {
		return after, err
	}
	c.typ, c.id = "elevation", after.ID
	if c.data == nil {
		c.data = elevationEvent(&before, &after)
	}
	return after, r.note(ctx, tx, a, m, after.SiteID, c)
}

// building finds one of the site's buildings with its elevations.
func (w walls) building(id string) (defects.BuildingFaces, error) {
	i := slices.IndexFunc(w.buildings, func(b defects.BuildingFaces) bool { return b.Building.ID == id })
	if i < 0 {
		return defects.BuildingFaces{}, defects.RefuseField(defects.NotFound, "building", "building_not_found", "the site has no such building")
	}
	return w.buildings[i], nil
}

func idsOf(list []defects.Elevation) []string {
	return each(list, func(e defects.Elevation) string { return e.ID })
}

// Drafted is what a building would become.
type Drafted struct {
	Building   defects.Building
	Elevations []defects.Elevation
	Doubts     []string
}

// DraftBuilding says what a building would become, with every check of AddBuildings,
// and changes nothing.
func (r *Register) DraftBuilding(ctx context.Context, a Actor, siteID string, n NewBuilding) (Drafted, error) {
	var out Drafted
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if _, err = r.permit(ctx, tx, a, siteID, defects.EditSite); err != nil {
			return err
		}
		if out.Building, out.Elevations, err = r.buildingOf(siteID, n); err != nil {
			return err
		}
		before, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(before.buildings, func(b defects.BuildingFaces) bool { return sameName(b.Building.Name, n.Name) }) {
			return defects.RefuseField(defects.Conflict, "name", "name_taken", "the site has a building of this name already")
		}
		shots, err := shotPlaces(ctx, tx, siteID)
		out.Doubts = defects.FootprintDoubts(out.Building, otherMiddles(before, nil, ""), shots)
		return err
	})
	return out, err
}
