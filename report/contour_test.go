package report_test

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

// bulge is a wall of 8 × 6 m with a bulge of 14 mm and one point not taken.
func bulge() report.SurveyDrawing {
	g := defects.Grid{Columns: 15, Rows: 11, DX: 0.5, DZ: 0.5}
	for r := range g.Rows {
		for c := range g.Columns {
			x, z := float64(c)*g.DX, float64(r)*g.DZ
			g.Offsets = append(g.Offsets, math.Round(20*math.Exp(-((x-4)*(x-4)+(z-2.5)*(z-2.5))/2))-6)
		}
	}
	g.Offsets[3] = math.NaN()
	contours, err := g.Contours(g.ContourLevels()...)
	if err != nil {
		panic(err)
	}
	gaps, err := g.LargestGaps(2)
	if err != nil {
		panic(err)
	}
	return report.SurveyDrawing{
		Elevation: defects.Elevation{
			Building: "Block A", Name: "North", Length: 8000, Height: 6000, BaseLine: 300, Bays: []defects.MM{4000, 8000}, Lifts: []defects.MM{2000, 4000, 6000},
			Openings: []defects.Opening{{Name: "W07", Kind: "window", X: 1000, Z: 900, Width: 1200, Height: 1350}},
		},
		Survey: defects.Survey{X: 500, Z: 500, DX: 500, DZ: 500}, Grid: g, Contours: contours, Gap: &gaps[0],
		Plumb: []defects.GridPoint{{Column: 8}, {Column: 8, Row: 10}}, PlumbBy: "10 mm",
	}
}

func TestASurveyIsDrawnWithItsLevels(t *testing.T) {
	t.Parallel()
	d := bulge()
	svg := report.SurveySVG(d)
	golden(t, "survey.svg", []byte(svg))
	for dec := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
	}
	for _, want := range []string{">+8<", ">−4<", ">0<", "contour-behind", "contour-zero", "W07", "plumb 10 mm", "gap "} {
		require.Contains(t, svg, want)
	}
	require.NotContains(t, svg, "style=", "the policy allows no style in a page")

	empty := report.SurveySVG(report.SurveyDrawing{Elevation: d.Elevation, Grid: defects.Grid{Columns: 1, Rows: 1, Offsets: []float64{0}}})
	require.NotContains(t, empty, "contour")
}
