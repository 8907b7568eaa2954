package server

import (
	"strconv"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// placeForm presets the form that places a photo. An elevation the photo does
// not have yet is preset with the likeliest one, marked as a proposal. Bay and
// lift follow from x and z and are left open beside them, so that they follow a new
// place as well.
func placeForm(p defects.Photo) *web.Form {
	f := web.NewForm("place").Set("version", strconv.Itoa(p.Version)).Set("elevation", p.Place.ElevationID).
		Set("opening", p.Place.Opening).Set("stage", p.Stage).Set("kind", p.Kind).Set("note", p.Note)
	if p.Place.ElevationID == "" && len(p.Facing) > 0 {
		f.Set("elevation", p.Facing[0].ElevationID)
	}
	if p.Place.X != nil && p.Place.Z != nil {
		f.Set("x", p.Place.X.Metres().String()).Set("z", p.Place.Z.Metres().String())
	}
	if p.Place.Bay > 0 && p.Place.X == nil {
		f.Set("bay", strconv.Itoa(p.Place.Bay))
	}
	if p.Place.Lift > 0 && p.Place.Z == nil {
		f.Set("lift", strconv.Itoa(p.Place.Lift))
	}
	for name, on := range map[string]bool{"label_seen": p.LabelSeen, "scale_seen": p.ScaleSeen} {
		if on {
			f.Set(name, "yes")
		}
	}
	return f
}

// placePatchOf reads the whole form; every field of it is sent.
func placePatchOf(f *web.Form) (register.PhotoPatch, error) {
	elevation, stage, kind, note := typed(f, "elevation"), typed(f, "stage"), typed(f, "kind"), typed(f, "note")
	label, scale := f.Has("label_seen", "yes"), f.Has("scale_seen", "yes")
	patch := register.PhotoPatch{ElevationID: &elevation, Stage: &stage, Kind: &kind, Note: &note, LabelSeen: &label, ScaleSeen: &scale}
	place, err := typedPlace(f)
	if elevation != "" {
		patch.Place = &place
	}
	return patch, err
}

// typedPlace reads a place on an elevation.
func typedPlace(f *web.Form) (defects.Place, error) {
	p := defects.Place{ElevationID: typed(f, "elevation"), Opening: typed(f, "opening"), Zone: defects.Zone(typed(f, "zone"))}
	var err error
	if p.X, err = typedMetres(f, "x"); err != nil {
		return p, err
	}
	if p.Z, err = typedMetres(f, "z"); err != nil {
		return p, err
	}
	return p, typedWholes(f, map[string]*int{"bay": &p.Bay, "lift": &p.Lift})
}
