package defects

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

func mm(v MM) *MM { return &v }

// gable is an invented wall: 9 m by 6 m, three bays, three lifts, two windows.
func gable() Elevation {
	return Elevation{
		ID: "e1", BuildingID: "b1", Name: "North", Edge: 2, Length: 9000, Height: 6000, BaseLine: 150,
		Bays: []MM{3000, 6000, 9000}, Lifts: []MM{2000, 4000, 6000},
		Openings: []Opening{
			{Name: "W06", Kind: "window", X: 1000, Z: 900, Width: 1200, Height: 1350},
			{Name: "W07", Kind: "window", X: 6500, Z: 2900, Width: 1200, Height: 1050},
		},
	}
}

func names(list []Elevation) (out []string) {
	for _, e := range list {
		out = append(out, e.Name)
	}
	return out
}

func TestElevationsAreNamedByCompassAndOrder(t *testing.T) {
	t.Parallel()
	b := Building{ID: "b1", SiteID: "s1", Name: "Larkrow Court", Plan: lShape(), Height: 6200}
	got := ElevationsOf(b, ElevationOptions{BayWidth: 3000, LiftHeight: 2000})
	require.Equal(t, []string{"South", "East 1", "North 1", "East 2", "North 2", "West"}, names(got))
	for i, e := range got {
		require.Equal(t, i, e.Order)
		require.Equal(t, i, e.Edge)
		require.Equal(t, MM(6200), e.Height)
		require.NoError(t, CheckElevation(e))
	}
	require.Equal(t, "Larkrow Court", got[0].Building)
	require.Equal(t, MM(20000), got[0].Length)
	require.Equal(t, "180.0", got[0].Bearing.String())
	require.Equal(t, "0.0", got[2].Bearing.String())
}

func TestTurnedBuildingsTakeHalfWindsOnlyPastTheMiddle(t *testing.T) {
	t.Parallel()
	for bearing, want := range map[float64]string{
		0: "North", 22.5: "North", 22.6: "North-east", 45: "North-east", 67.4: "North-east", 67.5: "East",
		337.5: "North", 337.4: "North-west", 359.99: "North", 200: "South", 203: "South-west",
	} {
		require.Equal(t, want, compassName(bearing), bearing)
	}
	require.Equal(t, "0.0", bearingDecimal(359.97).String(), "never 360")
}

func TestShortSidesAreLeftOutAndTheNumberOfTheEdgeStays(t *testing.T) {
	t.Parallel()
	// A nib of 0.3 m on the east side.
	b := Building{Plan: []XY{{0, 0}, {12, 0}, {12, 4}, {12.3, 4}, {12.3, 8}, {0, 8}}}
	got := ElevationsOf(b, ElevationOptions{})
	var edges []int
	for _, e := range got {
		edges = append(edges, e.Edge)
	}
	require.Equal(t, []int{0, 1, 3, 4, 5}, edges)
	require.Len(t, ElevationsOf(b, ElevationOptions{Shortest: -1}), 6)
	require.Len(t, ElevationsOf(b, ElevationOptions{Shortest: 5000}), 3)
}

func TestMergedElevationIsOneFace(t *testing.T) {
	t.Parallel()
	b := Building{Plan: []XY{{0, 0}, {6, 0}, {12, 0}, {12, 8}, {0, 8}}}
	require.Equal(t, []string{"South 1", "South 2", "East", "North", "West"}, names(ElevationsOf(b, ElevationOptions{})))
	require.ElementsMatch(t, []string{"South", "East", "North", "West"}, names(ElevationsOf(b, ElevationOptions{MergeDeg: 1})))
}

func TestBaysAndLiftsAreCutAsAScaffoldHasThem(t *testing.T) {
	t.Parallel()
	require.Equal(t, []MM{3000, 6000, 9000}, EvenBays(9000, 3000))
	require.Equal(t, []MM{2500, 5000, 7500, 10000}, EvenBays(10000, 3000))
	require.Equal(t, []MM{333, 667, 1000}, EvenBays(1000, 400))
	require.Equal(t, []MM{2000}, EvenBays(2000, 3000))
	require.Nil(t, EvenBays(0, 3000))
	require.Len(t, EvenBays(5_000_000, 1), maxBaysOrLifts)

	require.Equal(t, []MM{2000, 4000, 6000}, EvenLifts(6000, 2000))
	require.Equal(t, []MM{2000, 4000, 5200}, EvenLifts(5200, 2000), "the top lift takes the rest")
	require.Equal(t, []MM{2000, 4300}, EvenLifts(4300, 2000), "a stub joins the lift below")
	require.Equal(t, []MM{2000, 4000, 4500}, EvenLifts(4500, 2000))
	require.Equal(t, []MM{1500}, EvenLifts(1500, 2000))
	require.Nil(t, EvenLifts(6000, 0))
}

