package register

import (
	"context"
	"fmt"
	"slices"
	"time"

	"storeyrod/defects"
)

// bench is what readings of one site are understood and judged with, loaded
// once in the transaction that stores them.
type bench struct {
	actor      Actor
	me         defects.Membership
	site       defects.Site
	zone       *time.Location
	now        time.Time
	members    []defects.Membership
	elevations []defects.Elevation
	tools      []defects.Instrument
	rules      []*defects.Limits
	sets       []defects.Set
	photos     map[string]bool // ids of the batch that exist on the site
}

// bench loads what the given inputs need.
func (r *Register) bench(ctx context.Context, tx Tx, a Actor, m defects.Membership, siteID string, in []ReadingInput) (*bench, error) {
	b := &bench{actor: a, me: m, now: r.Now()}
	var err error
	if b.site, err = tx.Sites().Site(ctx, siteID); err != nil {
		return nil, err
	}
	if b.zone, err = siteZone(b.site); err != nil {
		return nil, err
	}
	if b.members, err = tx.People().Memberships(ctx, MembershipFilter{SiteID: siteID}); err != nil {
		return nil, err
	}
	if b.elevations, err = tx.Walls().Elevations(ctx, siteID); err != nil {
		return nil, err
	}
	if b.tools, err = tx.Tools().Instruments(ctx, siteID); err != nil {
		return nil, err
	}
	if b.rules, err = r.rules(ctx, tx, b.site); err != nil {
		return nil, err
	}
	if slices.ContainsFunc(in, func(in ReadingInput) bool { return in.SetID != "" }) {
		if b.sets, err = setsSeen(ctx, tx, m, siteID); err != nil {
			return nil, err
		}
	}
	b.photos, err = photosOf(ctx, tx, m, siteID, in)
	return b, err
}

// siteZone is the site's time zone. An unknown name cannot have been stored,
// so it is a fault of the machine's zone data.
func siteZone(s defects.Site) (*time.Location, error) {
	zone, err := time.LoadLocation(s.TimeZone)
	if err != nil {
		return nil, fmt.Errorf("time zone of site %s: %w", s.ID, err)
	}
	return zone, nil
}

// photosOf looks all photos of a batch up in one statement: those that the
// member may see.
func photosOf(ctx context.Context, tx Tx, m defects.Membership, siteID string, in []ReadingInput) (map[string]bool, error) {
	var ids []string
	for _, row := range in {
		ids = append(ids, row.Photos...)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	known := make(map[string]bool, len(ids))
	if len(ids) == 0 {
		return known, nil
	}
	photos, err := tx.Photos().PhotosByID(ctx, siteID, ids)
	if err != nil {
		return nil, err
	}
	if photos, err = photosSeen(ctx, tx, m, photos); err != nil {
		return nil, err
	}
	for _, p := range photos {
		known[p.ID] = true
	}
	return known, nil
}

// findElevation takes an id, "Building / Name", or a name that only one
// elevation of the site has.
func findElevation(list []defects.Elevation, named string) (defects.Elevation, error) {
	found := defects.Named(list, named, func(e defects.Elevation) string { return e.ID },
		func(e defects.Elevation) []string { return defects.WallNames(e.Building, e.Name) })
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return defects.Elevation{}, defects.RefuseField(defects.Invalid, "elevation", "elevation_not_found",
			fmt.Sprintf("this site has no elevation %q", shorten(named, 60)))
	}
	return defects.Elevation{}, defects.RefuseField(defects.Invalid, "elevation", "elevation_ambiguous",
		fmt.Sprintf("%d elevations are called %q; write the building too, as in %q", len(found), shorten(named, 60),
			found[0].Building+" / "+found[0].Name))
}

// findTool takes an id or a name that only one instrument of the site has.
func findTool(list []defects.Instrument, named string) (defects.Instrument, error) {
	return onlyOne("instrument", named, defects.Named(list, named, func(t defects.Instrument) string { return t.ID },
		func(t defects.Instrument) []string { return []string{t.Name} }))
}

// onlyOne answers what was found under a name, or refuses none and several.
func onlyOne[T any](what, named string, found []T) (none T, err error) {
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return none, defects.RefuseField(defects.Invalid, what, what+"_not_found",
			fmt.Sprintf("this site has no %s %q", what, shorten(named, 60)))
	}
	return none, defects.RefuseField(defects.Invalid, what, what+"_ambiguous",
		fmt.Sprintf("%d %ss are called %q; give the id", len(found), what, shorten(named, 60)))
}
