package report

import (
	"math"

	"storeyrod/defects"
)

// PlanPhoto is one photo on a plan drawing.
type PlanPhoto struct {
	At          defects.LonLat
	ErrorM      float64  // radius of the position's error, in metres
	Heading     *float64 // degrees clockwise from true north; nil = not known
	ViewDeg     float64  // angle of view; 0 = not known
	ElevationID string   // the face it is placed on; "" = none
	Title       string
	Href        string
	Chosen      bool // ringed
}

const (
	planFar      = 150.0 // metres from the buildings beyond which a photo is not drawn with them
	planViewPart = 3.2   // length of a view cone in heights of the writing
	planNarrow   = 10.0  // degrees drawn for a direction whose angle of view is not known
)

// planSpot is a photo in the plan's metres.
type planSpot struct {
	PlanPhoto
	at defects.XY
}

// planSpots lays photos out and widens what the plan shows so that they are on
// it, with the buildings.
func planSpots(photos []PlanPhoto, frame *defects.Frame, lo, hi *defects.XY) (spots []planSpot, left int) {
	if frame == nil {
		return nil, len(photos)
	}
	low, high := *lo, *hi
	for _, p := range photos {
		at := defects.XY{X: math.Inf(1)}
		if frame.Holds(p.At) {
			at = frame.ToXY(p.At)
		}
		if at.X < low.X-planFar || at.X > high.X+planFar || at.Y < low.Y-planFar || at.Y > high.Y+planFar {
			left++
			continue
		}
		spots = append(spots, planSpot{p, at})
		lo.X, lo.Y = math.Min(lo.X, at.X), math.Min(lo.Y, at.Y)
		hi.X, hi.Y = math.Max(hi.X, at.X), math.Max(hi.Y, at.Y)
	}
	return spots, left
}

// facesShown are the elevations that the photos are placed on.
func facesShown(spots []planSpot) map[string]bool {
	shown := map[string]bool{}
	for _, s := range spots {
		if s.ElevationID != "" {
			shown[s.ElevationID] = true
		}
	}
	return shown
}

// spot draws a photo: the circle of its error, a dot, and a cone the way it
// looked.
func (p *plan) spot(s planSpot) {
	x, y := p.at(s.at)
	element := "g"
	if s.Href == "" {
		p.b.WriteString("<g>")
	} else {
		element = "a"
		p.f(`<a href="%s">`, esc(s.Href))
	}
	p.f(`<title>%s</title>`, esc(s.Title))
	if s.ErrorM > 0 {
		p.f(`<circle class="plan-error" cx="%.2f" cy="%.2f" r="%.2f"/>`, x, y, s.ErrorM)
	}
	if s.Heading != nil {
		p.cone(s, x, y)
	}
	if s.Chosen {
		p.f(`<circle class="plan-chosen" cx="%.2f" cy="%.2f" r="%.2f"/>`, x, y, 0.8*p.text)
	}
	p.f(`<circle class="plan-photo" cx="%.2f" cy="%.2f" r="%.2f"/></%s>`, x, y, 0.4*p.text, element)
}

func (p *plan) cone(s planSpot, x, y float64) {
	half, length := s.ViewDeg/2, planViewPart*p.text
	if half <= 0 {
		half = planNarrow / 2
	}
	end := func(bearing float64) (float64, float64) {
		sin, cos := math.Sincos(bearing * math.Pi / 180)
		return x + length*sin, y - length*cos
	}
	x1, y1 := end(*s.Heading - half)
	x2, y2 := end(*s.Heading + half)
	p.f(`<path class="plan-view" d="M%.2f %.2fL%.2f %.2fA%.2f %.2f 0 %d 1 %.2f %.2fZ"/>`, x, y, x1, y1, length, length, large(2*half), x2, y2)
}

// large is the flag of an arc that turns by more than half a circle.
func large(deg float64) int {
	if deg > 180 {
		return 1
	}
	return 0
}
