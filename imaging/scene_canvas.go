package imaging

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
)

// tone is a colour as the planes hold it.
type tone struct{ y, cb, cr uint8 }

func rgb(r, g, b uint8) tone {
	y, cb, cr := color.RGBToYCbCr(r, g, b)
	return tone{y, cb, cr}
}

// lighter shifts the brightness.
func (t tone) lighter(by int) tone {
	t.y = clamp(int32(t.y) + int32(by))
	return t
}

// grainEdge is the side of the grain tile; a power of two.
const grainEdge = 256

// canvas draws in 4:2:0 planes. Lengths are given in mm of wall or in pixels
// as each function says.
type canvas struct {
	img   *image.YCbCr
	scale float64 // pixels a mm
	grain []int8  // grainEdge², coarse and fine noise mixed
	light []int16 // brightness by column, falling off from the sunny side
}

func newCanvas(s SceneSpec, rng *rand.Rand) *canvas {
	c := &canvas{
		img:   image.NewYCbCr(image.Rect(0, 0, s.Width, s.Height), image.YCbCrSubsampleRatio420),
		scale: float64(s.Width) / s.ViewMM,
		grain: makeGrain(rng),
		light: make([]int16, s.Width),
	}
	slope := (rng.Float64() - 0.5) * 36
	for x := range c.light {
		c.light[x] = int16(math.Round(slope * (float64(x)/float64(s.Width) - 0.5)))
	}
	return c
}

// makeGrain mixes smooth noise of several sizes; the tile repeats without a seam.
func makeGrain(rng *rand.Rand) []int8 {
	g := make([]int8, grainEdge*grainEdge)
	for _, layer := range []struct{ cell, amount int }{{64, 3}, {16, 3}, {4, 3}, {1, 4}} {
		n := grainEdge / layer.cell
		spots := make([]float64, n*n)
		for i := range spots {
			spots[i] = (rng.Float64()*2 - 1) * float64(layer.amount)
		}
		for i := range g {
			x, y := float64(i%grainEdge)/float64(layer.cell), float64(i/grainEdge)/float64(layer.cell)
			g[i] += int8(math.Round(between(spots, n, x, y)))
		}
	}
	return g
}

// between blends the four neighbours of a place on a grid that wraps round.
func between(spots []float64, n int, x, y float64) float64 {
	x0, y0 := int(x), int(y)
	fx, fy := x-float64(x0), y-float64(y0)
	x1, y1 := (x0+1)%n, (y0+1)%n
	top := spots[y0*n+x0]*(1-fx) + spots[y0*n+x1]*fx
	bottom := spots[y1*n+x0]*(1-fx) + spots[y1*n+x1]*fx
	return top*(1-fy) + bottom*fy
}

func (c *canvas) width() int  { return c.img.Rect.Dx() }
func (c *canvas) height() int { return c.img.Rect.Dy() }

// px turns mm into pixels.
func (c *canvas) px(mm float64) int { return int(math.Round(mm * c.scale)) }

// rowOf turns a height above the bottom of the view in mm into a row.
func (c *canvas) rowOf(z float64) int { return c.height() - c.px(z) }

// fill paints the pixels x0 ≤ x < x1, y0 ≤ y < y1; shift moves the grain so
// that neighbours differ, and rough scales it (1 = as made).
func (c *canvas) fill(x0, y0, x1, y1 int, t tone, shift int, rough int) {
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, c.width()), min(y1, c.height())
	if x0 >= x1 || y0 >= y1 {
		return
	}
	for y := y0; y < y1; y++ {
		row := c.img.Y[y*c.img.YStride+x0 : y*c.img.YStride+x1]
		grain := c.grain[(y+shift*7)&(grainEdge-1)*grainEdge:][:grainEdge]
		light := c.light[x0:x1]
		for i := range row {
			row[i] = clamp(int32(t.y) + int32(grain[(x0+i+shift*13)&(grainEdge-1)])*int32(rough) + int32(light[i]))
		}
	}
	for y := (y0 + 1) / 2; y < (y1+1)/2; y++ {
		cb := c.img.Cb[y*c.img.CStride:][:c.img.CStride]
		cr := c.img.Cr[y*c.img.CStride:][:c.img.CStride]
		for x := (x0 + 1) / 2; x < (x1+1)/2; x++ {
			cb[x], cr[x] = t.cb, t.cr
		}
	}
}

// shade changes the brightness of a rectangle of pixels.
func (c *canvas) shade(x0, y0, x1, y1, by int) {
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, c.width()), min(y1, c.height())
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			at := y*c.img.YStride + x
			c.img.Y[at] = clamp(int32(c.img.Y[at]) + int32(by))
		}
	}
}

// disc paints a round spot; radius in pixels.
func (c *canvas) disc(cx, cy, radius int, t tone, shift int) {
	for dy := -radius; dy <= radius; dy++ {
		half := int(math.Sqrt(float64(radius*radius - dy*dy)))
		c.fill(cx-half, cy+dy, cx+half+1, cy+dy+1, t, shift, 1)
	}
}

// crack draws a dark wandering line downwards, Size mm long.
func (c *canvas) crack(f SceneFault, rng *rand.Rand) {
	x, wide := float64(c.px(f.X)), max(1, c.px(1.2))
	top := c.rowOf(f.Z)
	for y := top; y < top+c.px(f.Size); y++ {
		x += (rng.Float64() - 0.48) * 1.6
		c.fill(int(x), y, int(x)+wide, y+1, rgb(46, 42, 40), 0, 0)
	}
}

// stain draws a pale bloom, as salts leave, strongest in the middle.
func (c *canvas) stain(f SceneFault) {
	cx, cy, r := c.px(f.X), c.rowOf(f.Z), max(2, c.px(f.Size/2))
	for y := max(0, cy-r); y < min(c.height(), cy+r); y++ {
		for x := max(0, cx-r); x < min(c.width(), cx+r); x++ {
			d := math.Hypot(float64(x-cx), float64(y-cy)) / float64(r)
			if d < 1 {
				at := y*c.img.YStride + x
				c.img.Y[at] = clamp(int32(c.img.Y[at]) + int32((1-d)*58) + int32(c.grain[at&(len(c.grain)-1)]))
			}
		}
	}
}

func clamp(v int32) byte {
	if v < 0 {
		return 0
	}
	if v > 255 {
		return 255
	}
	return byte(v)
}
