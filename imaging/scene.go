package imaging

import (
	"fmt"
	"image"
	"math/rand/v2"

	"storeyrod/defects"
	"storeyrod/imaging/jpeg"
)

// SceneLayer is the layer of the wall a drawn photo shows.
type SceneLayer string

// The layers that can be drawn.
const (
	SceneSlips  SceneLayer = "slips"  // brick slips in stretcher bond
	SceneBoards SceneLayer = "boards" // insulation boards with anchors
	SceneCoat   SceneLayer = "coat"   // base coat with mesh half bedded
	SceneRender SceneLayer = "render" // render finish
)

// FaultKind is something wrong that a drawn photo shows.
type FaultKind string

// The faults, with what Size means for each.
const (
	FaultOffLevel FaultKind = "off_level"      // slips: the course at Z drops by Size mm over the view
	FaultWideGap  FaultKind = "wide_joint"     // slips, boards: the upright joint nearest X, Z is Size mm wide
	FaultChip     FaultKind = "chipped_slip"   // slips: a corner of Size mm is missing
	FaultLipping  FaultKind = "lipping"        // slips: one slip stands out and throws a shadow of Size mm
	FaultCrack    FaultKind = "crack"          // any layer: a crack Size mm long runs down from X, Z
	FaultStain    FaultKind = "stain"          // any layer: a pale bloom of Size mm
	FaultNoAnchor FaultKind = "missing_anchor" // boards: the anchor nearest X, Z is not there
	FaultBareMesh FaultKind = "bare_mesh"      // coat: mesh shows through over Size mm
)

// SceneFault puts one fault at a place of the view.
type SceneFault struct {
	Kind FaultKind
	X, Z float64 // mm from the left and from the bottom of the view
	Size float64 // mm
}

// SceneSpec describes a photo to be drawn for the demo, looking square at a
// wall. The same spec always gives the same pixels. Pictures drawn this way
// are invented: they show no real wall.
type SceneSpec struct {
	Width, Height int // pixels; 800 × 600 when zero
	Layer         SceneLayer
	Seed          uint64
	ViewMM        float64 // width of wall in view; 2400 when zero
	JointMM       float64 // bed and upright joints of slips; 10 when zero
	Tone          string  // slips and render: "red", "buff", "brown", "grey"
	Faults        []SceneFault
	Label         string // text on a small board in the corner, "" for none
	Tape          bool   // a tape measure along the bottom, in centimetres
}

func (s SceneSpec) filled() SceneSpec {
	if s.Width <= 0 || s.Height <= 0 {
		s.Width, s.Height = 800, 600
	}
	s.Width, s.Height = min(s.Width, 16_384), min(s.Height, 16_384)
	if s.ViewMM <= 0 {
		s.ViewMM = 2400
	}
	if s.JointMM <= 0 {
		s.JointMM = 10
	}
	return s
}

// Render draws the scene. The result is an *image.YCbCr, ready for the JPEG
// encoder without a further conversion.
func Render(spec SceneSpec) image.Image {
	s := spec.filled()
	rng := rand.New(rand.NewPCG(s.Seed, 0x5707E7))
	c := newCanvas(s, rng)
	switch s.Layer {
	case SceneBoards:
		c.boards(s, rng)
	case SceneCoat:
		c.coat(s, rng)
	case SceneRender:
		c.plain(s)
	default:
		c.slips(s, rng)
	}
	for _, f := range s.Faults {
		switch f.Kind {
		case FaultCrack:
			c.crack(f, rng)
		case FaultStain:
			c.stain(f)
		}
	}
	if s.Tape {
		c.tape()
	}
	if s.Label != "" {
		c.label(s.Label)
	}
	return c.img
}

// sceneQuality is the JPEG quality of drawn photos, as phones use.
const sceneQuality = 88

// RenderJPEG draws the scene and writes it as a JPEG with the capture as its
// Exif data. Width and Height of the capture are set from the picture; with
// an orientation other than 1 the pixels are stored turned, so that the photo
// shows upright.
func RenderJPEG(spec SceneSpec, c defects.Capture) ([]byte, error) {
	img := Render(spec)
	if turn := storedTurn(c.Orientation); turn > 1 {
		img = reduce(img, max(img.Bounds().Dx(), img.Bounds().Dy()), turn)
	}
	b, err := jpeg.Encode(img, sceneQuality)
	if err != nil {
		return nil, fmt.Errorf("encode drawn photo: %w", err)
	}
	c.Width, c.Height = img.Bounds().Dx(), img.Bounds().Dy()
	return WithExif(b, c)
}

// storedTurn gives the turn that undoes an orientation: each undoes itself
// but the two quarter turns, which undo each other.
func storedTurn(orientation int) int {
	switch orientation {
	case 6:
		return 8
	case 8:
		return 6
	}
	return orientation
}
