package defects

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// faceVector is the inputs of one "face-…" entry of method-vectors.json.
type faceVector struct {
	Footprint [][2]float64 `json:"footprint_ENU_m"`
	Camera    [2]float64   `json:"camera_EN_m"`
	Sigma     float64      `json:"sigma_axis_m"`
	Heading   float64      `json:"heading_true_deg"`
	HSigma    float64      `json:"sigma_heading_deg"`
	View      float64      `json:"hfov_deg"`
}

func (v faceVector) ask(t *testing.T) (Scene, Posterior) {
	t.Helper()
	var ring []XY
	for _, p := range v.Footprint {
		ring = append(ring, XY{X: p[0], Y: p[1]})
	}
	scene := NewScene([][][]XY{{ring}})
	return scene, scene.Posterior(Sighting{
		At: XY{X: v.Camera[0], Y: v.Camera[1]}, SigmaM: v.Sigma,
		Headed: true, HeadingDeg: v.Heading, HeadingSigma: v.HSigma,
		ViewAcrossDeg: v.View, RangeM: 1000,
	})
}

func TestTheChanceOfEachFaceAgreesWithFineQuadrature(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "face-") {
		t.Run(v.ID, func(t *testing.T) {
			t.Parallel()
			var in faceVector
			require.NoError(t, json.Unmarshal(v.Inputs, &in))
			var want struct {
				A, B    []float64
				Hit     float64 `json:"p_hit"`
				Outside float64 `json:"p_outside"`
				Verdict string
			}
			require.NoError(t, json.Unmarshal(v.Expected, &want))
			_, got := in.ask(t)
			if want.Verdict != "" {
				assert.Empty(t, got.Faces, "no face")
				assert.Less(t, got.Hit, 0.001)
				return
			}
			p, share := make([]float64, 4), make([]float64, 4)
			for _, f := range got.Faces {
				p[f.Face], share[f.Face] = f.P, f.Share
			}
			const tolerance = 0.01 // the vectors' own
			assert.InDeltaSlice(t, want.A, p, tolerance)
			assert.InDeltaSlice(t, want.B, share, tolerance)
			assert.InDelta(t, want.Hit, got.Hit, tolerance)
			assert.InDelta(t, want.Outside, got.Outside, tolerance)
		})
	}
}

// TestTheChanceOfEachFaceAgreesWithCastingRays draws positions and headings and
// follows each line of sight with code of its own: winding numbers for indoors,
// and the distance along the ray to every edge.
func TestTheChanceOfEachFaceAgreesWithCastingRays(t *testing.T) {
	t.Parallel()
	for seed := range uint64(10) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			rnd := rand.New(rand.NewPCG(seed, 2026))
			site := randomSite(rnd, 1+int(seed)%4, 3)
			scene := NewScene(site)
			v := randomSighting(rnd, site)
			got := scene.Posterior(v)
			want, hit := castRays(rnd, site, v, 1_000_000)
			p := make([]float64, len(want))
			for _, f := range got.Faces {
				p[f.Face] = f.P
			}
			assert.InDelta(t, hit, got.Hit, 0.01)
			assert.Greater(t, hit, 0.05, "a scene that shows something")
			assert.InDeltaSlice(t, want, p, 0.01)
		})
	}
}

// randomSite lays n buildings on a grid, each turned, of the first so many of
// these shapes: boxes, L-shapes and boxes round a courtyard.
func randomSite(rnd *rand.Rand, n, shapes int) [][][]XY {
	var site [][][]XY
	for i := range n {
		w, d := 8+rnd.Float64()*14, 7+rnd.Float64()*8
		box := []XY{{-w, -d}, {w, -d}, {w, d}, {-w, d}}
		rings := [][]XY{box}
		switch rnd.IntN(shapes) {
		case 1:
			rings = [][]XY{{{-w, -d}, {w, -d}, {w, 0}, {0, 0}, {0, d}, {-w, d}}}
		case 2:
			rings = append(rings, []XY{{-w / 2, -d / 2}, {-w / 2, d / 2}, {w / 2, d / 2}, {w / 2, -d / 2}})
		}
		turn, at := rnd.Float64()*math.Pi, XY{float64(i%3) * 52, float64(i/3) * 52}
		for r, ring := range rings {
			for k, p := range ring {
				sin, cos := math.Sincos(turn)
				rings[r][k] = XY{at.X + p.X*cos - p.Y*sin, at.Y + p.X*sin + p.Y*cos}
			}
		}
		site = append(site, rings)
	}
	return site
}

