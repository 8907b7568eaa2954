package defects

import "time"

// WalkShot is one of the photos that one phone took one after the other.
type WalkShot struct {
	Capture     Capture
	At          time.Time
	ElevationID string // where a person put it; "" = nobody did
}

// Together answers for the photos of a phone, in the order taken, what each
// shows when its neighbours are heard (Scene.Smooth). What a person said of one
// of them speaks for the others; its own answer stays that of Look.
func (m FaceMap) Together(walk []WalkShot, o FaceOptions) []Shown {
	o = o.filled()
	out := make([]Shown, len(walk))
	steps := make([]WalkPhoto, len(walk))
	sightings := make([]Sighting, len(walk))
	for i, w := range walk {
		steps[i] = WalkPhoto{At: w.At, Told: m.facesOf(w.ElevationID)}
		out[i], steps[i].Alone, sightings[i] = m.look(w.Capture, o)
	}
	if len(m.walls) == 0 {
		return out
	}
	for i, p := range m.scene.Smooth(steps) {
		if steps[i].Told == nil && len(steps[i].Alone.Faces) > 0 {
			out[i].Hit, out[i].Guesses = p.Hit, m.guesses(p, sightings[i])
			out[i].Notes = append(out[i].Notes, "with the photos the same phone took before and after it")
		}
	}
	return out
}

// facesOf lists the scene's faces of an elevation, nil for none.
func (m FaceMap) facesOf(elevationID string) []int {
	var faces []int
	for i, w := range m.of {
		if elevationID != "" && w >= 0 && m.walls[w].id == elevationID {
			faces = append(faces, i)
		}
	}
	return faces
}
