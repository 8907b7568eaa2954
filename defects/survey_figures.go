package defects

import "math"

// Straightedges are the lengths in metres that the largest gap is told for
// (common practice).
func Straightedges() []float64 { return []float64{1, 2, 4} }

// DubTarget is the plane that a wall is brought out to.
type DubTarget string

// The targets.
const (
	DubPlumb   DubTarget = "plumb"    // upright, turned on plan as the wall is
	DubBestFit DubTarget = "best-fit" // parallel to the best-fit plane
)

// DubTargets lists them; the first is the default.
func DubTargets() []DubTarget { return []DubTarget{DubPlumb, DubBestFit} }

// SurveyFigures is what a grid shows besides its verdict.
type SurveyFigures struct {
	Plane   *Plane // nil where the points allow none; Why says it
	Why     string
	Gaps    []Gap    // the largest one under each of Straightedges
	Dubbing *Dubbing // nil without a plane
}

// Figures works out plane, gaps, and packing or dubbing-out to a target with so
// many mm cut back. An unknown target is refused with code bad_value.
func (g Grid) Figures(target DubTarget, cutBack float64) (SurveyFigures, error) {
	var f SurveyFigures
	var err error
	if target != DubPlumb && target != DubBestFit {
		return f, RefuseField(Invalid, "target", "bad_value", "the target is plumb or best-fit")
	}
	if f.Gaps, err = g.LargestGaps(Straightedges()...); err != nil {
		return f, err
	}
	plane, err := g.Fit()
	if err != nil {
		f.Why = err.Error()
		return f, nil
	}
	f.Plane = &plane
	if target == DubPlumb {
		plane.Lean = 0
	}
	dub, err := g.DubOut(plane, cutBack)
	f.Dubbing = &dub
	return f, err
}

// mostContours bounds the lines of a drawing, so that they can be told apart.
const mostContours = 12

// ContourLevels chooses levels for the lines of a drawing: whole multiples of 1, 2
// or 5 mm and their tens, with 0 among them when it lies in the grid's range.
func (g Grid) ContourLevels() []float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	g.each(func(_, _ int, v float64) { lo, hi = min(lo, v), max(hi, v) })
	if !(hi > lo) {
		return nil
	}
	step := 1.0
	for i := 0; (hi-lo)/step > mostContours; i++ {
		step *= [3]float64{2, 2.5, 2}[i%3]
	}
	var out []float64
	for n := math.Ceil(lo / step); n*step <= hi; n++ {
		out = append(out, n*step)
	}
	return out
}
