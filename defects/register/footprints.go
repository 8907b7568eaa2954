package register

import (
	"encoding/json"
	"io"

	"storeyrod/defects"
)

// Footprint is a building's outline for placing photos without a site on
// record: the outer ring and then the courtyards, each in the order of the file.
type Footprint struct {
	Name  string
	Rings [][]defects.LonLat
}

// ParseFootprints reads outlines as ParseGeoJSON does, with their courtyards, and
// of the properties the name alone. A feature that cannot be taken is refused by
// its name and the others go on.
func ParseFootprints(r io.Reader, max int64) ([]Footprint, []Refusal, error) {
	return parseFeatures(r, max, func(raw json.RawMessage) (Footprint, string, error) {
		f, err := parseFootprint(raw)
		return f, f.Name, err
	})
}

func parseFootprint(raw json.RawMessage) (Footprint, error) {
	var f Footprint
	g, props, err := readFeature(raw)
	if err != nil {
		return f, err
	}
	if f.Name, err = cleanName("building", featureName(props)); err != nil {
		return f, err
	}
	if len(g.Geometry) == 0 || string(g.Geometry) == "null" {
		return f, noOutline()
	}
	if f.Rings, err = parseRings(g.Geometry); err != nil {
		return f, err
	}
	return f, checkOutline(defects.Building{Ring: f.Rings[0], Courts: f.Rings[1:]})
}
