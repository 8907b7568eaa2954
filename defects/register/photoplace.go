package register

import (
	"context"
	"path"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// maxFileName is how much of a file's name is kept for people, in bytes.
const maxFileName = 200

// walls is what photos of a site are placed and graded with.
type walls struct {
	site      defects.Site
	buildings []defects.BuildingFaces
	all       []defects.Elevation
	faces     defects.FaceMap
}

func loadWalls(ctx context.Context, tx Tx, siteID string) (w walls, err error) {
	if w.site, err = tx.Sites().Site(ctx, siteID); err != nil {
		return w, err
	}
	buildings, err := tx.Walls().Buildings(ctx, siteID)
	if err != nil {
		return w, err
	}
	if w.all, err = tx.Walls().Elevations(ctx, siteID); err != nil {
		return w, err
	}
	for _, b := range buildings {
		faces := defects.BuildingFaces{Building: b}
		for _, e := range w.all {
			if e.BuildingID == b.ID {
				faces.Elevations = append(faces.Elevations, e)
			}
		}
		w.buildings = append(w.buildings, faces)
	}
	w.faces = defects.MapFaces(w.buildings)
	return w, nil
}

// place settles where a photo belongs. A person's choice wins; without one the
// program puts it on a wall only when the photo's own facts prove it. The
// candidates are kept in either case.
func (w walls) place(p *defects.Photo, chosen defects.Place) error {
	shown := w.faces.Look(p.Capture, w.site.FaceOptions())
	p.Facing = shown.Guesses
	if chosen != (defects.Place{}) {
		return w.placeByPerson(p, chosen)
	}
	p.Place, p.PlacedBy = defects.Place{}, defects.NotPlaced
	if best, proven, _ := shown.Choose(); proven {
		p.Place, p.PlacedBy = defects.Place{ElevationID: best.ElevationID}, defects.PlacedProgram
	}
	return nil
}

func (w walls) placeByPerson(p *defects.Photo, chosen defects.Place) error {
	if chosen.ElevationID == "" {
		return defects.RefuseField(defects.Invalid, "elevation", "elevation_missing", "a place on a wall needs the elevation it is on")
	}
	wall, err := findElevation(w.all, chosen.ElevationID)
	if err != nil {
		return err
	}
	chosen.ElevationID = wall.ID
	if p.Place, err = defects.Locate(wall, chosen); err != nil {
		return err
	}
	p.PlacedBy = defects.PlacedPerson
	return nil
}

// grade checks a photo where it now is. What its Exif data got wrong stays
// among the flags.
func (w walls) grade(p *defects.Photo) error {
	zone, err := siteZone(w.site)
	if err != nil {
		return err
	}
	check := defects.PhotoCheck{Photo: *p, Buildings: w.buildings, Fence: w.site.Fence, Zone: zone, Options: w.site.FaceOptions(), Faces: &w.faces}
	at := slices.IndexFunc(w.all, func(e defects.Elevation) bool { return e.ID == p.Place.ElevationID })
	if p.Place.ElevationID != "" && at >= 0 {
		check.Elevation = &w.all[at]
	}
	notes := slices.DeleteFunc(slices.Clone(p.Flags), func(f defects.Flag) bool { return noteText(f.Code) == "" })
	var flags []defects.Flag
	p.Grade, flags = defects.CheckPhoto(check)
	p.Flags = append(slices.Clone(flags), notes...)
	p.Grade = cappedGrade(*p)
	return nil
}

// noteFlags tells people what was wrong with a photo's Exif data. It caps
// nothing by itself: what is missing because of it is graded as missing.
func noteFlags(notes []string) []defects.Flag {
	var flags []defects.Flag
	for _, code := range notes {
		if text := noteText(code); text != "" {
			flags = append(flags, defects.Flag{Code: code, Text: text})
		}
	}
	return flags
}

// noteText is the plain text of a note of imaging.ReadCapture, "" for any
// other code.
func noteText(code string) string {
	switch code {
	case flagPixelsDamaged:
		return "the picture data are damaged and cannot be shown, so the photo proves nothing that must be seen"
	case imaging.NoteExifDamaged:
		return "the camera's data in the file is damaged; what could not be read is taken as missing"
	case imaging.NoteExifTooLarge:
		return "the camera's data in the file is larger than is taken and was not read"
	case imaging.NoteTimeUnreadable:
		return "a time of capture is stored but is no time"
	case imaging.NoteOffsetUnread:
		return "a time offset is stored but is none"
	case imaging.NoteGPSTimeUnread:
		return "a satellite time is stored but is no time"
	case imaging.NoteGPSRollover:
		return "the satellite date is off by the 1024 weeks after which old receivers start again"
	case imaging.NoteGPSVoid:
		return "the receiver had no live position when the photo was taken"
	case imaging.NotePlaceNoRef:
		return "a position is stored without north or south, east or west, so it is none"
	case imaging.NotePlaceUnreadable:
		return "a position is stored but is no number"
	case imaging.NotePlaceOutOfRange:
		return "a position is stored that is nowhere on earth"
	case imaging.NotePlaceZero:
		return "the position is exactly 0, 0, which most likely means that there was none"
	case imaging.NoteDirectionBad:
		return "a direction is stored that is none"
	case imaging.NoteOrientationBad:
		return "an orientation is stored that is none; the picture is shown as stored"
	}
	return ""
}

func cleanPhotoInput(in PhotoInput) (PhotoInput, error) {
	in.FileName = cleanFileName(in.FileName)
	if err := checkStage(in.Stage); err != nil {
		return in, err
	}
	var err error
	if in.Kind, err = cleanText("kind", in.Kind, maxWord); err != nil {
		return in, err
	}
	if in.Gang, err = cleanText("gang", in.Gang, maxWord); err != nil {
		return in, err
	}
	in.Note, err = cleanNote("note", in.Note)
	return in, err
}

// cleanFileName keeps what a person needs to recognise a file: its last part,
// without characters that cannot be seen. It is shown, never opened.
func cleanFileName(name string) string {
	name = strings.ReplaceAll(strings.ToValidUTF8(name, ""), `\`, "/")
	name = strings.Map(func(c rune) rune {
		if unicode.IsControl(c) || hidden(c) {
			return -1
		}
		return c
	}, path.Base(name))
	name = strings.TrimSpace(name)
	if name == "." || name == ".." || name == "/" {
		return ""
	}
	for len(name) > maxFileName {
		_, size := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-size]
	}
	return name
}
