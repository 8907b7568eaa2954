package report

import (
	"fmt"
	"html"
	"strings"

	"storeyrod/defects"
)

// Drawing is an elevation to scale with what was found on it. It is drawn in
// millimetres, seen from outside, facing the wall, with the coursing of the
// slips behind and the storey rod down its left edge.
type Drawing struct {
	Elevation defects.Elevation
	Snags     []DrawnSnag
	Ticks     []DrawnTick
	Bay, Lift int // cell to mark, 0 = none
}

// DrawnSnag is one snag of a drawing; Href may be empty.
type DrawnSnag struct {
	Number   int
	Place    defects.Place
	Severity defects.Severity
	State    defects.State
	Title    string
	Href     string
}

// DrawnTick is one reading of a drawing.
type DrawnTick struct {
	Place   defects.Place
	Outcome defects.Outcome
	Title   string
}

// The coursing, in millimetres of wall.
const (
	courseGauge = 75  // four courses and their joints make 300 mm (common practice)
	slipModule  = 225 // stretcher with its joint (common practice)
)

// Sizes of writing and of the snag brick. A long wall is drawn smaller, so both
// grow with it; the brick stays a whole number of courses and stretchers and
// lies in the coursing.
const (
	leastText   = 200
	mostText    = 1200
	textPerWall = 52     // the writing is this part of the wall's length
	wallPerStep = 12_000 // the brick grows by a step each so many millimetres
)

// ElevationSVG draws it. Colours, weights and hatching come from the style
// sheet and the patterns; nothing depends on colour alone: the outline's weight
// says the severity, the hatching the state, and the number stands beside.
func ElevationSVG(d Drawing) string {
	e := d.Elevation
	s := newSketch(e)
	left, top := -(s.rodGap() + s.rodWidth() + 7*s.size/2), -3*s.size/2
	width, height := e.Length-left+2*s.size, e.Height-top+3*s.size+e.BaseLine
	s.f(`<svg class="wall" xmlns="http://www.w3.org/2000/svg" viewBox="%d %d %d %d" role="img" aria-label="%s">`,
		left, top, width, height, esc(drawingLabel(d)))
	s.patterns()
	s.f(`<rect class="wall-face" x="0" y="0" width="%d" height="%d" fill="url(#courses)"/>`, e.Length, e.Height)
	s.grid(e, d.Bay, d.Lift)
	s.openings(e.Openings)
	s.f(`<rect class="wall-outline" x="0" y="0" width="%d" height="%d"/>`, e.Length, e.Height)
	s.baseLine(e)
	s.rod(e)
	s.ticks(e, d.Ticks)
	s.snags(e, d.Snags)
	s.b.WriteString("</svg>")
	return s.b.String()
}

func drawingLabel(d Drawing) string {
	return fmt.Sprintf("%s, %s elevation, %s m long and %s m high, as seen from outside, with %d snags",
		d.Elevation.Building, d.Elevation.Name, short(d.Elevation.Length), short(d.Elevation.Height), len(d.Snags))
}

// sketch collects the markup; y runs down in it, z up on the wall. All sizes
// are millimetres of wall.
type sketch struct {
	b      strings.Builder
	height defects.MM
	size   defects.MM // of the writing
	step   int        // how many times four courses by three stretchers a snag brick is
}

func newSketch(e defects.Elevation) *sketch {
	return &sketch{height: e.Height, size: min(max(e.Length/textPerWall, leastText), mostText), step: int(e.Length/wallPerStep) + 1}
}

func (s *sketch) rodWidth() defects.MM { return 2 * s.size }
func (s *sketch) rodGap() defects.MM   { return s.size }
func (s *sketch) snagHeight() int      { return 4 * courseGauge * s.step }
func (s *sketch) snagLength() int      { return 3 * slipModule * s.step }

func (s *sketch) f(format string, args ...any) { fmt.Fprintf(&s.b, format, args...) }

// y turns a height above the base line into the drawing's own direction.
func (s *sketch) y(z defects.MM) defects.MM { return s.height - z }

