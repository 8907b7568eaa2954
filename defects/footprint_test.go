package defects

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// near turns a plan in metres into degrees round an invented place.
func near(plan ...XY) []LonLat {
	f := NewFrame(LonLat{-2.2451, 53.4795})
	out := make([]LonLat, len(plan))
	for i, p := range plan {
		out[i] = f.ToLonLat(p)
	}
	return out
}

func rect(x, y, w, h float64) []XY {
	return []XY{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

func reversed(plan []XY) []XY {
	out := slices.Clone(plan)
	slices.Reverse(out)
	return out
}

// lShape runs anticlockwise from the south-west corner.
func lShape() []XY { return []XY{{0, 0}, {20, 0}, {20, 8}, {8, 8}, {8, 15}, {0, 15}} }

func refusal(t *testing.T, err error) *Error {
	t.Helper()
	var e *Error
	require.True(t, errors.As(err, &e), "want a coded refusal, got %v", err)
	require.NotEmpty(t, e.Text)
	return e
}

func TestGoodOutlinesAreTaken(t *testing.T) {
	t.Parallel()
	for name, plan := range map[string][]XY{
		"anticlockwise": rect(0, 0, 12, 8), "clockwise": reversed(rect(0, 0, 12, 8)),
		"L": lShape(), "L clockwise": reversed(lShape()), "triangle": {{0, 0}, {5, 0}, {0, 5}},
		"spare point on a side": {{0, 0}, {6, 0}, {12, 0}, {12, 8}, {0, 8}},
	} {
		closed := append(slices.Clone(plan), plan[0])
		require.NoError(t, CheckPlan(plan, "plan"), name)
		require.NoError(t, CheckPlan(closed, "plan"), name)
		require.NoError(t, CheckRing(near(plan...), "ring"), name)
		require.NoError(t, CheckRing(near(closed...), "ring"), name)
	}
}

func TestBadRingsAreRefusedByName(t *testing.T) {
	t.Parallel()
	nan := math.NaN()
	for _, c := range []struct {
		name, field, code, says string
		ring                    []LonLat
	}{
		{"nothing", "ring", "too_few_points", "three", nil},
		{"two points closed", "ring", "too_few_points", "not 2", near(XY{0, 0}, XY{5, 0}, XY{0, 0})},
		{"not a number", "ring[1]", "bad_coordinate", "numbers", []LonLat{{0, 1}, {nan, 1}, {1, 1}}},
		{"infinite", "ring[0]", "bad_coordinate", "numbers", []LonLat{{0, math.Inf(1)}, {1, 1}, {1, 2}}},
		{"map grid metres", "ring[0]", "metres_not_degrees", "metres", []LonLat{{383700, 398400}, {383712, 398400}, {383712, 398408}}},
		{"small metres", "ring", "too_large", "metres typed as degrees", []LonLat{{0, 0}, {12, 0}, {12, 8}, {0, 8}}},
		{"swapped", "ring[0]", "swapped_coordinates", "Longitude comes first", []LonLat{{-33.9, 151.2}, {-33.9, 151.3}, {-33.8, 151.2}}},
		{"off the globe", "ring[0]", "bad_coordinate", "±180", []LonLat{{200, 100}, {1, 1}, {1, 2}}},
		{"pole", "ring[0]", "bad_coordinate", "±89.9", []LonLat{{0, 90}, {1, 89}, {1, 88}}},
		{"bow tie", "ring", "ring_crosses", "edge 0 and edge 2", near(XY{0, 0}, XY{10, 10}, XY{10, 0}, XY{0, 10})},
		{"twice the same point", "ring", "zero_edge", "edge 1", near(XY{0, 0}, XY{10, 0}, XY{10, 0}, XY{10, 8})},
		{"touching itself", "ring", "ring_crosses", "edge", near(XY{0, 0}, XY{10, 0}, XY{5, 5}, XY{10, 10}, XY{0, 10}, XY{5, 5})},
		{"back on itself", "ring", "ring_crosses", "edge 0 and edge 1", near(XY{0, 0}, XY{10, 0}, XY{4, 0}, XY{4, 6})},
		{"too large", "ring", "too_large", "at most 5000 m", near(rect(0, 0, 6000, 10)...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			e := refusal(t, CheckRing(c.ring, "ring"))
			require.Equal(t, c.code, e.Code, e.Text)
			require.Equal(t, c.field, e.Field)
			require.Contains(t, e.Text, c.says)
			require.ErrorIs(t, e, Invalid)
		})
	}
}

func TestBadPlansAreRefusedByName(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		code string
		plan []XY
	}{
		{"too_few_points", []XY{{0, 0}, {1, 1}}},
		{"bad_coordinate", []XY{{0, 0}, {math.Inf(-1), 1}, {2, 2}}},
		{"ring_crosses", []XY{{0, 0}, {10, 10}, {10, 0}, {0, 10}}},
		{"ring_crosses", []XY{{0, 0}, {10, 0}, {5, 0}}},
		{"zero_edge", []XY{{0, 0}, {0, 0.0001}, {5, 5}}},
		{"too_large", rect(0, 0, 10, 5001)},
		{"no_area", []XY{{0, 0}, {10, 0}, {5, 0.001}}},
		{"too_many_points", make([]XY, MaxRingPoints+2)},
	} {
		if c.code == "too_many_points" {
			for i := range c.plan {
				c.plan[i] = XY{float64(i), 0}
			}
		}
		require.Equal(t, c.code, refusal(t, CheckPlan(c.plan, "plan")).Code)
	}
}

func bearings(sides []Side) (out []int) {
	for _, s := range sides {
		out = append(out, int(math.Round(s.Bearing)))
	}
	return out
}

func TestSidesLookOutwardsWhicheverWayTheRingRuns(t *testing.T) {
	t.Parallel()
	for _, geodetic := range []bool{false, true} {
		build := func(plan []XY) Building {
			if geodetic {
				return Building{Ring: near(plan...)}
			}
			return Building{Plan: plan}
		}
		require.Equal(t, []int{180, 90, 0, 90, 0, 270}, bearings(Sides(build(lShape()))))
		// Reversed, edge 0 runs along the inner west side from north to south.
		require.Equal(t, []int{0, 90, 0, 90, 180, 270}, bearings(Sides(build(reversed(lShape())))))
	}
}

func TestSidesHaveTheLengthToTheMillimetre(t *testing.T) {
	t.Parallel()
	b := Building{Ring: near(lShape()...)}
	var got []MM
	for _, s := range Sides(b) {
		got = append(got, s.Length)
	}
	require.Equal(t, []MM{20000, 8000, 12000, 7000, 8000, 15000}, got)
}

func TestLeftEndIsLeftFromOutside(t *testing.T) {
	t.Parallel()
	for _, plan := range [][]XY{lShape(), reversed(lShape())} {
		for _, s := range Sides(Building{Plan: plan}) {
			looking := towards(s.Bearing + 180)
			// Seen from outside, right minus left points to the right of the view.
			across := sub(s.Right, s.Left)
			require.Less(t, cross(looking, across), 0.0, "edge %d", s.Index)
		}
	}
	north := Sides(Building{Plan: rect(0, 0, 12, 8)})[2]
	require.Equal(t, XY{12, 8}, north.Left, "facing south at the north wall, east is on the left")
}

func TestBuildingWithoutOutlineHasNoSides(t *testing.T) {
	t.Parallel()
	require.Empty(t, Sides(Building{}))
	require.Nil(t, Outline(Building{}))
	_, ok := BuildingFrame(Building{Plan: rect(0, 0, 1, 1)})
	require.False(t, ok)
}

func TestSidesInLineAreMergedAlsoAcrossTheStart(t *testing.T) {
	t.Parallel()
	// The south wall is drawn in three parts and the ring starts in its middle.
	plan := []XY{{4, 0}, {8, 0}, {12, 0}, {12, 8}, {0, 8}, {0, 0}}
	merged := MergeCollinear(Sides(Building{Plan: plan}), 1)
	require.Len(t, merged, 4)
	last := merged[len(merged)-1]
	for _, m := range merged {
		if m.Bearing == 180 {
			last = m
		}
	}
	require.Equal(t, []int{5, 0, 1}, last.Merged)
	require.Equal(t, 5, last.Index)
	require.Equal(t, MM(12000), last.Length)
	require.Equal(t, XY{0, 0}, last.Left)
	require.Equal(t, XY{12, 0}, last.Right)

	clockwise := MergeCollinear(Sides(Building{Plan: reversed(plan)}), 1)
	require.Len(t, clockwise, 4)
}

func TestMergingKeepsARoundTower(t *testing.T) {
	t.Parallel()
	var plan []XY
	for i := range 72 {
		s, c := math.Sincos(float64(i) * 2 * math.Pi / 72)
		plan = append(plan, XY{10 * c, 10 * s})
	}
	require.Len(t, MergeCollinear(Sides(Building{Plan: plan}), 10), 72, "no corner, nothing to merge at")
}

func TestAreaOfSidesCloses(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 { // star-shaped rings are simple whatever the radii
		n := 3 + r.IntN(12)
		var plan []XY
		for i := range n {
			s, c := math.Sincos(float64(i) * 2 * math.Pi / float64(n))
			radius := 3 + 20*r.Float64()
			plan = append(plan, XY{radius * c, radius * s})
		}
		if r.IntN(2) == 0 {
			slices.Reverse(plan)
		}
		require.NoError(t, CheckPlan(plan, "plan"))
		var sum XY // lengths times outward normals of a closed ring add up to nothing
		for _, s := range Sides(Building{Plan: plan}) {
			n, l := towards(s.Bearing), distance(s.From, s.To)
			sum = XY{sum.X + n.X*l, sum.Y + n.Y*l}
		}
		require.InDelta(t, 0, norm(sum), 1e-9)
	}
}

func FuzzCheckRing(f *testing.F) {
	f.Add(-2.2451, 53.4795, -2.245, 53.4795, -2.245, 53.4796, -2.2451, 53.4796)
	f.Add(0.0, 0.0, 10.0, 10.0, 10.0, 0.0, 0.0, 10.0)
	f.Add(math.NaN(), 0.0, math.Inf(1), 1e300, -1e300, 5.0, 383700.0, 398400.0)
	f.Add(180.0, 0.0, -180.0, 0.0, 179.9999, 0.0001, 0.0, 89.95)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g, h, i float64) {
		ring := []LonLat{{a, b}, {c, d}, {e, g}, {h, i}}
		first := CheckRing(ring, "ring")
		second := CheckRing(ring, "ring")
		require.Equal(t, first, second)
		plan := []XY{{a, b}, {c, d}, {e, g}, {h, i}}
		planErr := CheckPlan(plan, "plan")
		if first == nil {
			requireSound(t, Building{Ring: ring})
		}
		if planErr == nil {
			requireSound(t, Building{Plan: plan})
		}
	})
}

// requireSound: whatever passes the check can be used.
func requireSound(t *testing.T, b Building) {
	t.Helper()
	for _, s := range Sides(b) {
		require.Positive(t, int64(s.Length))
		require.True(t, s.Bearing >= 0 && s.Bearing < 360)
	}
	for _, e := range ElevationsOf(b, ElevationOptions{BayWidth: 3000, LiftHeight: 2000, MergeDeg: 1}) {
		require.GreaterOrEqual(t, int64(e.Length), int64(MinElevationLength))
		require.Equal(t, e.Length, e.Bays[len(e.Bays)-1])
	}
}
