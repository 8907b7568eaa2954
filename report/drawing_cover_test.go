package report_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

func coverDrawing() report.Drawing {
	e := drawing().Elevation
	d := report.Drawing{Elevation: e}
	for lift := range e.Lifts {
		for bay := range e.Bays {
			d.Cover = append(d.Cover, report.DrawnCell{
				Bay: bay + 1, Lift: lift + 1, Photos: (bay + lift) % 3, Short: bay == 0,
				Title: "cell & photos", Href: map[bool]string{true: "/take-in"}[(bay+lift)%3 == 0],
			})
		}
	}
	return d
}

func TestACellWithoutAPhotoIsToldBySignAndHatching(t *testing.T) {
	t.Parallel()
	d := coverDrawing()
	all := shapes(t, report.ElevationSVG(d))
	bare := 0
	for _, c := range d.Cover {
		if c.Photos == 0 {
			bare++
		}
	}
	require.Positive(t, bare)
	require.Len(t, append(pick(all, "cover-bare"), pick(all, "cover-short")...), bare)
	require.Len(t, pick(all, "cover-good"), len(d.Cover)-bare)
	require.Len(t, pick(all, "cover-count"), len(d.Cover))
	require.Contains(t, report.ElevationSVG(d), "bays and lifts lacking a photo that can be used")
	whole := report.ElevationSVG(report.Drawing{Elevation: defects.Elevation{Length: 3000, Height: 2000}, Cover: []report.DrawnCell{{Bay: 1, Lift: 1}}})
	require.Len(t, pick(shapes(t, whole), "cover-bare"), 1, "a wall without bays is one cell")
}
