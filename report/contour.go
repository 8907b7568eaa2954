package report

import (
	"fmt"
	"math"
	"strings"

	"storeyrod/defects"
)

// SurveyDrawing is a line and level survey on the outline of its elevation.
type SurveyDrawing struct {
	Elevation defects.Elevation
	Survey    defects.Survey
	Grid      defects.Grid
	Contours  []defects.Contour
	Gap       *defects.Gap        // the one that governs
	Plumb     []defects.GridPoint // bottom and top of the column that governs
	PlumbBy   string              // how far it is out: "10 mm"
}

// SurveySVG draws it to true scale, with the openings: lines of equal offset with
// their level in mm, those in front of the reference drawn through, those behind it
// dashed, that at 0 heavier; the points that were taken; the straightedge over the
// gap that governs; and the ends of such a column. Nothing depends on colour alone.
func SurveySVG(d SurveyDrawing) string {
	e := d.Elevation
	s := newSketch(e)
	left, top := -(s.rodGap() + s.rodWidth() + 11*s.size/4), -3*s.size/2
	width, height := e.Length-left+s.size, e.Height-top+max(e.BaseLine, 0)+2*s.size
	s.f(`<svg class="wall reach-%d" xmlns="http://www.w3.org/2000/svg" viewBox="%d %d %d %d" role="img" aria-label="%s">`,
		reach(width), left, top, width, height, esc(surveyLabel(d)))
	s.f(`<rect class="survey-face" x="0" y="0" width="%d" height="%d"/>`, e.Length, e.Height)
	s.grid(e, 0, 0)
	s.openings(e.Openings)
	s.f(`<rect class="wall-outline" x="0" y="0" width="%d" height="%d"/>`, e.Length, e.Height)
	s.baseLine(e)
	s.rod(e)
	s.points(d)
	labels := s.contours(d)
	words := append(s.straightedge(d), s.plumbLine(d)...)
	for _, at := range labels { // over all lines
		s.plate("contour-level", at)
	}
	for _, at := range words {
		s.plate("survey-word", at)
	}
	s.b.WriteString("</svg>")
	return s.b.String()
}

func surveyLabel(d SurveyDrawing) string {
	var levels []string
	for _, c := range d.Contours {
		if len(c.Lines) > 0 {
			levels = append(levels, levelWords(c.Level))
		}
	}
	label := fmt.Sprintf("%s, %s elevation, %s m long and %s m high, as seen from outside, with lines of equal offset",
		d.Elevation.Building, d.Elevation.Name, short(d.Elevation.Length), short(d.Elevation.Height))
	if len(levels) > 0 {
		label += " at " + strings.Join(levels, ", ") + " mm"
	}
	if d.Gap != nil {
		label += fmt.Sprintf("; the gap that governs is %s mm", gapWords(d.Gap.Depth))
	}
	return label + "; the tables below have the same figures"
}

// levelWords writes a level with its sign: + is in front, towards the viewer.
func levelWords(mm float64) string {
	text := strings.TrimSuffix(fmt.Sprintf("%+.1f", mm), ".0")
	if math.Abs(mm) < 0.05 {
		return "0"
	}
	return strings.Replace(text, "-", "−", 1)
}

func gapWords(mm float64) string { return fmt.Sprintf("%.1f", mm) }

// at turns a point of the survey into the drawing's own millimetres.
func (s *sketch) at(d SurveyDrawing, p defects.ContourPoint) (x, y float64) {
	return float64(d.Survey.X) + p.X*1000, float64(s.height) - float64(d.Survey.Z) - p.Z*1000
}

func (s *sketch) gridAt(d SurveyDrawing, p defects.GridPoint) (x, y float64) {
	return s.at(d, defects.ContourPoint{X: float64(p.Column) * d.Grid.DX, Z: float64(p.Row) * d.Grid.DZ})
}

// mostPoints is how many points are drawn one by one; more would be a grey face.
const mostPoints = 2500

// points marks where the wall was measured.
func (s *sketch) points(d SurveyDrawing) {
	if len(d.Grid.Offsets) > mostPoints {
		return
	}
	arm := float64(s.size) / 10
	s.b.WriteString(`<path class="survey-point" d="`)
	for i, v := range d.Grid.Offsets {
		if math.IsNaN(v) {
			continue
		}
		x, y := s.gridAt(d, defects.GridPoint{Column: i % d.Grid.Columns, Row: i / d.Grid.Columns})
		s.f("M%.0f %.0fh%.0fM%.0f %.0fv%.0f", x-arm, y, 2*arm, x, y-arm, 2*arm)
	}
	s.b.WriteString(`"/>`)
}

