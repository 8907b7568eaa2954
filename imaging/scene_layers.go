package imaging

import (
	"math"
	"math/rand/v2"
)

// Work sizes of what is drawn, in mm; common practice, no source.
const (
	slipLength, slipHeight = 215.0, 65.0
	boardLength, boardHigh = 1000.0, 500.0
	anchorDisc             = 60.0
	meshPitch              = 4.0
)

// slipTones gives the range of colours one delivery has.
func slipTones(name string) []tone {
	switch name {
	case "buff":
		return []tone{rgb(196, 168, 122), rgb(187, 158, 112), rgb(205, 180, 138), rgb(178, 148, 106)}
	case "brown":
		return []tone{rgb(110, 78, 62), rgb(98, 70, 57), rgb(124, 88, 70), rgb(88, 64, 54)}
	case "grey":
		return []tone{rgb(128, 128, 130), rgb(112, 114, 118), rgb(142, 141, 140), rgb(101, 103, 108)}
	}
	return []tone{rgb(158, 78, 60), rgb(146, 70, 55), rgb(171, 90, 68), rgb(134, 62, 50)}
}

// brick is one slip about to be drawn, in mm of the view.
type brick struct{ x0, x1, z0, z1 float64 }

// has tells whether a fault is meant for this piece, the joints right of it
// and half those above and below included.
func (b brick) has(f SceneFault, joint float64) bool {
	return f.X >= b.x0 && f.X < b.x1+joint && f.Z >= b.z0-joint/2 && f.Z < b.z1+joint/2
}

// slips draws stretcher bond from the bottom up: each course shifted by half
// a slip against the one below.
func (c *canvas) slips(s SceneSpec, rng *rand.Rand) {
	c.fill(0, 0, c.width(), c.height(), rgb(186, 180, 168), rng.IntN(grainEdge), 2)
	tones := slipTones(s.Tone)
	pitch, rise := slipLength+s.JointMM, slipHeight+s.JointMM
	high := float64(c.height()) / c.scale
	for course := 0; float64(course)*rise < high+rise; course++ {
		z := float64(course)*rise + s.JointMM/2
		x := -float64(course%2)*pitch/2 - pitch/2
		for x < s.ViewMM {
			b := brick{x, x + slipLength, z, z + slipHeight}
			x += pitch + rng.NormFloat64()*0.6 + c.slip(s, b, tones, rng)
		}
	}
}

// slip draws one slip with its faults and gives the extra joint behind it.
func (c *canvas) slip(s SceneSpec, b brick, tones []tone, rng *rand.Rand) (extra float64) {
	drop := rng.NormFloat64() * 0.4
	chip, lip := 0.0, 0.0
	for _, f := range s.Faults {
		switch {
		case f.Kind == FaultOffLevel && f.Z >= b.z0-s.JointMM/2 && f.Z < b.z1+s.JointMM/2:
			drop += f.Size * (b.x0 + b.x1) / 2 / s.ViewMM
		case f.Kind == FaultWideGap && b.has(f, s.JointMM):
			extra = f.Size - s.JointMM
		case f.Kind == FaultChip && b.has(f, s.JointMM):
			chip = f.Size
		case f.Kind == FaultLipping && b.has(f, s.JointMM):
			lip = f.Size
		}
	}
	t := tones[rng.IntN(len(tones))].lighter(rng.IntN(15) - 7)
	x0, x1 := c.px(b.x0), c.px(b.x1)
	y0, y1 := c.rowOf(b.z1-drop), c.rowOf(b.z0-drop)
	shift := rng.IntN(grainEdge)
	c.fill(x0, y0, x1, y1, t, shift, 2)
	edge := max(1, c.px(2))
	c.shade(x0, y0, x1, y0+edge, 16)  // light from above on the arris
	c.shade(x0, y1-edge, x1, y1, -22) // and shadow below
	if lip > 0 {
		c.shade(x0, y1, x1, y1+max(2, c.px(lip)), -70)
		c.shade(x0, y0, x1, y0+2*edge, 26)
	}
	for i, n := 0, c.px(chip); i < n; i++ {
		c.fill(x1-n+i, y0+i, x1, y0+i+1, t.lighter(38), shift, 3)
	}
	return extra
}

