package report_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/report"
)

// groundAt is a square invented building of about 20 m at a latitude.
func groundAt(lat float64) defects.Building {
	perLat, perLon := defects.MetresPerDegree(lat)
	e, n := 20/perLon, 20/perLat
	return defects.Building{ID: "b", Name: "Block", Ring: []defects.LonLat{
		{Lon: -1.5, Lat: lat}, {Lon: -1.5 + e, Lat: lat}, {Lon: -1.5 + e, Lat: lat + n}, {Lon: -1.5, Lat: lat + n},
	}}
}

func TestTilesLieUnderThePlanWhereTheyBelong(t *testing.T) {
	t.Parallel()
	for _, lat := range []float64{-33.9, 0.001, 53.4, 69.65} {
		b := groundAt(lat)
		svg, _ := report.PhotoPlanSVG([]defects.Building{b}, nil, nil, func(z, x, y int) string { return fmt.Sprintf("/%d/%d/%d", z, x, y) })
		all := shapes(t, svg)
		var x0, y0 float64 // the south-west corner of the building, on the drawing
		_, err := fmt.Sscanf(pick(all, "plan-block")[0].at["d"], "M%f %f", &x0, &y0)
		require.NoError(t, err)
		tiles := pick(all, "plan-tile")
		require.NotEmpty(t, tiles)
		require.LessOrEqual(t, len(tiles), 30)
		found := false
		for _, tile := range tiles {
			at := boxOf(tile)
			if x0 < at.x0 || x0 >= at.x1 || y0 < at.y0 || y0 >= at.y1 {
				continue
			}
			found = true
			var z, x, y int
			_, err := fmt.Sscanf(tile.href, "/%d/%d/%d", &z, &x, &y)
			require.NoError(t, err)
			// The projection once more, by another form of its formula.
			n := math.Exp2(float64(z))
			phi := lat * math.Pi / 180
			wantX := (-1.5 + 180) / 360 * n
			wantY := (1 - math.Log(math.Tan(math.Pi/4+phi/2))/math.Pi) / 2 * n
			require.InDelta(t, wantX, float64(x)+(x0-at.x0)/(at.x1-at.x0), 0.001)
			require.InDelta(t, wantY, float64(y)+(y0-at.y0)/(at.y1-at.y0), 0.001)
			// A tile is as large on the ground as the circle of its latitude asks.
			require.InDelta(t, 2*math.Pi*6378137*math.Cos(phi)/n, at.x1-at.x0, 0.3)
		}
		require.True(t, found, "the building stands on a tile")
	}
}

func TestWhichTilesAreFetchedHangsOnTheBuildingsAlone(t *testing.T) {
	t.Parallel()
	asked := func(b defects.Building, photos ...report.PlanPhoto) (out []string) {
		report.PhotoPlanSVG([]defects.Building{b}, nil, photos, func(z, x, y int) string {
			out = append(out, fmt.Sprintf("/%d/%d/%d", z, x, y))
			return ""
		})
		return out
	}
	block := groundAt(53.4)
	far := report.PlanPhoto{At: defects.LonLat{Lon: -1.4985, Lat: 53.4009}, Title: "a photo a hundred metres away"}
	require.NotEmpty(t, asked(block))
	require.Equal(t, asked(block), asked(block, far))
	typed := defects.Building{ID: "b", Name: "Shed", Plan: []defects.XY{{}, {X: 5}, {X: 5, Y: 4}}}
	require.Empty(t, asked(typed), "a building typed in metres has no place on the ground")
}
