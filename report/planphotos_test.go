package report_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

// eastOf is a place so many degrees of longitude east of the test building.
func eastOf(deg float64) defects.LonLat {
	at := block().Ring[0]
	return defects.LonLat{Lon: at.Lon + deg, Lat: at.Lat}
}

func photosOnPlan() []report.PlanPhoto {
	west := 270.0
	return []report.PlanPhoto{
		{At: eastOf(0.0004), ErrorM: 5, Heading: &west, ViewDeg: 67.3, ElevationID: walls()[0].ID, Title: "East & sure", Href: "/p"},
		{At: eastOf(0.0005), ErrorM: 15, Heading: &west, Title: "no angle of view"},
		{At: eastOf(0.0003), Title: "no direction"},
		{At: eastOf(0.1), Title: "six kilometres away"},
		{At: defects.LonLat{Lon: 100, Lat: 10}, Title: "elsewhere on earth"},
	}
}

func photoPlan() string {
	faces := []report.PlanElevation{}
	for _, e := range walls() {
		faces = append(faces, report.PlanElevation{Elevation: e, Open: -1})
	}
	svg, _ := report.PhotoPlanSVG([]defects.Building{block()}, faces, photosOnPlan(), nil)
	return svg
}

func TestPhotosTakenFarAwayAreCountedAndNotDrawn(t *testing.T) {
	t.Parallel()
	svg, left := report.PhotoPlanSVG([]defects.Building{block()}, nil, photosOnPlan(), nil)
	require.Equal(t, 2, left)
	require.Len(t, pick(shapes(t, svg), "plan-photo"), 3)
	require.Contains(t, svg, "where 3 photos were taken")
	svg, left = report.PhotoPlanSVG([]defects.Building{{ID: "t", Plan: []defects.XY{{}, {X: 5}, {X: 5, Y: 5}}}}, nil, photosOnPlan(), nil)
	require.Equal(t, 5, left, "a building typed in metres has no place on earth")
	require.NotEmpty(t, svg)
}

func TestAFaceWithPhotosIsMarkedAndEveryPhotoIsInsideTheDrawing(t *testing.T) {
	t.Parallel()
	svg := photoPlan()
	require.Len(t, pick(shapes(t, svg), "plan-shown"), 1)
	require.Empty(t, pick(shapes(t, svg), "plan-count"), "no counts of snags on a plan of photos")
	all := shapes(t, svg)
	require.Len(t, pick(all, "plan-error"), 2)
	require.Len(t, pick(all, "plan-view"), 2)
}
