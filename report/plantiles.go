package report

import (
	"math"

	"storeyrod/defects"
)

// Ground gives the address of one map tile of the Web Mercator grid, for a plan
// that is laid over a map; nil lays none.
type Ground func(z, x, y int) string

const (
	groundBeyond = 40.0 // metres of map about the buildings, whatever photos there are
	mostTiles    = 30
	finestTiles  = 19
	mercatorEnd  = 85.0 // degrees of latitude, beyond which the grid ends
)

// ground lays tiles under the buildings that have a place on the ground. Which tiles
// depends on the buildings alone, so that nothing about a photo is told to whoever
// serves them.
func (p *plan) ground(placed []placedBuilding, frame *defects.Frame, tile Ground) {
	var known []placedBuilding
	for _, b := range placed {
		if len(b.building.Ring) > 0 {
			known = append(known, b)
		}
	}
	lo, hi, ok := planBounds(known)
	if tile == nil || frame == nil || !ok {
		return
	}
	west := frame.ToLonLat(defects.XY{X: lo.X - groundBeyond, Y: hi.Y + groundBeyond})
	east := frame.ToLonLat(defects.XY{X: hi.X + groundBeyond, Y: lo.Y - groundBeyond})
	if west.Lat > mercatorEnd || east.Lat < -mercatorEnd || east.Lon <= west.Lon {
		return
	}
	for z := finestTiles; z >= 0; z-- {
		x0, y0 := tileAt(west, z)
		x1, y1 := tileAt(east, z)
		left, top, right, foot := int(x0), int(y0), int(x1), int(y1)
		if (right-left+1)*(foot-top+1) > mostTiles {
			continue
		}
		for y := top; y <= foot; y++ {
			for x := left; x <= right; x++ {
				p.tile(frame, z, x, y, tile)
			}
		}
		return
	}
}

// tile draws one tile between its corners, which brings it to the plan's scale at
// its latitude.
func (p *plan) tile(frame *defects.Frame, z, x, y int, tile Ground) {
	x0, y0 := p.at(frame.ToXY(tileCorner(z, x, y)))
	x1, y1 := p.at(frame.ToXY(tileCorner(z, x+1, y+1)))
	p.f(`<image class="plan-tile" href="%s" x="%.3f" y="%.3f" width="%.3f" height="%.3f" preserveAspectRatio="none"/>`,
		esc(tile(z, x, y)), x0, y0, x1-x0, y1-y0)
}

// tileAt is where a place lies on the grid of a zoom, in tiles from the north-west,
// by the Web Mercator projection (EPSG:3857, from memory).
func tileAt(at defects.LonLat, z int) (x, y float64) {
	n := math.Exp2(float64(z))
	return (at.Lon + 180) / 360 * n, (1 - math.Asinh(math.Tan(at.Lat*math.Pi/180))/math.Pi) / 2 * n
}

// tileCorner is the north-west corner of a tile.
func tileCorner(z, x, y int) defects.LonLat {
	n := math.Exp2(float64(z))
	return defects.LonLat{Lon: float64(x)/n*360 - 180, Lat: math.Atan(math.Sinh(math.Pi*(1-2*float64(y)/n))) * 180 / math.Pi}
}
