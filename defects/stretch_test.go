package defects

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// southWall is the south face, 20 m long, of a box of 20 m by 10 m: its left end,
// as seen from outside, is its western one.
func southWall() (Scene, WallLine) {
	scene := NewScene([][][]XY{{{{-10, -5}, {10, -5}, {10, 5}, {-10, 5}}}})
	return scene, WallLine{Left: XY{-10, -5}, Right: XY{10, -5}, Faces: []int{0}, HeightM: 12, BaseLineM: 0.3}
}

func TestWhatAPictureTakesInIsTheGeometryWhereNothingErrs(t *testing.T) {
	t.Parallel()
	scene, wall := southWall()
	// 26 mm and 4:3 are 67.2987° by 53.0595° (fov-26-4000x3000). tan 33.6494° = 0.66564.
	for _, c := range []struct {
		name               string
		at                 XY
		heading, view      float64
		middle, from, upTo float64
	}{
		{"straight, 10 m off", XY{0, -15}, 0, 67.2987, 10, 10 - 6.6564, 10 + 6.6564},
		{"straight, 4 m off, left of the middle", XY{-4, -9}, 0, 67.2987, 6, 6 - 2.6626, 6 + 2.6626},
		{"20° to the right: 10·tan 20°, 10·tan(−13.6494°), 10·tan 53.6494°", XY{-6, -15}, 20, 67.2987, 4 + 3.6397, 4 - 2.4283, 4 + 13.5889},
		{"past the left end, which cuts it off", XY{-8, -15}, 0, 67.2987, 2, 0, 2 + 6.6564},
		{"past the right end", XY{8, -15}, 0, 67.2987, 18, 18 - 6.6564, 20},
		{"portrait: 10·tan 26.5298°", XY{0, -15}, 360, 53.0595, 10, 10 - 4.9922, 10 + 4.9922},
		{"the right edge sees along the wall and beyond", XY{0, -15}, 30, 130, 10 + 5.7735, 10 - 7.0021, 20},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, ok := scene.Stretch(Sighting{At: c.at, SigmaM: 0.001, Headed: true, HeadingDeg: c.heading, HeadingSigma: 0.01, ViewAcrossDeg: c.view}, wall)
			require.True(t, ok)
			for _, one := range []struct {
				span Span
				want float64
			}{{got.Middle, c.middle}, {*got.From, c.from}, {*got.To, c.upTo}} {
				assert.InDelta(t, one.want, one.span.Best, 0.005)
				assert.InDelta(t, one.want, one.span.Low, 0.02)
				assert.InDelta(t, one.want, one.span.High, 0.02)
			}
			assert.InDelta(t, 1, got.Hit, 1e-6)
			assert.Nil(t, got.Bottom, "the tilt is not known")
		})
	}
}

// With small errors the interval is that of the first-order law (JCGM 100:2008,
// 5.1.2): x = s + d·tan ψ, so u² = u(s)² + tan²ψ·u(d)² + (d/cos²ψ)²·u(ψ)².
func TestTheErrorOfAPicturesEdgesIsPropagated(t *testing.T) {
	t.Parallel()
	scene, wall := southWall()
	for _, c := range []struct{ pos, heading, view, turn float64 }{
		{0.2, 0.01, 0, 0},
		{0.001, 1, 0, 0},
		{0.001, 0.7, 1, 0},
		{0.15, 0.8, 0.6, 8},
		{0.15, 0.8, 0.6, -12},
	} {
		v := Sighting{
			At: XY{0, -13}, SigmaM: c.pos, Headed: true, HeadingDeg: wrap360(c.turn), HeadingSigma: c.heading,
			ViewAcrossDeg: 40, ViewSigma: c.view,
		}
		got, ok := scene.Stretch(v, wall)
		require.True(t, ok)
		for _, edge := range []struct {
			span        Span
			turn, sigma float64
		}{{got.Middle, c.turn, c.heading}, {*got.From, c.turn - 20, math.Hypot(c.heading, c.view/2)}, {*got.To, c.turn + 20, math.Hypot(c.heading, c.view/2)}} {
			psi := radians(edge.turn)
			u := math.Sqrt(c.pos*c.pos*(1+math.Pow(math.Tan(psi), 2)) + math.Pow(8/math.Pow(math.Cos(psi), 2)*radians(edge.sigma), 2))
			assert.InDelta(t, 10+8*math.Tan(psi), edge.span.Best, 0.02*u+0.005)
			assert.InEpsilon(t, 2*1.96*u, edge.span.High-edge.span.Low, 0.04, "%+v", c)
		}
	}
}

