package report_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

// shadedDrawing is an invented wall of 4 m by 2 m with a grid of 4 by 2 points that
// begins half a metre in; its top right point was not taken.
func shadedDrawing() report.Drawing {
	nan := math.NaN()
	return report.Drawing{
		Elevation: defects.Elevation{Building: "Shed", Name: "North", Length: 4000, Height: 2000},
		Shading: &report.Shading{
			Survey: defects.Survey{X: 500, Z: 500, DX: 1000, DZ: 1000},
			Grid:   defects.Grid{Columns: 4, Rows: 2, DX: 1, DZ: 1, Offsets: []float64{0, 4, 12, 13, -1.5, -6, -21, nan}},
		},
	}
}

func TestAShadingHasBandsOfARoundStepWithTheirPoints(t *testing.T) {
	t.Parallel()
	var got []string
	for _, b := range shadedDrawing().Shading.Bands() {
		got = append(got, fmt.Sprintf("%s: %d", b.Words, b.Points))
	}
	// 21 mm needs steps of 5 mm: the outermost of four bands each side is from 20.
	require.Equal(t, []string{
		"+10 to +15 mm, in front: 2", "less than 5 mm either way: 3", "−5 to −10 mm, behind: 1", "−20 to −25 mm, behind: 1",
	}, got)
	require.Empty(t, report.Shading{Grid: defects.Grid{Columns: 1, Rows: 1, Offsets: []float64{math.NaN()}}}.Bands())
}

func TestACellIsShadedHalfwayToThePointsBesideIt(t *testing.T) {
	t.Parallel()
	all := shapes(t, report.ElevationSVG(shadedDrawing()))
	paths := map[string]string{}
	for _, s := range pick(all, "shade") {
		paths[s.at["fill"]] = s.at["d"]
	}
	require.Equal(t, map[string]string{
		"url(#shade-front-2)":  "M2000 1000H4000V2000H2000z", // the two of 12 and 13 are one run
		"url(#shade-behind-1)": "M1000 0H2000V1000H1000z",
		"url(#shade-behind-4)": "M2000 0H3000V1000H2000z",
	}, paths)
	var texts []string
	for _, s := range pick(all, "shade-text") {
		texts = append(texts, s.words)
	}
	require.Equal(t, "0 +4 +12 +13 −2 −6 −21", strings.Join(texts, " "))
}

func TestAFineGridIsShadedByTheFurthestOffsetOfABlock(t *testing.T) {
	t.Parallel()
	d := shadedDrawing()
	const n = 400
	g := defects.Grid{Columns: n, Rows: n, DX: 0.01, DZ: 0.005, Offsets: make([]float64, n*n)}
	g.Offsets[n*n/2+n/2] = -9 // one point alone
	d.Shading = &report.Shading{Survey: defects.Survey{DX: 10, DZ: 5}, Grid: g}
	all := shapes(t, report.ElevationSVG(d))
	shades := pick(all, "shade")
	require.Len(t, shades, 1)
	require.Equal(t, 1, strings.Count(shades[0].at["d"], "M"))
	require.Empty(t, pick(all, "shade-text"), "so many figures could not be read")
}
