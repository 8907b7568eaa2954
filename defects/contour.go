package defects

import "math"

// ContourPoint is a point on the wall in metres from the grid's bottom left.
type ContourPoint struct{ X, Z float64 }

// Contour is the lines of one level. A closed line repeats its first point.
type Contour struct {
	Level float64 // mm
	Lines [][]ContourPoint
}

// Contours draws the lines of equal offset at the levels by marching squares:
// straight across each cell, interpolated along its sides. A saddle is decided
// by the mean of its corners. A point at the level counts as above it. Cells
// with a missing corner are left open.
func (g Grid) Contours(levels ...float64) ([]Contour, error) {
	if err := g.Check(); err != nil {
		return nil, err
	}
	out := make([]Contour, len(levels))
	for i, level := range levels {
		if math.IsNaN(level) || math.IsInf(level, 0) {
			return nil, RefuseField(Invalid, "level", "bad_value", "a level must be a number")
		}
		out[i] = Contour{Level: level, Lines: g.contour(level)}
	}
	return out, nil
}

// side is a side of a cell: that from a point to the next in its row, or to the
// one above it.
type side struct {
	point  int
	upward bool
}

// contour walks the segments of all cells along the sides they share.
func (g Grid) contour(level float64) [][]ContourPoint {
	next := map[side][]side{}
	var order []side
	add := func(a, b side) {
		for _, s := range [2]side{a, b} {
			if next[s] == nil {
				order = append(order, s)
			}
		}
		next[a], next[b] = append(next[a], b), append(next[b], a)
	}
	for r := range g.Rows - 1 {
		for c := range g.Columns - 1 {
			g.cell(r*g.Columns+c, level, add)
		}
	}
	var lines [][]ContourPoint
	walk := func(from side) {
		path := []ContourPoint{g.crossingAt(from, level)}
		for at := from; len(next[at]) > 0; {
			to := next[at][0]
			drop(next, at, to)
			drop(next, to, at)
			path = append(path, g.crossingAt(to, level))
			at = to
		}
		if len(path) > 1 {
			lines = append(lines, path)
		}
	}
	for _, s := range order { // open lines begin at an end
		if len(next[s]) == 1 {
			walk(s)
		}
	}
	for _, s := range order {
		walk(s)
	}
	return lines
}

func drop(next map[side][]side, at, to side) {
	list := next[at]
	for i, s := range list {
		if s == to {
			next[at] = append(list[:i:i], list[i+1:]...)
			return
		}
	}
}

// cell tells the one or two segments that cross a cell.
func (g Grid) cell(i int, level float64, add func(a, b side)) {
	corners := [4]float64{g.Offsets[i], g.Offsets[i+1], g.Offsets[i+1+g.Columns], g.Offsets[i+g.Columns]}
	sides := [4]side{{i, false}, {i + 1, true}, {i + g.Columns, false}, {i, true}} // bottom, right, top, left
	var crossed []side
	var mean float64
	for k, v := range corners {
		if math.IsNaN(v) {
			return
		}
		mean += v / 4
		if (v >= level) != (corners[(k+1)%4] >= level) {
			crossed = append(crossed, sides[k])
		}
	}
	switch {
	case len(crossed) == 2:
		add(crossed[0], crossed[1])
	case len(crossed) == 4 && (corners[0] >= level) == (mean >= level):
		// Bottom left and top right join through the middle: cut off the others.
		add(crossed[0], crossed[1])
		add(crossed[2], crossed[3])
	case len(crossed) == 4:
		add(crossed[3], crossed[0])
		add(crossed[1], crossed[2])
	}
}

func (g Grid) crossingAt(s side, level float64) ContourPoint {
	to := s.point + 1
	if s.upward {
		to = s.point + g.Columns
	}
	a, b := g.Offsets[s.point], g.Offsets[to]
	t := (level - a) / (b - a)
	p := ContourPoint{float64(s.point%g.Columns) * g.DX, float64(s.point/g.Columns) * g.DZ}
	if s.upward {
		p.Z += t * g.DZ
	} else {
		p.X += t * g.DX
	}
	return p
}
