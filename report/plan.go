package report

import (
	"fmt"
	"math"
	"slices"

	"storeyrod/defects"
)

// PlanElevation is one face of a plan drawing; Href may be empty.
type PlanElevation struct {
	Elevation defects.Elevation
	Open      int // open snags; below 0 = not said
	Href      string
}

// The plan's own sizes, as parts of the longer side of what it shows.
const (
	planTextPart = 0.045
	planSetApart = 14.0 // metres between buildings that have no place on the ground
)

// plan is a sketch in metres of ground; text is the size of its writing, and
// all else follows from it.
type plan struct {
	sketch
	text   float64
	lo, hi defects.XY
	edge   bool // drawn to the edge: there are no bands of faces that need a margin
}

func (p *plan) margin() float64 {
	if p.edge {
		return 0
	}
	return 4.2 * p.text
}
func (p *plan) band() float64  { return 0.9 * p.text } // that stands for a face
func (p *plan) reach() float64 { return 3.4 * p.text } // of what can be tapped, outwards

// at turns metres east and north into the drawing's own direction.
func (p *plan) at(q defects.XY) (x, y float64) {
	return q.X - p.lo.X + p.margin(), p.hi.Y - q.Y + p.margin()
}

// PlanSVG draws the footprints of a site to scale, north up, each face a band
// outside its wall. A building typed in metres has no place on the ground; it
// is set to the right of the others. Without any outline it gives no drawing.
func PlanSVG(buildings []defects.Building, faces []PlanElevation) string {
	svg, _ := PhotoPlanSVG(buildings, faces, nil, nil)
	return svg
}

// PhotoPlanSVG draws the plan with photos on it: where each was taken, the
// radius of its error, and what its lens took in. The faces they are placed on are
// marked. Those taken too far away to be drawn with the buildings are counted in
// left. A map may be laid under it all.
func PhotoPlanSVG(buildings []defects.Building, faces []PlanElevation, photos []PlanPhoto, ground Ground) (svg string, left int) {
	placed, frame := planOutlines(buildings)
	lo, hi, ok := planBounds(placed)
	if !ok {
		return "", len(photos)
	}
	spots, left := planSpots(photos, frame, &lo, &hi)
	s := &plan{text: math.Max(hi.X-lo.X, hi.Y-lo.Y) * planTextPart, lo: lo, hi: hi}
	width, height := hi.X-lo.X+2*s.margin(), hi.Y-lo.Y+2*s.margin()+s.text
	s.f(`<svg class="plan" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.2f %.2f" role="%s" aria-label="%s">`, width, height, planRole(faces),
		esc(planLabel(len(placed), len(faces), len(spots))))
	s.ground(placed, frame, ground)
	for _, b := range placed {
		s.block(b, faces, facesShown(spots))
	}
	for _, spot := range spots {
		s.spot(spot)
	}
	s.north(width)
	s.scale(width, height)
	s.b.WriteString("</svg>")
	return s.b.String(), left
}

func planLabel(buildings, faces, photos int) string {
	words := fmt.Sprintf("plan of %d buildings with %d elevations, north up", buildings, faces)
	if photos > 0 {
		words += fmt.Sprintf(", and where %d photos were taken", photos)
	}
	return words
}

func planRole(faces []PlanElevation) string {
	if slices.ContainsFunc(faces, func(f PlanElevation) bool { return f.Href != "" }) {
		return "group"
	}
	return "img"
}

// placedBuilding is a building with its rings in the plan's own metres, the outer
// one first.
type placedBuilding struct {
	building defects.Building
	rings    [][]defects.XY
}

// shifted moves rings to the east.
func shifted(rings [][]defects.XY, east float64) [][]defects.XY {
	out := make([][]defects.XY, len(rings))
	for i, ring := range rings {
		for _, p := range ring {
			out[i] = append(out[i], defects.XY{X: p.X + east, Y: p.Y})
		}
	}
	return out
}

func planOutlines(buildings []defects.Building) ([]placedBuilding, *defects.Frame) {
	var frame *defects.Frame
	right := math.Inf(-1)
	var out []placedBuilding
	for _, b := range buildings {
		if f, ok := defects.BuildingFrame(b); ok {
			if frame == nil {
				frame = &f
			}
			rings := defects.RingsIn(b, *frame)
			out = append(out, placedBuilding{b, rings})
			right = math.Max(right, slices.MaxFunc(rings[0], byX).X)
		}
	}
	for _, b := range buildings {
		if len(b.Ring) > 0 || len(b.Plan) == 0 {
			continue
		}
		shift := 0.0
		if !math.IsInf(right, -1) {
			shift = right + planSetApart - slices.MinFunc(b.Plan, byX).X
		}
		rings := shifted(defects.Rings(b), shift)
		out = append(out, placedBuilding{b, rings})
		right = math.Max(right, slices.MaxFunc(rings[0], byX).X)
	}
	return out, frame
}