// grid draws bays and lifts with their numbers, and marks one cell.
func (s *sketch) grid(e defects.Elevation, bay, lift int) {
	if bay > 0 && bay <= len(e.Bays) && lift > 0 && lift <= len(e.Lifts) {
		x0, x1 := cell(e.Bays, bay)
		z0, z1 := cell(e.Lifts, lift)
		s.f(`<rect class="wall-cell" x="%d" y="%d" width="%d" height="%d"/>`, x0, s.y(z1), x1-x0, z1-z0)
	}
	for i, x := range e.Bays {
		if i < len(e.Bays)-1 {
			s.f(`<line class="wall-bay" x1="%d" y1="0" x2="%d" y2="%d"/>`, x, x, s.height)
		}
		mid, _ := middleOf(e.Bays, i+1)
		s.text("wall-note", mid, s.height+e.BaseLine+s.size*3/2, "middle", fmt.Sprintf("bay %d", i+1))
	}
	for i, z := range e.Lifts {
		if i < len(e.Lifts)-1 {
			s.f(`<line class="wall-lift" x1="0" y1="%d" x2="%d" y2="%d"/>`, s.y(z), e.Length, s.y(z))
		}
		mid, _ := middleOf(e.Lifts, i+1)
		s.text("wall-note", -s.rodGap()-s.rodWidth()-s.size/3, s.y(mid)+s.size/3, "end", fmt.Sprintf("lift %d", i+1))
	}
}

func cell(ends []defects.MM, n int) (from, to defects.MM) {
	if n > 1 {
		from = ends[n-2]
	}
	return from, ends[n-1]
}

func (s *sketch) openings(list []defects.Opening) {
	for _, o := range list {
		s.f(`<g class="wall-opening"><rect x="%d" y="%d" width="%d" height="%d"/>`, o.X, s.y(o.Z+o.Height), o.Width, o.Height)
		if o.Kind == "window" {
			s.f(`<line x1="%d" y1="%d" x2="%d" y2="%d"/>`, o.X+o.Width/2, s.y(o.Z+o.Height), o.X+o.Width/2, s.y(o.Z))
		}
		s.text("wall-note", o.X+o.Width/2, s.y(o.Z+o.Height/2)+s.size/3, "middle", o.Name)
		s.b.WriteString("</g>")
	}
}

// baseLine draws the base line and, below it, the ground.
func (s *sketch) baseLine(e defects.Elevation) {
	s.f(`<line class="wall-base" x1="%d" y1="%d" x2="%d" y2="%d"/>`, -s.rodGap(), s.height, e.Length+s.size, s.height)
	if e.BaseLine > 0 {
		s.f(`<line class="wall-ground" x1="%d" y1="%d" x2="%d" y2="%d"/>`, -s.rodGap(), s.height+e.BaseLine,
			e.Length+s.size, s.height+e.BaseLine)
	}
}

// rod draws the storey rod: a staff marked at every course, heavier at every
// fourth, with metres written beside.
func (s *sketch) rod(e defects.Elevation) {
	x, wide := -s.rodGap()-s.rodWidth(), s.rodWidth()
	s.f(`<g class="rod"><rect x="%d" y="0" width="%d" height="%d"/><path d="`, x, wide, e.Height)
	for z := defects.MM(courseGauge); z < e.Height; z += courseGauge {
		length := wide / 6
		if z%(4*courseGauge) == 0 {
			length = wide / 3
		}
		s.f("M%d %dh%d", x, s.y(z), length)
	}
	s.b.WriteString(`"/><path class="rod-metre" d="`)
	for z := defects.MM(1000); z < e.Height; z += 1000 {
		s.f("M%d %dh%d", x, s.y(z), wide)
	}
	s.b.WriteString(`"/>`)
	for z, last := defects.MM(0), e.Height-s.size; z <= last; z += 1000 {
		s.text("rod-figure", x+wide-s.size/4, s.y(z)-s.size/4, "end", fmt.Sprint(int64(z)/1000))
	}
	s.b.WriteString("</g>")
}

func (s *sketch) text(class string, x, y defects.MM, anchor, words string) {
	s.f(`<text class="%s" x="%d" y="%d" font-size="%d" text-anchor="%s">%s</text>`, class, x, y, s.size, anchor, esc(words))
}

func esc(text string) string { return html.EscapeString(text) }

// short prints a length in metres with two places.
func short(m defects.MM) string {
	d, _ := defects.DecimalFromFloat(float64(m)/1000, 2)
	return d.String()
}
