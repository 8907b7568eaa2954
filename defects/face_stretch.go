package defects

import "fmt"

// WallStretch is what a photo takes in of an elevation, as far as its own data
// tell, or why that cannot be said.
type WallStretch struct {
	Stretch
	Known bool
	Why   string   // why not, in words; "" = it can
	Notes []string // what was assumed or corrected
}

// Stretch works out what a photo takes in of an elevation, if it shows that one.
// A tilt above the horizon gives heights on the assumption that somebody on the
// ground held the camera.
func (m FaceMap) Stretch(c Capture, o FaceOptions, e Elevation) WallStretch {
	v, notes, placed := SightingOf(c, m.frame, o.filled())
	out := WallStretch{Notes: notes}
	wall, laid := m.lineOf(e)
	switch {
	case !placed:
		out.Why = "the photo carries no position"
	case !v.Headed:
		out.Why = "the photo does not say which way the camera looked"
	case !laid:
		out.Why = "the elevation is no edge of an outline with coordinates"
	case !m.frame.Holds(LonLat{Lon: *c.Lon, Lat: *c.Lat}):
		out.Why = "the photo's position is nowhere near this site"
	}
	if out.Why != "" {
		return out
	}
	if out.Stretch, out.Known = m.scene.Stretch(v, wall); !out.Known {
		out.Why = "by position and direction the camera did not look at this wall"
		return out
	}
	if v.ViewAcrossDeg == 0 {
		out.Notes = append(out.Notes, "the angle of view is not known, so only the middle of the picture is")
	}
	if out.Bottom != nil {
		out.Notes = append(out.Notes, fmt.Sprintf(
			"heights for a camera held %.1f m above the ground, tilted by %+.0f°; from a scaffold it is higher", handHeightM, v.TiltDeg))
	}
	return out
}

// lineOf lays an elevation out; ok is false when it has no edge in the scene.
func (m FaceMap) lineOf(e Elevation) (w WallLine, ok bool) {
	w = WallLine{Faces: m.facesOf(e.ID), HeightM: e.Height.metres(), BaseLineM: max(e.BaseLine.metres(), 0)}
	for _, f := range m.walls {
		if f.id == e.ID {
			w.Left, w.Right = f.side.Left, f.side.Right
		}
	}
	return w, len(w.Faces) > 0
}
