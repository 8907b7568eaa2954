package defects

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

func gridOf(columns, rows int, dx, dz float64, f func(x, z float64) float64) Grid {
	g := Grid{Columns: columns, Rows: rows, DX: dx, DZ: dz}
	for r := range rows {
		for c := range columns {
			g.Offsets = append(g.Offsets, f(float64(c)*dx, float64(r)*dz))
		}
	}
	return g
}

// rough is a wall with bumps and missing points, the same one for a seed.
func rough(seed uint64, columns, rows int, missing float64) Grid {
	rng := rand.New(rand.NewPCG(seed, 7))
	return gridOf(columns, rows, 0.25, 0.2, func(x, z float64) float64 {
		if rng.Float64() < missing {
			return math.NaN()
		}
		return 4*math.Sin(x) + 3*math.Cos(2*z) + 2*rng.NormFloat64()
	})
}

// bruteGap tries every pair of points of a line and every point between.
func bruteGap(g Grid, length float64) float64 {
	deepest := 0.0
	for c := range g.Columns {
		for r := range g.Rows {
			for _, d := range []GridPoint{{1, 0}, {0, 1}, {1, 1}, {-1, 1}} {
				for n := 2; ; n++ {
					to := GridPoint{c + n*d.Column, r + n*d.Row}
					base := float64(n) * math.Hypot(float64(d.Column)*g.DX, float64(d.Row)*g.DZ)
					if to.Column < 0 || to.Column >= g.Columns || to.Row >= g.Rows || base > length+1e-9 {
						break
					}
					for k := 1; k < n; k++ {
						t := float64(k) / float64(n)
						chord := (1-t)*g.At(c, r) + t*g.At(to.Column, to.Row)
						if gap := chord - g.At(c+k*d.Column, r+k*d.Row); gap > deepest { // NaN never is
							deepest = gap
						}
					}
				}
			}
		}
	}
	return deepest
}

func TestTheLargestGapIsWhatTryingEveryPositionFinds(t *testing.T) {
	t.Parallel()
	for seed := range uint64(12) {
		g := rough(seed, 9+int(seed), 20-int(seed), float64(seed%3)*0.15)
		gaps, err := g.LargestGaps(1, 2, 4)
		require.NoError(t, err)
		for i, length := range []float64{1, 2, 4} {
			require.InDelta(t, bruteGap(g, length), gaps[i].Depth, 1e-9, "seed %d, %v m", seed, length)
			found := gaps[i]
			require.LessOrEqual(t, found.Base, length+1e-9)
			// The place told has the depth told.
			n := max(abs(found.To.Column-found.From.Column), abs(found.To.Row-found.From.Row))
			k := max(abs(found.At.Column-found.From.Column), abs(found.At.Row-found.From.Row))
			f := float64(k) / float64(n)
			chord := (1-f)*g.At(found.From.Column, found.From.Row) + f*g.At(found.To.Column, found.To.Row)
			require.InDelta(t, found.Depth, chord-g.At(found.At.Column, found.At.Row), 1e-9)
		}
		byBase, err := g.GapsByBase(4)
		require.NoError(t, err)
		require.True(t, slices.IsSortedFunc(byBase, func(a, b Gap) int { return int(math.Copysign(1, a.Base-b.Base)) }))
		deepest := slices.MaxFunc(byBase, func(a, b Gap) int { return int(math.Copysign(1, a.Depth-b.Depth)) })
		require.InDelta(t, gaps[2].Depth, deepest.Depth, 1e-12)
	}
}

func abs(n int) int { return max(n, -n) }

