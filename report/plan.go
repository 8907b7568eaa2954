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
	Open      int
	Href      string
}

// The plan's own sizes, in metres of ground.
const (
	planMargin = 6.0
	planFace   = 1.6 // depth of the band that stands for a face
	planText   = 1.9
)

// PlanSVG draws the footprints of a site to scale, north up, each face a band
// outside its wall. A building typed in metres has no place on the ground; it
// is set to the right of the others. Without any outline it gives no drawing.
func PlanSVG(buildings []defects.Building, faces []PlanElevation) string {
	placed := planOutlines(buildings)
	lo, hi, ok := planBounds(placed)
	if !ok {
		return ""
	}
	s := &sketch{}
	width, height := hi.X-lo.X+2*planMargin, hi.Y-lo.Y+2*planMargin+4
	s.f(`<svg class="plan" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.2f %.2f" role="img" aria-label="%s">`, width, height,
		esc(fmt.Sprintf("plan of %d buildings with %d elevations, north up", len(placed), len(faces))))
	at := func(p defects.XY) (float64, float64) { return p.X - lo.X + planMargin, hi.Y - p.Y + planMargin }
	for _, b := range placed {
		s.planBuilding(b, faces, at)
	}
	s.planNorth(width)
	s.planScale(width, height)
	s.b.WriteString("</svg>")
	return s.b.String()
}

// placedBuilding is a building with its outline in the plan's own metres.
type placedBuilding struct {
	building defects.Building
	outline  []defects.XY
}

func planOutlines(buildings []defects.Building) []placedBuilding {
	var frame *defects.Frame
	right := math.Inf(-1)
	var out []placedBuilding
	for _, b := range buildings {
		if f, ok := defects.BuildingFrame(b); ok {
			if frame == nil {
				frame = &f
			}
			outline := defects.OutlineIn(b, *frame)
			out = append(out, placedBuilding{b, outline})
			for _, p := range outline {
				right = math.Max(right, p.X)
			}
		}
	}
	for _, b := range buildings {
		if len(b.Ring) > 0 || len(b.Plan) == 0 {
			continue
		}
		shift := 0.0
		if !math.IsInf(right, -1) {
			shift = right + planMargin - slices.MinFunc(b.Plan, byX).X
		}
		outline := make([]defects.XY, len(b.Plan))
		for i, p := range b.Plan {
			outline[i] = defects.XY{X: p.X + shift, Y: p.Y}
			right = math.Max(right, outline[i].X)
		}
		out = append(out, placedBuilding{b, outline})
	}
	return out
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
		for _, p := range b.outline {
			lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
			hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
			ok = true
		}
	}
	return lo, hi, ok
}

func (s *sketch) planBuilding(b placedBuilding, faces []PlanElevation, at func(defects.XY) (float64, float64)) {
	middle := defects.XY{}
	s.b.WriteString(`<path class="plan-block" d="`)
	for i, p := range b.outline {
		x, y := at(p)
		s.f("%s%.2f %.2f", map[bool]string{true: "M", false: "L"}[i == 0], x, y)
		middle.X += p.X / float64(len(b.outline))
		middle.Y += p.Y / float64(len(b.outline))
	}
	s.b.WriteString(`Z"/>`)
	sides := defects.Sides(defects.Building{Plan: b.outline})
	for _, face := range faces {
		e := face.Elevation
		if e.BuildingID == b.building.ID && e.Edge >= 0 && e.Edge < len(sides) {
			s.planFace(face, sides[e.Edge], at)
		}
	}
	x, y := at(middle)
	s.planWords("plan-name", x, y+planText/3, b.building.Name)
}

// planFace draws one face as a band with its count of open snags; a face with
// none is left white.
func (s *sketch) planFace(face PlanElevation, side defects.Side, at func(defects.XY) (float64, float64)) {
	rad := side.Bearing * math.Pi / 180
	out := defects.XY{X: math.Sin(rad) * planFace, Y: math.Cos(rad) * planFace}
	corner := func(p defects.XY, f float64) (float64, float64) {
		return at(defects.XY{X: p.X + out.X*f, Y: p.Y + out.Y*f})
	}
	x1, y1 := corner(side.Left, 0)
	x2, y2 := corner(side.Right, 0)
	x3, y3 := corner(side.Right, 1)
	x4, y4 := corner(side.Left, 1)
	if face.Href != "" {
		s.f(`<a href="%s">`, esc(face.Href))
	}
	class := "plan-face"
	if face.Open > 0 {
		class += " plan-open"
	}
	s.f(`<g><title>%s</title><path class="%s" d="M%.2f %.2fL%.2f %.2fL%.2f %.2fL%.2f %.2fZ"/>`,
		esc(fmt.Sprintf("%s, %s: %d open", face.Elevation.Building, face.Elevation.Name, face.Open)), class, x1, y1, x2, y2, x3, y3, x4, y4)
	x, y := corner(defects.XY{X: (side.Left.X + side.Right.X) / 2, Y: (side.Left.Y + side.Right.Y) / 2}, 2)
	s.planWords("plan-count", x, y+planText/3, fmt.Sprint(face.Open))
	s.b.WriteString("</g>")
	if face.Href != "" {
		s.b.WriteString("</a>")
	}
}

func (s *sketch) planWords(class string, x, y float64, words string) {
	s.f(`<text class="%s" x="%.2f" y="%.2f" font-size="%g" text-anchor="middle">%s</text>`, class, x, y, planText, esc(words))
}

func (s *sketch) planNorth(width float64) {
	x := width - 2.5
	s.f(`<path class="plan-north" d="M%.2f 4.5V1M%.2f 2l%.1f -1.4l%.1f 1.4"/>`, x, x-0.8, 0.8, 0.8)
	s.planWords("plan-note", x-1.6, 4, "N")
}

// planScale draws a bar of a round length, at most a third of the width.
func (s *sketch) planScale(width, height float64) {
	length := 1.0
	for _, l := range []float64{2, 5, 10, 20, 50, 100, 200} {
		if l <= width/3 {
			length = l
		}
	}
	x, y := 1.5, height-1.5
	s.f(`<path class="plan-scale" d="M%.2f %.2fv-0.8v0.4h%.2fv-0.4v0.8"/>`, x, y, length)
	s.f(`<text class="plan-note" x="%.2f" y="%.2f" font-size="%g">%g m</text>`, x+length+0.6, y, planText, length)
}
