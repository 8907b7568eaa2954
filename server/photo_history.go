package server

import (
	"encoding/json"
	"slices"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// historyLine is one entry of a photo's history with what it changed, in words.
type historyLine struct {
	evidence.Entry
	What    string
	Changes []string
}

// loggedPhoto is what the log keeps of a photo, as far as its history tells of it.
type loggedPhoto struct {
	Stage string `json:"stage"`
	Kind  string `json:"kind"`
	Note  string `json:"note"`
	Place struct {
		Elevation string      `json:"elevation"`
		X         *defects.MM `json:"x_mm"`
		Z         *defects.MM `json:"z_mm"`
		Bay       int         `json:"bay"`
		Lift      int         `json:"lift"`
		Opening   string      `json:"opening"`
	} `json:"place"`
	PlacedBy  string `json:"placed_by"`
	LabelSeen bool   `json:"label_seen"`
	ScaleSeen bool   `json:"scale_seen"`
	Grade     string `json:"grade"`
	Overruled string `json:"overruled"`
}

// photoHistory says in words what each entry about a photo changed.
func photoHistory(entries []evidence.Entry, walls []defects.Elevation) []historyLine {
	out := make([]historyLine, len(entries))
	for i, e := range entries {
		out[i] = historyLine{Entry: e, What: kindWords(e.Kind)}
		var data struct{ Before, After *loggedPhoto }
		if json.Unmarshal(e.Data, &data) == nil && data.After != nil {
			if data.Before == nil {
				data.Before = &loggedPhoto{Grade: data.After.Grade}
			}
			out[i].Changes = data.Before.changes(*data.After, walls)
		}
	}
	return out
}

func (p loggedPhoto) changes(to loggedPhoto, walls []defects.Elevation) (out []string) {
	if now := to.words(walls); now != p.words(walls) || to.PlacedBy != p.PlacedBy {
		out = append(out, p.moved(to, now, walls))
	}
	for _, one := range []struct{ name, before, after string }{
		{"stage", p.Stage, to.Stage},
		{"kind", p.Kind, to.Kind},
		{"remark", p.Note, to.Note},
		{"overruled", p.Overruled, to.Overruled},
		{"grade", p.Grade, to.Grade},
	} {
		switch {
		case one.before == one.after:
		case one.after == "":
			out = append(out, one.name+" taken back: "+one.before)
		case one.before == "":
			out = append(out, one.name+": "+one.after)
		default:
			out = append(out, one.name+": "+one.before+" → "+one.after)
		}
	}
	for _, one := range []struct {
		name          string
		before, after bool
	}{{"area or ID label", p.LabelSeen, to.LabelSeen}, {"scale", p.ScaleSeen, to.ScaleSeen}} {
		if one.before != one.after {
			out = append(out, one.name+map[bool]string{true: " in frame", false: " not in frame after all"}[one.after])
		}
	}
	return out
}

// moved says who put a photo where, and where it was.
func (p loggedPhoto) moved(to loggedPhoto, now string, walls []defects.Elevation) string {
	before := p.words(walls)
	switch {
	case now == "":
		return "taken off " + before
	case to.PlacedBy == string(defects.PlacedProgram):
		return "the program put it on " + now
	case before == "":
		return "put on " + now
	case before == now:
		return "left on " + now + " by a person"
	}
	return "moved from " + before + " to " + now
}

// words says a logged place by the names that elevations have now.
func (p loggedPhoto) words(walls []defects.Elevation) string {
	if p.Place.Elevation == "" {
		return ""
	}
	at := slices.IndexFunc(walls, func(e defects.Elevation) bool { return e.ID == p.Place.Elevation })
	if at < 0 {
		return "an elevation that is no more"
	}
	words := walls[at].Building + ", " + walls[at].Name
	place := defects.Place{X: p.Place.X, Z: p.Place.Z, Bay: p.Place.Bay, Lift: p.Place.Lift, Opening: p.Place.Opening}
	if place != (defects.Place{}) {
		words += ": " + spotWords(place)
	}
	return words
}
