package register

import (
	"context"
	"slices"

	"storeyrod/defects"
)

// maxLookedAnew bounds how many photos are looked at in the transaction that
// changes outlines, at about a millisecond each; the others are all offered.
const maxLookedAnew = 2000

// notLooked is why a photo beyond that bound is offered anew.
const notLooked = "the outlines changed, and there are too many photos to work out for each whether it still shows the same wall"

// offerAnew looks again at photos after outlines were changed in this transaction:
// those on the elevations given, and those without a place. Where their own data
// point elsewhere now, they get the new candidates and why they are offered anew;
// where they were put stays until a person decides. Each is logged. before is the
// site as it was. It gives how many are offered.
func (r *Register) offerAnew(ctx context.Context, tx Tx, a Actor, m defects.Membership, before walls, elevations []string) (offered int, err error) {
	photos, err := photosToLookAt(ctx, tx, before.site.ID, elevations)
	if err != nil || len(photos) == 0 {
		return 0, err
	}
	now, err := loadWalls(ctx, tx, before.site.ID)
	if err != nil {
		return 0, err
	}
	for i, p := range photos {
		after := lookedAnew(p, before, now, i < maxLookedAnew)
		if after.Offered == p.Offered {
			continue
		}
		if err := tx.Photos().UpdatePhoto(ctx, after); err != nil {
			return 0, err
		}
		after.Version++
		if err := r.note(ctx, tx, a, m, before.site.ID, offeredEvent(p, after)); err != nil {
			return 0, err
		}
		if after.Offered != "" {
			offered++
		}
	}
	return offered, nil
}

// photosToLookAt lists the photos with a position, the newest received first.
func photosToLookAt(ctx context.Context, tx Tx, siteID string, elevations []string) ([]defects.Photo, error) {
	var out []defects.Photo
	take := func(f PhotoFilter) error {
		list, err := tx.Photos().ListPhotos(ctx, f, everything())
		for _, p := range list {
			if p.Capture.HasPlace() {
				out = append(out, p)
			}
		}
		return err
	}
	for _, id := range elevations {
		if err := take(PhotoFilter{SiteID: siteID, ElevationID: id}); err != nil {
			return nil, err
		}
	}
	if err := take(PhotoFilter{SiteID: siteID, Unplaced: true}); err != nil {
		return nil, err
	}
	slices.SortStableFunc(out, func(x, y defects.Photo) int { return y.ReceivedAt.Compare(x.ReceivedAt) })
	return out, nil
}

// lookedAnew is a photo after a change of outlines. An earlier offer ends when the
// photo's own data agree with its place again.
func lookedAnew(p defects.Photo, before, now walls, look bool) defects.Photo {
	if !look {
		p.Offered = notLooked
		return p
	}
	shown := now.faces.Look(p.Capture, now.site.FaceOptions())
	best, proven, _ := shown.Choose()
	if proven && best.ElevationID == p.Place.ElevationID {
		if p.Offered != "" {
			p.Offered, p.Facing = "", shown.Guesses
		}
		return p
	}
	if why := defects.OfferAnew(p, before.faces.Look(p.Capture, now.site.FaceOptions()), shown); why != "" {
		p.Offered, p.Facing = why, shown.Guesses
	}
	return p
}

// guessData is a candidate as the log keeps it.
type guessData struct {
	Elevation string `json:"elevation"`
	P         string `json:"p"`
}

// offeredEvent says what the photo's own data point to by the outlines of now.
func offeredEvent(before, after defects.Photo) change {
	return change{kind: "photo.offer", typ: "photo", id: after.ID, data: struct {
		changed[photoData]
		Candidates []guessData `json:"candidates"`
	}{changed[photoData]{Before: photoOf(before), After: photoOf(after)}, each(after.Facing, func(g defects.FaceGuess) guessData {
		p, _ := defects.DecimalFromFloat(g.P, 4)
		return guessData{g.ElevationID, p.String()}
	})}}
}
