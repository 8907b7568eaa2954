package defects

import (
	"math"
	"slices"
	"time"
)

// walkMemory is how fast what a photo shows says less of what the next one from
// the same phone shows: after so long the chance that it is still the same wall
// has fallen to 1/e, beside what chance alone gives. Our proposal, no source.
const walkMemory = 90 * time.Second

// WalkPhoto is one of the photos that a phone took one after the other.
type WalkPhoto struct {
	At    time.Time
	Alone Posterior // what it shows by its own data; none without a position
	Told  []int     // faces one of which it shows as a person said; nil = not said
}

// Smooth lets neighbours in time raise or lower each other's chances: along a
// wall people take several photos of it. The photos are of one phone in the order
// taken. It is the forward–backward pass of a hidden Markov chain whose states
// are the faces and none of them: the next photo shows the same, with a chance
// that fades with the time between, or any state alike. Without neighbours the
// answer is that of the photo alone.
func (s Scene) Smooth(walk []WalkPhoto) []Posterior {
	n := len(s.faces) + 1 // the last state is that no face is shown
	likely := make([][]float64, len(walk))
	for i, p := range walk {
		likely[i] = p.likelihood(n)
	}
	before := chain(likely, func(i int) float64 { return stays(walk, i-1, i) })
	turned := slices.Clone(likely)
	slices.Reverse(turned)
	backwards := chain(turned, func(i int) float64 {
		at := len(walk) - 1 - i
		return stays(walk, at, at+1)
	})
	out := make([]Posterior, len(walk))
	for i, p := range walk {
		out[i] = p.smoothed(before[i], backwards[len(walk)-1-i], likely[i])
	}
	return out
}

// likelihood of each state, up to a factor. All states are alike before the
// photo is looked at.
func (p WalkPhoto) likelihood(n int) []float64 {
	const least = 1e-6 // nothing is ruled out by arithmetic alone
	l := make([]float64, n)
	for i := range l {
		l[i] = least
	}
	switch {
	case p.Told != nil:
		for _, f := range p.Told {
			l[f] = 1 / float64(len(p.Told))
		}
	case p.Alone.Outside == 0: // no position: any state
		for i := range l {
			l[i] = 1
		}
	default:
		l[n-1] += 1 - p.Alone.Hit
		for _, f := range p.Alone.Faces {
			l[f.Face] += f.P * p.Alone.Hit
		}
	}
	return l
}

func stays(walk []WalkPhoto, a, b int) float64 {
	if a < 0 || b >= len(walk) {
		return 0
	}
	return math.Exp(-walk[b].At.Sub(walk[a].At).Abs().Seconds() / walkMemory.Seconds())
}

// chain gives, for each photo, the chance of each state by the photos up to it,
// its own included. stay says how surely a photo shows what the one before did.
func chain(likely [][]float64, stay func(int) float64) [][]float64 {
	out := make([][]float64, len(likely))
	for i, l := range likely {
		out[i] = make([]float64, len(l))
		s, sum := 0.0, 0.0
		if i > 0 {
			s = stay(i)
		}
		for k := range l {
			prior := (1 - s) / float64(len(l))
			if i > 0 {
				prior += s * out[i-1][k]
			}
			out[i][k] = prior * l[k]
			sum += out[i][k]
		}
		for k := range l {
			out[i][k] /= sum
		}
	}
	return out
}

// smoothed joins what comes from both sides, in each of which the photo's own
// likelihood is counted once. A position that was missing is made up for.
func (p WalkPhoto) smoothed(before, after, likely []float64) Posterior {
	if p.Told != nil {
		return p.Alone
	}
	n, sum := len(likely), 0.0
	joint := make([]float64, n)
	for k := range joint {
		joint[k] = before[k] * after[k] / likely[k]
		sum += joint[k]
	}
	hit := 1 - joint[n-1]/sum
	out := Posterior{Hit: hit, Outside: p.Alone.Outside}
	if hit < MinHit {
		return out
	}
	shares := make([]float64, n)
	for _, f := range p.Alone.Faces {
		shares[f.Face] = f.Share
	}
	for k, j := range joint[:n-1] {
		if c := j / sum / hit; c > 0.0005 {
			out.Faces = append(out.Faces, FaceChance{Face: k, P: c, Share: shares[k]})
		}
	}
	sortChances(out.Faces)
	return out
}
