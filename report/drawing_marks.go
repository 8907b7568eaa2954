package report

import (
	"fmt"

	"storeyrod/defects"
)

// hatches says how each state is filled; the names are those of the patterns.
var hatches = map[defects.State]string{
	defects.Raised:     "hatch-raised",
	defects.Instructed: "hatch-instructed",
	defects.Offered:    "hatch-offered",
	defects.Disputed:   "hatch-disputed",
	defects.Deferred:   "hatch-deferred",
	defects.Closed:     "hatch-closed",
	defects.Conceded:   "hatch-conceded",
	defects.Withdrawn:  "hatch-withdrawn",
}

// outlines says how heavy each severity is drawn, in millimetres of wall.
var outlines = map[defects.Severity]int{defects.Critical: 62, defects.Major: 36, defects.Minor: 14}

// hatchLines is the drawing of each pattern within a 120 mm square.
var hatchLines = map[defects.State]string{
	defects.Raised:     "",
	defects.Instructed: "M-30 90L90 -30M30 150L150 30M-30 30L30 -30M90 150L150 90",
	defects.Offered:    "M0 0L120 120M120 0L0 120",
	defects.Disputed:   "M30 60h10M90 60h10M60 20h10M60 100h10",
	defects.Deferred:   "M0 30h120M0 90h120",
	defects.Closed:     "M0 0h120v120h-120z",
	defects.Conceded:   "M30 0v120M90 0v120",
	defects.Withdrawn:  "M50 60h20",
}

// patterns defines the coursing of the wall and the hatching of the states.
func (s *sketch) patterns() {
	s.f(`<defs><pattern id="courses" patternUnits="userSpaceOnUse" x="0" y="%d" width="%d" height="%d">`,
		s.height%(2*courseGauge), slipModule, 2*courseGauge)
	s.f(`<rect class="slip-ground" width="%d" height="%d"/>`, slipModule, 2*courseGauge)
	s.f(`<path class="slip-joint" d="M0 0h%d M0 %dh%d M0 0v%d M%d %dv%d"/></pattern>`,
		slipModule, courseGauge, slipModule, courseGauge, slipModule/2, courseGauge, courseGauge)
	for _, state := range defects.States() {
		s.hatch(state)
	}
	s.b.WriteString("</defs>")
}

func (s *sketch) hatch(state defects.State) {
	s.f(`<pattern id="%s" patternUnits="userSpaceOnUse" width="120" height="120">`, hatches[state])
	s.f(`<rect class="hatch-ground" width="120" height="120"/><path class="hatch-line %s" d="%s"/></pattern>`,
		hatches[state], hatchLines[state])
}

// HatchSVG is the legend's sample of one state: a small brick with its hatching.
// It is drawn without a pattern, since a page shows many and an id may be there
// once.
func HatchSVG(state defects.State) string {
	s := &sketch{}
	s.b.WriteString(`<svg class="sample" viewBox="-20 -20 400 200" aria-hidden="true"><svg width="360" height="160" viewBox="0 0 360 160">`)
	s.b.WriteString(`<rect class="hatch-ground" width="360" height="160"/>`)
	for y := 0; y < 160; y += 120 {
		for x := 0; x < 360; x += 120 {
			s.f(`<path class="hatch-line %s" transform="translate(%d %d)" d="%s"/>`, hatches[state], x, y, hatchLines[state])
		}
	}
	s.b.WriteString(`</svg><rect class="snag-brick" width="360" height="160" stroke-width="14" fill="none"/></svg>`)
	return s.b.String()
}

// SeveritySVG is the legend's sample of one severity's outline.
func SeveritySVG(severity defects.Severity) string {
	return fmt.Sprintf(`<svg class="sample" viewBox="-40 -40 440 240" aria-hidden="true">`+
		`<rect class="snag-brick" width="360" height="160" stroke-width="%d" fill="none"/></svg>`, outlines[severity])
}