// contours draws the lines and finds where there is room for their levels.
func (s *sketch) contours(d SurveyDrawing) (labels []plate) {
	for _, c := range d.Contours {
		class := "contour"
		switch {
		case c.Level < 0:
			class += " contour-behind"
		case c.Level == 0:
			class += " contour-zero"
		}
		for _, line := range c.Lines {
			s.f(`<path class="%s" d="`, class)
			for i, p := range line {
				x, y := s.at(d, p)
				s.f("%c%.0f %.0f", "ML"[min(i, 1)], x, y)
			}
			s.b.WriteString(`"/>`)
			if at, ok := s.labelSpot(d, line, levelWords(c.Level), labels); ok {
				labels = append(labels, at)
			}
		}
	}
	return labels
}

// plate is a word with the ground it stands on.
type plate struct {
	x, y, half float64
	words      string
}

func (s *sketch) plateOf(x, y float64, words string) plate {
	return plate{x, y, float64(s.size) * 0.33 * float64(len([]rune(words))), words}
}

// labelSpot finds a place for a level on its line that keeps clear of the others:
// the middle, else nearer the ends. A line too short for its level gets none.
func (s *sketch) labelSpot(d SurveyDrawing, line []defects.ContourPoint, words string, taken []plate) (plate, bool) {
	for _, part := range []int{8, 5, 11, 3, 13, 6, 10, 1, 15} {
		x, y := s.at(d, line[(len(line)-1)*part/16])
		at := s.plateOf(x, y, words)
		if length(line)*1000 < 5*at.half {
			return at, false
		}
		free := true
		for _, o := range taken {
			free = free && (math.Abs(o.x-x) > o.half+at.half || math.Abs(o.y-y) > float64(s.size))
		}
		if free {
			return at, true
		}
	}
	return plate{}, false
}

func length(line []defects.ContourPoint) (sum float64) {
	for i := 1; i < len(line); i++ {
		sum += math.Hypot(line[i].X-line[i-1].X, line[i].Z-line[i-1].Z)
	}
	return sum
}

func (s *sketch) plate(class string, at plate) {
	size := float64(s.size)
	s.f(`<rect class="survey-plate" x="%.0f" y="%.0f" width="%.0f" height="%.0f"/>`, at.x-at.half, at.y-size/2, 2*at.half, size)
	s.f(`<text class="%s" x="%.0f" y="%.0f" font-size="%d" text-anchor="middle">%s</text>`, class, at.x, at.y+size*0.36, s.size, esc(at.words))
}

// straightedge draws a gap: the straightedge between its high points and
// an arrow head at the deepest point.
func (s *sketch) straightedge(d SurveyDrawing) []plate {
	if d.Gap == nil {
		return nil
	}
	x0, y0 := s.gridAt(d, d.Gap.From)
	x1, y1 := s.gridAt(d, d.Gap.To)
	x, y := s.gridAt(d, d.Gap.At)
	r := float64(s.size) / 3
	s.f(`<g class="survey-gap"><title>gap of %s mm, high points %.2f m apart</title>`, gapWords(d.Gap.Depth), d.Gap.Base)
	s.f(`<path d="M%.0f %.0fL%.0f %.0f"/><circle cx="%.0f" cy="%.0f" r="%.0f"/></g>`, x0, y0, x1, y1, x, y, r)
	words := "gap " + gapWords(d.Gap.Depth) + " mm"
	return []plate{s.plateOf(s.inside(d, x, words), y+1.4*float64(s.size), words)}
}

// plumbLine draws a column from its bottom to its top, with a bob.
func (s *sketch) plumbLine(d SurveyDrawing) []plate {
	if len(d.Plumb) != 2 {
		return nil
	}
	x, y0 := s.gridAt(d, d.Plumb[0])
	_, y1 := s.gridAt(d, d.Plumb[1])
	r := float64(s.size) / 3
	s.f(`<g class="survey-plumb"><title>column %s out of plumb</title><path d="M%.0f %.0fV%.0f"/>`, esc(d.PlumbBy), x, y1, y0)
	s.f(`<path class="survey-bob" d="M%.0f %.0fh%.0fl%.0f %.0fz"/><path d="M%.0f %.0fh%.0f"/></g>`, x-r, y0-2*r, 2*r, -r, 2*r, x-r, y1, 2*r)
	words := "plumb " + d.PlumbBy
	return []plate{s.plateOf(s.inside(d, x, words), y1-0.9*float64(s.size), words)}
}

// inside moves the middle of words so far that they stay on the wall.
func (s *sketch) inside(d SurveyDrawing, x float64, words string) float64 {
	half := s.plateOf(0, 0, words).half
	return max(min(x, float64(d.Elevation.Length)-half), half)
}
