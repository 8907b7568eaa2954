package defects

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAnIdGoesBeforeNamesAndNamesDoNotMindTheirCase(t *testing.T) {
	t.Parallel()
	list := []Elevation{
		{ID: "1", Building: "A", Name: "North"},
		{ID: "2", Building: "B", Name: "North"},
		{ID: "north", Building: "C", Name: "South"},
	}
	ids := func(called string) (out []string) {
		found := Named(list, called, func(e Elevation) string { return e.ID }, func(e Elevation) []string { return WallNames(e.Building, e.Name) })
		for _, e := range found {
			out = append(out, e.ID)
		}
		return out
	}
	require.Equal(t, []string{"2"}, ids("2"))
	require.Equal(t, []string{"north"}, ids("north"), "an id, though two are called so")
	require.Equal(t, []string{"1", "2"}, ids("NORTH"))
	require.Equal(t, []string{"2"}, ids("b / north"))
	require.Empty(t, ids("West"))
}