// snags draws the snag bricks. Two that would lie on one another are laid side
// by side, the later one with a line to its true place.
func (s *sketch) snags(e defects.Elevation, list []DrawnSnag) {
	taken := map[[2]int]bool{}
	for _, snag := range list {
		x, z, ok := spot(e, snag.Place)
		if !ok {
			continue
		}
		col, row := s.freeCell(e, taken, int(x)/s.snagLength(), int(z)/s.snagHeight())
		taken[[2]int{col, row}] = true
		s.snag(snag, defects.MM(col*s.snagLength()), defects.MM(row*s.snagHeight()), x, z)
	}
}

func (s *sketch) snag(snag DrawnSnag, left, foot, x, z defects.MM) {
	element, long, high := "g", defects.MM(s.snagLength()), defects.MM(s.snagHeight())
	if snag.Href != "" {
		element = "a"
		s.f(`<a href="%s" class="snag" id="brick-%d">`, esc(snag.Href), snag.Number)
	} else {
		s.f(`<g class="snag" id="brick-%d">`, snag.Number)
	}
	s.f(`<title>%s</title>`, esc(fmt.Sprintf("%s, %s, %s: %s", defects.SnagRef(snag.Number), snag.Severity, snag.State, snag.Title)))
	if x < left || x > left+long || z < foot || z > foot+high {
		s.f(`<path class="snag-lead" d="M%d %dL%d %d"/>`, x, s.y(z), left+long/2, s.y(foot+high/2))
	}
	s.f(`<rect class="snag-brick %s" x="%d" y="%d" width="%d" height="%d" stroke-width="%d" fill="url(#%s)"/>`,
		snag.Severity, left, s.y(foot+high), long, high, outlines[snag.Severity]*s.step, hatches[snag.State])
	number := fmt.Sprint(snag.Number)
	plate := defects.MM(len(number))*s.size*2/3 + s.size/3
	from := left + long + s.size/8
	s.f(`<rect class="snag-plate" x="%d" y="%d" width="%d" height="%d"/>`, from, s.y(foot+high/2)-s.size*5/8, plate, s.size*5/4)
	s.text("snag-number", from+s.size/6, s.y(foot+high/2)+s.size*3/8, "start", number)
	s.f("</%s>", element)
}

// spot is where a place is drawn: its own x and z, else the middle of its bay
// and lift; without either it is not drawn, and the list names it.
func spot(e defects.Elevation, p defects.Place) (x, z defects.MM, ok bool) {
	for _, o := range e.Openings {
		if o.Name == p.Opening && p.Opening != "" && p.X == nil && p.Bay == 0 {
			return o.X + o.Width/2, o.Z + o.Height/2, true
		}
	}
	at := along(e, p)
	if at == nil {
		return 0, 0, false
	}
	if p.Z != nil {
		return *at, *p.Z, true
	}
	z, ok = middleOf(e.Lifts, p.Lift)
	return *at, z, ok
}

// freeCell finds the nearest free cell of the snag coursing to the right, then
// to the left, then a row higher.
func (s *sketch) freeCell(e defects.Elevation, taken map[[2]int]bool, col, row int) (int, int) {
	last := max(int(e.Length)/s.snagLength()-1, 0)
	col = min(col, last)
	for up := range 200 {
		for off := range last + 1 {
			for _, c := range []int{col + off, col - off} {
				if c >= 0 && c <= last && !taken[[2]int{c, row + up}] {
					return c, row + up
				}
			}
		}
	}
	return col, row
}

// ticks draws readings: a short upright stroke for one within its limit, a
// cross for one beyond it, an open ring where there is no verdict.
func (s *sketch) ticks(e defects.Elevation, list []DrawnTick) {
	r := s.size / 4
	for _, t := range list {
		x, z, ok := spot(e, t.Place)
		if !ok {
			continue
		}
		s.f(`<g class="tick"><title>%s</title>`, esc(t.Title))
		switch t.Outcome {
		case defects.Pass, defects.ConditionalPass:
			s.f(`<path d="M%d %dv%d"/>`, x, s.y(z)+r, -2*r)
		case defects.Fail, defects.ConditionalFail:
			s.f(`<path d="M%d %dl%d %dm0 %dl%d %d"/>`, x-r, s.y(z)-r, 2*r, 2*r, -2*r, -2*r, 2*r)
		default:
			s.f(`<circle cx="%d" cy="%d" r="%d"/>`, x, s.y(z), r)
		}
		s.b.WriteString("</g>")
	}
}
