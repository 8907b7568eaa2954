package register

import (
	"context"
	"slices"

	"storeyrod/defects"
)

// followGeometry keeps the snags of an elevation in their walking order after
// its bays, lifts or openings were changed. Where x and z are known the bay and
// lift follow them; bays and lifts that somebody named stay as named. Each snag
// that moves is logged and counts as changed.
func (r *Register) followGeometry(ctx context.Context, tx Tx, a Actor, m defects.Membership, before, after defects.Elevation) error {
	if slices.Equal(before.Bays, after.Bays) && slices.Equal(before.Lifts, after.Lifts) &&
		slices.Equal(before.Openings, after.Openings) && before.Name == after.Name {
		return nil
	}
	snags, err := tx.Snags().ListSnags(ctx, SnagFilter{SiteID: after.SiteID, ElevationID: after.ID}, everything())
	if err != nil {
		return err
	}
	for _, s := range snags {
		moved := placedOn(after, s)
		if moved.WalkRank == s.WalkRank && moved.PlaceWords == s.PlaceWords {
			continue
		}
		if err := tx.Snags().UpdateSnag(ctx, moved); err != nil {
			return err
		}
		if err := r.note(ctx, tx, a, m, s.SiteID, snagPlaceEvent(s, moved)); err != nil {
			return err
		}
	}
	return nil
}

// placedOn is a snag on its elevation as that is now. A place that no longer
// lies on it is left as it was recorded.
func placedOn(e defects.Elevation, s defects.Snag) defects.Snag {
	p := s.Place
	if p.X != nil {
		p.Bay = 0
	}
	if p.Z != nil {
		p.Lift = 0
	}
	if located, err := defects.Locate(e, p); err == nil {
		s.Place = located
	}
	s.PlaceWords = defects.PlaceWords(e.Building, e, s.Place)
	s.WalkRank = defects.WalkRank(e, s.Place)
	return s
}

// snagPlaceEvent is no step: the history of a snag leaves it out.
func snagPlaceEvent(before, after defects.Snag) change {
	type placed struct {
		Place placeData `json:"place"`
		Words string    `json:"words"`
	}
	return change{kind: "snag-place.update", typ: "snag", id: after.ID, number: after.Number, data: struct {
		Before placed `json:"before"`
		After  placed `json:"after"`
	}{placed{placeOf(before.Place), before.PlaceWords}, placed{placeOf(after.Place), after.PlaceWords}}}
}
