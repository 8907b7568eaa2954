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
	Cover     []DrawnCell
	Shading   *Shading
	Photo     *DrawnPhoto
	Bay, Lift int // cell to mark, 0 = none
	// AreaHref gives the address of the list of one bay and lift, 0 = any, for
	// the brick that stands for many snags; nil leaves such bricks without link.
	AreaHref func(bay, lift int) string
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

// ElevationSVG draws it. Colours, weights and hatching come from the style
// sheet and the patterns; nothing depends on colour alone: the outline's weight
// says the severity, the hatching the state, and the number stands beside.
func ElevationSVG(d Drawing) string {
	e := d.Elevation
	s := newSketch(e)
	base := max(e.BaseLine, 0)
	left, top := -(s.rodGap() + s.rodWidth() + 11*s.size/4), -3*s.size/2
	width, height := e.Length-left+s.size, e.Height-top+base+2*s.size
	spots := s.layOut(e, d.Snags)
	s.f(`<svg class="wall reach-%d" xmlns="http://www.w3.org/2000/svg" viewBox="%d %d %d %d" role="%s" aria-labelledby="wall-title" aria-describedby="wall-desc">`,
		reach(width), left, top, width, height, drawingRole(d, spots))
	s.f(`<title id="wall-title">%s, %s elevation</title><desc id="wall-desc">%s</desc>`, esc(e.Building), esc(e.Name), esc(drawingWords(d)))
	s.patterns()
	s.f(`<rect class="wall-face" x="0" y="0" width="%d" height="%d" fill="url(#courses)"/>`, e.Length, e.Height)
	s.shade(e, d.Shading)
	s.b.WriteString(`<g class="lines">`)
	s.grid(e, d.Bay, d.Lift)
	s.openings(e.Openings)
	s.cover(e, d.Cover)
	s.f(`<rect class="wall-outline" x="0" y="0" width="%d" height="%d"/>`, e.Length, e.Height)
	s.baseLine(e)
	s.rod(e)
	s.photo(e, d.Photo)
	s.ticks(e, d.Ticks)
	s.b.WriteString("</g>")
	s.layers(e, d, spots)
	s.b.WriteString("</svg>")
	return s.b.String()
}

// drawingRole is "group" where there are links within, which a picture may not
// hold, else "img".
func drawingRole(d Drawing, spots []snagSpot) string {
	for _, at := range spots {
		if at.href(d.AreaHref) != "" {
			return "group"
		}
	}
	for _, c := range d.Cover {
		if c.Href != "" {
			return "group"
		}
	}
	return "img"
}

// drawingWords says what a drawing shows, for who cannot see it.
func drawingWords(d Drawing) string {
	e := d.Elevation
	words := []string{fmt.Sprintf("%s m long and %s m high, as seen from outside", short(e.Length), short(e.Height))}
	switch {
	case len(d.Cover) > 0:
		words = append(words, coverLabel(d.Cover))
	case d.Photo != nil:
		words = append(words, d.Photo.words())
	default:
		words = append(words, fmt.Sprintf("with %d snags, %d readings and %d openings", len(d.Snags), len(d.Ticks), len(e.Openings)))
	}
	if len(e.Bays) > 0 || len(e.Lifts) > 0 {
		words = append(words, fmt.Sprintf("%d bays by %d lifts", max(len(e.Bays), 1), max(len(e.Lifts), 1)))
	}
	if d.Shading != nil {
		words = append(words, fmt.Sprintf("shaded by a survey of %d points", d.Shading.Grid.Known()))
	}
	return strings.Join(words, ", ")
}

// sketch collects the markup; y runs down in it, z up on the wall. All sizes
// are millimetres of wall.
type sketch struct {
	b      strings.Builder
	height defects.MM
	size   defects.MM // of the writing
	cell   snagCell
	layer  string // before the ids of a second layer of snags
}

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
	for _, x := range e.Bays[:max(len(e.Bays)-1, 0)] {
		s.f(`<line class="wall-bay" x1="%d" y1="0" x2="%d" y2="%d"/>`, x, x, s.height)
	}
	for _, z := range e.Lifts[:max(len(e.Lifts)-1, 0)] {
		s.f(`<line class="wall-lift" x1="0" y1="%d" x2="%d" y2="%d"/>`, s.y(z), e.Length, s.y(z))
	}
	s.numbers(e)
}

// numbers writes bays below the wall and lifts beside it, each with its word
// once, and leaves out those there is no room for.
func (s *sketch) numbers(e defects.Elevation) {
	below, beside := s.height+max(e.BaseLine, 0)+s.size*3/2, -s.rodGap()-s.rodWidth()-s.size/3
	if len(e.Bays) > 0 {
		s.text("wall-note", -s.size/3, below, "end", "bay")
	}
	digits := defects.MM(len(fmt.Sprint(len(e.Bays))))
	for _, n := range shown(e.Bays, s.size*6/10*(digits+1)) {
		mid, _ := middleOf(e.Bays, n)
		s.text("wall-note", mid, below, "middle", fmt.Sprint(n))
	}
	if len(e.Lifts) > 0 {
		s.text("wall-note", beside, -s.size/3, "end", "lift")
	}
	for _, n := range shown(e.Lifts, s.size*5/4) {
		mid, _ := middleOf(e.Lifts, n)
		s.text("wall-note", beside, s.y(mid)+s.size/3, "end", fmt.Sprint(n))
	}
}

