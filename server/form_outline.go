package server

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"storeyrod/defects"
	"storeyrod/web"
)

// courtWord begins a courtyard among typed corners, on a line of its own.
const courtWord = "courtyard"

// drawnOutline is an outline as a form gives it: rings in metres, the outer one
// first, or in degrees with x the longitude.
type drawnOutline struct {
	rings    [][]defects.XY
	degrees  bool
	frame    *defects.Frame // where metres lie on earth; nil = nowhere
	typed    bool           // by corners, not as a rectangle
	ringsWGS [][]defects.LonLat
}

// outlineOf reads corners when any are typed, else a rectangle.
func outlineOf(f *web.Form) (drawnOutline, error) {
	o := drawnOutline{degrees: typed(f, "unit") == "degrees", typed: typed(f, "corners") != ""}
	var err error
	if o.frame, err = originOf(f); err != nil {
		return o, err
	}
	if !o.typed {
		o.degrees = false
		if typed(f, "east") == "" && typed(f, "north") == "" {
			o.frame = nil // nobody said where it stands
		}
		ring, err := rectangleOf(f)
		o.rings = [][]defects.XY{ring}
		return o.onEarth(), err
	}
	o.rings, err = ringsTyped(f.Values.Get("corners"))
	return o.onEarth(), err
}

// onEarth works the rings out in degrees, where they have a place.
func (o drawnOutline) onEarth() drawnOutline {
	for _, ring := range o.rings {
		switch {
		case o.degrees:
			o.ringsWGS = append(o.ringsWGS, each(ring, func(p defects.XY) defects.LonLat { return defects.LonLat{Lon: p.X, Lat: p.Y} }))
		case o.frame != nil:
			o.ringsWGS = append(o.ringsWGS, defects.RingOnEarth(ring, *o.frame))
		}
	}
	return o
}

// inMetres gives the rings for a drawing, in a frame when they have a place.
func (o drawnOutline) inMetres(f *defects.Frame) [][]defects.XY {
	if f == nil || len(o.ringsWGS) == 0 {
		return o.rings
	}
	return defects.RingsIn(defects.Building{Ring: o.ringsWGS[0], Courts: o.ringsWGS[1:]}, *f)
}

// originOf reads where the point 0 0 lies on earth; nil when that is left out.
func originOf(f *web.Form) (*defects.Frame, error) {
	if typed(f, "lon") == "" && typed(f, "lat") == "" {
		return nil, nil
	}
	var at [2]float64
	for i, name := range []string{"lon", "lat"} {
		v, err := strconv.ParseFloat(typed(f, name), 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > []float64{180, 89}[i] {
			return nil, defects.RefuseField(defects.Invalid, name, "bad_coordinate", "give longitude and latitude in degrees, such as -1.5 and 53.4, or leave both out")
		}
		at[i] = v
	}
	frame := defects.NewFrame(defects.LonLat{Lon: at[0], Lat: at[1]})
	return &frame, nil
}

// ringsTyped reads one corner a line, two numbers with a semicolon, a comma or
// spaces between; the word "courtyard" begins the next ring.
func ringsTyped(text string) ([][]defects.XY, error) {
	rings := [][]defects.XY{nil}
	n := 0
	for line := range strings.SplitSeq(text, "\n") {
		words := strings.Fields(strings.NewReplacer(";", " ", ",", " ").Replace(line))
		switch {
		case len(words) == 0:
			continue
		case len(words) == 1 && strings.EqualFold(words[0], courtWord):
			rings = append(rings, nil)
			continue
		}
		field := fmt.Sprintf("corners[%d]", n)
		n++
		if len(words) != 2 {
			return nil, defects.RefuseField(defects.Invalid, field, "bad_row", "write two numbers, such as 12.5 0")
		}
		var at [2]float64
		for i, word := range words {
			v, err := strconv.ParseFloat(word, 64)
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, defects.RefuseField(defects.Invalid, field, "bad_number", "is not a number; write it with a point, such as 12.5")
			}
			at[i] = v
		}
		last := len(rings) - 1
		rings[last] = append(rings[last], defects.XY{X: at[0], Y: at[1]})
	}
	return rings, nil
}

// cornersText writes rings as ringsTyped reads them, to the millimetre.
func cornersText(rings [][]defects.XY) string {
	var b strings.Builder
	for i, ring := range rings {
		if i > 0 {
			b.WriteString(courtWord + "\n")
		}
		for _, p := range ring {
			fmt.Fprintf(&b, "%.3f %.3f\n", p.X+0, p.Y+0)
		}
	}
	return b.String()
}

// rectangleOf reads a rectangle by its length, depth, turn and middle.
func rectangleOf(f *web.Form) ([]defects.XY, error) {
	length, err := neededMetres(f, "length")
	if err != nil {
		return nil, err
	}
	depth, err := neededMetres(f, "depth")
	if err != nil {
		return nil, err
	}
	bearing, err := facesOf(f)
	if err != nil {
		return nil, err
	}
	l, d := float64(length)/1000, float64(depth)/1000
	east, err := typedMetres(f, "east")
	if err != nil {
		return nil, err
	}
	north, err := typedMetres(f, "north")
	if err != nil {
		return nil, err
	}
	ring := rectangle(l, d, bearing)
	if east == nil && north == nil {
		return ring, nil
	}
	middle := defects.XY{X: (ring[0].X + ring[2].X) / 2, Y: (ring[0].Y + ring[2].Y) / 2}
	at := defects.XY{X: metresOr0(east), Y: metresOr0(north)}
	for i := range ring {
		ring[i].X += at.X - middle.X
		ring[i].Y += at.Y - middle.Y
	}
	return ring, nil
}

func metresOr0(m *defects.MM) float64 {
	if m == nil {
		return 0
	}
	return float64(*m) / 1000
}

// facesOf reads which way the long side faces, exactly or by one of eight ways.
func facesOf(f *web.Form) (float64, error) {
	turn, err := typedDecimal(f, "turn")
	if err != nil {
		return 0, err
	}
	if turn != nil {
		if turn.Sign() < 0 || !turn.Less(defects.DecimalOf(360)) {
			return 0, defects.RefuseField(defects.Invalid, "turn", "bad_bearing", "must be 0 or more and below 360 degrees")
		}
		return turn.Float(), nil
	}
	for i, way := range wayOptions() {
		if i > 0 && way.Value == typed(f, "faces") {
			return float64(i-1) * 45, nil
		}
	}
	return 0, defects.RefuseField(defects.Invalid, "faces", "direction_missing", "say which way the long side faces")
}

// onOutlineForm puts a refusal of the outline at the field it was typed in.
func onOutlineForm(f *web.Form, err error) error {
	e, ok := asRefusal(err)
	if !ok {
		return err
	}
	placed := *e
	for _, name := range []string{"plan", "ring", "court "} {
		rest, found := strings.CutPrefix(e.Field, name)
		switch {
		case !found:
			continue
		case typed(f, "corners") == "":
			placed.Field = "length"
		case name == "court ":
			placed.Field = "corners"
		default:
			placed.Field = "corners" + rest
		}
		return &placed
	}
	return err
}
