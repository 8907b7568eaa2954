package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/imaging"
)

// maxFootprints is the largest file of outlines that is read, in bytes.
const maxFootprints = 32 << 20

// locateLine is which wall face one photo shows. Edge counts from 0 in the ring
// as given; null is what cannot be said.
type locateLine struct {
	File         string       `json:"file"`
	Building     *string      `json:"building"`
	Edge         *int         `json:"edge"`
	Ring         int          `json:"ring,omitempty"` // 0 = the outer one, else a courtyard
	P            *float64     `json:"p"`              // given that it shows a face
	PHit         *float64     `json:"p_hit"`          // that it shows any face at all
	Alternatives []locateFace `json:"alternatives"`
	Stretch      *locateSpans `json:"stretch,omitempty"` // with --stretch
	Reason       string       `json:"reason"`
	Error        string       `json:"error,omitempty"`
}

type locateFace struct {
	Building string  `json:"building"`
	Edge     int     `json:"edge"`
	Ring     int     `json:"ring,omitempty"`
	P        float64 `json:"p"`
}

// locateSpans is what the picture takes in of the face named, in metres from the
// face's left end, seen from outside.
type locateSpans struct {
	From   *locateSpan `json:"from_m"` // null without an angle of view
	Middle locateSpan  `json:"middle_m"`
	To     *locateSpan `json:"to_m"`
}

type locateSpan struct {
	Best float64 `json:"best"`
	Low  float64 `json:"low"` // 95 % lie between low and high
	High float64 `json:"high"`
}

type locateFlags struct {
	site    string
	walk    bool
	stretch bool
	defects.FaceOptions
}

func locateCommand() *cobra.Command {
	var f locateFlags
	cmd := &cobra.Command{
		Use:   "locate --site GEOJSON FILE-or-DIR…",
		Short: "Say which wall face each photo shows, with its probability",
		Long: `Works out from a photo's own position, direction and their errors which face of the
buildings the middle of the picture lies on, and writes one JSON object a line. The
camera is taken to stand outdoors, and a face hides what is behind it. No server is
needed. The buildings are Polygons in a GeoJSON FeatureCollection, each with the
property "building".

"edge" counts from 0 in the ring as given, edge 0 running from its first point to the
second; "ring" is there for a courtyard. "p" is the chance given that any face is
shown, "p_hit" the chance of that. Below a p_hit of 0.001 the photo shows none of the
buildings, and no face is named. "reason" says whether "p" reaches the threshold.

Near walls phones know less than they state, so that a position is taken as good to
4 m along each axis at best, and a direction to 15°. A direction to magnetic north is
turned by the declination of the World Magnetic Model 2025.

--stretch adds what the picture takes in of the face named, at half its height: its
left edge, middle and right edge in metres from the face's left end, seen from
outside, each with the ends between which it lies with 95 %, given that the middle
of the picture lies on that face. It needs a direction, and for the edges an angle
of view, and takes some milliseconds more a photo.

--walk lets photos of one camera raise or lower each other's chances in the order
they were taken, as people take several of one wall before they go on.

The exit code is 1 when a photo or a building could not be read; the others are
answered all the same.`,
		Example: "  storeyrod locate --site site.geojson photos/\n  storeyrod locate --site site.geojson --walk photos/ | jq 'select(.p > 0.9)'",
		Args:    atLeastOne("photo or folder"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runLocate(cmd, args, f) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.site, "site", "", "GeoJSON file with the buildings")
	flags.Float64Var(&f.Threshold, "threshold", defects.FaceThreshold, "chance from which a face is named without a question")
	flags.Float64Var(&f.RangeM, "range", defects.FaceRangeM, "metres from the camera beyond which a wall is not what is shown")
	flags.Float64Var(&f.RadiusFactor, "radius-factor", defects.FaceRadiusFactor,
		"standard deviation along an axis as a part of the stated accuracy: 0.662 where that holds 68 % of positions, 0.409 for 95 %")
	flags.BoolVar(&f.stretch, "stretch", false, "add what the picture takes in of the face, with its error")
	flags.BoolVar(&f.walk, "walk", false, "let photos of one camera taken one after the other speak for each other")
	return cmd
}

func runLocate(cmd *cobra.Command, args []string, f locateFlags) error {
	switch {
	case f.site == "":
		return usagef("--site names the GeoJSON file with the buildings")
	case f.Threshold <= 0 || f.Threshold > 1:
		return usagef("--threshold lies above 0 and at most at 1")
	case f.RangeM <= 0 || f.RangeM > 10_000:
		return usagef("--range lies above 0 and at most at 10000 metres")
	case f.RadiusFactor <= 0 || f.RadiusFactor > 1:
		return usagef("--radius-factor lies above 0 and at most at 1")
	}
	site, refused, err := readFootprints(f.site)
	if err != nil {
		return fmt.Errorf("%s: %w", f.site, err)
	}
	for _, r := range refused {
		fmt.Fprintf(cmd.ErrOrStderr(), "storeyrod: %s: %s: %s\n", f.site, r.Item, describe(r.Err))
	}
	names, err := photoNames(args)
	if err != nil {
		return err
	}
	bad, err := site.locate(cmd, names, f)
	if err != nil {
		return err
	}
	if bad+len(refused) > 0 {
		return &refusedError{fmt.Sprintf("%d of %d photos and %d of %d buildings could not be read",
			bad, len(names), len(refused), len(refused)+len(site.names))}
	}
	return nil
}

// photoNames lists the photos named and those in the folders named.
func photoNames(args []string) ([]string, error) {
	var names []string
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil || !info.IsDir() {
			names = append(names, arg) // what is wrong with it is told in its line
			continue
		}
		root, list, err := filesOf(arg)
		if err != nil {
			return nil, err
		}
		if err := root.Close(); err != nil {
			return nil, err
		}
		for _, name := range list {
			if endsLikePhoto(name) {
				names = append(names, filepath.Join(arg, name))
			}
		}
	}
	return names, nil
}

