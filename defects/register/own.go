package register

import (
	"context"
	"slices"

	"storeyrod/defects"
)

// What an operative sees is his own and his gang's. The checks of this file,
// with mayRead, forceGang and snagFor, are the only ones; every list and getter
// goes through one of them.

// othersHidden reports a role from which other gangs' work is kept.
func othersHidden(m defects.Membership) bool { return m.Role == defects.Operative }

// photosSeen drops the photos that a member may not see. An operative sees his
// own, and those that his gang's or his own snags and readings use.
func photosSeen(ctx context.Context, tx Tx, m defects.Membership, photos []defects.Photo) ([]defects.Photo, error) {
	if !othersHidden(m) {
		return photos, nil
	}
	var asked []string
	for _, p := range photos {
		if p.AddedBy != m.AccountID {
			asked = append(asked, p.ID)
		}
	}
	if len(asked) == 0 {
		return photos, nil
	}
	used, err := tx.Photos().PhotosOfGang(ctx, m.SiteID, asked, m.Gang, m.AccountID)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(photos), func(p defects.Photo) bool {
		return p.AddedBy != m.AccountID && !slices.Contains(used, p.ID)
	}), nil
}

// knownPhoto is a photo that the site has already, as the sender of the same
// bytes may see it. Of another's photo an operative learns that it is there,
// and nothing of who sent it, when, where it belongs, or what was noted.
func (r *Register) knownPhoto(ctx context.Context, a Actor, p defects.Photo) (defects.Photo, error) {
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, p.SiteID, defects.AddPhoto)
		if err != nil {
			return err
		}
		seen, err := photosSeen(ctx, tx, m, []defects.Photo{p})
		if err == nil && len(seen) == 0 {
			p = defects.Photo{ID: p.ID, SiteID: p.SiteID, SHA256: p.SHA256, Size: p.Size, Version: p.Version}
		}
		return err
	})
	if err != nil {
		return defects.Photo{}, err
	}
	return p, nil
}

// setsSeen lists the sets that a member may see. An operative sees those that
// hold a reading of his gang or his own, and those that wait for their first.
func setsSeen(ctx context.Context, tx Tx, m defects.Membership, siteID string) ([]defects.Set, error) {
	sets, err := tx.Readings().Sets(ctx, siteID)
	if err != nil || !othersHidden(m) {
		return sets, err
	}
	var seen []defects.Set
	for _, set := range sets {
		readings, err := readingsOfSet(ctx, tx, set)
		if err != nil {
			return nil, err
		}
		if setSeen(m, readings) {
			seen = append(seen, set)
		}
	}
	return seen, nil
}

func setSeen(m defects.Membership, readings []defects.Reading) bool {
	return !othersHidden(m) || len(readings) == 0 ||
		slices.ContainsFunc(readings, func(rd defects.Reading) bool { return mayRead(m, rd) == nil })
}

// factsSeen keeps of what a hold point rests on the work of a member's gang.
func factsSeen(m defects.Membership, f defects.HoldFacts) defects.HoldFacts {
	if !othersHidden(m) {
		return f
	}
	f.Snags = slices.DeleteFunc(slices.Clone(f.Snags), func(s defects.Snag) bool { return !snagSeen(m, s) })
	f.Readings = slices.DeleteFunc(slices.Clone(f.Readings), func(rd defects.Reading) bool { return mayRead(m, rd) != nil })
	return f
}

// snagSeen reports whether a member may see a snag.
func snagSeen(m defects.Membership, s defects.Snag) bool {
	return !othersHidden(m) || s.RaisedBy.ID == m.AccountID || (s.Gang != "" && s.Gang == m.Gang)
}
