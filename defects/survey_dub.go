package defects

import "math"

// Dubbing is the material that brings a wall out to a plane.
type Dubbing struct {
	Target    Plane
	Thickness []float64 // mm at each point in the grid's order; NaN where not taken; below 0 = cut back
	Greatest  float64   // mm
	Mean      float64   // mm over the points taken
	CutBack   float64   // mm, the most that stands in front of the plane
	Volume    float64   // m³ of material, over the cells whose four corners were taken
	Area      float64   // m² of those cells
	CellsOut  int       // cells left out of volume and area for a missing corner
}

// DubOut works out packing or dubbing-out to a plane parallel to the given one:
// moved outwards until nothing stands more than cutBack mm in front of it. Pass
// the best-fit plane, or one with Lean 0 for a plumb finish. Thickness limits and
// the way of fixing are the system's; this is geometry only.
func (g Grid) DubOut(plane Plane, cutBack float64) (Dubbing, error) {
	if err := g.Check(); err != nil {
		return Dubbing{}, err
	}
	if !(cutBack >= 0) || cutBack > maxOffset {
		return Dubbing{}, RefuseField(Invalid, "cut_back", "bad_value", "what may be cut back is 0 mm or more")
	}
	known := g.Known()
	if known == 0 {
		return Dubbing{}, RefuseField(Invalid, "grid", "too_few", "no point was taken")
	}
	proud := math.Inf(-1)
	g.each(func(c, r int, v float64) { proud = max(proud, v-plane.At(float64(c)*g.DX, float64(r)*g.DZ)) })
	d := Dubbing{Target: plane, Thickness: make([]float64, len(g.Offsets))}
	d.Target.Offset += proud - cutBack
	for i := range d.Thickness {
		d.Thickness[i] = math.NaN()
	}
	g.each(func(c, r int, v float64) {
		t := d.Target.At(float64(c)*g.DX, float64(r)*g.DZ) - v
		d.Thickness[r*g.Columns+c] = t
		d.Greatest, d.CutBack = max(d.Greatest, t), max(d.CutBack, -t)
		d.Mean += max(t, 0) / float64(known)
	})
	d.fill(g)
	return d, nil
}

// fill adds up the cells, each with the mean thickness of its corners.
func (d *Dubbing) fill(g Grid) {
	cell := g.DX * g.DZ
	for r := range g.Rows - 1 {
		for c := range g.Columns - 1 {
			i := r*g.Columns + c
			var sum float64
			for _, k := range [4]int{i, i + 1, i + g.Columns, i + g.Columns + 1} {
				sum += max(d.Thickness[k], 0) // NaN stays NaN
			}
			if math.IsNaN(sum) {
				d.CellsOut++
				continue
			}
			d.Area += cell
			d.Volume += sum / 4 / 1000 * cell
		}
	}
}