func TestHeightsFollowFromATilt(t *testing.T) {
	t.Parallel()
	scene, wall := southWall()
	v := Sighting{
		At: XY{0, -15}, SigmaM: 0.001, Headed: true, HeadingSigma: 0.01, ViewAcrossDeg: 67.2987, ViewDownDeg: 53.0595,
		Tilted: true, TiltDeg: 20, TiltSigma: 0.01,
	}
	got, ok := scene.Stretch(v, wall)
	require.True(t, ok)
	// Held 1.5 m above the ground, 1.2 m above the base line; tan(−6.5298°) = −0.11446, tan 46.5298° = 1.05487.
	assert.InDelta(t, 1.2-1.1446, got.Bottom.Best, 0.01)
	assert.InDelta(t, 1.2+10.5487, got.Top.Best, 0.01)
	assert.InDelta(t, 1.2-1.1446-0.3, got.Bottom.Low, 0.06, "cut off at the ground")
	// Tilted by 20°, the edges lie atan(tan 33.6494°/cos 20°) = 35.3122° to the sides.
	assert.InDelta(t, 10-7.0836, got.From.Best, 0.005)
	v.TiltDeg = 60
	got, ok = scene.Stretch(v, wall)
	require.True(t, ok)
	assert.Equal(t, Span{12, 12, 12}, Span{math.Round(got.Top.Low), math.Round(got.Top.Best), math.Round(got.Top.High)}, "above the top of the wall")
}

func TestWhatAPictureTakesInIsUnknownWithoutItsFacts(t *testing.T) {
	t.Parallel()
	scene, wall := southWall()
	v := Sighting{At: XY{0, -15}, SigmaM: 4, HeadingSigma: 15, ViewAcrossDeg: 60}
	_, ok := scene.Stretch(v, wall)
	assert.False(t, ok, "no heading")
	v.Headed, v.HeadingDeg = true, 180
	_, ok = scene.Stretch(v, wall)
	assert.False(t, ok, "it looked away")
	v.HeadingDeg, v.At = 0, XY{0, -300}
	_, ok = scene.Stretch(v, wall)
	assert.False(t, ok, "out of range")
	v.At, v.ViewAcrossDeg = XY{0, -15}, 0
	got, ok := scene.Stretch(v, wall)
	assert.True(t, ok)
	assert.Nil(t, got.From, "no angle of view")
	assert.Less(t, got.Middle.Low, got.Middle.Best)
	wall.Right = wall.Left
	_, ok = scene.Stretch(v, wall)
	assert.False(t, ok, "no wall")
}

// TestWhatAPictureTakesInAgreesWithCastingRays draws positions, headings, angles of
// view and tilts, follows the middle of the picture to the edge it meets first and,
// where that is the wall, lays all lines of sight on it.
func TestWhatAPictureTakesInAgreesWithCastingRays(t *testing.T) {
	t.Parallel()
	for seed := range uint64(8) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			rnd := rand.New(rand.NewPCG(seed, 5))
			site := randomSite(rnd, 1+int(seed)%4, 3)
			scene := NewScene(site)
			v := randomSighting(rnd, site)
			v.Headed, v.ViewAcrossDeg, v.ViewSigma, v.ViewDownDeg = true, 67.3, 0.6, 53.1
			v.Tilted, v.TiltDeg, v.TiltSigma = true, rnd.Float64()*30-5, 3
			face := scene.Posterior(v).Faces[0].Face
			f := scene.faces[face]
			wall := WallLine{Left: f.left, Right: f.right, Faces: []int{face}, HeightM: 9, BaseLineM: 0.15}
			got, ok := scene.Stretch(v, wall)
			require.True(t, ok)
			want, hit := castStretch(rnd, site, v, wall, face, 1_000_000)
			assert.InDelta(t, hit, got.Hit, 0.01)
			for i, span := range []Span{got.Middle, *got.From, *got.To, *got.Bottom, *got.Top} {
				assert.InDelta(t, want[i].Low, span.Low, 0.25, "%d low", i)
				assert.InDelta(t, want[i].Best, span.Best, 0.1, "%d best", i)
				assert.InDelta(t, want[i].High, span.High, 0.25, "%d high", i)
			}
		})
	}
}

