package register

import (
	"context"

	"storeyrod/defects"
)

// OnWall is a photo against one elevation: what its own data say it takes in.
type OnWall struct {
	Photo     defects.Photo
	Elevation defects.Elevation
	defects.WallStretch
}

// PhotoOnWall works out what a photo takes in of an elevation, by the site's reading
// of accuracies; elevationID "" is the one it is on. ok is false when it is on none.
func (r *Register) PhotoOnWall(ctx context.Context, a Actor, siteID, id, elevationID string) (out OnWall, ok bool, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		if _, out.Photo, err = r.seenPhoto(ctx, tx, a, siteID, id); err != nil {
			return err
		}
		if elevationID == "" {
			elevationID = out.Photo.Place.ElevationID
		}
		if elevationID == "" {
			return nil
		}
		w, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if out.Elevation, err = findElevation(w.all, elevationID); err != nil {
			return err
		}
		ok = true
		out.WallStretch = w.faces.Stretch(out.Photo.Capture, w.site.FaceOptions(), out.Elevation)
		return nil
	})
	return out, ok, err
}