// boards draws white boards in bond with their anchors.
func (c *canvas) boards(s SceneSpec, rng *rand.Rand) {
	c.fill(0, 0, c.width(), c.height(), rgb(96, 92, 86), 3, 2)
	const tight = 1.5 // mm that always show between boards
	high := float64(c.height()) / c.scale
	for row := 0; float64(row)*boardHigh < high; row++ {
		x := -float64(row%2)*boardLength/2 - boardLength*0.2
		for x < s.ViewMM {
			b := brick{x, x + boardLength - tight, float64(row) * boardHigh, float64(row+1)*boardHigh - tight}
			t := rgb(228, 230, 226).lighter(rng.IntN(9) - 4)
			line := max(1, c.px(tight))
			c.fill(c.px(b.x0)+line, c.rowOf(b.z1+tight)+line, c.px(b.x1+tight), c.rowOf(b.z0), t, rng.IntN(grainEdge), 1)
			c.anchors(s, b)
			x += boardLength
			for _, f := range s.Faults {
				if f.Kind == FaultWideGap && b.has(f, tight) {
					x += f.Size - tight
				}
			}
		}
	}
}

// anchors sets two on the middle line of each board.
func (c *canvas) anchors(s SceneSpec, b brick) {
	z := (b.z0 + b.z1) / 2
	for _, x := range []float64{b.x0 + 250, b.x0 + 750} {
		missing := false
		for _, f := range s.Faults {
			if f.Kind == FaultNoAnchor && f.X >= x-250 && f.X < x+250 && f.Z >= z-boardHigh/2 && f.Z < z+boardHigh/2 {
				missing = true
			}
		}
		if missing {
			continue
		}
		cx, cy, r := c.px(x), c.rowOf(z), max(2, c.px(anchorDisc/2))
		c.disc(cx+1, cy+2, r, rgb(150, 150, 148), 0)
		c.disc(cx, cy, r, rgb(206, 196, 150), 5)
		c.disc(cx, cy, max(1, r/5), rgb(70, 66, 60), 0)
	}
}

// coat draws the base coat; the right part is still mesh laid into the bed.
func (c *canvas) coat(s SceneSpec, rng *rand.Rand) {
	grey := rgb(148, 146, 142)
	c.fill(0, 0, c.width(), c.height(), grey, rng.IntN(grainEdge), 2)
	for i := 0; i < 60; i++ { // marks of the trowel
		x, y := rng.IntN(c.width()), rng.IntN(c.height())
		n := c.px(120 + rng.Float64()*300)
		for k := range n {
			dy := int(float64(n) * 0.08 * math.Sin(float64(k)/float64(n)*math.Pi))
			c.shade(x+k, y-dy, x+k+1, y-dy+max(1, c.px(2)), 7)
		}
	}
	lap := c.px(s.ViewMM * 0.62)
	c.mesh(lap, 0, c.width(), c.height())
	c.shade(lap, 0, lap+max(1, c.px(3)), c.height(), -30)
	for _, f := range s.Faults {
		if f.Kind == FaultBareMesh {
			r := c.px(f.Size / 2)
			c.mesh(c.px(f.X)-r, c.rowOf(f.Z)-r, c.px(f.X)+r, c.rowOf(f.Z)+r)
		}
	}
}

// mesh draws glass-fibre mesh over a rectangle of pixels.
func (c *canvas) mesh(x0, y0, x1, y1 int) {
	pitch := max(3, c.px(meshPitch))
	thread := max(1, pitch/4)
	for x := x0 - x0%pitch; x < x1; x += pitch {
		c.shade(max(x, x0), y0, min(x+thread, x1), y1, 34)
	}
	for y := y0 - y0%pitch; y < y1; y += pitch {
		c.shade(x0, max(y, y0), x1, min(y+thread, y1), 34)
	}
}

// plain draws a render finish.
func (c *canvas) plain(s SceneSpec) {
	t := rgb(222, 214, 196)
	if s.Tone != "" {
		t = slipTones(s.Tone)[0].lighter(50)
	}
	c.fill(0, 0, c.width(), c.height(), t, int(s.Seed%grainEdge), 2)
}
