package defects

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

type walked struct {
	name   string
	place  Place
	number int
}

func walk(e Elevation, items []walked) (out []string) {
	SortWalk(items, func(w walked) WalkKey { return WalkKey{Rank: WalkRank(e, w.place), Number: w.number} })
	for _, w := range items {
		out = append(out, w.name)
	}
	return out
}

func cells(bays, lifts int) Elevation {
	return Elevation{
		Length: MM(bays * 3000), Height: MM(lifts * 2000),
		Bays: EvenBays(MM(bays*3000), 3000), Lifts: EvenLifts(MM(lifts*2000), 2000),
	}
}

// Job J12 of the domain notes.
func TestTheWalkGoesTopLiftFirstAndBackTheOtherWay(t *testing.T) {
	t.Parallel()
	items := []walked{
		{"A", Place{Lift: 3, Bay: 4}, 1},
		{"B", Place{Lift: 3, Bay: 1}, 2},
		{"C", Place{Lift: 2, Bay: 2}, 3},
		{"D", Place{Lift: 2, Bay: 4}, 4},
		{"E", Place{Lift: 1, Bay: 1}, 5},
	}
	require.Equal(t, []string{"B", "A", "D", "C", "E"}, walk(cells(4, 3), slices.Clone(items)))
	require.Equal(t, []string{"B", "A", "D", "C", "E"}, walk(Elevation{}, items), "without lifts, odd ones run left to right")
}

func TestInsideABayTheWalkGoesLeftToRightThenTopToBottom(t *testing.T) {
	t.Parallel()
	at := func(lift int, x, z MM) Place { return Place{Lift: lift, Bay: 1, X: mm(x), Z: mm(z)} }
	require.Equal(t, []string{"left", "right high", "right low", "somewhere"}, walk(cells(4, 3), []walked{
		{"somewhere", Place{Lift: 3, Bay: 1}, 1},
		{"right low", at(3, 900, 4100), 2},
		{"left", at(3, 100, 4100), 3},
		{"right high", at(3, 900, 5000), 4},
	}))
	require.Equal(t, []string{"left", "right"}, walk(cells(4, 3), []walked{
		{"right", at(2, 900, 2100), 1}, {"left", at(2, 100, 2100), 2},
	}), "also where the walk runs back")
}

func TestWithoutAPlaceComesLast(t *testing.T) {
	t.Parallel()
	e := cells(4, 3)
	require.Equal(t, []string{"ground", "no bay", "no lift", "nothing"}, walk(e, []walked{
		{"nothing", Place{}, 4}, {"no bay", Place{Lift: 3}, 3}, {"ground", Place{Lift: 1, Bay: 4}, 2}, {"no lift", Place{Bay: 1}, 1},
	}))
	require.True(t, PlaceUnclear(WalkRank(e, Place{Lift: 3})))
	require.True(t, PlaceUnclear(WalkRank(e, Place{Bay: 3})))
	require.False(t, PlaceUnclear(WalkRank(e, Place{Bay: 4, Lift: 1})))
}

func TestTopLiftRunsLeftToRightWhateverTheNumberOfLifts(t *testing.T) {
	t.Parallel()
	items := func() []walked {
		return []walked{
			{"4 right", Place{Lift: 4, Bay: 3}, 1},
			{"4 left", Place{Lift: 4, Bay: 1}, 2},
			{"3 right", Place{Lift: 3, Bay: 3}, 3},
			{"3 left", Place{Lift: 3, Bay: 1}, 4},
		}
	}
	require.Equal(t, []string{"4 left", "4 right", "3 right", "3 left"}, walk(cells(3, 4), items()))
}

