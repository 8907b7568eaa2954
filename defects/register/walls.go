package register

import (
	"context"
	"slices"

	"storeyrod/defects"
)

// ElevationPatch changes the fields that are not nil.
type ElevationPatch struct {
	Name     *string
	Height   *defects.MM
	BaseLine *defects.MM
	Bearing  *defects.Decimal // outward direction, within 45° of that of its side
	Bays     *[]defects.MM
	Lifts    *[]defects.MM
	Openings *[]defects.Opening
}

// BuildingPatch changes the fields that are not nil.
type BuildingPatch struct {
	Name          *string
	CompletedOn   *string // "2006-01-02", "" = not yet
	DefectsMonths *int    // 0 = 12
	Height        *defects.MM
}

// Buildings lists a site's buildings.
func (r *Register) Buildings(ctx context.Context, a Actor, siteID string) ([]defects.Building, error) {
	return look(ctx, r, a, siteID, func(tx Tx) ([]defects.Building, error) { return tx.Walls().Buildings(ctx, siteID) })
}

// Elevations lists a site's elevations by building, then in order.
func (r *Register) Elevations(ctx context.Context, a Actor, siteID string) ([]defects.Elevation, error) {
	return look(ctx, r, a, siteID, func(tx Tx) ([]defects.Elevation, error) { return tx.Walls().Elevations(ctx, siteID) })
}

// Elevation is one elevation.
func (r *Register) Elevation(ctx context.Context, a Actor, siteID, id string) (defects.Elevation, error) {
	return look(ctx, r, a, siteID, func(tx Tx) (defects.Elevation, error) { return tx.Walls().Elevation(ctx, siteID, id) })
}

// look reads something that every member of a site may see.
func look[T any](ctx context.Context, r *Register, a Actor, siteID string, find func(Tx) (T, error)) (out T, err error) {
	err = r.Store.Read(ctx, func(tx Tx) (err error) {
		if _, err = r.permit(ctx, tx, a, siteID, defects.ViewSite); err != nil {
			return err
		}
		out, err = find(tx)
		return err
	})
	return out, err
}

// UpdateElevation changes an elevation's name, size, bays, lifts and openings.
// What is placed on it stays where it is.
func (r *Register) UpdateElevation(ctx context.Context, a Actor, siteID, id string, version int, p ElevationPatch) (defects.Elevation, error) {
	var after defects.Elevation
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		before, err := tx.Walls().Elevation(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := checkVersion(version, before.Version, "elevation"); err != nil {
			return err
		}
		if after, err = p.on(before); err != nil {
			return err
		}
		if err := r.freeElevationName(ctx, tx, after); err != nil {
			return err
		}
		if err := checkBearing(ctx, tx, p, after); err != nil {
			return err
		}
		after, err = r.storeElevation(ctx, tx, a, m, before, after, change{kind: "elevation.update"})
		return err
	})
	if err != nil {
		return defects.Elevation{}, err
	}
	return after, nil
}

// on checks the patch and gives the elevation as it is then.
func (p ElevationPatch) on(e defects.Elevation) (defects.Elevation, error) {
	var err error
	if p.Name != nil {
		if e.Name, err = cleanName("name", *p.Name); err != nil {
			return e, err
		}
	}
	if p.Height != nil {
		e.Height = *p.Height
	}
	if p.BaseLine != nil {
		e.BaseLine = *p.BaseLine
	}
	if p.Bearing != nil {
		e.Bearing = *p.Bearing
	}
	if p.Bays != nil {
		e.Bays = slices.Clone(*p.Bays)
	}
	if p.Lifts != nil {
		e.Lifts = slices.Clone(*p.Lifts)
	}
	if p.Openings != nil {
		if e.Openings, err = cleanOpenings(*p.Openings); err != nil {
			return e, err
		}
	}
	return e, defects.CheckElevation(e)
}

// checkBearing holds a changed outward direction to the elevation's side.
func checkBearing(ctx context.Context, tx Tx, p ElevationPatch, e defects.Elevation) error {
	if p.Bearing == nil {
		return nil
	}
	buildings, err := tx.Walls().Buildings(ctx, e.SiteID)
	if err != nil {
		return err
	}
	for _, b := range buildings {
		if b.ID == e.BuildingID {
			return defects.CheckBearing(b, e)
		}
	}
	return nil
}

func (r *Register) freeElevationName(ctx context.Context, tx Tx, e defects.Elevation) error {
	all, err := tx.Walls().Elevations(ctx, e.SiteID)
	if err != nil {
		return err
	}
	for _, o := range all {
		if o.ID != e.ID && o.BuildingID == e.BuildingID && sameName(o.Name, e.Name) {
			return defects.RefuseField(defects.Conflict, "name", "name_taken", "the building has another elevation of this name")
		}
	}
	return nil
}

// UpdateBuilding changes a building's name, dates and height. The height of its
// elevations is theirs and stays.
func (r *Register) UpdateBuilding(ctx context.Context, a Actor, siteID, id string, version int, p BuildingPatch) (defects.Building, error) {
	var after defects.Building
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		all, err := tx.Walls().Buildings(ctx, siteID)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(b defects.Building) bool { return b.ID == id })
		if i < 0 {
			return defects.RefuseField(defects.NotFound, "building", "building_not_found", "the site has no such building")
		}
		before := all[i]
		if err := checkVersion(version, before.Version, "building"); err != nil {
			return err
		}
		if after, err = p.on(before); err != nil {
			return err
		}
		if slices.ContainsFunc(all, func(b defects.Building) bool { return b.ID != id && sameName(b.Name, after.Name) }) {
			return defects.RefuseField(defects.Conflict, "name", "name_taken", "the site has another building of this name")
		}
		if err := tx.Walls().UpdateBuilding(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, change{
			kind: "building.update", typ: "building", id: id, data: buildingEvent(&before, &after),
		})
	})
	if err != nil {
		return defects.Building{}, err
	}
	return after, nil
}

// on checks the patch and gives the building as it is then.
func (p BuildingPatch) on(b defects.Building) (defects.Building, error) {
	var err error
	if p.Name != nil {
		if b.Name, err = cleanName("name", *p.Name); err != nil {
			return b, err
		}
	}
	if p.CompletedOn != nil {
		b.CompletedOn = *p.CompletedOn
	}
	if p.DefectsMonths != nil {
		b.DefectsMonths = *p.DefectsMonths
	}
	if p.Height != nil {
		b.Height = *p.Height
	}
	return b, checkBuilding(b)
}
