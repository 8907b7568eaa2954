package imaging

import (
	"encoding/binary"
	"fmt"

	"storeyrod/defects"
	"storeyrod/imaging/hevc"
)

// maxTiles bounds the tiles of a grid; 64 megapixels in tiles of 512 × 512
// are 256.
const maxTiles = 1024

// heicPlan says how the primary picture of a HEIC file is put together: tiles
// in rows, all of one size (ISO/IEC 23008-12 §6.6.2.3), then cut and turned.
type heicPlan struct {
	w, h         int // as stored, before cutting and turning
	cols         int
	tileW, tileH int
	tiles        []heicTile
	cut          cutting
	turn         int // Exif orientation with the effect of irot and imir
	colour       colourCode
	grey         bool
}

// heicTile is one coded picture.
type heicTile struct {
	config []byte // body of hvcC: parameter sets
	data   []span
}

// cutting is a part of the stored picture, in pixels.
type cutting struct{ x, y, w, h int }

// unreadableHEIC is the refusal for what other programs may read.
func unreadableHEIC(why string) error {
	return defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
		"no view copy can be made of this kind of HEIC ("+why+"); the original is kept")
}

// planHEIC works out the plan of the primary item, a coded picture or a grid.
func (s *survey) planHEIC(h *heifItems) (*heicPlan, error) {
	size, _ := h.sizeOf(h.primary)
	p := &heicPlan{w: size[0], h: size[1], cols: 1, turn: 1, colour: unsaidColour()}
	ids := []uint32{h.primary}
	switch kind := h.kinds[h.primary]; kind {
	case "hvc1":
	case "grid":
		ids = h.parts[h.primary]
		if err := s.planGrid(h, p, len(ids)); err != nil {
			return nil, err
		}
	default:
		return nil, unreadableHEIC(fmt.Sprintf("main picture of type %q", kind))
	}
	if err := p.addTiles(h, ids); err != nil {
		return nil, err
	}
	if err := s.planColour(h, p, ids[0]); err != nil {
		return nil, err
	}
	return p, p.planTurns(h.propertiesOf(h.primary))
}

// planGrid reads the grid's own description.
func (s *survey) planGrid(h *heifItems, p *heicPlan, parts int) error {
	places := h.placesOf(h.primary)
	if len(places) != 1 || places[0].n < 8 {
		return damaged("the grid of tiles is not described", nil)
	}
	b, err := s.src.upTo(places[0].at, int(min(places[0].n, 12)))
	if err != nil || len(b) < 8 {
		return damaged("the grid of tiles is not described", err)
	}
	rows, cols := int(b[2])+1, int(b[3])+1
	c := cursor{b: b[4:]}
	width := 2
	if b[1]&1 != 0 {
		width = 4
	}
	w, ht := c.u(width), c.u(width)
	if b[0] != 0 || c.short || w != uint64(p.w) || ht != uint64(p.h) {
		return damaged("the grid of tiles has another size than the picture", nil)
	}
	if rows*cols > maxTiles {
		return unreadableHEIC("too many tiles")
	}
	if parts != rows*cols {
		return damaged("tiles are missing", nil)
	}
	p.cols = cols
	return nil
}

// addTiles checks each tile's type and size.
func (p *heicPlan) addTiles(h *heifItems, ids []uint32) error {
	for i, id := range ids {
		if kind := h.kinds[id]; kind != "hvc1" {
			return unreadableHEIC(fmt.Sprintf("tile of type %q", kind))
		}
		size, _ := h.sizeOf(id)
		config, ok := h.property(id, "hvcC")
		if !ok || size[0] <= 0 || size[1] <= 0 {
			return damaged("a tile is not described", nil)
		}
		if i == 0 {
			p.tileW, p.tileH = size[0], size[1]
		}
		if size != [2]int{p.tileW, p.tileH} {
			return damaged("tiles differ in size", nil)
		}
		p.tiles = append(p.tiles, heicTile{config.body, h.placesOf(id)})
	}
	if len(ids) > 1 && (p.tileW%2 == 1 || p.tileH%2 == 1) { // chroma would not meet
		return unreadableHEIC("tiles of an odd size")
	}
	if int64(p.tileW)*int64(p.tileH) > hevc.MaxPixels {
		return unreadableHEIC(fmt.Sprintf("tiles of more than %d megapixels", hevc.MaxPixels/1_000_000))
	}
	cols, rows := p.cols, len(p.tiles)/p.cols
	if cols*p.tileW < p.w || rows*p.tileH < p.h || (cols-1)*p.tileW >= p.w || (rows-1)*p.tileH >= p.h {
		return damaged("the tiles do not fit the picture", nil)
	}
	return nil
}

// planTurns applies what cuts and turns the picture, in the order listed.
func (p *heicPlan) planTurns(list []heifProperty) error {
	p.cut = cutting{0, 0, p.w, p.h}
	for _, prop := range list {
		switch prop.kind {
		case "clap":
			if p.turn != 1 {
				return unreadableHEIC("cut after turning")
			}
			if err := p.clean(prop.body); err != nil {
				return err
			}
		case "irot":
			if len(prop.body) < 1 {
				return damaged("a turn is not described", nil)
			}
			p.turn = turnedLeft(p.turn, int(prop.body[0]&3))
		case "imir":
			if len(prop.body) < 1 {
				return damaged("a mirror is not described", nil)
			}
			p.turn = mirrored(p.turn, prop.body[0]&1 == 1)
		}
	}
	return nil
}

// clean reads the clean aperture (ISO/IEC 14496-12 §12.1.4): size and offset
// of its centre from that of the picture, as fractions.
func (p *heicPlan) clean(b []byte) error {
	if len(b) < 32 {
		return damaged("a cut is not described", nil)
	}
	var v [4]float64
	for i := range v {
		num, den := int32(binary.BigEndian.Uint32(b[8*i:])), int32(binary.BigEndian.Uint32(b[8*i+4:]))
		if den <= 0 {
			return damaged("a cut is not described", nil)
		}
		v[i] = float64(num) / float64(den)
	}
	w, h := int(v[0]), int(v[1])
	x, y := v[2]+float64(p.w-w)/2, v[3]+float64(p.h-h)/2
	if w < 1 || h < 1 || x < 0 || y < 0 || x+float64(w) > float64(p.w) || y+float64(h) > float64(p.h) {
		return damaged("a cut lies beyond the picture", nil)
	}
	p.cut = cutting{int(x), int(y), w, h}
	return nil
}

// Exif orientations as "mirrored left to right, then turned clockwise by
// quarters": orientation 1 + its place in the list.
func quarters() [8][2]int {
	return [8][2]int{{0, 0}, {1, 0}, {0, 2}, {1, 2}, {1, 3}, {0, 1}, {1, 1}, {0, 3}}
}

func orientationOf(mirror, turns int) int {
	for i, q := range quarters() {
		if q == [2]int{mirror, turns & 3} {
			return i + 1
		}
	}
	return 1
}

// turnedLeft adds anticlockwise quarter turns (irot).
func turnedLeft(orientation, turns int) int {
	q := quarters()[orientation-1]
	return orientationOf(q[0], q[1]-turns)
}

// mirrored adds an exchange of left and right or of top and bottom (imir).
func mirrored(orientation int, leftRight bool) int {
	q := quarters()[orientation-1]
	if leftRight {
		return orientationOf(1-q[0], -q[1])
	}
	return orientationOf(1-q[0], 2-q[1])
}