func TestWithoutBaysTheDistanceStandsIn(t *testing.T) {
	t.Parallel()
	e := Elevation{Length: 9000, Height: 6000, Lifts: []MM{3000, 6000}}
	at := func(lift int, x, z MM) Place { return Place{Lift: lift, X: mm(x), Z: mm(z)} }
	require.Equal(t, []string{"a", "b", "c", "d"}, walk(e, []walked{
		{"d", at(1, 100, 500), 1}, {"c", at(1, 8000, 500), 2}, {"b", at(2, 8000, 5000), 3}, {"a", at(2, 100, 5000), 4},
	}))
	plain := Elevation{Length: 9000, Height: 6000}
	require.False(t, PlaceUnclear(WalkRank(plain, Place{X: mm(5), Z: mm(5)})))
	require.True(t, PlaceUnclear(WalkRank(plain, Place{X: mm(5)})))
}

func TestElevationsAndNumbersOrderTheRest(t *testing.T) {
	t.Parallel()
	require.True(t, WalkLess(WalkKey{Elevation: 0, Rank: 9}, WalkKey{Elevation: 1, Rank: 1}))
	require.True(t, WalkLess(WalkKey{Rank: 1, Number: 3}, WalkKey{Rank: 1, Number: 4}))
	require.False(t, WalkLess(WalkKey{Rank: 1, Number: 4}, WalkKey{Rank: 1, Number: 4}))
}

// before is the rule of the walk in plain steps, for places with bay and lift
// or without; it knows nothing of the packed key.
func before(lifts int, a, b walked) bool {
	known := func(w walked) bool { return w.place.Bay > 0 && w.place.Lift > 0 }
	if known(a) != known(b) {
		return known(a)
	}
	if !known(a) {
		return WalkRank(cells(9, lifts), a.place) < WalkRank(cells(9, lifts), b.place) ||
			(WalkRank(cells(9, lifts), a.place) == WalkRank(cells(9, lifts), b.place) && a.number < b.number)
	}
	if a.place.Lift != b.place.Lift {
		return a.place.Lift > b.place.Lift
	}
	if a.place.Bay != b.place.Bay {
		back := (lifts-a.place.Lift)%2 == 1
		return (a.place.Bay < b.place.Bay) != back
	}
	for _, c := range [][2]*MM{{a.place.X, b.place.X}, {b.place.Z, a.place.Z}} {
		stated, other := c[0], c[1]
		if stated != nil && other != nil && *stated != *other {
			return *stated < *other
		}
	}
	if (a.place.X == nil) != (b.place.X == nil) {
		return a.place.X != nil
	}
	return a.number < b.number
}

func TestTheStoredRankSortsAsTheRuleSays(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(5, 6))
	for range 300 {
		lifts := 1 + r.IntN(6)
		e := cells(9, lifts)
		items := make([]walked, 40)
		for i := range items {
			p := Place{Bay: r.IntN(10), Lift: r.IntN(lifts + 1)}
			if r.IntN(2) == 0 && p.Bay > 0 && p.Lift > 0 {
				p.X = mm(MM((p.Bay-1)*3000 + 1 + r.IntN(40)))
				p.Z = mm(MM((p.Lift-1)*2000 + 1 + r.IntN(4)))
			}
			items[i] = walked{place: p, number: i}
			require.GreaterOrEqual(t, WalkRank(e, p), int64(0))
		}
		byRank, byRule := slices.Clone(items), slices.Clone(items)
		walk(e, byRank)
		slices.SortFunc(byRule, func(a, b walked) int {
			if before(lifts, a, b) {
				return -1
			}
			return 1
		})
		require.Equal(t, byRule, byRank)
		r.Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
		walk(e, items)
		require.Equal(t, byRank, items, "the order of arrival does not matter")
	}
}

func TestRankOfAnyPlaceIsAWholeNumberInRange(t *testing.T) {
	t.Parallel()
	for _, p := range []Place{
		{Bay: 1 << 40, Lift: 1 << 40, X: mm(1 << 60), Z: mm(1 << 60)},
		{Bay: -5, Lift: -5, X: mm(-1 << 60), Z: mm(-1 << 60)},
		{Bay: 1023, Lift: 1},
	} {
		for _, e := range []Elevation{{}, cells(4, 3), cells(4, 2)} {
			require.GreaterOrEqual(t, WalkRank(e, p), int64(0))
		}
	}
}
