package report

import (
	"slices"

	"storeyrod/defects"
)

// The second layer of snags, for a drawing that is looked at closely: its
// writing is smaller by nearTimes, which a reader makes up for by drawing nearer.
const (
	nearTimes = 4
	nearBrick = 2 // least stretchers and courses of a brick
	nearLayer = "near-"
)

// layers draws the snags. Where some bricks stand for many, a second layer holds
// smaller ones, which can be told apart once the drawing is enlarged; the style
// sheet shows one of the two.
func (s *sketch) layers(e defects.Elevation, d Drawing, spots []snagSpot) {
	if !slices.ContainsFunc(spots, snagSpot.many) {
		s.snags(spots, d.AreaHref)
		return
	}
	s.b.WriteString(`<g class="snags-far">`)
	s.snags(spots, d.AreaHref)
	s.b.WriteString(`</g><g class="snags-near"><defs>`)
	size, whole := s.size, s.cell
	s.size, s.layer = max(s.size/nearTimes, 1), nearLayer
	s.cell = newSnagCell(e, s.size, nearBrick)
	s.hatching()
	s.b.WriteString("</defs>")
	s.snags(s.layOut(e, d.Snags), d.AreaHref)
	s.b.WriteString("</g>")
	s.size, s.cell, s.layer = size, whole, ""
}
