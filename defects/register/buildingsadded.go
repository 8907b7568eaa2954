package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
)

// photosCompared is how many photos, the newest, an added outline's place is held
// to.
const photosCompared = 500

// followAdded looks at what added buildings mean for what the site has: outlines
// that are in doubt are told in the notes, photos that may show them are offered
// anew.
func (r *Register) followAdded(ctx context.Context, tx Tx, a Actor, m defects.Membership, before walls, taken *BuildingsTaken) error {
	shots, err := shotPlaces(ctx, tx, before.site.ID)
	if err != nil {
		return err
	}
	geodetic := false
	for _, b := range taken.Buildings {
		geodetic = geodetic || len(b.Ring) > 0
		doubts := append(defects.WrongWayRings(b), defects.FootprintDoubts(b, otherMiddles(before, taken.Buildings, b.ID), shots)...)
		for _, doubt := range doubts {
			taken.Notes = append(taken.Notes, b.Name+": "+doubt)
		}
	}
	if !geodetic {
		return nil
	}
	n, err := r.offerAnew(ctx, tx, a, m, before, idsOf(before.all))
	if n > 0 {
		taken.Notes = append(taken.Notes, fmt.Sprintf("photos that may show another wall now: %d; they are offered anew", n))
	}
	return err
}

// shotPlaces are the positions of the newest photos that have one.
func shotPlaces(ctx context.Context, tx Tx, siteID string) ([]defects.LonLat, error) {
	photos, err := tx.Photos().ListPhotos(ctx, PhotoFilter{SiteID: siteID}, Page{Limit: photosCompared})
	var shots []defects.LonLat
	for _, p := range photos {
		if p.Capture.HasPlace() {
			shots = append(shots, defects.LonLat{Lon: *p.Capture.Lon, Lat: *p.Capture.Lat})
		}
	}
	return shots, err
}

// otherMiddles are where the site's other outlines lie.
func otherMiddles(before walls, added []defects.Building, but string) []defects.LonLat {
	var out []defects.LonLat
	take := func(b defects.Building) {
		if b.ID != but && len(b.Ring) > 0 {
			out = append(out, defects.Middle(b.Ring))
		}
	}
	for _, b := range before.buildings {
		take(b.Building)
	}
	for _, b := range added {
		take(b)
	}
	return out
}
