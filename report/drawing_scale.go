package report

import "storeyrod/defects"

// A drawing is shown no smaller than this many pixels of the screen a metre, in
// a box that scrolls; the style sheet has a least width for each reach.
const (
	leastPixels = 22  // a metre
	reachPixels = 160 // a step of reach
	leastReach  = 4
	mostReach   = 14
	leastBrick  = 3 // stretchers and courses of a snag's brick
)

// Sizes of writing in millimetres of wall: eleven pixels at the least width. A
// wall that fits the least reach has them in proportion to its longer side.
const (
	leastText     = 120
	mostText      = 500
	textPerWall   = 58  // the writing is this part of the wall's length
	finestSize    = 200 // up to it every course can be told apart
	heightAsWidth = 12  // tenths: so much more a wall's height counts, as screens are wide
)

// reach is the least width of a drawing in steps of 160 pixels.
func reach(width defects.MM) int {
	pixels := int(width) * leastPixels / 1000
	return min(max((pixels+reachPixels-1)/reachPixels, leastReach), mostReach)
}

// snagCell is the grid in which snag bricks lie so that none covers another:
// whole stretchers long, whole courses high, the brick at the foot and its
// number above it.
type snagCell struct {
	long, high   defects.MM // of the brick with its number
	brick        defects.MM // height of the brick alone
	cols, rows   int
	along, upper defects.MM // pitch: what the wall's length and height leave each
}

func newSketch(e defects.Elevation) *sketch {
	longer := max(e.Length, e.Height*heightAsWidth/10)
	s := &sketch{height: e.Height, size: min(max(longer/textPerWall, leastText), mostText)}
	if e.Length > mostReach*reachPixels*1000/leastPixels { // drawn smaller than 22 pixels a metre
		s.size = e.Length * mostText / (mostReach * reachPixels * 1000 / leastPixels)
	}
	s.cell = newSnagCell(e, s.size, leastBrick)
	return s
}

func newSnagCell(e defects.Elevation, size, least defects.MM) snagCell {
	stretchers := max((size*27/10+slipModule-1)/slipModule, least)
	if n := defects.MM(len(e.Bays)); n > 0 { // no longer than a bay
		stretchers = max(min(stretchers, e.Length/n/slipModule), least)
	}
	courses := max((size*13/10+courseGauge/2)/courseGauge, least)
	plate := (size*23/20 + courseGauge - 1) / courseGauge
	c := snagCell{long: stretchers * slipModule, high: (courses + plate) * courseGauge, brick: courses * courseGauge}
	c.long, c.high = min(c.long, max(e.Length, 1)), min(c.high, max(e.Height, 1))
	c.brick = min(c.brick, c.high)
	c.cols, c.rows = max(int(e.Length/c.long), 1), max(int(e.Height/c.high), 1)
	c.along, c.upper = max(e.Length, 1)/defects.MM(c.cols), max(e.Height, 1)/defects.MM(c.rows)
	return c
}

// holding is the cell of a place; one beyond the wall lies in the nearest.
func (c snagCell) holding(x, z defects.MM) cellAt {
	return cellAt{min(max(int(x/c.along), 0), c.cols-1), min(max(int(z/c.upper), 0), c.rows-1)}
}

// origin is the left foot of a cell's brick, in the coursing: x from the left
// end, z above the base line.
func (c snagCell) origin(at cellAt) (x, z defects.MM) {
	x, z = defects.MM(at.col)*c.along, defects.MM(at.row)*c.upper
	return x - x%slipModule, z - z%courseGauge
}

func (s *sketch) rodWidth() defects.MM { return 2 * s.size }
func (s *sketch) rodGap() defects.MM   { return s.size / 2 }