func TestALevelGridOfThreePoints(t *testing.T) {
	t.Parallel()
	for _, v := range toleranceVectors(t, "din18202-grid-") {
		var z []float64
		v.input(t, "z_mm", &z)
		var want float64
		v.expect(t, &want)
		require.InDelta(t, want, LevelDeviation(z[0], z[1], z[2]), v.Within, "%s", v)
		g := Grid{Columns: 3, Rows: 1, DX: v.decimal(t, "grid_m").Float(), DZ: 1, Offsets: z}
		gaps, err := g.LargestGaps(1, 2)
		require.NoError(t, err)
		require.Zero(t, gaps[0].Depth, "two points under 1 m have nothing between them")
		require.Equal(t, Gap{Depth: -want, Base: 2, To: GridPoint{2, 0}, At: GridPoint{1, 0}}, gaps[1])
	}
	for _, v := range toleranceVectors(t, "sia266-convex") {
		var ends []float64
		v.input(t, "end_gaps_mm", &ends)
		var want float64
		v.expect(t, &want)
		require.InDelta(t, want, RockedBulge(ends[0], ends[1]), v.Within, "%s", v)
	}
}

func TestAStraightedgeRestsOnHighPointsOnly(t *testing.T) {
	t.Parallel()
	// A bulge has nothing under the straightedge between its high points.
	g := Grid{Columns: 5, Rows: 1, DX: 0.5, DZ: 1, Offsets: []float64{0, 3, 4, 3, 0}}
	gaps, err := g.LargestGaps(2)
	require.NoError(t, err)
	require.Zero(t, gaps[0].Depth)
	// Beside a peak it rests on the peak: the base is 1 m, not 2 m.
	g.Offsets = []float64{0, 0, 5, 0, 5}
	gaps, err = g.LargestGaps(2)
	require.NoError(t, err)
	require.Equal(t, Gap{Depth: 5, Base: 1, From: GridPoint{2, 0}, To: GridPoint{4, 0}, At: GridPoint{3, 0}}, gaps[0])
	// A missing point leaves a gap in the search, not a guess.
	g.Offsets[3] = math.NaN()
	gaps, err = g.LargestGaps(2)
	require.NoError(t, err)
	require.NotEqual(t, 3, gaps[0].At.Column)
}

func TestABestFitPlaneFindsLeanTurnAndTwist(t *testing.T) {
	t.Parallel()
	g := gridOf(11, 6, 1, 0.5, func(x, z float64) float64 { return 3 + 0.5*x - 2*z })
	p, err := g.Fit()
	require.NoError(t, err)
	require.InDelta(t, 3, p.Offset, 1e-9)
	require.InDelta(t, 0.5, p.Turn, 1e-9)
	require.InDelta(t, -2, p.Lean, 1e-9)
	require.InDelta(t, 0, p.Twist, 1e-9)
	require.InDelta(t, 0, p.RMS, 1e-9)

	// Missing points change nothing of an exact plane; a twist of 12 mm over 10 × 2.5 m.
	g = gridOf(11, 6, 1, 0.5, func(x, z float64) float64 { return 1 + z + 12*x*z/25 })
	g.Offsets[3], g.Offsets[40] = math.NaN(), math.NaN()
	p, err = g.Fit()
	require.NoError(t, err)
	require.InDelta(t, 12, p.Twist, 1e-9)
	require.Equal(t, 64, p.Points)

	three := Grid{Columns: 2, Rows: 2, DX: 1, DZ: 1, Offsets: []float64{0, 1, 2, math.NaN()}}
	p, err = three.Fit()
	require.NoError(t, err)
	require.InDelta(t, 2, p.Lean, 1e-12)
	require.True(t, math.IsNaN(p.Twist))
}

