package defects

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestTheMagneticFieldIsThatOfThePublishedTestValues(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "wmm2025-") {
		var in struct {
			Year float64 `json:"year"`
			Alt  float64 `json:"alt_km"`
			Lat  float64 `json:"lat"`
			Lon  float64 `json:"lon"`
		}
		require.NoError(t, json.Unmarshal(v.Inputs, &in))
		north, east, down := MagneticField(LonLat{Lon: in.Lon, Lat: in.Lat}, in.Alt, in.Year)
		level := math.Hypot(north, east)
		got := []float64{degrees(math.Atan2(east, north)), degrees(math.Atan2(down, level)), math.Hypot(level, down)}
		var want []float64
		if json.Unmarshal(v.Expected, &want) != nil { // the declination alone
			var one float64
			require.NoError(t, json.Unmarshal(v.Expected, &one))
			want = []float64{one}
		}
		var within float64
		require.NoError(t, json.Unmarshal(v.Tolerance, &within))
		for i := range want {
			require.InDelta(t, want[i], got[i], within, "%s, figure %d (%s)", v.ID, i, v.Source)
		}
	}
}

func TestDeclinationIsGivenWhereAndWhenTheModelHolds(t *testing.T) {
	t.Parallel()
	london := LonLat{Lon: -0.1278, Lat: 51.5074}
	d, ok := Declination(london, time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC))
	require.True(t, ok)
	require.InDelta(t, 1.23, d, 0.01)
	for _, year := range []int{2024, 2030} {
		_, ok = Declination(london, time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC))
		require.False(t, ok, "%d", year)
	}
	// Beside the magnetic pole a compass means nothing.
	_, ok = Declination(LonLat{Lon: 139.3, Lat: 85.8}, time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC))
	require.False(t, ok)
}
