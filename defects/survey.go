package defects

import (
	"fmt"
	"math"
)

const (
	maxGridPoints = 250_000
	maxOffset     = 10_000 // mm
	maxGridStep   = 100    // m
)

// Grid is a line and level survey of an elevation: how far each point of the
// wall lies in front of (+, towards the viewer) or behind (−) a reference plane,
// in mm. Points run row by row from the bottom left, as seen facing the wall; a
// point that was not taken is NaN. Steps are in metres.
type Grid struct {
	Columns, Rows int
	DX, DZ        float64
	Offsets       []float64
}

// At is the offset at a column and row, NaN for a missing point.
func (g Grid) At(column, row int) float64 { return g.Offsets[row*g.Columns+column] }

// Check refuses a grid that is none, with code bad_grid.
func (g Grid) Check() error {
	step := func(d float64) bool { return d > 0 && d <= maxGridStep }
	why := ""
	switch {
	case g.Columns < 1 || g.Rows < 1 || g.Columns > maxGridPoints || g.Rows > maxGridPoints || g.Columns*g.Rows > maxGridPoints:
		why = fmt.Sprintf("a grid has 1 to %d points", maxGridPoints)
	case len(g.Offsets) != g.Columns*g.Rows:
		why = fmt.Sprintf("%d × %d points need as many offsets, not %d", g.Columns, g.Rows, len(g.Offsets))
	case !step(g.DX) || !step(g.DZ):
		why = "the steps of a grid are above 0 m and at most 100 m"
	}
	for _, v := range g.Offsets {
		if math.Abs(v) > maxOffset || math.IsInf(v, 0) {
			why = "an offset lies within 10 m"
		}
	}
	if why == "" {
		return nil
	}
	return RefuseField(Invalid, "grid", "bad_grid", why)
}

// Known is the number of points that were taken.
func (g Grid) Known() int {
	n := 0
	for _, v := range g.Offsets {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// Plane is what a wall does on the whole, by ordinary least squares of the
// offsets on position, with x and z in metres from the bottom left point.
type Plane struct {
	Offset float64 // mm at the bottom left
	Turn   float64 // mm per metre along the wall: turned on plan
	Lean   float64 // mm per metre of height: out of plumb, + outwards
	Twist  float64 // mm over the whole grid: how far the right end leans more than the left
	RMS    float64 // mm, of the residuals about the plane without twist
	Points int
}

// MethodPlane names the way Fit works, for a report.
const MethodPlane = "ordinary least squares of the offsets on x and z; twist from a second fit with the term x·z"

// At is the plane's offset at x and z.
func (p Plane) At(x, z float64) float64 { return p.Offset + p.Turn*x + p.Lean*z }

// About gives the same points with their offsets from a plane of the survey,
// instead of from its reference.
func (g Grid) About(p Plane) Grid {
	from := g
	from.Offsets = make([]float64, len(g.Offsets))
	for i, v := range g.Offsets { // a point not taken stays NaN
		from.Offsets[i] = v - p.At(float64(i%g.Columns)*g.DX, float64(i/g.Columns)*g.DZ)
	}
	return from
}

// Fit finds the best-fit plane and the twist. At least three points that are not
// in line are needed, else it is refused with code too_few or in_line. Without
// four corners' worth of points the twist is NaN.
func (g Grid) Fit() (Plane, error) {
	if err := g.Check(); err != nil {
		return Plane{}, err
	}
	p := Plane{Points: g.Known(), Twist: math.NaN()}
	if p.Points < 3 {
		return Plane{}, RefuseField(Invalid, "grid", "too_few", "a plane needs at least 3 points")
	}
	// Positions run from −1 to 1, which keeps the equations well away from
	// singular whatever the size of the wall.
	width, height := float64(g.Columns-1)*g.DX, float64(g.Rows-1)*g.DZ
	if width == 0 || height == 0 {
		return Plane{}, inLine()
	}
	flat, ok := g.leastSquares(3)
	if !ok {
		return Plane{}, inLine()
	}
	p.Turn, p.Lean = 2*flat[1]/width, 2*flat[2]/height
	p.Offset = flat[0] - flat[1] - flat[2]
	if warped, ok := g.leastSquares(4); ok {
		p.Twist = 4 * warped[3]
	}
	var squares float64
	g.each(func(column, row int, v float64) {
		r := v - p.At(float64(column)*g.DX, float64(row)*g.DZ)
		squares += r * r
	})
	p.RMS = math.Sqrt(squares / float64(p.Points))
	return p, nil
}

func inLine() error {
	return RefuseField(Invalid, "grid", "in_line", "the points lie in one line; a plane needs some beside it")
}

// each calls f for every point that was taken.
func (g Grid) each(f func(column, row int, v float64)) {
	for i, v := range g.Offsets {
		if !math.IsNaN(v) {
			f(i%g.Columns, i/g.Columns, v)
		}
	}
}

// leastSquares solves for the first n of 1, x, z, x·z on positions from −1 to 1.
func (g Grid) leastSquares(n int) ([4]float64, bool) {
	var m [4][5]float64
	g.each(func(column, row int, v float64) {
		x := 2*float64(column)/float64(g.Columns-1) - 1
		z := 2*float64(row)/float64(g.Rows-1) - 1
		terms := [4]float64{1, x, z, x * z}
		for i := range n {
			for j := range n {
				m[i][j] += terms[i] * terms[j]
			}
			m[i][4] += terms[i] * v
		}
	})
	return solveSquare(m, n)
}

// solveSquare is Gauss elimination with pivoting; false for a singular system.
func solveSquare(m [4][5]float64, n int) (out [4]float64, ok bool) {
	scale := m[0][0]
	for c := range n {
		best := c
		for r := c + 1; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if math.Abs(m[c][c]) <= 1e-12*scale {
			return out, false
		}
		for r := c + 1; r < n; r++ {
			f := m[r][c] / m[c][c]
			for k := c; k < 5; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	for c := n - 1; c >= 0; c-- {
		out[c] = m[c][4]
		for k := c + 1; k < n; k++ {
			out[c] -= m[c][k] * out[k]
		}
		out[c] /= m[c][c]
	}
	return out, true
}

// LevelDeviation is the departure of the middle of three points, one grid step
// apart, from the line through its neighbours: z2 − (z1 + z3)/2, over a base of
// two steps (the level-grid method of DIN 18202; read in secondary texts). It
// may differ from what a straightedge gives.
func LevelDeviation(z1, z2, z3 float64) float64 { return z2 - (z1+z3)/2 }

// RockedBulge is the reading of a bulge: the straightedge is rocked until both
// end gaps are about equal, and their mean is taken (SIA measuring rule, read in
// a secondary text).
func RockedBulge(left, right float64) float64 { return (left + right) / 2 }