func TestASurveyRefusesWhatIsNoGrid(t *testing.T) {
	t.Parallel()
	ok := Grid{Columns: 2, Rows: 2, DX: 1, DZ: 1, Offsets: []float64{0, 0, 0, 0}}
	for name, change := range map[string]func(*Grid){
		"no rows":     func(g *Grid) { g.Rows = 0 },
		"too many":    func(g *Grid) { g.Columns, g.Rows = 1<<40, 1<<40 },
		"wrong count": func(g *Grid) { g.Offsets = g.Offsets[1:] },
		"no step":     func(g *Grid) { g.DX = 0 },
		"NaN step":    func(g *Grid) { g.DZ = math.NaN() },
		"infinite":    func(g *Grid) { g.Offsets = []float64{0, 0, 0, math.Inf(1)} },
		"far away":    func(g *Grid) { g.Offsets = []float64{0, 0, 0, 20_000} },
	} {
		g := ok
		change(&g)
		require.ErrorIs(t, g.Check(), Invalid, name)
		_, err := g.Fit()
		require.ErrorIs(t, err, Invalid, name)
		_, err = g.LargestGaps(1)
		require.ErrorIs(t, err, Invalid, name)
		_, err = g.DubOut(Plane{}, 0)
		require.ErrorIs(t, err, Invalid, name)
		_, err = g.Contours(1)
		require.ErrorIs(t, err, Invalid, name)
	}
	none := math.NaN()
	for _, offsets := range [][]float64{{none, none, none, none}, {0, 1, none, none}} {
		g := ok
		g.Offsets = offsets
		_, err := g.Fit()
		require.ErrorIs(t, err, Invalid)
	}
	line := Grid{Columns: 3, Rows: 1, DX: 1, DZ: 1, Offsets: []float64{0, 1, 2}}
	_, err := line.Fit()
	require.ErrorIs(t, err, Invalid)
	diagonal := gridOf(3, 3, 1, 1, func(x, z float64) float64 {
		if x != z {
			return math.NaN()
		}
		return x
	})
	_, err = diagonal.Fit()
	require.ErrorIs(t, err, Invalid)
	for _, length := range []float64{0, -1, math.NaN(), 1000} {
		_, err = ok.LargestGaps(length)
		require.ErrorIs(t, err, Invalid)
		_, err = ok.GapsByBase(length)
		require.ErrorIs(t, err, Invalid)
	}
	_, err = ok.DubOut(Plane{}, -1)
	require.ErrorIs(t, err, Invalid)
	_, err = ok.Contours(math.NaN())
	require.ErrorIs(t, err, Invalid)
}

func TestDubbingOutBringsTheWallToThePlane(t *testing.T) {
	t.Parallel()
	// A hollow 10 mm deep in the middle of 2 × 2 m: a pyramid of 4·10/3 litres.
	g := Grid{Columns: 3, Rows: 3, DX: 1, DZ: 1, Offsets: []float64{0, 0, 0, 0, -10, 0, 0, 0, 0}}
	d, err := g.DubOut(Plane{}, 0)
	require.NoError(t, err)
	require.Equal(t, 10.0, d.Greatest)
	require.InDelta(t, 10.0/9, d.Mean, 1e-12)
	require.InDelta(t, 4, d.Area, 1e-12)
	require.InDelta(t, 0.010, d.Volume, 1e-12, "four cells, each with a quarter of 10 mm")
	require.Zero(t, d.CutBack)

	g.Offsets[0] = 4 // a proud corner either lifts the plane or is cut back
	d, err = g.DubOut(Plane{}, 0)
	require.NoError(t, err)
	require.Equal(t, 14.0, d.Greatest)
	require.Equal(t, 0.0, d.Thickness[0])
	d, err = g.DubOut(Plane{}, 4)
	require.NoError(t, err)
	require.Equal(t, 10.0, d.Greatest)
	require.Equal(t, 4.0, d.CutBack)
	require.Equal(t, -4.0, d.Thickness[0])

	g.Offsets[8] = math.NaN()
	d, err = g.DubOut(Plane{}, 4)
	require.NoError(t, err)
	require.Equal(t, 1, d.CellsOut)
	require.InDelta(t, 3, d.Area, 1e-12)
	require.True(t, math.IsNaN(d.Thickness[8]))
}

