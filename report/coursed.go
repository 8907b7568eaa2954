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

// The sizes of the coursed wall, in units of its drawing.
const (
	courseHigh = 34
	brickLong  = 92
	brickJoint = 5
	courseName = 54
)

// CoursedSVG draws hold points by areas as a wall built upwards: each course a
// point, the first at the foot, each brick an area, filled when released. Every
// second course is shifted by half a brick, as stretcher bond is. Without an
// area it gives no drawing.
func CoursedSVG(courses []Course, areas []string) string {
	if len(courses) == 0 || len(areas) == 0 {
		return ""
	}
	s := &sketch{}
	width := courseName + len(areas)*brickLong + brickLong/2
	height := len(courses)*courseHigh + 40
	s.f(`<svg class="coursed" viewBox="-2 -3 %d %d" role="img" aria-label="%s">`, width+4, height,
		esc(fmt.Sprintf("%d hold points by %d elevations, the first at the foot", len(courses), len(areas))))
	for i, c := range courses {
		y := (len(courses) - 1 - i) * courseHigh
		s.f(`<text class="coursed-name" x="4" y="%d"><title>%s</title>%s</text>`, y+courseHigh-12, esc(c.Title), esc(c.Name))
		for j, b := range c.Bricks {
			s.brick(b, c, courseName+j*brickLong+(i%2)*brickLong/2, y)
		}
	}
	for j, name := range areas {
		s.f(`<text class="coursed-area" x="%d" y="%d" text-anchor="middle">%s</text>`, courseName+j*brickLong+brickLong/2+brickLong/4,
			height-18, esc(clip(name, 15)))
	}
	s.b.WriteString("</svg>")
	return s.b.String()
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
