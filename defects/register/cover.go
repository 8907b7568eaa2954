package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
)

// maxCoverPhotos bounds the photos of one stage on one elevation that are looked
// through.
const maxCoverPhotos = 5000

// Coverage tells which bays and lifts of an elevation have a usable photo of a
// stage. An operative sees what the photos of his gang cover.
func (r *Register) Coverage(ctx context.Context, a Actor, siteID, elevationID string, need defects.CoverNeed) (defects.Cover, error) {
	var cover defects.Cover
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		wall, err := tx.Walls().Elevation(ctx, siteID, elevationID)
		if err != nil {
			return err
		}
		if need.Stage == "" || !defects.KnownStage(need.Stage) {
			return defects.RefuseField(defects.Invalid, "stage", "unknown_stage", "name the stage of the work whose photos are looked for")
		}
		f := PhotoFilter{SiteID: siteID, ElevationID: wall.ID, Stage: need.Stage}
		var photos []defects.Photo
		if forceGang(m, &f.Gang) {
			if photos, err = tx.Photos().ListPhotos(ctx, f, Page{Limit: maxCoverPhotos + 1}); err != nil {
				return err
			}
		}
		if len(photos) > maxCoverPhotos {
			return defects.Refuse(defects.TooLarge, "too_many_photos", fmt.Sprintf("at most %d photos of a stage on an elevation are looked through", maxCoverPhotos))
		}
		cover = defects.CoverOf(wall, photos, need)
		return nil
	})
	return cover, err
}
