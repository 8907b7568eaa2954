package defects

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// terraces is an invented site: three terraces of 24 m by 8 m in rows, their
// long walls facing north and south, 25 m of ground between them.
func terraces() []BuildingFaces {
	var out []BuildingFaces
	for i, name := range []string{"Quarry Terrace", "Kiln Terrace", "Mill Terrace"} {
		plan := rect(0, float64(i)*33, 24, 8)
		if i == 1 { // drawn the other way round
			plan = reversed(plan)
		}
		b := Building{ID: name[:1], SiteID: "s", Name: name, Height: 6000, Ring: near(plan...)}
		list := ElevationsOf(b, ElevationOptions{BayWidth: 3000, LiftHeight: 2000})
		for j := range list {
			list[j].ID = name[:1] + "/" + list[j].Name
		}
		out = append(out, BuildingFaces{Building: b, Elevations: list})
	}
	return out
}

// shot is a photo taken at a place in metres on that site.
func shot(x, y, heading, accuracy float64) Capture {
	p := near(XY{x, y})[0]
	c := Capture{Make: "Demo", Model: "Rendered", Lat: &p.Lat, Lon: &p.Lon, TakenLocal: "2025-05-06T09:10:11", DirectionBy: "T"}
	if heading >= 0 {
		c.Direction = &heading
	}
	if accuracy > 0 {
		c.HErrorM = &accuracy
	}
	at := time.Date(2025, 5, 6, 9, 10, 11, 0, time.UTC)
	c.TakenUTC, c.UTCOffset = &at, "+00:00"
	return c
}

func TestTheFaceLookedAtComesFirst(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		capture Capture
		want    string
		proven  bool
	}{
		{"straight at the north wall", shot(12, 17, 178, 5), "Q/North", true},
		{"same spot, turned round, the next terrace", shot(12, 17, 2, 5), "K/South", true},
		{"west gable", shot(-9, 4, 92, 5), "Q/West", true},
		{"a ring drawn clockwise", shot(12, 48, 181, 5), "K/North", true},
		{"east gable at an angle", shot(31, 40, 245, 5), "K/East", false},
		{"position thrown a little behind the face", shot(12, 6.5, 180, 10), "Q/North", true},
	} {
		shown := MapFaces(terraces()).Look(c.capture, FaceOptions{})
		require.NotEmpty(t, shown.Guesses, c.name)
		require.Equal(t, c.want, shown.Guesses[0].ElevationID, c.name)
		best, proven, why := shown.Choose()
		require.Equal(t, c.proven, proven, "%s: %s", c.name, why)
		require.Equal(t, c.want, best.ElevationID)
		if c.proven {
			require.Contains(t, why, "off looking straight at it")
		}
	}
}

func TestGuessTellsDistanceAndDirection(t *testing.T) {
	t.Parallel()
	g := MapFaces(terraces()).Look(shot(12, 17, 178, 5), FaceOptions{}).Guesses[0]
	require.Equal(t, "Quarry Terrace / North", g.Name)
	require.InDelta(t, 9, g.DistanceM, 0.001)
	require.InDelta(t, 2, g.OffAxisDeg, 0.001)
	require.Equal(t, "9 m from the wall, 2° off looking straight at it", g.Why)

	c := shot(12, 17, 178, 5)
	c.DirectionBy = "M"
	require.Contains(t, MapFaces(terraces()).Look(c, FaceOptions{}).Notes, "magnetic heading, turned by the declination of +0.1°")
	c.TakenUTC, c.TakenLocal = nil, ""
	require.Contains(t, MapFaces(terraces()).Look(c, FaceOptions{}).Notes, "magnetic heading, declination not known")

	g = MapFaces(terraces()).Look(shot(12, 17, -1, 5), FaceOptions{}).Guesses[0]
	require.InDelta(t, -1, g.OffAxisDeg, 0)
}

func TestNotProvenNamesTheMissingFact(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		says    string
		capture Capture
	}{
		{"carries no position", Capture{}},
		{"no wall lies within 60 m", shot(12, 400, 178, 5)},
		{"Quarry Terrace / North 0.", shot(12, 17, 178, 45)},
		{"does not say which way", shot(12, 20.5, -1, 5)},
		{"an area label in frame", shot(28, 12, 225, 5)},
		{"where the camera looked to", shot(12, -30, 80, 5)},
	} {
		_, proven, why := MapFaces(terraces()).Look(c.capture, FaceOptions{}).Choose()
		require.False(t, proven, why)
		require.Contains(t, why, "not proven")
		require.Contains(t, why, c.says)
	}
}

func TestPositionAloneCanProveAWall(t *testing.T) {
	t.Parallel()
	c := shot(12, -4, -1, 4) // 4 m south of the southernmost wall, nothing else near
	best, proven, why := MapFaces(terraces()).Look(c, FaceOptions{}).Choose()
	require.True(t, proven, why)
	require.Equal(t, "Q/South", best.ElevationID)

	c.HErrorM = nil
	_, proven, why = MapFaces(terraces()[:1]).Look(c, FaceOptions{}).Choose()
	require.False(t, proven, why)
	require.Contains(t, why, "accuracy not stated, 15 m assumed")
}

