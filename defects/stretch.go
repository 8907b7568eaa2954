package defects

import "math"

// Stretch is what a picture takes in of a wall at half its height: from its left
// edge to its right one, in metres from the wall's left end, seen from outside,
// facing the wall. Heights are above the wall's base line. What lies beyond the
// wall's ends is cut off there.
type Stretch struct {
	Middle      Span
	From, To    *Span // of the left and the right edge; nil = the angle of view is not known
	Bottom, Top *Span // of the lower and the upper edge; nil = the camera's tilt is not known
	Hit         float64
}

// Span is a length with its error: the value that is as likely too large as too
// small, and the ends between which it lies with 95 %.
type Span struct{ Low, Best, High float64 }

// WallLine is a wall as pictures of it are looked at, in the scene's frame.
type WallLine struct {
	Left, Right XY    // its ends as seen from outside
	Faces       []int // in the order of Scene.Faces
	HeightM     float64
	BaseLineM   float64 // base line above the ground
}

// stretchPoints positions stand for the distribution: within a quarter of a metre
// of a million rays at the ends of the intervals, which are metres wide.
const stretchPoints = 1000

// Where nothing says how high a camera was held, it is taken to be in the hands of
// somebody who stands on the ground. Our proposal; no source.
const (
	handHeightM      = 1.5
	handHeightSigmaM = 0.3
)

// LineOf is one of the scene's faces as a wall of its own, whose height is not known.
func (s Scene) LineOf(face int) WallLine {
	f := s.faces[face]
	return WallLine{Left: f.left, Right: f.right, Faces: []int{face}}
}

// Stretch works out what a picture takes in of a wall, given that its middle lies
// on that wall and nothing hides it. It is the distribution that Posterior sums,
// asked where on the wall: positions from a circular normal one outdoors, headings
// from a normal one in closed form. ok is false without a heading, and when
// position and heading leave the wall a chance below MinHit.
func (s Scene) Stretch(v Sighting, w WallLine) (Stretch, bool) {
	if !v.Headed || distance(w.Left, w.Right) == 0 {
		return Stretch{}, false
	}
	if v.RangeM <= 0 {
		v.RangeM = FaceRangeM
	}
	v.HeadingSigma = max(v.HeadingSigma, 0.01)
	g := s.glances(v, w, stretchPoints)
	if g.hit < MinHit {
		return Stretch{}, false
	}
	out := Stretch{Hit: g.hit, Middle: g.along(0, 0)}
	if v.ViewAcrossDeg > 0 {
		// A tilted camera has what lies at the sides of its picture further round.
		half := degrees(math.Atan2(math.Tan(radians(v.ViewAcrossDeg/2)), math.Cos(radians(v.TiltDeg))))
		from, to := g.along(-half, v.ViewSigma/2), g.along(half, v.ViewSigma/2)
		out.From, out.To = &from, &to
	}
	if v.Tilted && v.ViewDownDeg > 0 {
		bottom, top := g.up(-v.ViewDownDeg/2), g.up(v.ViewDownDeg/2)
		out.Bottom, out.Top = &bottom, &top
	}
	return out, true
}

// glances are the lines of sight from many positions that meet one wall first.
type glances struct {
	v    Sighting
	wall WallLine
	long float64 // of the wall
	list []glance
	hit  float64 // chance of the wall
}

// glance is one position with a span of bearings under which it sees the wall.
type glance struct {
	along, away float64 // of the position: from the wall's left end, before its face
	straight    float64 // bearing of a look straight at the wall, near the span
	from, to    float64 // the span in degrees from the heading
	below, all  float64 // chances of a heading below the span, and within it
}

