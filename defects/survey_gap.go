package defects

import (
	"math"
	"slices"
)

// GridPoint is a place in a grid.
type GridPoint struct{ Column, Row int }

// Gap is the deepest point under a straightedge that lies on two high points.
type Gap struct {
	Depth    float64 // mm
	Base     float64 // m between the high points, what a flatness limit goes by
	From, To GridPoint
	At       GridPoint
}

// LargestGaps finds, for each length in metres, the largest gap under any
// straightedge of at most that length laid on two points of one row, column or
// diagonal. Points that were not taken are passed over. A position where the
// wall stands in front of the straightedge is no position: it would rock there.
// No gap is counted under a free end. A length without any gap has Depth 0.
func (g Grid) LargestGaps(lengths ...float64) ([]Gap, error) {
	for _, l := range lengths {
		if !(l > 0) || l > maxGridStep {
			return nil, RefuseField(Invalid, "length", "bad_value", "a straightedge is longer than 0 m and at most 100 m")
		}
	}
	found := make([]Gap, len(lengths))
	if len(lengths) == 0 {
		return found, g.Check()
	}
	err := g.gaps(slices.Max(lengths), func(gap Gap) {
		for i, l := range lengths {
			if gap.Base <= l+slackLength && gap.Depth > found[i].Depth {
				found[i] = gap
			}
		}
	})
	return found, err
}

// GapsByBase finds the largest gap for every base length up to longest, in
// ascending order: what a limit that grows with the base length is held against.
func (g Grid) GapsByBase(longest float64) ([]Gap, error) {
	if !(longest > 0) || longest > maxGridStep {
		return nil, RefuseField(Invalid, "length", "bad_value", "a straightedge is longer than 0 m and at most 100 m")
	}
	at := map[int64]int{}
	var found []Gap
	err := g.gaps(longest, func(gap Gap) {
		key := int64(math.Round(gap.Base * 1e6))
		i, known := at[key]
		if !known {
			at[key] = len(found)
			found = append(found, gap)
		} else if gap.Depth > found[i].Depth {
			found[i] = gap
		}
	})
	slices.SortFunc(found, func(a, b Gap) int {
		if a.Base < b.Base {
			return -1
		}
		return 1
	})
	return found, err
}

// slackLength lets 20 steps of 0.1 m count as 2 m.
const slackLength = 1e-9

// gaps tells every straightedge position with a gap, longest at most.
func (g Grid) gaps(longest float64, tell func(Gap)) error {
	if err := g.Check(); err != nil {
		return err
	}
	var l gridLine
	for row := range g.Rows {
		l.search(g, GridPoint{0, row}, 1, 0, longest, tell)
	}
	for column := range g.Columns {
		l.search(g, GridPoint{column, 0}, 0, 1, longest, tell)
		l.search(g, GridPoint{column, 0}, 1, 1, longest, tell)
		l.search(g, GridPoint{column, 0}, -1, 1, longest, tell)
	}
	for row := 1; row < g.Rows; row++ {
		l.search(g, GridPoint{0, row}, 1, 1, longest, tell)
		l.search(g, GridPoint{g.Columns - 1, row}, -1, 1, longest, tell)
	}
	return nil
}

// gridLine is one row, column or diagonal, its missing points left out; the
// slices are kept from line to line.
type gridLine struct {
	at    []GridPoint
	s, v  []float64 // metres along the line, offset in mm
	lower []int     // lower hull of the points after the first one
}

func (l *gridLine) search(g Grid, from GridPoint, dc, dr int, longest float64, tell func(Gap)) {
	l.at, l.s, l.v = l.at[:0], l.s[:0], l.v[:0]
	step := math.Hypot(float64(dc)*g.DX, float64(dr)*g.DZ)
	p := from
	for i := 0; p.Column >= 0 && p.Column < g.Columns && p.Row < g.Rows; i++ {
		if v := g.At(p.Column, p.Row); !math.IsNaN(v) {
			l.at, l.s, l.v = append(l.at, p), append(l.s, float64(i)*step), append(l.v, v)
		}
		p.Column, p.Row = p.Column+dc, p.Row+dr
	}
	for i := 0; i+2 < len(l.at); i++ {
		l.searchFrom(i, longest, tell)
	}
}

// searchFrom lays the straightedge on point i and on each later one that no
// point between them stands in front of. The deepest point below the chord is a
// corner of the lower hull of what lies between: the one where the hull turns
// from falling away from the chord to rising towards it.
func (l *gridLine) searchFrom(i int, longest float64, tell func(Gap)) {
	l.lower = l.lower[:0]
	steepest := math.Inf(-1)
	for j := i + 1; j < len(l.at) && l.s[j]-l.s[i] <= longest+slackLength; j++ {
		slope := (l.v[j] - l.v[i]) / (l.s[j] - l.s[i])
		if slope >= steepest && len(l.lower) > 0 {
			k := l.deepest(slope)
			if depth := l.v[i] + slope*(l.s[k]-l.s[i]) - l.v[k]; depth > 0 {
				tell(Gap{Depth: depth, Base: l.s[j] - l.s[i], From: l.at[i], To: l.at[j], At: l.at[k]})
			}
		}
		steepest = max(steepest, slope)
		l.push(j)
	}
}

// deepest is the hull corner farthest below a line of the slope.
func (l *gridLine) deepest(slope float64) int {
	lo, hi := 0, len(l.lower)-1
	for lo < hi {
		mid := (lo + hi) / 2
		a, b := l.lower[mid], l.lower[mid+1]
		if l.v[b]-l.v[a] < slope*(l.s[b]-l.s[a]) {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return l.lower[lo]
}

// push adds a point at the end of the lower hull.
func (l *gridLine) push(k int) {
	for n := len(l.lower); n >= 2; n = len(l.lower) {
		a, b := l.lower[n-2], l.lower[n-1]
		if (l.v[b]-l.v[a])*(l.s[k]-l.s[b]) < (l.v[k]-l.v[b])*(l.s[b]-l.s[a]) {
			break
		}
		l.lower = l.lower[:n-1]
	}
	l.lower = append(l.lower, k)
}
