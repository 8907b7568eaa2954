package defects

import (
	"cmp"
	"math"
	"slices"
)

// panorama finds what is seen all round from a place: which face a line of
// sight meets first. It keeps its slices from one place to the next.
type panorama struct {
	scene   Scene
	near    []int
	reach   float64
	heading float64

	arcs  []arc
	cuts  []float64
	parts []arc
}

// arc is a face, or the part of one that is seen, by its bearings in degrees from
// the heading, −180 ≤ from ≤ to ≤ 180.
type arc struct {
	face     int
	from, to float64
}

func newPanorama(s Scene, near []int, reach float64, heading float64) *panorama {
	return &panorama{scene: s, near: near, reach: reach, heading: heading}
}

// from lists the parts of faces seen from a place outdoors. The result holds
// until the next call.
func (p *panorama) from(at XY) []arc {
	p.arcs, p.parts = p.arcs[:0], p.parts[:0]
	for _, i := range p.near {
		p.addFace(i, at)
	}
	slices.SortFunc(p.arcs, func(a, b arc) int { return cmp.Compare(a.from, b.from) })
	// Runs of spans that overlap are settled together; most stand alone.
	for i := 0; i < len(p.arcs); {
		end, j := p.arcs[i].to, i+1
		for j < len(p.arcs) && p.arcs[j].from < end-sameBearing {
			end = max(end, p.arcs[j].to)
			j++
		}
		p.settle(p.arcs[i:j], at)
		i = j
	}
	return p.parts
}

// addFace adds a face that shows its outside, in two spans when it lies across
// the seam behind the camera.
func (p *panorama) addFace(i int, at XY) {
	f := p.scene.faces[i]
	left, right := sub(f.left, at), sub(f.right, at)
	if cross(sub(f.right, f.left), XY{-left.X, -left.Y}) >= 0 {
		return // its inside, or edge on
	}
	from := math.Remainder(degrees(math.Atan2(left.X, left.Y))-p.heading, 360)
	to := math.Remainder(degrees(math.Atan2(right.X, right.Y))-p.heading, 360)
	if from <= to {
		p.arcs = append(p.arcs, arc{i, from, to})
		return
	}
	p.arcs = append(p.arcs, arc{i, from, 180}, arc{i, -180, to})
}

// sameBearing is the difference in degrees below which two bearings are one.
const sameBearing = 1e-9

// settle finds which of a run of spans is seen where: between two neighbouring
// ends the nearest along the middle hides the others, as outlines do not cross.
func (p *panorama) settle(run []arc, at XY) {
	if len(run) == 1 {
		p.show(run[0], at)
		return
	}
	p.cuts = p.cuts[:0]
	for _, s := range run {
		p.cuts = append(p.cuts, s.from, s.to)
	}
	slices.Sort(p.cuts)
	for k := 1; k < len(p.cuts); k++ {
		from, to := p.cuts[k-1], p.cuts[k]
		if to-from < sameBearing {
			continue
		}
		if face, any := p.nearest(run, (from+to)/2, at); any {
			p.show(arc{face, from, to}, at)
		}
	}
}

// nearest is the face that a line of sight meets first.
func (p *panorama) nearest(run []arc, bearing float64, at XY) (face int, any bool) {
	ray, least := towards(bearing+p.heading), math.Inf(1)
	for _, s := range run {
		if s.from > bearing || s.to < bearing {
			continue
		}
		f := p.scene.faces[s.face]
		wall := sub(f.right, f.left)
		if d := cross(sub(f.left, at), wall) / cross(ray, wall); d < least {
			face, least, any = s.face, d, true
		}
	}
	return face, any
}

// show notes a part that is seen, unless its face is out of range: that one
// hides what is behind it all the same.
func (p *panorama) show(s arc, at XY) {
	f := p.scene.faces[s.face]
	if distance(at, nearestOnSegment(f.left, f.right, at)) <= p.reach {
		p.parts = append(p.parts, s)
	}
}