// footprints are the buildings that photos are held against.
type footprints struct {
	names []string // of the buildings laid out, as the scene counts them
	frame defects.Frame
	scene defects.Scene
	faces []defects.SceneFace
}

func readFootprints(name string) (*footprints, []register.Refusal, error) {
	file, err := openPlain(name)
	if err != nil {
		return nil, nil, err
	}
	defer file.Close()
	list, refused, err := register.ParseFootprints(file, maxFootprints)
	if err != nil {
		return nil, nil, err
	}
	outer := make([][]defects.LonLat, len(list))
	for i, b := range list {
		outer[i] = b.Rings[0]
	}
	lay, ok := defects.LocalityOf(outer)
	if !ok {
		return nil, refused, defects.Refuse(defects.Invalid, "no_buildings", "no outline of a building could be taken from it")
	}
	site := &footprints{frame: lay.Frame}
	var rings [][][]defects.XY
	for i, b := range list {
		if lay.Far[i] {
			refused = append(refused, register.Refusal{Item: b.Name, Err: defects.Refuse(defects.Invalid, "too_far",
				"lies more than 50 km from the other buildings; are its coordinates right?")})
			continue
		}
		site.names = append(site.names, b.Name)
		var outlines [][]defects.XY
		for _, ring := range b.Rings {
			outlines = append(outlines, defects.OutlineIn(defects.Building{Ring: ring}, lay.Frame))
		}
		rings = append(rings, outlines)
	}
	site.scene = defects.NewScene(rings)
	site.faces = site.scene.Faces()
	return site, refused, nil
}

// locate answers for each photo. With a walk it must know all before it answers
// for any.
func (s *footprints) locate(cmd *cobra.Command, names []string, f locateFlags) (bad int, err error) {
	out := bufio.NewWriter(cmd.OutOrStdout())
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	var all []locatePhoto
	tell := func(p locatePhoto) error {
		if p.err != nil {
			bad++
		}
		l := s.line(p, f.Threshold)
		if f.stretch {
			l.Stretch = s.stretch(p)
		}
		return enc.Encode(l)
	}
	for _, name := range names {
		p, err := s.look(cmd.Context(), name, f)
		if err != nil {
			return bad, err
		}
		if f.walk {
			all = append(all, p)
			continue
		}
		if err := tell(p); err != nil {
			return bad, fmt.Errorf("write: %w", err)
		}
	}
	s.walk(all)
	for _, p := range all {
		if err := tell(p); err != nil {
			return bad, fmt.Errorf("write: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return bad, fmt.Errorf("write: %w", err)
	}
	return bad, nil
}

// look reads a photo and works out what it shows by itself.
func (s *footprints) look(ctx context.Context, name string, f locateFlags) (locatePhoto, error) {
	if err := ctx.Err(); err != nil {
		return locatePhoto{}, err
	}
	p := locatePhoto{name: name}
	file, err := openPlain(name)
	if err != nil {
		p.err = err
		return p, nil
	}
	defer file.Close()
	if p.capture, _, p.err = imaging.ReadExif(file, imaging.DefaultLimits()); p.err != nil {
		return p, nil
	}
	p.sighting, p.notes, p.placed = defects.SightingOf(p.capture, s.frame, f.FaceOptions)
	switch {
	case !p.placed:
	case s.frame.Holds(defects.LonLat{Lon: *p.capture.Lon, Lat: *p.capture.Lat}):
		p.shown = s.scene.Posterior(p.sighting)
	default:
		p.shown.Outside = 1 // outdoors, and none of the buildings
		p.notes = []string{"its position lies more than 50 km from them"}
	}
	return p, nil
}
