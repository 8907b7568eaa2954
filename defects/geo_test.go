package defects

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

type geodesyVector struct {
	ID        string
	Inputs    json.RawMessage
	Expected  []float64
	Tolerance float64
	Source    string
}

type geodesyInputs struct {
	Lat, Lon, H            float64
	Lat1, Lon1, Lat2, Lon2 float64
	Origin, Point          [3]float64
}

// The vectors name their own sources: geographiclib 2.0, PROJ 9.1.1, and the
// radius-of-curvature formulas.
func TestGeodesyAgreesWithPublishedPrograms(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("testdata/vectors/geodesy.json")
	require.NoError(t, err)
	var vectors []geodesyVector
	require.NoError(t, json.Unmarshal(raw, &vectors))
	seen := map[string]int{}
	for _, v := range vectors {
		family, _, _ := strings.Cut(v.ID, "-")
		seen[family]++
		t.Run(v.ID, func(t *testing.T) {
			t.Parallel()
			var in geodesyInputs
			require.NoError(t, json.Unmarshal(v.Inputs, &in))
			got := geodesyResult(t, family, in)
			require.Len(t, got, len(v.Expected))
			for i := range got {
				require.InDelta(t, v.Expected[i], got[i], v.Tolerance, v.Source)
			}
		})
	}
	require.Equal(t, map[string]int{"geod": 3, "enu": 1, "ecef": 3, "mperdeg": 2}, seen)
}

func geodesyResult(t *testing.T, family string, in geodesyInputs) []float64 {
	t.Helper()
	switch family {
	case "geod":
		m, az, ok := Geodesic(LonLat{in.Lon1, in.Lat1}, LonLat{in.Lon2, in.Lat2})
		require.True(t, ok)
		return []float64{m, az}
	case "enu":
		o, p := in.Origin, in.Point
		e, n, u := ENU(LonLat{o[1], o[0]}, o[2], LonLat{p[1], p[0]}, p[2])
		return []float64{e, n, u}
	case "ecef":
		x, y, z := ECEF(LonLat{in.Lon, in.Lat}, in.H)
		return []float64{x, y, z}
	case "mperdeg":
		perLat, perLon := MetresPerDegree(in.Lat)
		return []float64{perLat, perLon}
	}
	t.Fatalf("no check for %q", family)
	return nil
}

// Flinders Peak to Buninyong, the worked example of Australia's geodetic
// manual on GRS80, which WGS84 equals to below a millimetre here; from memory.
func TestGeodesicOfALongLine(t *testing.T) {
	t.Parallel()
	dms := func(d, m, s float64) float64 { return d + m/60 + s/3600 }
	flinders := LonLat{dms(144, 25, 29.52440), -dms(37, 57, 3.72030)}
	buninyong := LonLat{dms(143, 55, 35.38390), -dms(37, 39, 10.15610)}
	m, az, ok := Geodesic(flinders, buninyong)
	require.True(t, ok)
	require.InDelta(t, 54972.271, m, 0.001)
	require.InDelta(t, dms(306, 52, 5.37), az, 0.01/3600)
}

func TestGeodesicEdges(t *testing.T) {
	t.Parallel()
	m, az, ok := Geodesic(LonLat{10, 50}, LonLat{10, 50})
	require.True(t, ok)
	require.Zero(t, m)
	require.Zero(t, az)

	_, _, ok = Geodesic(LonLat{0, 0}, LonLat{179.9, 0.1})
	require.False(t, ok, "nearly antipodal places are not answered")

	m, az, ok = Geodesic(LonLat{179.9999, 0}, LonLat{-179.9999, 0})
	require.True(t, ok, "across the date line, along the equator")
	require.InDelta(t, 0.0002*math.Pi/180*wgsA, m, 1e-6)
	require.InDelta(t, 90, az, 1e-9)
}

func TestFrameGoesThereAndBack(t *testing.T) {
	t.Parallel()
	for _, origin := range []LonLat{{-2.2451, 53.4795}, {0, 0}, {151.2, -33.9}, {25, 78}} {
		f := NewFrame(origin)
		require.Equal(t, origin, f.Origin())
		require.InDelta(t, 0, norm(f.ToXY(origin)), 1e-9)
		for _, p := range []XY{{0, 0}, {12.345, -7}, {-2500, 2500}, {20000, -30000}} {
			got := f.ToXY(f.ToLonLat(p))
			require.InDelta(t, p.X, got.X, 1e-6)
			require.InDelta(t, p.Y, got.Y, 1e-6)
		}
	}
}

func TestFrameKeepsLengthsOfASite(t *testing.T) {
	t.Parallel()
	f := NewFrame(LonLat{-2.2451, 53.4795})
	a, b := f.ToLonLat(XY{2400, 2400}), f.ToLonLat(XY{2430, 2410})
	m, _, ok := Geodesic(a, b)
	require.True(t, ok)
	require.InDelta(t, math.Hypot(30, 10), m, 0.0001)
}

func TestDirections(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 2, AngleBetween(359, 1), 1e-12)
	require.InDelta(t, 180, AngleBetween(0, 180), 1e-12)
	require.InDelta(t, 166, AngleBetween(12, 178), 1e-12)
	for deg, want := range map[float64]string{
		0: "North", 359: "North", -10: "North", 22.6: "North-east", 90: "East", 135: "South-east",
		180: "South", 225: "South-west", 270: "West", 315: "North-west", 337.6: "North", 720: "North",
	} {
		require.Equal(t, want, Wind(deg), deg)
	}
	require.Zero(t, wrap360(-1e-20))
}
