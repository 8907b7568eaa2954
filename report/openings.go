package report

import (
	"fmt"

	"storeyrod/defects"
)

// OpeningsSVG draws an elevation for the page that places its openings: the face
// with its bays, lifts, base line and storey rod, and each opening in a group of
// its own by its order, which the script of the page moves and resizes.
func OpeningsSVG(e defects.Elevation) string {
	s := newSketch(e)
	base := max(e.BaseLine, 0)
	left, top := -(s.rodGap() + s.rodWidth() + 11*s.size/4), -3*s.size/2
	width, height := e.Length-left+s.size, e.Height-top+base+2*s.size
	s.f(`<svg class="wall reach-%d openings-sheet" xmlns="http://www.w3.org/2000/svg" viewBox="%d %d %d %d" role="group" aria-label="%s" data-length="%d" data-height="%d" data-base="%d" data-text="%d">`,
		reach(width), left, top, width, height, esc(openingsLabel(e)), e.Length, e.Height, base, s.size)
	s.patterns()
	s.f(`<rect class="wall-face" x="0" y="0" width="%d" height="%d" fill="url(#courses)"/>`, e.Length, e.Height)
	s.grid(e, 0, 0)
	s.f(`<rect class="wall-outline" x="0" y="0" width="%d" height="%d"/>`, e.Length, e.Height)
	s.baseLine(e)
	s.rod(e)
	s.b.WriteString(`<g class="openings-drawn">`)
	s.openings(e.Openings)
	s.b.WriteString("</g></svg>")
	return s.b.String()
}

func openingsLabel(e defects.Elevation) string {
	return fmt.Sprintf("%s, %s elevation, %s m long and %s m high, as seen from outside, with %d openings",
		e.Building, e.Name, short(e.Length), short(e.Height), len(e.Openings))
}
