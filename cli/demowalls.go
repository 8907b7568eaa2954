package cli

import (
	"bytes"
	"context"
	"fmt"
	"math"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// The walls on which most of the demo happens.
const (
	larkSouth  = "Larkrow Terrace / South"
	larkNorth  = "Larkrow Terrace / North"
	larkEast   = "Larkrow Terrace / East"
	larkWest   = "Larkrow Terrace / West"
	hareSouth  = "Harebell Terrace / South"
	hareNorth  = "Harebell Terrace / North"
	hareEast   = "Harebell Terrace / East"
	hareWest   = "Harebell Terrace / West"
	quillSouth = "Quillon Terrace / South"
	quillEast  = "Quillon Terrace / East"
)

// wall is an elevation with its foot on the map.
type wall struct {
	defects.Elevation
	frame       defects.Frame
	left, right defects.XY
}

// build takes the footprints in and gives the walls their openings.
func (d *demo) build(ctx context.Context) error {
	text, err := demoData.ReadFile("demodata/larkrow.geojson")
	if err != nil {
		return err
	}
	blocks, refused, err := register.ParseGeoJSON(bytes.NewReader(text), 1<<20)
	if err != nil {
		return err
	}
	taken, err := d.reg.AddBuildings(ctx, d.people["clerk"], d.site, blocks)
	if err != nil {
		return err
	}
	for _, r := range append(refused, taken.Refused...) {
		return fmt.Errorf("%s: %w", r.Item, r.Err)
	}
	for _, b := range taken.Buildings {
		if err := d.layOut(ctx, b, taken.Elevations); err != nil {
			return err
		}
	}
	return nil
}

// layOut finds the foot of each wall of a building and opens windows in the
// long ones.
func (d *demo) layOut(ctx context.Context, b defects.Building, all []defects.Elevation) error {
	frame, ok := defects.BuildingFrame(b)
	if !ok {
		return fmt.Errorf("%s has no coordinates", b.Name)
	}
	sides := defects.Sides(b)
	for _, e := range all {
		if e.BuildingID != b.ID {
			continue
		}
		openings := windows(e)
		if len(openings) > 0 {
			baseLine := defects.MM(150)
			patch := register.ElevationPatch{Openings: &openings, BaseLine: &baseLine}
			var err error
			if e, err = d.reg.UpdateElevation(ctx, d.people["clerk"], d.site, e.ID, e.Version, patch); err != nil {
				return fmt.Errorf("%s / %s: %w", b.Name, e.Name, err)
			}
		}
		for _, s := range sides {
			if s.Index == e.Edge {
				d.walls[b.Name+" / "+e.Name] = wall{Elevation: e, frame: frame, left: s.Left, right: s.Right}
			}
		}
	}
	return nil
}

// windows sets out doors and windows six metres apart on the long walls, as
// terraces of one plan have them.
func windows(e defects.Elevation) []defects.Opening {
	const house, eaves = 6000, 1000
	if e.Length < 2*house {
		return nil
	}
	var list []defects.Opening
	n := 1
	add := func(kind, letter string, x, z, width, height defects.MM) {
		if x+width < e.Length-300 && z+height <= e.Height-300 {
			list = append(list, defects.Opening{Name: fmt.Sprintf("%s%02d", letter, n), Kind: kind, X: x, Z: z, Width: width, Height: height})
			n++
		}
	}
	for x := defects.MM(700); x < e.Length; x += house {
		add("door", "D", x, 0, 950, 2100)
		add("window", "W", x+2400, 900, 1500, 1200)
		for z := defects.MM(3400); z < e.Height-eaves; z += 2600 {
			add("window", "W", x+300, z, 1000, 1200)
			add("window", "W", x+2700, z, 1200, 1200)
		}
	}
	return list
}

// before is the position some metres in front of a place on the wall, and the
// direction from there straight at it.
func (w wall) before(x defects.MM, metres float64) (at defects.LonLat, direction float64) {
	share := float64(x) / float64(w.Length)
	out := w.Bearing.Float() * math.Pi / 180
	p := defects.XY{
		X: w.left.X + share*(w.right.X-w.left.X) + metres*math.Sin(out),
		Y: w.left.Y + share*(w.right.Y-w.left.Y) + metres*math.Cos(out),
	}
	return w.frame.ToLonLat(p), math.Mod(w.Bearing.Float()+180, 360)
}

func (d *demo) wall(name string) (wall, error) {
	w, ok := d.walls[name]
	if !ok {
		return w, fmt.Errorf("the demo has no wall %q", name)
	}
	return w, nil
}