// randomSighting stands somewhere about the first building and looks roughly at
// its middle.
func randomSighting(rnd *rand.Rand, site [][][]XY) Sighting {
	aim := site[0][0][0]
	for {
		bearing, far := rnd.Float64()*360, 12+rnd.Float64()*20
		away := towards(bearing)
		v := Sighting{
			At:     XY{aim.X + far*away.X, aim.Y + far*away.Y},
			SigmaM: 2.5 + rnd.Float64()*6, Headed: rnd.IntN(4) > 0,
			HeadingDeg: wrap360(bearing + 180 + rnd.NormFloat64()*20), HeadingSigma: 5 + rnd.Float64()*30,
			RangeM: 45,
		}
		if !indoors(site, v.At) {
			return v
		}
	}
}

// castRays gives each face's share of the hits, and the share of rays that hit.
func castRays(rnd *rand.Rand, site [][][]XY, v Sighting, draws int) (share []float64, hit float64) {
	type edge struct{ a, b XY }
	var edges []edge
	for _, rings := range site {
		for _, ring := range rings {
			for i, a := range ring {
				edges = append(edges, edge{a, ring[(i+1)%len(ring)]})
			}
		}
	}
	share = make([]float64, len(edges))
	outside, hits := 0, 0.0
	for range draws {
		at := XY{v.At.X + v.SigmaM*rnd.NormFloat64(), v.At.Y + v.SigmaM*rnd.NormFloat64()}
		heading := rnd.Float64() * 2 * math.Pi
		if v.Headed {
			heading = (v.HeadingDeg + v.HeadingSigma*rnd.NormFloat64()) * math.Pi / 180
		}
		if indoors(site, at) {
			continue
		}
		outside++
		sin, cos := math.Sincos(heading)
		first, least := -1, math.Inf(1)
		for i, e := range edges {
			// at + t·(sin, cos) = a + u·(b − a), by Cramer's rule
			dx, dy := e.b.X-e.a.X, e.b.Y-e.a.Y
			det := cos*dx - sin*dy
			wx, wy := e.a.X-at.X, e.a.Y-at.Y
			s, u := (wy*dx-wx*dy)/det, (sin*wy-cos*wx)/det
			if s > 0 && s < least && u >= 0 && u <= 1 {
				first, least = i, s
			}
		}
		if first < 0 || toSegment(edges[first].a, edges[first].b, at) > v.RangeM {
			continue
		}
		hits++
		share[first]++
	}
	for i := range share {
		share[i] /= hits
	}
	return share, hits / float64(outside)
}

// toSegment is a point's distance from a segment.
func toSegment(a, b, p XY) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	u := math.Max(0, math.Min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/(dx*dx+dy*dy)))
	return math.Hypot(a.X+u*dx-p.X, a.Y+u*dy-p.Y)
}

// indoors counts, building by building, the edges straight above a point.
func indoors(site [][][]XY, p XY) bool {
	for _, rings := range site {
		above := 0
		for _, ring := range rings {
			for i, a := range ring {
				b := ring[(i+1)%len(ring)]
				low, high := math.Min(a.X, b.X), math.Max(a.X, b.X)
				if low <= p.X && p.X < high && a.Y+(b.Y-a.Y)*(p.X-a.X)/(b.X-a.X) > p.Y {
					above++
				}
			}
		}
		if above%2 == 1 {
			return true
		}
	}
	return false
}