// shown chooses the cells whose numbers are written so that each has the room
// it needs: all, else every second, fifth, tenth and so on.
func shown(ends []defects.MM, room defects.MM) []int {
	every := 1
	for _, n := range []int{1, 2, 5, 10, 20, 50, 100} {
		every = n
		if len(ends) == 0 || ends[len(ends)-1]*defects.MM(n) >= room*defects.MM(len(ends)) {
			break
		}
	}
	var out []int
	last := -room
	for n := every; n <= len(ends); n += every {
		if mid, _ := middleOf(ends, n); mid-last >= room { // cells may differ in width
			out, last = append(out, n), mid
		}
	}
	return out
}

func cell(ends []defects.MM, n int) (from, to defects.MM) {
	if n > 1 {
		from = ends[n-2]
	}
	return from, ends[n-1]
}

// openings draws windows and doors, each with its name as large as it fits; a
// name too small to be read is left to the title.
func (s *sketch) openings(list []defects.Opening) {
	for _, o := range list {
		top := s.y(o.Z + o.Height)
		s.f(`<g class="wall-opening"><title>%s</title><rect x="%d" y="%d" width="%d" height="%d"/>`,
			esc(strings.TrimSpace(o.Kind+" "+o.Name)), o.X, top, o.Width, o.Height)
		size := s.fit(o.Name, o.Width*9/10, o.Height*8/10)
		if o.Kind == "window" {
			pane := (o.Height - size*3/2) / 2 // the bar makes room for the name
			s.f(`<path d="M%d %dv%dm0 %dv%d"/>`, o.X+o.Width/2, top, pane, o.Height-2*pane, pane)
		}
		if size > 0 {
			s.textOf(size, "wall-note", o.X+o.Width/2, s.y(o.Z+o.Height/2)+size/3, "middle", o.Name)
		}
		s.b.WriteString("</g>")
	}
}

// fit gives the size at which words fit a width and a height, no larger than
// the drawing's own; 0 when they could not be read.
func (s *sketch) fit(words string, width, height defects.MM) defects.MM {
	if words == "" {
		return 0
	}
	size := min(s.size, height, width*100/(70*defects.MM(len([]rune(words)))))
	if size*10 < s.size*7 {
		return 0
	}
	return size
}

// baseLine draws the base line and, below it, the ground.
func (s *sketch) baseLine(e defects.Elevation) {
	s.f(`<line class="wall-base" x1="%d" y1="%d" x2="%d" y2="%d"/>`, -s.rodGap(), s.height, e.Length+s.size, s.height)
	if e.BaseLine > 0 {
		s.f(`<line class="wall-ground" x1="%d" y1="%d" x2="%d" y2="%d"/>`, -s.rodGap(), s.height+e.BaseLine,
			e.Length+s.size, s.height+e.BaseLine)
	}
}

// rod draws the storey rod: a staff marked at every course, longer at every
// fourth, with metres written beside. Where courses would run together, the
// fourth alone are marked.
func (s *sketch) rod(e defects.Elevation) {
	x, wide := -s.rodGap()-s.rodWidth(), s.rodWidth()
	s.f(`<g class="rod"><rect x="%d" y="0" width="%d" height="%d"/><path d="`, x, wide, e.Height)
	mark := defects.MM(courseGauge)
	if s.size > finestSize {
		mark = 4 * courseGauge
	}
	for z := mark; z < e.Height; z += mark {
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
	every := 1000 * ((s.size*5/4 + 999) / 1000)
	for z, last := defects.MM(0), e.Height-s.size; z <= last; z += every {
		s.text("rod-figure", x+wide-s.size/4, s.y(z)-s.size/4, "end", fmt.Sprint(int64(z)/1000))
	}
	s.b.WriteString("</g>")
}

func (s *sketch) text(class string, x, y defects.MM, anchor, words string) {
	s.textOf(s.size, class, x, y, anchor, words)
}

func (s *sketch) textOf(size defects.MM, class string, x, y defects.MM, anchor, words string) {
	s.f(`<text class="%s" x="%d" y="%d" font-size="%d" text-anchor="%s">%s</text>`, class, x, y, size, anchor, esc(words))
}

func esc(text string) string { return html.EscapeString(text) }

// short prints a length in metres with two places.
func short(m defects.MM) string {
	d, _ := defects.DecimalFromFloat(float64(m)/1000, 2)
	return d.String()
}
