package register

import (
	"context"

	"storeyrod/defects"
)

// PhotoPatch changes a photo's place and remarks; nil leaves a field alone.
// The bytes and what they say of themselves never change.
type PhotoPatch struct {
	ElevationID *string // "" takes the photo off its wall
	Place       *defects.Place
	Stage       *string
	Kind        *string
	Note        *string
	LabelSeen   *bool
	ScaleSeen   *bool
	Overrule    *string // reason for using a photo the checks refuse; "" takes it back
}

// UpdatePhoto places a photo or changes what is said of it, and grades it anew.
// Only a clerk overrules the checks, with a reason.
func (r *Register) UpdatePhoto(ctx context.Context, a Actor, siteID, id string, version int, patch PhotoPatch) (defects.Photo, error) {
	var after defects.Photo
	err := r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.PlacePhoto)
		if err != nil {
			return err
		}
		if patch.Overrule != nil && m.Role != defects.Clerk {
			return defects.RefuseRole(string(m.Role), "overrule the checks of a photo", string(defects.Clerk))
		}
		before, err := tx.Photos().Photo(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := checkVersion(version, before.Version, "photo"); err != nil {
			return err
		}
		w, err := loadWalls(ctx, tx, siteID)
		if err != nil {
			return err
		}
		if after, err = w.patched(before, patch); err != nil {
			return err
		}
		if err := tx.Photos().UpdatePhoto(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, updatedEvent(before, after))
	})
	if err != nil {
		return defects.Photo{}, err
	}
	return after, nil
}

// patched is the photo after a change, graded.
func (w walls) patched(p defects.Photo, patch PhotoPatch) (defects.Photo, error) {
	if err := w.replace(&p, patch); err != nil {
		return p, err
	}
	if err := remark(&p, patch); err != nil {
		return p, err
	}
	return p, w.grade(&p)
}

// replace moves a photo. A new elevation alone drops the old one's bay and
// lift, which mean nothing there.
func (w walls) replace(p *defects.Photo, patch PhotoPatch) error {
	if patch.ElevationID == nil && patch.Place == nil {
		return nil
	}
	p.Offered = "" // somebody has decided
	var to defects.Place
	if patch.Place != nil {
		to = *patch.Place
	}
	if to.ElevationID == "" && patch.ElevationID == nil {
		to.ElevationID = p.Place.ElevationID
	}
	if patch.ElevationID != nil {
		to.ElevationID = *patch.ElevationID
	}
	if to == (defects.Place{}) {
		p.Place, p.PlacedBy = defects.Place{}, defects.NotPlaced
		return nil
	}
	return w.placeByPerson(p, to)
}

func remark(p *defects.Photo, patch PhotoPatch) (err error) {
	if patch.Stage != nil {
		if err := checkStage(*patch.Stage); err != nil {
			return err
		}
		p.Stage = *patch.Stage
	}
	if patch.Kind != nil {
		if p.Kind, err = cleanText("kind", *patch.Kind, maxWord); err != nil {
			return err
		}
	}
	if patch.Note != nil {
		if p.Note, err = cleanNote("note", *patch.Note); err != nil {
			return err
		}
	}
	if patch.LabelSeen != nil {
		p.LabelSeen = *patch.LabelSeen
	}
	if patch.ScaleSeen != nil {
		p.ScaleSeen = *patch.ScaleSeen
	}
	if patch.Overrule != nil {
		return overrule(p, *patch.Overrule)
	}
	return nil
}

// overrule notes a clerk's reason, or takes it back. A photo that nothing
// speaks against needs none.
func overrule(p *defects.Photo, reason string) error {
	reason, err := cleanNote("overrule", reason)
	if err != nil {
		return err
	}
	if reason != "" && len(p.Flags) == 0 {
		return defects.RefuseField(defects.Conflict, "overrule", "nothing_to_overrule", "nothing speaks against this photo")
	}
	p.Overruled = reason
	return nil
}