func TestAWallBehindAnotherIsNoCandidate(t *testing.T) {
	t.Parallel()
	for _, g := range MapFaces(terraces()).Look(shot(12, 17, 180, 5), FaceOptions{RangeM: 500}).Guesses {
		require.NotEqual(t, "M/North", g.ElevationID, "looks the other way")
		require.NotEqual(t, "Q/South", g.ElevationID, "behind its own building")
	}
	// Looking north past two terraces: the third one's south wall is hidden.
	for _, g := range MapFaces(terraces()).Look(shot(12, -9, 0, 5), FaceOptions{RangeM: 500}).Guesses {
		require.Equal(t, "Q/South", g.ElevationID)
	}
}

func TestInnerCornerOfAnLIsSeenFromItsYardOnly(t *testing.T) {
	t.Parallel()
	b := Building{ID: "L", Name: "Larkrow Court", Ring: near(lShape()...)}
	list := ElevationsOf(b, ElevationOptions{})
	for i := range list {
		list[i].ID = list[i].Name
	}
	faces := []BuildingFaces{{b, list}}
	best := MapFaces(faces).Look(shot(14, 12, 270, 4), FaceOptions{}).Guesses
	require.Equal(t, "East 2", best[0].ElevationID)
	require.InDelta(t, 6, best[0].DistanceM, 0.001)
	for _, g := range MapFaces(faces).Look(shot(-6, 12, 90, 4), FaceOptions{}).Guesses {
		require.NotEqual(t, "East 2", g.ElevationID)
	}
}

func TestMergedElevationsKeepTheirWholeFace(t *testing.T) {
	t.Parallel()
	b := Building{ID: "b", Ring: near(XY{0, 0}, XY{4, 0}, XY{20, 0}, XY{20, 8}, XY{0, 8})}
	list := ElevationsOf(b, ElevationOptions{MergeDeg: 1})
	for i := range list {
		list[i].ID = list[i].Name
	}
	g := MapFaces([]BuildingFaces{{b, list}}).Look(shot(18, -5, 0, 4), FaceOptions{}).Guesses
	require.Equal(t, "South", g[0].ElevationID)
	require.InDelta(t, 5, g[0].DistanceM, 0.001, "the far part of the wall counts")
}

func TestNoGuessWithoutCoordinates(t *testing.T) {
	t.Parallel()
	plan := Building{ID: "p", Plan: rect(0, 0, 10, 10)}
	faces := []BuildingFaces{{plan, ElevationsOf(plan, ElevationOptions{})}}
	require.Empty(t, MapFaces(faces).Look(shot(1, 1, 0, 5), FaceOptions{}).Guesses)
	require.Empty(t, MapFaces(nil).Look(shot(1, 1, 0, 5), FaceOptions{}).Guesses)
	nan, far := 0.0, 120.0
	nan /= nan
	require.Empty(t, MapFaces(terraces()).Look(Capture{Lat: &nan, Lon: &nan}, FaceOptions{}).Guesses)
	require.Empty(t, MapFaces(terraces()).Look(Capture{Lat: &far, Lon: &far}, FaceOptions{}).Guesses)
	typed := terraces()
	for i := range typed {
		for j := range typed[i].Elevations {
			typed[i].Elevations[j].Edge = -1
		}
	}
	require.Empty(t, MapFaces(typed).Look(shot(12, 17, 178, 5), FaceOptions{}).Guesses)
}

func TestGuessesDoNotDependOnTheOrderOfBuildings(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(7, 8))
	for range 300 {
		c := shot(-20+70*r.Float64(), -20+120*r.Float64(), 360*r.Float64(), 1+20*r.Float64())
		want := MapFaces(terraces()).Look(c, FaceOptions{}).Guesses
		list := terraces()
		list[0], list[2] = list[2], list[0]
		got := MapFaces(list).Look(c, FaceOptions{}).Guesses
		require.Len(t, got, len(want))
		for i := range want {
			require.Equal(t, want[i].ElevationID, got[i].ElevationID)
			require.InDelta(t, want[i].P, got[i].P, 1e-6)
		}
	}
}

func TestAStrayBuildingChangesNothing(t *testing.T) {
	t.Parallel()
	c := shot(12, 17, 178, 5)
	want := MapFaces(terraces()).Look(c, FaceOptions{})
	stray := Building{ID: "far", Name: "Far Mill", Ring: []LonLat{{Lon: 100, Lat: 10}, {Lon: 100.001, Lat: 10}, {Lon: 100.001, Lat: 10.001}}}
	got := MapFaces(append(terraces(), BuildingFaces{stray, ElevationsOf(stray, ElevationOptions{})})).Look(c, FaceOptions{})
	require.Equal(t, want, got)
}
