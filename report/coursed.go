package report

import (
	"fmt"
	"strings"
)

// BrickState says how one area stands at one hold point.
type BrickState string

// The states of a brick; each has its own drawing, none is told by colour alone.
const (
	BrickOpen       BrickState = "not answered"
	BrickReleased   BrickState = "released"
	BrickConditions BrickState = "released with conditions"
	BrickPartly     BrickState = "answered for a part"
	BrickRefused    BrickState = "refused"
	BrickLapsed     BrickState = "lapsed after notice"
)

// Course is one hold point with its bricks, one an area, in the order of the
// areas.
type Course struct {
	Name   string // "H7"
	Title  string
	Bricks []Brick
}

// Brick is one area at one hold point.
type Brick struct {
	Title string
	State BrickState
}

// Area is what a column of bricks stands for: one elevation of a building.
type Area struct{ Building, Name string }

// The sizes of the coursed wall, in pixels: it is shown at its own size, in a
// box that scrolls.
const (
	courseHigh   = 34
	brickLong    = 52
	brickJoint   = 5
	courseName   = 42
	coursedFoot  = 58 // room for the names below
	coursedLeast = 15 // letters' size; the style sheet sets it
)

// CoursedSVG draws hold points by areas as a wall built upwards: each course a
// point, the first at the foot, each brick an area, filled when released. Every
// second course is shifted by half a brick, as stretcher bond is. Below, each
// area has its name as short as compass points are, and its building's once.
// Without an area it gives no drawing.
func CoursedSVG(courses []Course, areas []Area) string {
	if len(courses) == 0 || len(areas) == 0 {
		return ""
	}
	s := &sketch{}
	width, wall := courseName+len(areas)*brickLong+brickLong/2+4, len(courses)*courseHigh
	s.f(`<svg class="coursed" width="%d" height="%d" viewBox="-2 -3 %d %d" role="img" aria-label="%s">`,
		width, wall+coursedFoot, width, wall+coursedFoot,
		esc(fmt.Sprintf("%d hold points by %d elevations, the first at the foot", len(courses), len(areas))))
	for i, c := range courses {
		y := (len(courses) - 1 - i) * courseHigh
		s.f(`<text class="coursed-name" x="4" y="%d"><title>%s</title>%s</text>`, y+courseHigh-12, esc(c.Title), esc(c.Name))
		for j, b := range c.Bricks {
			s.brick(b, c, courseName+j*brickLong+(i%2)*brickLong/2, y)
		}
	}
	s.areas(areas, wall)
	s.b.WriteString("</svg>")
	return s.b.String()
}

// areas writes the names below the wall; a rule binds those of one building.
func (s *sketch) areas(areas []Area, wall int) {
	for from := 0; from < len(areas); {
		to := from
		for to < len(areas) && areas[to].Building == areas[from].Building {
			x := courseName + to*brickLong + brickLong*3/4 // between a course and the shifted one
			s.f(`<text class="coursed-area" x="%d" y="%d" text-anchor="middle"><title>%s</title>%s</text>`, x, wall+14,
				esc(areas[to].Building+", "+areas[to].Name), esc(shortWind(areas[to].Name)))
			to++
		}
		x0, x1 := courseName+from*brickLong+brickLong/3, courseName+to*brickLong+brickLong/6
		s.f(`<path class="coursed-bind" d="M%d %dv5H%dv-5"/>`, x0, wall+20, x1)
		s.f(`<text class="coursed-area" x="%d" y="%d" text-anchor="middle"><title>%s</title>%s</text>`, (x0+x1)/2, wall+42,
			esc(areas[from].Building), esc(clip(areas[from].Building, max((x1-x0+brickLong/6)*10/(6*coursedLeast), 3))))
		from = to
	}
}

// shortWind shortens the names of faces as on a compass: "North-east 2" is
// "NE 2"; a name of another kind is cut to fit.
func shortWind(name string) string {
	wind, number, _ := strings.Cut(name, " ")
	short, known := map[string]string{
		"North": "N", "North-east": "NE", "East": "E", "South-east": "SE", "South": "S", "South-west": "SW", "West": "W", "North-west": "NW",
	}[wind]
	if !known {
		return clip(name, 5)
	}
	return strings.TrimSpace(short + " " + clip(number, 2))
}

func (s *sketch) brick(b Brick, c Course, x, y int) {
	class := strings.ReplaceAll(string(b.State), " ", "-")
	s.f(`<g class="course-brick %s"><title>%s</title><rect x="%d" y="%d" width="%d" height="%d"/>`, class,
		esc(fmt.Sprintf("%s %s, %s: %s", c.Name, c.Title, b.Title, b.State)), x, y, brickLong-brickJoint, courseHigh-brickJoint)
	s.f(`<path d="%s"/></g>`, brickMark(b.State, x, y))
}

// brickMark is the sign within a brick.
func brickMark(state BrickState, x, y int) string {
	w, h := brickLong-brickJoint, courseHigh-brickJoint
	switch state {
	case BrickConditions:
		return fmt.Sprintf("M%d %dh%d", x+8, y+h/2, w-16)
	case BrickPartly:
		return fmt.Sprintf("M%d %dv%d", x+w/2, y+3, h-6)
	case BrickRefused:
		return fmt.Sprintf("M%d %dL%d %dM%d %dL%d %d", x+4, y+4, x+w-4, y+h-4, x+w-4, y+4, x+4, y+h-4)
	case BrickLapsed:
		return fmt.Sprintf("M%d %dh6m8 0h6m8 0h6m8 0h6", x+w/2-24, y+h/2)
	}
	return ""
}

// BrickSVG is the legend's sample of one state.
func BrickSVG(state BrickState) string {
	s := &sketch{}
	s.f(`<svg class="sample coursed" viewBox="-2 -2 %d %d" aria-hidden="true">`, brickLong, courseHigh)
	s.brick(Brick{State: state}, Course{}, 0, 0)
	s.b.WriteString("</svg>")
	return s.b.String()
}

// BrickStates lists them in the order of the legend.
func BrickStates() []BrickState {
	return []BrickState{BrickOpen, BrickReleased, BrickConditions, BrickPartly, BrickRefused, BrickLapsed}
}

// SpanWords says bays and lifts of an area: "bays 1–3, lift 2"; "all of it"
// when nothing narrows it.
func SpanWords(bayFrom, bayTo, liftFrom, liftTo int) string {
	var parts []string
	for _, span := range []struct {
		name     string
		from, to int
	}{{"bay", bayFrom, bayTo}, {"lift", liftFrom, liftTo}} {
		switch {
		case span.from == 0 && span.to == 0:
		case span.to == 0:
			parts = append(parts, fmt.Sprintf("from %s %d", span.name, span.from))
		case span.from == span.to:
			parts = append(parts, fmt.Sprintf("%s %d", span.name, span.from))
		default:
			parts = append(parts, fmt.Sprintf("%ss %d–%d", span.name, max(span.from, 1), span.to))
		}
	}
	if len(parts) == 0 {
		return "all of it"
	}
	return strings.Join(parts, ", ")
}

func clip(text string, n int) string {
	if r := []rune(text); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return text
}
