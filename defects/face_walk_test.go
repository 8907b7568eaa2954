package defects

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var walkStart = time.Date(2026, 5, 6, 9, 0, 0, 0, time.UTC)

// TestAWalkMakesPlacesSurer draws sites and walks along their walls, some photos
// of each wall 20 s apart, and compares with each photo by itself.
func TestAWalkMakesPlacesSurer(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(90, 1))
	photos, alone, together, brierAlone, brierTogether := 0, 0, 0, 0.0, 0.0
	for range 60 {
		site := randomSite(rnd, 4, 1)
		scene := NewScene(site)
		var walk []WalkPhoto
		var truth []int
		at := walkStart
		for range 4 {
			v, face := photographed(rnd, scene, site)
			for k := range 1 + rnd.IntN(5) {
				if k > 0 {
					v = anotherOf(rnd, scene, site, face)
				}
				walk, truth = append(walk, WalkPhoto{At: at, Alone: scene.Posterior(v)}), append(truth, face)
				at = at.Add(20 * time.Second)
			}
			at = at.Add(40 * time.Second)
		}
		for i, p := range scene.Smooth(walk) {
			photos++
			alone += first(walk[i].Alone, truth[i])
			together += first(p, truth[i])
			brierAlone += brierOf(walk[i].Alone, truth[i])
			brierTogether += brierOf(p, truth[i])
		}
	}
	n := float64(photos)
	t.Logf("right first: alone %.3f, with neighbours %.3f; Brier %.3f and %.3f", float64(alone)/n, float64(together)/n, brierAlone/n, brierTogether/n)
	assert.Greater(t, together, alone)
	assert.Less(t, brierTogether, brierAlone)
}

// anotherOf is one more photo of the same face, from somewhere else.
func anotherOf(rnd *rand.Rand, scene Scene, site [][][]XY, face int) Sighting {
	for range 5000 {
		if v, seen := photographed(rnd, scene, site); seen == face {
			return v
		}
	}
	panic("a face that was photographed once cannot be again")
}

func first(p Posterior, truth int) int {
	if len(p.Faces) > 0 && p.Faces[0].Face == truth {
		return 1
	}
	return 0
}

func brierOf(p Posterior, truth int) float64 {
	sum := 1.0
	for _, f := range p.Faces {
		sum += f.P * f.P
		if f.Face == truth {
			sum -= 2 * f.P
		}
	}
	return sum
}

func TestAPhotoWithoutNeighboursIsJudgedByItself(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(4, 4))
	site := randomSite(rnd, 4, 1)
	scene := NewScene(site)
	v, _ := photographed(rnd, scene, site)
	alone := scene.Posterior(v)
	far := WalkPhoto{At: walkStart.Add(24 * time.Hour), Alone: alone}
	for _, walk := range [][]WalkPhoto{{{At: walkStart, Alone: alone}}, {{At: walkStart, Alone: alone}, far}} {
		got := scene.Smooth(walk)[0]
		require.InDelta(t, alone.Hit, got.Hit, 1e-3)
		for i, f := range got.Faces {
			if f.P > 0.01 {
				require.Equal(t, alone.Faces[i].Face, f.Face)
				require.InDelta(t, alone.Faces[i].P, f.P, 1e-3)
			}
		}
	}
	require.Empty(t, scene.Smooth(nil))
}

func TestAPersonsWordAndPlacedNeighboursReachAPhotoWithoutPlace(t *testing.T) {
	t.Parallel()
	scene := NewScene([][][]XY{{rect(0, 0, 24, 8)}})
	walk := []WalkPhoto{
		{At: walkStart, Told: []int{2}},
		{At: walkStart.Add(15 * time.Second)},
		{At: walkStart.Add(30 * time.Second), Told: []int{2}},
	}
	got := scene.Smooth(walk)
	require.Empty(t, got[0].Faces, "what a person said is not worked out again")
	require.Equal(t, 2, got[1].Faces[0].Face)
	require.Greater(t, got[1].Faces[0].P, 0.9)
	walk[0].Told = []int{0}
	walk[0].At = walkStart.Add(-time.Hour)
	require.Equal(t, 2, scene.Smooth(walk)[1].Faces[0].Face, "the nearer in time counts")
}
