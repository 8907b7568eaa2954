package report

import (
	"fmt"
	"math"

	"storeyrod/defects"
)

// Draft is a footprint that is being drawn, in metres of a frame: the outline and
// then its courtyards. Was is how it lay before, nil for a new one.
type Draft struct {
	Rings [][]defects.XY
	Was   [][]defects.XY
	Frame *defects.Frame // of the site's map; nil = metres of no place
}

// The draft's sheet, in metres of ground.
const (
	draftWidth  = 40.0 // at least
	draftHeight = 30.0
	draftAround = 0.25 // of the longer side, free around what is drawn
	draftLines  = 60   // of the grid, at most
	// Sizes as parts of the sheet's longer side; the script fits them to the screen.
	draftLetters = 0.028
)

// DraftSVG draws a footprint on the site's plan, north up: the other buildings, a
// grid, the corners with their numbers and the length of each side. The script of
// the page draws the same again while corners are set; data-west and data-top say
// where its sheet lies in metres.
func DraftSVG(others []defects.Building, d Draft) string {
	var placed []placedBuilding
	for _, b := range others {
		if d.Frame != nil && len(b.Ring) > 0 && d.Frame.Holds(b.Ring[0]) {
			placed = append(placed, placedBuilding{b, defects.RingsIn(b, *d.Frame)})
		}
	}
	p := draftSheet(placed, d)
	width, height := p.hi.X-p.lo.X, p.hi.Y-p.lo.Y
	p.f(`<svg class="plan draft-sheet" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.2f %.2f" role="img" aria-label="%s" data-west="%.3f" data-top="%.3f" data-text="%.3f">`,
		width, height, esc(draftLabel(d, len(placed))), p.lo.X, p.hi.Y, p.text)
	p.grid(width, height)
	for _, b := range placed {
		p.b.WriteString(`<path class="draft-other" d="`)
		for _, ring := range b.rings {
			p.ring(ring)
		}
		p.b.WriteString(`"/>`)
		p.name(b)
	}
	if d.Was != nil {
		p.b.WriteString(`<path class="draft-was" d="`)
		for _, ring := range d.Was {
			p.ring(ring)
		}
		p.b.WriteString(`"/>`)
	}
	p.b.WriteString(`<g class="draft">`)
	for _, ring := range d.Rings {
		p.draftRing(ring)
	}
	p.b.WriteString("</g>")
	p.north(width)
	p.scale(width, height)
	p.b.WriteString("</svg>")
	return p.b.String()
}

func draftLabel(d Draft, others int) string {
	corners := 0
	if len(d.Rings) > 0 {
		corners = len(d.Rings[0])
	}
	return fmt.Sprintf("plan with %d buildings and the drawn outline of %d corners, north up", others, corners)
}

// draftPlan is a plan without the margin that bands of faces need.
type draftPlan struct{ plan }

func draftSheet(placed []placedBuilding, d Draft) *draftPlan {
	all := placed
	for _, rings := range [][][]defects.XY{d.Rings, d.Was} {
		if len(rings) > 0 && len(rings[0]) > 0 {
			all = append(all, placedBuilding{rings: rings})
		}
	}
	lo, hi, ok := planBounds(all)
	if !ok {
		lo, hi = defects.XY{}, defects.XY{X: draftWidth / 2, Y: draftHeight / 2}
	}
	around := math.Max(hi.X-lo.X, hi.Y-lo.Y) * draftAround
	grow := func(lo, hi *float64, least float64) {
		add := math.Max(around, (least-(*hi-*lo))/2)
		*lo, *hi = math.Floor(*lo-add), math.Ceil(*hi+add)
	}
	grow(&lo.X, &hi.X, draftWidth)
	grow(&lo.Y, &hi.Y, draftHeight)
	lo.Y -= 3 * draftLetters * math.Max(hi.X-lo.X, hi.Y-lo.Y) // for the scale bar
	p := &draftPlan{plan{text: math.Max(hi.X-lo.X, hi.Y-lo.Y) * draftLetters, lo: lo, hi: hi}}
	p.edge = true
	return p
}

// grid rules the sheet at a round step, with every line on a whole multiple.
func (p *draftPlan) grid(width, height float64) {
	step := 1.0
	for _, s := range []float64{1, 5, 10, 50, 100, 500, 1000} {
		if step = s; math.Max(width, height)/s <= draftLines {
			break
		}
	}
	p.b.WriteString(`<path class="draft-grid" d="`)
	for x := math.Ceil(p.lo.X/step) * step; x < p.hi.X; x += step {
		p.f("M%.2f 0V%.2f", x-p.lo.X, height)
	}
	for y := math.Ceil(p.lo.Y/step) * step; y < p.hi.Y; y += step {
		p.f("M0 %.2fH%.2f", p.hi.Y-y, width)
	}
	p.b.WriteString(`"/>`)
}

// draftRing draws one ring with the lengths of its sides and its corners' numbers.
func (p *draftPlan) draftRing(ring []defects.XY) {
	if len(ring) == 0 {
		return
	}
	p.b.WriteString(`<path class="draft-line" d="`)
	p.ring(ring)
	p.b.WriteString(`"/>`)
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if length := math.Hypot(b.X-a.X, b.Y-a.Y); len(ring) > 1 && (len(ring) > 2 || i == 0) {
			x, y := p.at(defects.XY{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2})
			p.words("draft-length", x, y+p.text/3, fmt.Sprintf("%.2f", length))
		}
	}
	for i, q := range ring {
		x, y := p.at(q)
		p.f(`<circle class="draft-corner" cx="%.2f" cy="%.2f" r="%.2f"/>`, x, y, 0.7*p.text)
		p.f(`<text class="draft-number" x="%.2f" y="%.2f" font-size="%.2f" text-anchor="middle">%d</text>`, x, y+0.3*p.text, 0.85*p.text, i+1)
	}
}
