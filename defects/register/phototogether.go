package register

import (
	"cmp"
	"context"
	"slices"
	"time"

	"storeyrod/defects"
)

const (
	maxTogether   = 2000 // photos looked at in one go, the newest received
	togetherChunk = 100  // photos changed in one transaction
)

// TogetherResult is what came of placing photos with their neighbours.
type TogetherResult struct {
	Looked  int
	Placed  []string // ids of photos that had no place and have one now
	Doubted []string // ids of placed photos whose wall is unlikely; they stay where they are
}

// PlaceTogether places the newest photos that nobody has put anywhere yet, each
// with the photos that the same phone took before and after it. What a person
// chose stays and speaks for its neighbours; what the program placed stays, and is
// named when its wall has become unlikely.
func (r *Register) PlaceTogether(ctx context.Context, a Actor, siteID string) (TogetherResult, error) {
	var photos []defects.Photo
	var w walls
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.PlacePhoto)
		if err != nil {
			return err
		}
		if w, err = loadWalls(ctx, tx, siteID); err != nil {
			return err
		}
		f := PhotoFilter{SiteID: siteID}
		if !forceGang(m, &f.Gang) {
			return nil
		}
		photos, err = tx.Photos().ListPhotos(ctx, f, Page{Limit: maxTogether})
		return err
	})
	out := TogetherResult{Looked: len(photos)}
	if err != nil || len(photos) == 0 {
		return out, err
	}
	zone, err := siteZone(w.site)
	if err != nil {
		return out, err
	}
	var moved []defects.Photo
	for _, walk := range walksOf(photos, zone) {
		for i, shown := range w.faces.Together(shotsOf(walk, zone), w.site.FaceOptions()) {
			if p, ok := out.take(walk[i], shown); ok {
				moved = append(moved, p)
			}
		}
	}
	for list := range slices.Chunk(moved, togetherChunk) {
		placed, err := r.placeAll(ctx, a, siteID, list)
		if out.Placed = append(out.Placed, placed...); err != nil {
			return out, err
		}
	}
	return out, nil
}

// walksOf groups photos by phone and sorts each group by the time taken. Photos
// without a time, and those that stand alone, are left out.
func walksOf(photos []defects.Photo, zone *time.Location) [][]defects.Photo {
	by := map[string][]defects.Photo{}
	for _, p := range photos {
		if at, _ := p.TakenAt(zone); !at.IsZero() {
			phone := p.AddedBy + "\x00" + p.Capture.Camera()
			by[phone] = append(by[phone], p)
		}
	}
	var walks [][]defects.Photo
	for _, walk := range by {
		if len(walk) < 2 {
			continue
		}
		slices.SortFunc(walk, func(x, y defects.Photo) int {
			tx, _ := x.TakenAt(zone)
			ty, _ := y.TakenAt(zone)
			return cmp.Or(tx.Compare(ty), cmp.Compare(x.ID, y.ID))
		})
		walks = append(walks, walk)
	}
	return walks
}

func shotsOf(walk []defects.Photo, zone *time.Location) []defects.WalkShot {
	shots := make([]defects.WalkShot, len(walk))
	for i, p := range walk {
		at, _ := p.TakenAt(zone)
		shots[i] = defects.WalkShot{Capture: p.Capture, At: at}
		if p.PlacedBy == defects.PlacedPerson {
			shots[i].ElevationID = p.Place.ElevationID
		}
	}
	return shots
}

// take decides what becomes of one photo; ok when it gets a place.
func (o *TogetherResult) take(p defects.Photo, shown defects.Shown) (after defects.Photo, ok bool) {
	if p.PlacedBy != defects.NotPlaced {
		if p.PlacedBy == defects.PlacedProgram && len(shown.Guesses) > 0 && shown.Chance(p.Place.ElevationID) < defects.WallDoubt {
			o.Doubted = append(o.Doubted, p.ID)
		}
		return p, false
	}
	best, proven, _ := shown.Choose()
	if !proven {
		return p, false
	}
	p.Facing, p.Offered = shown.Guesses, ""
	p.Place, p.PlacedBy = defects.Place{ElevationID: best.ElevationID}, defects.PlacedProgram
	return p, true
}

// placeAll stores and logs photos that got a place, in one transaction. One that
// changed meanwhile is passed over.
func (r *Register) placeAll(ctx context.Context, a Actor, siteID string, list []defects.Photo) (placed []string, err error) {
	err = r.Store.Write(ctx, func(tx Tx) error {
		placed = nil
		m, err := r.permit(ctx, tx, a, siteID, defects.PlacePhoto)
		if err != nil {
			return err
		}
		w, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		for _, after := range list {
			before, err := tx.Photos().Photo(ctx, siteID, after.ID)
			if err != nil {
				return err
			}
			if before.Version != after.Version {
				continue
			}
			if err := w.grade(&after); err != nil {
				return err
			}
			if err := tx.Photos().UpdatePhoto(ctx, after); err != nil {
				return err
			}
			after.Version++
			if err := r.note(ctx, tx, a, m, siteID, updatedEvent(before, after)); err != nil {
				return err
			}
			placed = append(placed, after.ID)
		}
		return nil
	})
	return placed, err
}
