package report

import (
	"fmt"
	"math"
	"slices"

	"storeyrod/defects"
)

// Names of buildings: so wide a letter is, as a part of its size; a name may be
// written smaller, down to this part of the size, so as to fit within.
const (
	letterWide = 0.6
	leastName  = 0.75
	nameSteps  = 24 // of the search for room within an outline
)

// name writes a building's name where the outline leaves most room for it:
// along, else upright, else below the building.
func (p *plan) name(b placedBuilding) {
	long := letterWide * p.text * float64(len([]rune(b.building.Name)))
	if q, room := roomiest(b.rings, p.text); room >= long*leastName {
		x, y := p.at(q)
		p.nameAt(x, y, math.Min(1, room/long), "", b.building.Name)
		return
	}
	turned := make([][]defects.XY, len(b.rings))
	for i, ring := range b.rings {
		for _, q := range ring {
			turned[i] = append(turned[i], defects.XY{X: q.Y, Y: q.X})
		}
	}
	if q, room := roomiest(turned, p.text); room >= long*leastName {
		x, y := p.at(defects.XY{X: q.Y, Y: q.X})
		p.nameAt(x, y, math.Min(1, room/long), "-90", b.building.Name)
		return
	}
	lo, hi, _ := planBounds([]placedBuilding{b})
	x, y := p.at(defects.XY{X: (lo.X + hi.X) / 2, Y: lo.Y})
	p.nameAt(x, y+p.reach(), leastName, "", b.building.Name)
}

// nameAt centres words on a point of the drawing.
func (p *plan) nameAt(x, y, part float64, turn, words string) {
	size := p.text * part
	rotate := ""
	if turn != "" {
		rotate = ` transform="rotate(` + turn + " " + fmt.Sprintf("%.2f %.2f", x, y) + `)"`
	}
	p.f(`<text class="plan-name" x="%.2f" y="%.2f" font-size="%.2f" text-anchor="middle"%s>%s</text>`, x, y+size/3, size, rotate, esc(words))
}

// roomiest finds the middle of the longest level strip, one letter high, that
// lies within an outline and clear of its courtyards, and the strip's length less a letter at each end.
func roomiest(rings [][]defects.XY, high float64) (mid defects.XY, room float64) {
	lo, hi, ok := planBounds([]placedBuilding{{rings: rings}})
	if !ok {
		return mid, 0
	}
	middle := (lo.Y + hi.Y) / 2
	for i := range nameSteps {
		// From the middle outwards, so that of equal strips the middle one wins.
		off := float64((i+1)/2) / nameSteps * (hi.Y - lo.Y)
		if i%2 == 1 {
			off = -off
		}
		from, to := strip(rings, middle+off, high)
		if free := to - from - high; free > room+high/100 {
			mid, room = defects.XY{X: (from + to) / 2, Y: middle + off}, free
		}
	}
	return mid, room
}

// strip is the longest level run at y that lies within the outline at its own
// height and half a letter above and below.
func strip(rings [][]defects.XY, y, high float64) (from, to float64) {
	runs := chords(rings, y)
	for _, level := range []float64{y - high/2, y + high/2} {
		runs = overlaps(runs, chords(rings, level))
	}
	for _, r := range runs {
		if r[1]-r[0] > to-from {
			from, to = r[0], r[1]
		}
	}
	return from, to
}

// chords are the runs of a level line within an outline, by the even-odd rule.
func chords(rings [][]defects.XY, y float64) [][2]float64 {
	var at []float64
	for _, ring := range rings {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.Y > y) != (b.Y > y) {
				at = append(at, a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X))
			}
		}
	}
	slices.Sort(at)
	var out [][2]float64
	for i := 0; i+1 < len(at); i += 2 {
		out = append(out, [2]float64{at[i], at[i+1]})
	}
	return out
}

func overlaps(a, b [][2]float64) [][2]float64 {
	var out [][2]float64
	for _, p := range a {
		for _, q := range b {
			if from, to := math.Max(p[0], q[0]), math.Min(p[1], q[1]); to > from {
				out = append(out, [2]float64{from, to})
			}
		}
	}
	return out
}