func TestTheAngleOfViewGoesByTheDiagonal(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "fov-") {
		var in struct {
			F35  float64 `json:"f35"`
			W, H int
		}
		if strings.Contains(v.ID, "exiftool") {
			continue // another rule, of the film's width
		}
		var want [2]float64
		v.read(t, &in, &want)
		across, down := AngleOfView(in.F35, in.W, in.H)
		assert.InDelta(t, want[0], across, 1e-4, v.ID)
		assert.InDelta(t, want[1], down, 1e-4, v.ID)
	}
	for _, unknown := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		across, down := AngleOfView(unknown, 4000, 3000)
		assert.Zero(t, across+down)
	}
}

// TestTheRightFaceComesFirst draws sites of boxes and photos with the errors phones have
// near walls, and compares with going to the nearest wall. The figures to hold
// are 0.91 and 0.14; a full Monte-Carlo answer reaches 0.92 and 0.128.
func TestTheRightFaceComesFirst(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(2026, 11))
	const photos = 1500
	right, nearest, brier := 0, 0, 0.0
	for range photos {
		site := randomSite(rnd, 4, 1)
		scene := NewScene(site)
		v, truth := photographed(rnd, scene, site)
		got := scene.Posterior(v)
		right += first(got, truth)
		if nearestFace(scene, v.At) == truth {
			nearest++
		}
		brier += brierOf(got, truth)
	}
	t.Logf("first %.3f, nearest wall %.3f, Brier %.3f", float64(right)/photos, float64(nearest)/photos, brier/photos)
	assert.GreaterOrEqual(t, float64(right)/photos, 0.91)
	assert.LessOrEqual(t, brier/photos, 0.14)
	assert.Greater(t, right, nearest)
}

// photographed stands a camera in front of a face, looking at it, and gives
// what the phone says of that.
func photographed(rnd *rand.Rand, scene Scene, site [][][]XY) (Sighting, int) {
	for {
		truth := rnd.IntN(len(scene.faces))
		f := scene.faces[truth]
		along := sub(f.right, f.left)
		u, far := rnd.Float64(), 3+rnd.Float64()*17
		aim := XY{f.left.X + u*along.X, f.left.Y + u*along.Y}
		off := bearingOf(along) + 90 + (rnd.Float64()-0.5)*70
		away := towards(off)
		at := XY{aim.X + far*away.X, aim.Y + far*away.Y}
		look := newPanorama(scene, scene.within(at, 60), 60, 0)
		if indoors(site, at) {
			continue
		}
		heading, seen := wrap360(off+180), -1
		for _, part := range look.from(at) {
			if d := math.Remainder(heading, 360); d >= part.from && d <= part.to {
				seen = part.face
			}
		}
		if seen != truth {
			continue // something stands between
		}
		sigma := 2.5 + rnd.Float64()*3.5
		return Sighting{
			At:     XY{at.X + sigma*rnd.NormFloat64(), at.Y + sigma*rnd.NormFloat64()},
			SigmaM: sigma, Headed: rnd.IntN(8) > 0,
			HeadingDeg: wrap360(heading + 9*rnd.NormFloat64()), HeadingSigma: 9,
		}, truth
	}
}

func nearestFace(scene Scene, at XY) int {
	best, least := -1, math.Inf(1)
	for i, f := range scene.faces {
		if d := toSegment(f.left, f.right, at); d < least {
			best, least = i, d
		}
	}
	return best
}

func BenchmarkPosterior(b *testing.B) {
	rnd := rand.New(rand.NewPCG(12, 12))
	site := randomSite(rnd, 12, 2)
	scene := NewScene(site)
	v := randomSighting(rnd, site)
	v.RangeM = 0
	for _, headed := range []bool{true, false} {
		b.Run(fmt.Sprintf("headed=%t", headed), func(b *testing.B) {
			v.Headed, v.ViewAcrossDeg = headed, 67.3
			for range b.N {
				scene.Posterior(v)
			}
		})
	}
}