func castStretch(rnd *rand.Rand, site [][][]XY, v Sighting, w WallLine, face, draws int) (want [5]Span, hit float64) {
	var edges [][2]XY
	for _, rings := range site {
		for _, ring := range rings {
			for i, a := range ring {
				edges = append(edges, [2]XY{a, ring[(i+1)%len(ring)]})
			}
		}
	}
	long := math.Hypot(w.Right.X-w.Left.X, w.Right.Y-w.Left.Y)
	var seen [5][]float64
	outside := 0
	for range draws {
		at := XY{v.At.X + v.SigmaM*rnd.NormFloat64(), v.At.Y + v.SigmaM*rnd.NormFloat64()}
		heading := v.HeadingDeg + v.HeadingSigma*rnd.NormFloat64()
		if indoors(site, at) {
			continue
		}
		outside++
		first, least := -1, math.Inf(1)
		for i, e := range edges {
			if s, u := meet(at, heading, e[0], e[1]); s > 0 && s < least && u >= 0 && u <= 1 {
				first, least = i, s
			}
		}
		if first != face || toSegment(edges[first][0], edges[first][1], at) > v.RangeM {
			continue
		}
		half := math.Atan(math.Tan(v.ViewAcrossDeg/2*math.Pi/180)/math.Cos(v.TiltDeg*math.Pi/180))*180/math.Pi + v.ViewSigma/2*rnd.NormFloat64()
		onWall := func(turn float64) float64 {
			s, u := meet(at, heading+turn, w.Left, w.Right)
			if s > 0 {
				return math.Max(0, math.Min(1, u)) * long
			}
			return map[bool]float64{true: long, false: 0}[turn > 0] // it looks along the wall and away
		}
		tilt, eye := v.TiltDeg+v.TiltSigma*rnd.NormFloat64(), 1.5+0.3*rnd.NormFloat64()-w.BaseLineM
		upWall := func(raise float64) float64 {
			angle := (tilt + raise) * math.Pi / 180
			if angle >= math.Pi/2 {
				return w.HeightM
			}
			return math.Max(-w.BaseLineM, math.Min(w.HeightM, eye+least*math.Tan(angle)))
		}
		for i, x := range []float64{onWall(0), onWall(-half), onWall(half), upWall(-v.ViewDownDeg / 2), upWall(v.ViewDownDeg / 2)} {
			seen[i] = append(seen[i], x)
		}
	}
	for i, list := range seen {
		slices.Sort(list)
		n := float64(len(list))
		want[i] = Span{list[int(0.025*n)], list[int(0.5*n)], list[int(0.975*n)]}
	}
	return want, float64(len(seen[0])) / float64(outside)
}

// meet gives how far along a line of sight, and at which part of an edge, the two
// meet: at + s·(sin, cos) = a + u·(b − a), by Cramer's rule.
func meet(at XY, bearing float64, a, b XY) (s, u float64) {
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	dx, dy := b.X-a.X, b.Y-a.Y
	det := cos*dx - sin*dy
	wx, wy := a.X-at.X, a.Y-at.Y
	return (wy*dx - wx*dy) / det, (sin*wy - cos*wx) / det
}

func BenchmarkStretch(b *testing.B) {
	scene, wall := southWall()
	v := Sighting{At: XY{0, -15}, SigmaM: 4, Headed: true, HeadingSigma: 15, ViewAcrossDeg: 67.3, ViewSigma: 0.6}
	for range b.N {
		scene.Stretch(v, wall)
	}
}