func (s Scene) glances(v Sighting, w WallLine, n int) glances {
	g := glances{v: v, wall: w, long: distance(w.Left, w.Right)}
	right := XY{(w.Right.X - w.Left.X) / g.long, (w.Right.Y - w.Left.Y) / g.long}
	out := XY{right.Y, -right.X} // away from the wall, for somebody who has its left end on the left
	straight := bearingOf(XY{-out.X, -out.Y}) - v.HeadingDeg
	ours := make([]bool, len(s.faces))
	for _, f := range w.Faces {
		ours[f] = true
	}
	look := newPanorama(s, s.within(v.At, v.RangeM+v.SigmaM*sunflowerRadius(n-1, n)), v.RangeM, v.HeadingDeg)
	outside, sum := 0, 0.0
	for i := range n {
		at := sunflower(v.At, v.SigmaM, i, n)
		if !s.outdoors(at) {
			continue
		}
		outside++
		p := glance{along: dot(sub(at, w.Left), right), away: dot(sub(at, w.Left), out)}
		if p.away <= 0 {
			continue
		}
		for _, seen := range look.from(at) {
			if !ours[seen.face] {
				continue
			}
			p.from, p.to = seen.from, seen.to
			mid := (seen.from + seen.to) / 2
			p.straight = mid - math.Remainder(mid-straight, 360)
			p.below = g.chance(p.from)
			p.all = g.chance(p.to) - p.below
			sum += p.all
			g.list = append(g.list, p)
		}
	}
	if outside > 0 {
		g.hit = sum / float64(outside)
	}
	return g
}

// chance is that of a heading at most so many degrees off the stated one.
func (g glances) chance(deg float64) float64 { return fastNormalCDF(deg / g.v.HeadingSigma) }

// Three points and weights stand for a normal distribution (Gauss–Hermite).
var (
	hermiteAt     = [3]float64{-math.Sqrt(3), 0, math.Sqrt(3)}
	hermiteWeight = [3]float64{1. / 6, 2. / 3, 1. / 6}
)

// along tells where on the wall a line of sight falls that is turned by so many
// degrees from the middle of the picture.
func (g glances) along(turn, sigma float64) Span {
	return g.span(0, g.long, func(x float64) float64 {
		sum := 0.0
		for _, p := range g.list {
			at := p.straight + degrees(math.Atan((x-p.along)/p.away)) - turn
			if sigma == 0 {
				sum += g.upTo(p, at)
				continue
			}
			for k, z := range hermiteAt {
				sum += hermiteWeight[k] * g.upTo(p, at-z*sigma)
			}
		}
		return sum
	})
}

// upTo is the chance that the middle of the picture lies on the wall, and not
// beyond a bearing.
func (g glances) upTo(p glance, bearing float64) float64 {
	switch {
	case bearing <= p.from:
		return 0
	case bearing >= p.to:
		return p.all
	}
	return g.chance(bearing) - p.below
}

// tiltSteps is into how many parts a span of bearings is cut for its distances.
const tiltSteps = 8

// up tells how high a line of sight falls that is raised by so many degrees above
// the middle of the picture.
func (g glances) up(raise float64) Span {
	type sight struct{ far, weight float64 }
	var list []sight
	reach := 4 * g.v.HeadingSigma
	for _, p := range g.list {
		from, to := max(p.from, -reach), min(p.to, reach)
		for k := range tiltSteps {
			a, b := from+(to-from)*float64(k)/tiltSteps, from+(to-from)*float64(k+1)/tiltSteps
			if weight := g.chance(b) - g.chance(a); weight > 0 {
				list = append(list, sight{p.away / math.Cos(radians((a+b)/2-p.straight)), weight})
			}
		}
	}
	sigma := max(g.v.TiltSigma, 0.01)
	return g.span(-g.wall.BaseLineM, g.wall.HeightM, func(z float64) float64 {
		sum := 0.0
		for k, h := range hermiteAt {
			eye := handHeightM + h*handHeightSigmaM - g.wall.BaseLineM
			for _, s := range list {
				angle := degrees(math.Atan((z - eye) / s.far))
				sum += hermiteWeight[k] * s.weight * fastNormalCDF((angle-raise-g.v.TiltDeg)/sigma)
			}
		}
		return sum
	})
}

// span finds the quantiles of what rises from low to high as upTo says.
func (g glances) span(low, high float64, upTo func(float64) float64) Span {
	all := 0.0
	for _, p := range g.list {
		all += p.all
	}
	at := func(part float64) float64 {
		a, b := low, high
		if upTo(a) >= part*all {
			return a
		}
		if upTo(b) < part*all {
			return b
		}
		for b-a > 0.005 {
			if m := (a + b) / 2; upTo(m) < part*all {
				a = m
			} else {
				b = m
			}
		}
		return (a + b) / 2
	}
	return Span{Low: at(0.025), Best: at(0.5), High: at(0.975)}
}
