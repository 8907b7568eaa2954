package report_test

import (
	"encoding/xml"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

func areaHref(bay, lift int) string { return fmt.Sprintf("/e?bay=%d&lift=%d", bay, lift) }

// face is an invented wall of whole metres with bays of 2.5 m and lifts of 2 m.
func face(long, high defects.MM) defects.Elevation {
	e := defects.Elevation{Building: "Terrace A", Name: "South", Length: long * 1000, Height: high * 1000, BaseLine: 150}
	e.Bays, e.Lifts = defects.EvenBays(e.Length, 2500), defects.EvenLifts(e.Height, 2000)
	return e
}

// strewn is a drawing of n snags at places chosen by a fixed seed.
func strewn(e defects.Elevation, n int) report.Drawing {
	r := rand.New(rand.NewPCG(1, uint64(n)))
	d := report.Drawing{Elevation: e, AreaHref: areaHref}
	for i := range n {
		d.Snags = append(d.Snags, report.DrawnSnag{
			Number: i + 1, Place: defects.Place{X: at(r.Int64N(int64(e.Length))), Z: at(r.Int64N(int64(e.Height)))},
			Severity: defects.Severities()[i%3], State: defects.States()[i%8], Title: "Joint width", Href: fmt.Sprintf("/snags/%d", i+1),
		})
	}
	return d
}

// shape is one element of a drawing with its attributes and its words.
type shape struct {
	name, class, words, title, href string
	at                              map[string]string
	near                            bool // of the layer that is looked at closely
}

func (s shape) n(name string) float64 {
	f, err := strconv.ParseFloat(s.at[name], 64)
	if err != nil {
		return math.NaN()
	}
	return f
}

// shapes reads a drawing as a browser does, in the order in which it is painted.
func shapes(t *testing.T, svg string) []shape {
	t.Helper()
	var out []shape
	var open []int
	reader := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := reader.Token()
		if token == nil {
			return out
		}
		require.NoError(t, err)
		switch v := token.(type) {
		case xml.StartElement:
			s := shape{name: v.Name.Local, at: map[string]string{}}
			for _, a := range v.Attr {
				s.at[a.Name.Local] = a.Value
			}
			s.class, s.href = s.at["class"], s.at["href"]
			s.near = s.class == "snags-near" || len(open) > 0 && out[open[len(open)-1]].near
			open = append(open, len(out))
			out = append(out, s)
		case xml.CharData:
			at := open[len(open)-1]
			if out[at].name == "title" {
				out[open[len(open)-2]].title = string(v)
			}
			out[at].words = string(v)
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
}

// layersOf parts a drawing into what is seen of the whole, and what is seen of it
// when it is enlarged, where that is another.
func layersOf(all []shape) map[string][]shape {
	out := map[string][]shape{}
	for _, s := range all {
		if s.near {
			out["near"] = append(out["near"], s)
		} else {
			out["far"] = append(out["far"], s)
		}
	}
	return out
}

// drawnFar is the drawing as it is seen as a whole.
func drawnFar(t *testing.T, d report.Drawing) []shape {
	t.Helper()
	return layersOf(shapes(t, report.ElevationSVG(d)))["far"]
}

func pick(list []shape, class string) []shape {
	var out []shape
	for _, s := range list {
		for _, c := range strings.Fields(s.class) {
			if c == class {
				out = append(out, s)
			}
		}
	}
	return out
}

type box struct{ x0, y0, x1, y1 float64 }

func boxOf(s shape) box {
	return box{s.n("x"), s.n("y"), s.n("x") + s.n("width"), s.n("y") + s.n("height")}
}

func (b box) meets(o box) bool { return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 }
func (b box) within(o box) bool {
	return b.x0 >= o.x0 && b.y0 >= o.y0 && b.x1 <= o.x1 && b.y1 <= o.y1
}

// What is placed beyond the wall is drawn at its edge.
func TestNothingIsDrawnBeyondTheDrawing(t *testing.T) {
	t.Parallel()
	e := face(42, 9)
	e.Openings = []defects.Opening{{Name: "W01", Kind: "window", X: 1000, Z: 900, Width: 1200, Height: 1500}}
	d := strewn(e, 30)
	for i, p := range [][2]int64{{-500, 100}, {43_000, 10_000}, {100, 99_000}} {
		d.Snags[i].Place = defects.Place{X: at(p[0]), Z: at(p[1])}
		d.Ticks = append(d.Ticks, report.DrawnTick{Place: d.Snags[i].Place, Outcome: defects.NoVerdict})
	}
	all := shapes(t, report.ElevationSVG(d))
	var view box
	_, err := fmt.Sscanf(all[0].at["viewBox"], "%f %f %f %f", &view.x0, &view.y0, &view.x1, &view.y1)
	require.NoError(t, err)
	view.x1, view.y1 = view.x1+view.x0, view.y1+view.y0
	for _, s := range all {
		if s.name == "rect" && s.class != "slip-ground" && !strings.HasPrefix(s.class, "hatch-ground") {
			require.True(t, boxOf(s).within(view), "%v", s.at)
		}
		if s.name != "text" {
			continue
		}
		size := s.n("font-size")
		wide := size * 0.6 * float64(len(s.words))
		from := s.n("x") - map[string]float64{"start": 0, "middle": wide / 2, "end": wide}[s.at["text-anchor"]]
		require.True(t, box{from, s.n("y") - size, from + wide, s.n("y") + size/5}.within(view), "%q %v", s.words, s.at)
	}
}

func TestNumbersOfBaysAreLeftOutWhereThereIsNoRoom(t *testing.T) {
	t.Parallel()
	for long, want := range map[defects.MM][]string{
		10: {"bay", "1", "2", "3", "4"},
		72: {"bay", "2", "4", "6"},
	} {
		e := face(long, 6)
		e.Lifts = nil
		if long == 72 {
			e.Bays = defects.EvenBays(e.Length, 800)
		}
		var words []string
		for _, s := range pick(shapes(t, report.ElevationSVG(report.Drawing{Elevation: e})), "wall-note") {
			words = append(words, s.words)
		}
		require.Equal(t, want, words[:len(want)])
		require.Equal(t, 1, strings.Count(strings.Join(words, " "), "bay"), "the word stands once")
	}
}

func TestNamesOfOpeningsShrinkAndVanishRatherThanOverflow(t *testing.T) {
	t.Parallel()
	e := face(20, 6)
	e.Openings = []defects.Opening{
		{Name: "W01", Kind: "window", X: 1000, Z: 900, Width: 1200, Height: 1500},
		{Name: "W02", Kind: "window", X: 4000, Z: 900, Width: 600, Height: 1500},
		{Name: "vent 7 of the plant room", X: 7000, Z: 900, Width: 300, Height: 300},
	}
	svg := report.ElevationSVG(report.Drawing{Elevation: e})
	size := map[string]float64{}
	for _, s := range shapes(t, svg) {
		if s.name == "text" {
			size[s.words] = s.n("font-size")
		}
	}
	require.Greater(t, size["W01"], size["W02"])
	require.Positive(t, size["W02"])
	require.Zero(t, size["vent 7 of the plant room"])
	require.Contains(t, svg, "<title>vent 7 of the plant room</title>")
}

// A drawing with links is a group, since a picture may not hold any.
func TestADrawingWithLinksIsAGroup(t *testing.T) {
	t.Parallel()
	linked, still := strewn(face(20, 6), 2), strewn(face(20, 6), 2)
	for i := range still.Snags {
		still.Snags[i].Href = ""
	}
	require.Equal(t, "group", shapes(t, report.ElevationSVG(linked))[0].at["role"])
	require.Equal(t, "img", shapes(t, report.ElevationSVG(still))[0].at["role"])
	all := shapes(t, report.ElevationSVG(still))
	ids := map[string]string{}
	for _, s := range all {
		ids[s.at["id"]] = s.words
	}
	require.Equal(t, "Terrace A, South elevation", ids[all[0].at["aria-labelledby"]])
	require.Equal(t, "20.00 m long and 6.00 m high, as seen from outside, with 2 snags, 0 readings and 0 openings, 8 bays by 3 lifts",
		ids[all[0].at["aria-describedby"]])
}

// The least width keeps 22 pixels a metre, within bounds.
func TestALongWallIsWiderThanThePhone(t *testing.T) {
	t.Parallel()
	for long, class := range map[defects.MM]string{6: "reach-4", 20: "reach-4", 42: "reach-7", 72: "reach-11", 300: "reach-14"} {
		require.Equal(t, "wall "+class, shapes(t, report.ElevationSVG(report.Drawing{Elevation: face(long, 6)}))[0].class)
	}
}

// coursedAreas are invented areas as a site has them.
func coursedAreas() []report.Area {
	var out []report.Area
	for _, b := range []string{"Terrace A", "Quarry Cottages, long row"} {
		for _, n := range []string{"South", "North-east 1", "back yard"} {
			out = append(out, report.Area{Building: b, Name: n})
		}
	}
	return out
}

func TestTheWallOfHoldPointsSaysItsFacesShortAndItsBuildingsOnce(t *testing.T) {
	t.Parallel()
	courses := []report.Course{{Name: "H1", Bricks: make([]report.Brick, 6)}}
	var words []string
	for _, s := range pick(shapes(t, report.CoursedSVG(courses, coursedAreas())), "coursed-area") {
		words = append(words, s.words)
	}
	require.Equal(t, []string{"S", "NE 1", "back…", "Terrace A", "S", "NE 1", "back…", "Quarry Cottages,…"}, words)
}

// ell is an invented footprint like an L.
func ell() defects.Building {
	return defects.Building{ID: "b3", Name: "Corner", Plan: []defects.XY{
		{X: 0, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 8}, {X: 8, Y: 8}, {X: 8, Y: 30}, {X: 0, Y: 30},
	}}
}

func TestABuildingsNameLiesWithinItsOutlineOrBelow(t *testing.T) {
	t.Parallel()
	inside := func(b defects.Building) shape {
		return pick(shapes(t, report.PlanSVG([]defects.Building{b}, nil)), "plan-name")[0]
	}
	name := inside(ell())
	margin := 4.2 * 0.045 * 40
	x, y := name.n("x")-margin, 30+margin-name.n("y") // back to metres
	require.True(t, (x > 0 && x < 40 && y > 0 && y < 8) || (x > 0 && x < 8 && y > 0 && y < 30), "%v %v", x, y)
	upright := inside(defects.Building{Name: "Terrace A", Plan: []defects.XY{{}, {X: 5}, {X: 5, Y: 40}, {Y: 40}}})
	require.Contains(t, upright.at["transform"], "rotate(-90")
	below := inside(defects.Building{Name: "A name much longer than its house is wide or deep", Plan: []defects.XY{{}, {X: 5}, {X: 5, Y: 5}, {Y: 5}}})
	require.Greater(t, below.n("y"), 5+4.2*0.045*5)
}

func TestAFaceOfThePlanCanBeTappedWiderThanItIsDrawn(t *testing.T) {
	t.Parallel()
	var faces []report.PlanElevation
	for _, e := range defects.ElevationsOf(ell(), defects.ElevationOptions{}) {
		faces = append(faces, report.PlanElevation{Elevation: e, Open: 12, Href: "/e"})
	}
	all := shapes(t, report.PlanSVG([]defects.Building{ell()}, faces))
	require.Equal(t, "group", all[0].at["role"])
	require.Len(t, pick(all, "plan-hit"), len(faces))
	depth := func(s shape) float64 {
		var p [8]float64
		_, err := fmt.Sscanf(s.at["d"], "M%f %fL%f %fL%f %fL%f %fZ", &p[0], &p[1], &p[2], &p[3], &p[4], &p[5], &p[6], &p[7])
		require.NoError(t, err)
		return math.Hypot(p[4]-p[2], p[5]-p[3])
	}
	text := 0.045 * 40
	for i, hit := range pick(all, "plan-hit") {
		require.Greater(t, depth(hit), 3.5*text, "at 12 px of writing these are 42 px")
		require.Less(t, depth(pick(all, "plan-face")[i]), text)
	}
}

func TestFiguresOfANumberLineStayWithinIt(t *testing.T) {
	t.Parallel()
	long := defects.Verdict{Outcome: defects.Fail, Upper: dec("0.000123"), Lower: dec("0.0001")}
	for _, s := range shapes(t, report.NumberLineSVG(defects.MustDecimal("12345.678901"), "W/(m2K) and more", long)) {
		if s.name == "text" {
			half := 4.5 * float64(len(s.words))
			require.GreaterOrEqual(t, s.n("x")-half, 0.0, s.words)
			require.LessOrEqual(t, s.n("x")+half, 420.0, s.words)
		}
	}
}
