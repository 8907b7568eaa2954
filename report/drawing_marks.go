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

// hatchPart is the height of the brick whose hatching is drawn as it stands; a
// brick twice as high has its hatching twice as large.
const hatchPart = 200

// outlines says how heavy each severity is drawn, in millimetres of wall, on a
// brick of 300 mm; a higher one has it in proportion.
var outlines = map[defects.Severity]int{defects.Critical: 62, defects.Major: 36, defects.Minor: 14}

// hatchLines is the drawing of each pattern within a 120 mm square.
var hatchLines = map[defects.State]string{
	defects.Raised:     "M-20 20L20 60M20 60L80 120M60 -20L140 60",
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
	s.b.WriteString("<defs>")
	s.coursing()
	s.hatching()
	s.b.WriteString("</defs>")
}

// hatching defines the pattern of every state.
func (s *sketch) hatching() {
	for _, state := range defects.States() {
		s.hatch(state)
	}
}

// coursing defines the pattern of the slips: every joint, the paler the smaller
// the wall is drawn, and in the same measure every fourth joint stronger, so
// that a long wall still shows its courses.
func (s *sketch) coursing() {
	const long, high = 4 * slipModule, 8 * courseGauge
	fine := 1.0
	if s.size > finestSize {
		fine = max(float64(finestSize)/float64(s.size), 0.3)
	}
	s.f(`<pattern id="courses" patternUnits="userSpaceOnUse" x="0" y="%d" width="%d" height="%d">`, s.height%high, long, high)
	s.f(`<rect class="slip-ground" width="%d" height="%d"/><path class="slip-joint" stroke-opacity="%.2f" d="`, long, high, fine)
	for y := 0; y < high; y += courseGauge {
		s.f("M0 %dh%d", y, long)
		for x := y / courseGauge % 2 * slipModule / 2; x < long; x += slipModule {
			s.f("M%d %dv%d", x, y, courseGauge)
		}
	}
	s.f(`"/><path class="slip-fourth" stroke-width="%d" stroke-opacity="%.2f" d="M0 0h%dM0 %dh%dM0 0v%dM%d %dv%d"/></pattern>`,
		s.size/14, 1-fine, long, high/2, long, high/2, long/2, high/2, high/2)
}

// hatch defines the pattern of one state; it grows with the brick, of which it
// always shows the same part.
func (s *sketch) hatch(state defects.State) {
	s.f(`<pattern id="%s" patternUnits="userSpaceOnUse" width="120" height="120" patternTransform="scale(%.2f)">`,
		s.layer+hatches[state], float64(s.cell.brick)/hatchPart)
	s.f(`<rect class="hatch-ground %s-ground" width="120" height="120"/><path class="hatch-line %s" d="%s"/></pattern>`,
		hatches[state], hatches[state], hatchLines[state])
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

// ticks draws readings: a short upright stroke for one within its limit, a
// cross for one beyond it, an open ring where there is no verdict.
func (s *sketch) ticks(e defects.Elevation, list []DrawnTick) {
	r := s.size / 3
	for _, t := range list {
		x, z, ok := spot(e, t.Place)
		if !ok {
			continue
		}
		x, z = min(max(x, 0), e.Length), min(max(z, 0), e.Height)
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