func TestBoundariesBelongToTheLeftAndLowerCell(t *testing.T) {
	t.Parallel()
	e := gable()
	for x, want := range map[MM]int{-1: 0, 0: 1, 3000: 1, 3001: 2, 6000: 2, 9000: 3, 9001: 0} {
		require.Equal(t, want, e.BayAt(x), x)
	}
	for z, want := range map[MM]int{-151: 0, -150: 1, 0: 1, 2000: 1, 2001: 2, 4000: 2, 6000: 3, 6001: 0} {
		require.Equal(t, want, e.LiftAt(z), z)
	}
	require.Zero(t, Elevation{Length: 9000}.BayAt(10), "no bays")
}

func TestLocateFillsBayAndLift(t *testing.T) {
	t.Parallel()
	e := gable()
	p, err := Locate(e, Place{X: mm(7900), Z: mm(3000), Opening: "w07", Zone: Field})
	require.NoError(t, err)
	require.Equal(t, Place{ElevationID: "e1", X: p.X, Z: p.Z, Bay: 3, Lift: 2, Opening: "W07", Zone: Field}, p)

	p, err = Locate(e, Place{Bay: 2, Lift: 1})
	require.NoError(t, err)
	require.Equal(t, 2, p.Bay)

	p, err = Locate(e, Place{X: mm(3000), Bay: 2})
	require.NoError(t, err, "on the boundary the neighbour may be meant")
	require.Equal(t, 2, p.Bay)

	p, err = Locate(Elevation{ID: "e2", Length: 5000, Height: 3000}, Place{Bay: 4, X: mm(100), Z: mm(100)})
	require.NoError(t, err, "no bays to check against")
	require.Equal(t, 4, p.Bay)
	require.Zero(t, p.Lift)
}

func TestLocateRefusesWhatIsNotOnTheWall(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		field, code string
		place       Place
	}{
		{"elevation", "other_elevation", Place{ElevationID: "e9"}},
		{"x", "outside_elevation", Place{X: mm(-1)}},
		{"x", "outside_elevation", Place{X: mm(9001)}},
		{"z", "outside_elevation", Place{Z: mm(-151)}},
		{"z", "outside_elevation", Place{Z: mm(6001)}},
		{"bay", "no_such_bay", Place{Bay: 4}},
		{"bay", "no_such_bay", Place{Bay: -1}},
		{"lift", "no_such_lift", Place{Lift: 4}},
		{"bay", "bay_mismatch", Place{Bay: 1, X: mm(7000)}},
		{"lift", "lift_mismatch", Place{Lift: 3, Z: mm(1000)}},
		{"opening", "no_such_opening", Place{Opening: "W99"}},
		{"zone", "unknown_zone", Place{Zone: "roof"}},
	} {
		_, err := Locate(gable(), c.place)
		e := refusal(t, err)
		require.Equal(t, c.code, e.Code)
		require.Equal(t, c.field, e.Field)
	}
	short := gable()
	short.Bays = []MM{3000}
	_, err := Locate(short, Place{X: mm(8000), Bay: 1})
	require.Equal(t, "bay_mismatch", refusal(t, err).Code)
}

func TestElevationsThatDoNotHoldTogetherAreRefused(t *testing.T) {
	t.Parallel()
	require.NoError(t, CheckElevation(gable()))
	for _, c := range []struct {
		field, code string
		spoil       func(*Elevation)
	}{
		{"length", "bad_length", func(e *Elevation) { e.Length = 0 }},
		{"length", "bad_length", func(e *Elevation) { e.Length = 5_000_001 }},
		{"height", "bad_height", func(e *Elevation) { e.Height = -1 }},
		{"base_line", "bad_base_line", func(e *Elevation) { e.BaseLine = -1 }},
		{"bearing", "bad_bearing", func(e *Elevation) { e.Bearing = DecimalOf(360) }},
		{"bays[1]", "not_ascending", func(e *Elevation) { e.Bays = []MM{3000, 3000} }},
		{"bays[0]", "not_ascending", func(e *Elevation) { e.Bays = []MM{0} }},
		{"bays[2]", "outside_elevation", func(e *Elevation) { e.Bays[2] = 9001 }},
		{"lifts[2]", "outside_elevation", func(e *Elevation) { e.Lifts[2] = 6001 }},
		{"lifts", "too_many", func(e *Elevation) { e.Lifts = make([]MM, 501) }},
		{"openings", "too_many", func(e *Elevation) { e.Openings = make([]Opening, 2001) }},
		{"openings[0].name", "no_name", func(e *Elevation) { e.Openings[0].Name = " " }},
		{"openings[1].name", "opening_twice", func(e *Elevation) { e.Openings[1].Name = "w06" }},
		{"openings[0].width", "bad_width", func(e *Elevation) { e.Openings[0].Width = 0 }},
		{"openings[0].height", "bad_height", func(e *Elevation) { e.Openings[0].Height = -5 }},
		{"openings[0].x", "outside_elevation", func(e *Elevation) { e.Openings[0].X = 7801 }},
		{"openings[0].x", "outside_elevation", func(e *Elevation) { e.Openings[0].X = 1 << 62 }},
		{"openings[0].z", "outside_elevation", func(e *Elevation) { e.Openings[0].Z = 4651 }},
		{"openings[1]", "openings_overlap", func(e *Elevation) { e.Openings[1].X, e.Openings[1].Z = 2199, 900 }},
	} {
		e := gable()
		c.spoil(&e)
		got := refusal(t, CheckElevation(e))
		require.Equal(t, c.code, got.Code, got.Text)
		require.Equal(t, c.field, got.Field)
	}
	touching := gable()
	touching.Openings[1].X, touching.Openings[1].Z = 2200, 900
	require.NoError(t, CheckElevation(touching), "side by side is no overlap")
}

