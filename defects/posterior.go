package defects

import (
	"cmp"
	"math"
	"slices"
)

// Sighting is where a camera says it stood and looked to, with its errors.
type Sighting struct {
	At            XY      // in the scene's frame
	SigmaM        float64 // standard deviation of the position along each axis
	Headed        bool
	HeadingDeg    float64 // clockwise from true north
	HeadingSigma  float64 // degrees
	ViewAcrossDeg float64 // horizontal angle of view; 0 = unknown
	ViewSigma     float64 // its standard deviation
	ViewDownDeg   float64 // vertical angle of view; 0 = unknown
	Tilted        bool
	TiltDeg       float64 // above the horizon
	TiltSigma     float64
	RangeM        float64 // a face farther from the camera is not what is shown; 0 = FaceRangeM
}

// Posterior says what the middle of a picture shows, as probabilities.
type Posterior struct {
	Faces   []FaceChance // likeliest first; none when Hit is below MinHit
	Hit     float64      // that the middle of the picture shows any face at all
	Outside float64      // that a position so uncertain lies outdoors, before that is taken as given
}

// FaceChance is one face's part.
type FaceChance struct {
	Face  int     // in the order of Scene.Faces
	P     float64 // that the middle of the picture lies on it, given that it lies on a face
	Share float64 // part of what is seen of all faces in the angle of view; 0 when that is unknown
}

// MinHit is the chance of any hit below which a picture shows none of the
// faces. It is never made up for by scaling the rest.
const MinHit = 0.001

// So many positions stand for the distribution. Against casting a million rays
// in drawn scenes the few are within 0.01 for every face, unless only a small
// part of them counts; then the many are asked.
const (
	fewPoints  = 300
	manyPoints = 2400
	fewCount   = 0.2 // hits, or positions outdoors, below which few points are too few
)

// Posterior works out the chance of each face: the expectation, over positions
// from a circular normal distribution restricted to outdoors, of the chance that
// a heading from a wrapped normal distribution (uniform without one) meets that
// face before any other. All faces are alike before the photo is looked at. It
// sums over a fixed grid, so the same question always has the same answer.
func (s Scene) Posterior(v Sighting) Posterior {
	if v.RangeM <= 0 {
		v.RangeM = FaceRangeM
	}
	rays := newRayChances(v)
	p := s.sum(v, rays, fewPoints)
	if p.Hit >= MinHit/10 && (p.Hit < fewCount || p.Outside < fewCount) {
		return s.sum(v, rays, manyPoints)
	}
	return p
}

// sum is the expectation over n positions.
func (s Scene) sum(v Sighting, rays rayChances, n int) Posterior {
	near := s.within(v.At, v.RangeM+v.SigmaM*sunflowerRadius(n-1, n))
	sum := newFaceSums(len(s.faces))
	look := newPanorama(s, near, v.RangeM, v.HeadingDeg)
	outside := 0
	for i := range n {
		at := sunflower(v.At, v.SigmaM, i, n)
		if !s.outdoors(at) {
			continue
		}
		outside++
		for _, seen := range look.from(at) {
			sum.add(seen, rays)
		}
	}
	return sum.posterior(outside, n)
}

// goldenAngle is π(3 − √5) radians: turned by it, points never line up with a
// wall.
const goldenAngle = math.Pi * (3 - 2.2360679774997896964091736687747)

// sunflower is the i-th of n points of equal weight that stand for a circular
// normal distribution as the seeds of a sunflower fill its head: each is farther
// out than the one before by an equal part of the probability.
func sunflower(at XY, sigma float64, i, n int) XY {
	r := sigma * sunflowerRadius(i, n)
	sin, cos := math.Sincos(float64(i) * goldenAngle)
	return XY{at.X + r*cos, at.Y + r*sin}
}

// sunflowerRadius is in σ: the inverse of the Rayleigh distribution.
func sunflowerRadius(i, n int) float64 {
	return math.Sqrt(-2 * math.Log(1-(float64(i)+0.5)/float64(n)))
}

// faceSums gathers, over the positions, what each face gets.
type faceSums struct {
	hit, share []float64
}

func newFaceSums(n int) faceSums {
	return faceSums{hit: make([]float64, n), share: make([]float64, n)}
}

func (f faceSums) add(seen arc, rays rayChances) {
	f.hit[seen.face] += rays.between(seen.from, seen.to)
	f.share[seen.face] += rays.coverage(seen.from, seen.to)
}

func (f faceSums) posterior(outside, n int) Posterior {
	if outside == 0 {
		return Posterior{}
	}
	hits, shares := 0.0, 0.0
	for i, h := range f.hit {
		hits += h
		shares += f.share[i]
	}
	p := Posterior{Hit: min(hits/float64(outside), 1), Outside: float64(outside) / float64(n)}
	if p.Hit < MinHit {
		return p
	}
	for i, h := range f.hit {
		if h <= 0 && f.share[i] <= 0 {
			continue
		}
		c := FaceChance{Face: i, P: h / hits}
		if shares > 0 {
			c.Share = f.share[i] / shares
		}
		p.Faces = append(p.Faces, c)
	}
	sortChances(p.Faces)
	return p
}

// sortChances puts the likeliest first.
func sortChances(list []FaceChance) {
	slices.SortStableFunc(list, func(a, b FaceChance) int { return cmp.Compare(b.P, a.P) })
}
