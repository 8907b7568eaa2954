package register

import (
	"context"
	"fmt"
	"strings"

	"storeyrod/defects"
)

// CopyTarget is an elevation that is to look like another one, in the version that
// the person saw.
type CopyTarget struct {
	ID      string
	Version int
}

// ElevationCopy says what of an elevation is copied and where to.
type ElevationCopy struct {
	To      []CopyTarget
	Options defects.CopyOptions
	// Anyway copies though snags, readings, surveys or photos of a target would lie
	// outside its new outline; they stay as they are recorded.
	Anyway bool
}

const (
	maxCopyTargets = 100
	namedStranded  = 5 // of what would lie outside, named one by one
)

// CopyElevation gives elevations of the same house type the outline, bays, lifts
// and openings of one. All are changed or none. The event on each says what was
// copied from where, with before and after.
func (r *Register) CopyElevation(ctx context.Context, a Actor, siteID, id string, c ElevationCopy) ([]defects.Elevation, error) {
	var out []defects.Elevation
	err := r.Store.Write(ctx, func(tx Tx) error {
		out = nil // may run again
		m, err := r.permit(ctx, tx, a, siteID, defects.EditSite)
		if err != nil {
			return err
		}
		from, err := tx.Walls().Elevation(ctx, siteID, id)
		if err != nil {
			return err
		}
		if err := c.check(id); err != nil {
			return err
		}
		for _, target := range c.To {
			after, err := r.copyTo(ctx, tx, a, m, from, target, c)
			if err != nil {
				return err
			}
			out = append(out, after)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (c ElevationCopy) check(from string) error {
	if len(c.To) == 0 {
		return defects.RefuseField(defects.Invalid, "to", "no_target", "choose the elevations to copy to")
	}
	if len(c.To) > maxCopyTargets {
		return defects.RefuseField(defects.TooLarge, "to", "too_many", fmt.Sprintf("at most %d elevations in one go", maxCopyTargets))
	}
	seen := map[string]bool{from: true}
	for _, t := range c.To {
		if seen[t.ID] {
			return defects.RefuseField(defects.Invalid, "to", "target_twice", "an elevation is copied to others, to each once")
		}
		seen[t.ID] = true
	}
	return c.Options.Check()
}

func (r *Register) copyTo(ctx context.Context, tx Tx, a Actor, m defects.Membership, from defects.Elevation, to CopyTarget, c ElevationCopy) (defects.Elevation, error) {
	before, err := tx.Walls().Elevation(ctx, from.SiteID, to.ID)
	if err != nil {
		return before, err
	}
	if err := checkVersion(to.Version, before.Version, "elevation"); err != nil {
		return before, err
	}
	after, err := defects.CopyElevation(from, before, c.Options)
	if err != nil {
		return before, err
	}
	if !c.Anyway {
		if err := nothingStranded(ctx, tx, before, after); err != nil {
			return before, err
		}
	}
	told := after
	told.Version++
	return r.storeElevation(ctx, tx, a, m, before, after, change{kind: "elevation.copy", data: copiedEvent(from, before, told, c)})
}

// copiedData is what the log keeps of a copy beside before and after.
type copiedData struct {
	changed[elevationData]
	From      string   `json:"from"` // id
	Version   int      `json:"from_version"`
	Parts     []string `json:"parts"`
	Mirrored  bool     `json:"mirrored"`
	Tolerance int64    `json:"tolerance_mm"`
	Anyway    bool     `json:"anyway,omitempty"`
}

func copiedEvent(from, before, after defects.Elevation, c ElevationCopy) copiedData {
	d := copiedData{
		changed: elevationEvent(&before, &after), From: from.ID, Version: from.Version,
		Mirrored: c.Options.Mirrored, Tolerance: int64(c.Options.Tolerance), Anyway: c.Anyway,
	}
	for _, part := range CopyParts() {
		if *part.In(&c.Options) {
			d.Parts = append(d.Parts, part.Word)
		}
	}
	return d
}

// CopyPart is one part of an elevation that can be copied.
type CopyPart struct {
	Word string
	In   func(*defects.CopyOptions) *bool
}

// CopyParts lists them.
func CopyParts() []CopyPart {
	return []CopyPart{
		{"outline", func(o *defects.CopyOptions) *bool { return &o.Outline }},
		{"bays", func(o *defects.CopyOptions) *bool { return &o.Bays }},
		{"lifts", func(o *defects.CopyOptions) *bool { return &o.Lifts }},
		{"openings", func(o *defects.CopyOptions) *bool { return &o.Openings }},
	}
}

// CopyOptionsOf reads the words of the parts to copy.
func CopyOptionsOf(parts []string, mirrored bool, tolerance *defects.MM) (defects.CopyOptions, error) {
	o := defects.CopyOptions{Mirrored: mirrored, Tolerance: defects.CopyTolerance}
	if tolerance != nil {
		o.Tolerance = *tolerance
	}
	for _, word := range parts {
		found := false
		for _, part := range CopyParts() {
			if part.Word == word {
				*part.In(&o), found = true, true
			}
		}
		if !found {
			return o, defects.RefuseField(defects.Invalid, "parts", "unknown_part", "must be outline, bays, lifts or openings")
		}
	}
	return o, nil
}

// nothingStranded refuses a change after which something that is recorded on an
// elevation would lie outside it.
func nothingStranded(ctx context.Context, tx Tx, before, after defects.Elevation) error {
	var lost []string
	look := func(what string, p defects.Place) {
		p.Opening = keptOpening(after, p.Opening)
		if defects.Stranded(before, p) == "" && defects.Stranded(after, p) != "" {
			lost = append(lost, what)
		}
	}
	snags, err := tx.Snags().ListSnags(ctx, SnagFilter{SiteID: after.SiteID, ElevationID: after.ID}, everything())
	if err != nil {
		return err
	}
	for _, s := range snags {
		look(s.Ref(), s.Place)
	}
	readings, err := tx.Readings().ListReadings(ctx, ReadingFilter{SiteID: after.SiteID, ElevationID: after.ID}, everything())
	if err != nil {
		return err
	}
	for _, rd := range readings {
		if rd.Withdrawn == "" {
			look("the reading "+ReadingText(rd), rd.Place)
		}
	}
	photos, err := tx.Photos().ListPhotos(ctx, PhotoFilter{SiteID: after.SiteID, ElevationID: after.ID}, everything())
	if err != nil {
		return err
	}
	for _, p := range photos {
		look("the photo "+p.FileName, p.Place)
	}
	return refuseStranded(after, lost)
}

// keptOpening lets a name go that the elevation has no more: what is beside an
// opening that is gone still lies on the wall.
func keptOpening(e defects.Elevation, name string) string {
	if _, ok := e.OpeningNamed(name); ok {
		return name
	}
	return ""
}

func refuseStranded(e defects.Elevation, lost []string) error {
	if len(lost) == 0 {
		return nil
	}
	text := strings.Join(lost[:min(len(lost), namedStranded)], ", ")
	if more := len(lost) - namedStranded; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return defects.RefuseField(defects.Conflict, "to", "things_outside",
		fmt.Sprintf("%s: %s would lie outside the new outline; copy anyway only if that is meant", e.Name, text))
}
