package report_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

func TestWhatAPhotoTakesInIsABandWithAnErrorBarAtEachEdge(t *testing.T) {
	t.Parallel()
	d := report.Drawing{Elevation: drawing().Elevation, Photo: &report.DrawnPhoto{Stretch: &defects.Stretch{
		Middle: defects.Span{Low: 1, Best: 3, High: 5},
		From:   &defects.Span{Low: 0, Best: 1.5, High: 2.25}, To: &defects.Span{Low: 3, Best: 4.5, High: 6},
	}}}
	svg := report.ElevationSVG(d)
	all := shapes(t, svg)
	require.Len(t, pick(all, "photo-error"), 3)
	require.Len(t, pick(all, "photo-word"), 3, "each bar has its name, so nothing hangs on colour")
	require.Empty(t, pick(all, "photo-spot"))
	require.Contains(t, svg, `<rect x="1500" y="0" width="3000"`)
	require.Contains(t, svg, "left edge 1.5 m, with 95 % between 0.0 and 2.2 m", "and in words")

	x, z := defects.MM(4200), defects.MM(2500)
	d.Photo = &report.DrawnPhoto{X: &x, Z: &z}
	svg = report.ElevationSVG(d)
	require.Len(t, pick(shapes(t, svg), "photo-spot"), 1)
	require.Empty(t, pick(shapes(t, svg), "photo-error"))
	require.Contains(t, svg, "place is 4.20 m from the left end and 2.50 m above the base line")

	d.Photo = &report.DrawnPhoto{Stretch: &defects.Stretch{Middle: defects.Span{Low: 1, Best: 3, High: 5}}}
	require.Len(t, pick(shapes(t, report.ElevationSVG(d)), "photo-error"), 1, "without an angle of view the middle alone is known")
	low, top := defects.Span{Best: 1}, defects.Span{Best: 3}
	d.Photo.Stretch.From, d.Photo.Stretch.To, d.Photo.Stretch.Bottom, d.Photo.Stretch.Top = &low, &top, &low, &top
	require.Contains(t, report.ElevationSVG(d), `width="2000" height="2000"`, "a tilt bounds the band in height")
}