func TestASurveyIsJudgedByBaseLengthAndColumn(t *testing.T) {
	t.Parallel()
	l := compiled(t, line6(), Limit{Quantity: "plumb", Kind: FixedLimit, Lower: exact("-8"), Upper: exact("8")})
	// Job J25: 6 mm over 1 m fails line 6, over 2 m it passes (7).
	over1 := Grid{Columns: 3, Rows: 1, DX: 0.5, DZ: 1, Offsets: []float64{0, -6, 0}}
	v, err := JudgeSurvey(over1, Input{}, 4, []*Limits{l}, Simple, Decimal{})
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome)
	over1.DX = 1
	v, err = JudgeSurvey(over1, Input{}, 4, []*Limits{l}, Simple, Decimal{})
	require.NoError(t, err)
	require.Equal(t, Pass, v.Outcome)
	require.Len(t, v.Flatness, 1)
	require.Equal(t, "7", v.Flatness[0].Verdict.Upper.String())

	lean := gridOf(2, 3, 1, 1.25, func(x, z float64) float64 { return 4 * z * x })
	lean.Offsets[3] = math.NaN()
	v, err = JudgeSurvey(lean, Input{Expanded: exact("1")}, 2, []*Limits{l}, FourWay, Decimal{})
	require.NoError(t, err)
	require.Equal(t, Fail, v.Outcome, "10 mm over a storey against 8")
	require.Equal(t, []Outcome{Pass, Fail}, []Outcome{v.Plumb[0].Verdict.Outcome, v.Plumb[1].Verdict.Outcome})
	require.Equal(t, []GridPoint{{1, 0}, {1, 2}}, v.Plumb[1].Ends)
	require.Equal(t, "2.500000", v.Plumb[1].Input.BaseLength.String())
	require.Equal(t, 1, v.Missing)

	point := Grid{Columns: 1, Rows: 1, DX: 1, DZ: 1, Offsets: []float64{0}}
	v, err = JudgeSurvey(point, Input{}, 2, []*Limits{l}, Simple, Decimal{})
	require.NoError(t, err)
	require.Equal(t, NoVerdict, v.Outcome)
}

func TestContoursOfACone(t *testing.T) {
	t.Parallel()
	g := gridOf(81, 81, 0.05, 0.05, func(x, z float64) float64 { return 10 - 10*math.Hypot(x-2, z-2) })
	list, err := g.Contours(0, 5, 99)
	require.NoError(t, err)
	for i, radius := range []float64{1, 0.5} {
		require.Len(t, list[i].Lines, 1)
		line := list[i].Lines[0]
		require.Equal(t, line[0], line[len(line)-1], "closed")
		for _, p := range line {
			require.InDelta(t, radius, math.Hypot(p.X-2, p.Z-2), 0.002)
		}
		require.Greater(t, len(line), 30)
	}
	require.Empty(t, list[2].Lines)
}

func TestContoursRunToTheEdgeAndAroundMissingPoints(t *testing.T) {
	t.Parallel()
	g := gridOf(5, 4, 1, 1, func(x, _ float64) float64 { return x })
	list, err := g.Contours(1.5)
	require.NoError(t, err)
	require.Equal(t, [][]ContourPoint{{{1.5, 0}, {1.5, 1}, {1.5, 2}, {1.5, 3}}}, list[0].Lines)
	g.Offsets[1*5+1] = math.NaN()
	list, err = g.Contours(1.5)
	require.NoError(t, err)
	require.Equal(t, [][]ContourPoint{{{1.5, 2}, {1.5, 3}}}, list[0].Lines)

	// A saddle is cut as its mean says.
	saddle := Grid{Columns: 2, Rows: 2, DX: 1, DZ: 1, Offsets: []float64{10, 0, 0, 8}}
	list, err = saddle.Contours(4, 5)
	require.NoError(t, err)
	require.Len(t, list[0].Lines, 2)
	require.ElementsMatch(t, [][]ContourPoint{{{0.6, 0}, {1, 0.5}}, {{0.5, 1}, {0, 0.6}}}, list[0].Lines)
	require.Len(t, list[1].Lines, 2)
	require.ElementsMatch(t, [][]ContourPoint{{{0, 0.5}, {0.5, 0}}, {{1, 0.625}, {0.625, 1}}}, list[1].Lines)
	// At a level that is a corner's own the line runs through it once.
	flat := Grid{Columns: 3, Rows: 2, DX: 1, DZ: 1, Offsets: []float64{0, 1, 2, 0, 1, 2}}
	list, err = flat.Contours(1)
	require.NoError(t, err)
	require.Equal(t, [][]ContourPoint{{{1, 0}, {1, 1}}}, list[0].Lines)
}

func BenchmarkSurveyGaps(b *testing.B) {
	g := rough(1, 100, 100, 0.05)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := g.LargestGaps(1, 2, 4); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/survey(hold:1)")
}
