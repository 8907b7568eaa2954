package defects

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTurningAnOutlineInMetresLeavesTheOneBeforeAndTurnsItsElevations(t *testing.T) {
	t.Parallel()
	before := Building{
		Name: "A", Height: 6000, Plan: []XY{{0, 0}, {20, 0}, {20, 12}, {0, 12}},
		PlanCourts: [][]XY{{{5, 4}, {5, 8}, {10, 8}, {10, 4}}},
	}
	walls := ElevationsOf(before, ElevationOptions{})
	after := Moved(before, Move{East: 1000, TurnDeg: MustDecimal("30")})
	require.Equal(t, []XY{{0, 0}, {20, 0}, {20, 12}, {0, 12}}, before.Plan)
	require.Equal(t, []XY{{5, 4}, {5, 8}, {10, 8}, {10, 4}}, before.PlanCourts[0])
	turned, err := Refit(before, after, walls)
	require.NoError(t, err)
	require.Len(t, turned, 8)
	for i, e := range turned {
		require.InDelta(t, 0, math.Remainder(e.Bearing.Float()-walls[i].Bearing.Float()-30, 360), 0.02, e.Name)
	}
}