func byX(a, b defects.XY) int {
	switch {
	case a.X < b.X:
		return -1
	case a.X > b.X:
		return 1
	}
	return 0
}

func planBounds(list []placedBuilding) (lo, hi defects.XY, ok bool) {
	lo, hi = defects.XY{X: math.Inf(1), Y: math.Inf(1)}, defects.XY{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, b := range list {
		for _, p := range b.rings[0] {
			lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
			hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
			ok = true
		}
	}
	return lo, hi, ok
}

func (p *plan) block(b placedBuilding, faces []PlanElevation, shown map[string]bool) {
	p.b.WriteString(`<path class="plan-block" d="`)
	for _, ring := range b.rings {
		p.ring(ring)
	}
	p.b.WriteString(`"/>`)
	sides := defects.RingSides(defects.Building{Plan: b.rings[0], PlanCourts: b.rings[1:]})
	for _, face := range faces {
		e := face.Elevation
		if e.BuildingID == b.building.ID && e.Court < len(sides) && e.Edge >= 0 && e.Edge < len(sides[e.Court]) {
			p.face(face, sides[e.Court][e.Edge], shown[e.ID])
		}
	}
	p.name(b)
}

// ring writes a ring as part of a path.
func (p *plan) ring(ring []defects.XY) {
	for i, q := range ring {
		x, y := p.at(q)
		p.f("%s%.2f %.2f", map[bool]string{true: "M", false: "L"}[i == 0], x, y)
	}
	p.b.WriteString("Z")
}

// face draws one face as a band with its count of open snags; a face with none
// is left white. It can be tapped from the wall to beyond its count, and a short
// one somewhat beyond its ends.
func (p *plan) face(face PlanElevation, side defects.Side, shown bool) {
	rad := side.Bearing * math.Pi / 180
	mid := defects.XY{X: (side.Left.X + side.Right.X) / 2, Y: (side.Left.Y + side.Right.Y) / 2}
	half := math.Hypot(side.Right.X-side.Left.X, side.Right.Y-side.Left.Y) / 2
	// at is a point so far along the face from its middle, and so far out.
	at := func(along, out float64) (x, y float64) {
		return p.at(defects.XY{X: mid.X + math.Sin(rad)*out - math.Cos(rad)*along, Y: mid.Y + math.Cos(rad)*out + math.Sin(rad)*along})
	}
	area := func(class string, half, from, to float64) {
		x1, y1 := at(-half, from)
		x2, y2 := at(half, from)
		x3, y3 := at(half, to)
		x4, y4 := at(-half, to)
		p.f(`<path class="%s" d="M%.2f %.2fL%.2f %.2fL%.2f %.2fL%.2f %.2fZ"/>`, class, x1, y1, x2, y2, x3, y3, x4, y4)
	}
	class, element := "plan-face", "g"
	if face.Open > 0 {
		class += " plan-open"
	}
	if shown {
		class += " plan-shown"
	}
	if face.Href == "" {
		p.b.WriteString("<g>")
	} else {
		element = "a"
		p.f(`<a href="%s">`, esc(face.Href))
	}
	title := face.Elevation.Building + ", " + face.Elevation.Name
	if face.Open >= 0 {
		title += fmt.Sprintf(": %d open", face.Open)
	}
	p.f(`<title>%s</title>`, esc(title))
	if face.Href != "" {
		area("plan-hit", math.Max(half, 1.2*p.text), -p.text/2, p.reach())
	}
	area(class, half, 0, p.band())
	if face.Open >= 0 {
		x, y := at(0, 2*p.band())
		p.words("plan-count", x, y+p.text/3, fmt.Sprint(face.Open))
	}
	p.f("</%s>", element)
}

func (p *plan) words(class string, x, y float64, words string) {
	p.f(`<text class="%s" x="%.2f" y="%.2f" font-size="%.2f" text-anchor="middle">%s</text>`, class, x, y, p.text, esc(words))
}

func (p *plan) north(width float64) {
	x, u := width-1.5*p.text, p.text
	p.f(`<path class="plan-north" d="M%.2f %.2fV%.2fM%.2f %.2fl%.2f %.2fl%.2f %.2f"/>`, x, 2.6*u, 0.6*u, x-0.5*u, 1.4*u, 0.5*u, -0.8*u, 0.5*u, 0.8*u)
	p.words("plan-note", x-u, 2.6*u, "N")
}

// scale draws a bar of a round length, at most a third of the width.
func (p *plan) scale(width, height float64) {
	length := 1.0
	for _, l := range []float64{2, 5, 10, 20, 50, 100, 200} {
		if l <= width/3 {
			length = l
		}
	}
	x, y, u := p.text, height-p.text, p.text/2
	p.f(`<path class="plan-scale" d="M%.2f %.2fv%.2fv%.2fh%.2fv%.2fv%.2f"/>`, x, y, -u, u/2, length, -u/2, u)
	p.f(`<text class="plan-note" x="%.2f" y="%.2f" font-size="%.2f">%g m</text>`, x+length+u, y, p.text, length)
}