func TestNetAreaIsGrossLessOpenings(t *testing.T) {
	t.Parallel()
	e := gable()
	require.Equal(t, "54.00", GrossArea(e).String())
	// 54 − 1.2 × 1.35 − 1.2 × 1.05
	require.Equal(t, "51.12", NetArea(e).String())
	e.Length = 9001
	require.Equal(t, "54.006", GrossArea(e).String(), "exact to the square millimetre")
	big := Elevation{Length: maxElevationLength, Height: maxElevationHeight}
	require.Equal(t, "2500000.00", GrossArea(big).String())
}

func TestPlaceWordsSayItAsPeopleDo(t *testing.T) {
	t.Parallel()
	e := gable()
	for want, p := range map[string]Place{
		"North / bay 3 / lift 2 / right of W07":                       {Bay: 3, Lift: 2, X: mm(7800), Z: mm(3000), Opening: "W07"},
		"North / bay 3 / lift 2 / left of W07":                        {Bay: 3, Lift: 2, X: mm(6400), Z: mm(3000), Opening: "w07"},
		"North / bay 3 / lift 2 / at W07":                             {Bay: 3, Lift: 2, Opening: "W07"},
		"North / bay 3 / lift 3 / above W07":                          {Bay: 3, Lift: 3, X: mm(7000), Z: mm(4100), Opening: "W07"},
		"North / bay 3 / lift 2 / below W07":                          {Bay: 3, Lift: 2, X: mm(7000), Z: mm(2500), Opening: "W07"},
		"North / bay 1 / lift 1":                                      {Bay: 1, Lift: 1, X: mm(7), Z: mm(7)},
		"North / 2.500 m from the left / 1.250 m above the base line": {X: mm(2500), Z: mm(1250)},
		"North / lift 2 / place unclear":                              {Lift: 2},
		"North / at W99 / place unclear":                              {Opening: "W99"},
		"North / place unclear":                                       {},
	} {
		if want == "North / bay 3 / lift 2 / right of W07" {
			p.X = mm(7701)
		}
		require.Equal(t, want, PlaceWords("", e, p))
	}
	require.Equal(t, "Quarry Terrace / North / bay 1 / lift 1", PlaceWords("Quarry Terrace", e, Place{Bay: 1, Lift: 1}))
	require.Equal(t, "place unclear", PlaceWords("", Elevation{}, Place{}))
}

func TestLocatedPlacesAgreeWithTheirCells(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		e := Elevation{ID: "e", Length: MM(1 + r.IntN(60000)), Height: MM(1 + r.IntN(20000))}
		e.Bays, e.Lifts = EvenBays(e.Length, MM(500+r.IntN(4000))), EvenLifts(e.Height, MM(500+r.IntN(3000)))
		require.NoError(t, CheckElevation(e))
		p, err := Locate(e, Place{X: mm(MM(r.Int64N(int64(e.Length) + 1))), Z: mm(MM(r.Int64N(int64(e.Height) + 1)))})
		require.NoError(t, err)
		require.True(t, p.Bay >= 1 && p.Bay <= len(e.Bays), fmt.Sprint(p))
		require.LessOrEqual(t, int64(*p.X), int64(e.Bays[p.Bay-1]))
		require.LessOrEqual(t, int64(*p.Z), int64(e.Lifts[p.Lift-1]))
		again, err := Locate(e, p)
		require.NoError(t, err)
		require.Equal(t, p, again)
	}
}
