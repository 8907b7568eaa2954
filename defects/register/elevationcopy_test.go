package register_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// handed draws the south wall, which is as long as the north one: an opening 1 m
// from its left end and bays of its own.
func (b *readingBed) handed() defects.Elevation {
	b.t.Helper()
	south := b.named("Long Row / South")
	bays, lifts, height, base := []defects.MM{3000, 9000, south.Length}, []defects.MM{2500, 5000}, defects.MM(5000), defects.MM(150)
	openings := []defects.Opening{{Name: "D01", Kind: "door", X: 1000, Z: 0, Width: 900, Height: 2100}}
	south, err := b.UpdateElevation(b.ctx(), b.clerk, b.people.site.ID, south.ID, south.Version, register.ElevationPatch{
		Bays: &bays, Lifts: &lifts, Height: &height, BaseLine: &base, Openings: &openings,
	})
	require.NoError(b.t, err)
	return south
}

func (b *readingBed) copy(from defects.Elevation, c register.ElevationCopy) ([]defects.Elevation, error) {
	return b.CopyElevation(b.ctx(), b.clerk, b.people.site.ID, from.ID, c)
}

func whole(mirrored bool) defects.CopyOptions {
	o, _ := register.CopyOptionsOf([]string{"outline", "bays", "lifts", "openings"}, mirrored, nil)
	return o
}

func to(list ...defects.Elevation) []register.CopyTarget {
	var out []register.CopyTarget
	for _, e := range list {
		out = append(out, register.CopyTarget{ID: e.ID, Version: e.Version})
	}
	return out
}

func TestAnElevationIsCopiedToAHandedHouse(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		south := b.handed()
		got, err := b.copy(south, register.ElevationCopy{To: to(b.north), Options: whole(true)})
		require.NoError(t, err)
		require.Len(t, got, 1)
		north := b.named("Long Row / North")
		require.Equal(t, got[0], north)
		require.Equal(t, []defects.MM{north.Length - 9000, north.Length - 3000, north.Length}, north.Bays)
		require.Equal(t, []defects.Opening{{Name: "D01", Kind: "door", X: north.Length - 1900, Z: 0, Width: 900, Height: 2100}}, north.Openings)
		require.Equal(t, []any{south.Lifts, south.Height, south.BaseLine}, []any{north.Lifts, north.Height, north.BaseLine})
		require.Equal(t, []any{"0.0", "North", b.north.Length}, []any{north.Bearing.String(), north.Name, north.Length})

		e := b.last(b.people.site.ID)
		require.Equal(t, "elevation.copy", e.Kind)
		var data struct {
			From         string
			From_version int //nolint:revive // as written in the log
			Parts        []string
			Mirrored     bool
			Before       struct{ Openings []any }
			After        struct{ Openings []any }
		}
		require.NoError(t, json.Unmarshal(e.Data, &data))
		require.Equal(t, []any{south.ID, south.Version, true}, []any{data.From, data.From_version, data.Mirrored})
		require.Equal(t, []string{"outline", "bays", "lifts", "openings"}, data.Parts)
		require.Empty(t, data.Before.Openings)
		require.Len(t, data.After.Openings, 1)

		// Mirrored back it is what it was copied from.
		_, err = b.copy(north, register.ElevationCopy{To: to(south), Options: whole(true)})
		require.NoError(t, err)
		back := b.named("Long Row / South")
		require.InDelta(t, float64(south.Openings[0].X), float64(back.Openings[0].X), 2, "the lengths differ by a millimetre")
		require.Equal(t, len(south.Bays), len(back.Bays))
	})
}

func TestACopyIsRefusedWholeWhenATargetDoesNotFit(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	south := b.handed()
	east := b.named("Long Row / East")
	try := func(c register.ElevationCopy) error { _, err := b.copy(south, c); return err }
	err := try(register.ElevationCopy{To: to(b.north, east), Options: whole(false)})
	refused(t, err, defects.Invalid, "length_differs")
	require.Contains(t, err.Error(), "East")
	require.Empty(t, b.named("Long Row / North").Openings, "neither is changed")
	refused(t, try(register.ElevationCopy{Options: whole(false)}), defects.Invalid, "no_target")
	refused(t, try(register.ElevationCopy{To: to(south), Options: whole(false)}), defects.Invalid, "target_twice")
	refused(t, try(register.ElevationCopy{To: to(b.north)}), defects.Invalid, "nothing_copied")
	refused(t, try(register.ElevationCopy{To: []register.CopyTarget{{ID: b.north.ID, Version: 9}}, Options: whole(false)}), defects.Stale, "stale")
	refused(t, try(register.ElevationCopy{To: []register.CopyTarget{{ID: "nowhere", Version: 1}}, Options: whole(false)}), defects.NotFound, "elevation_not_found")
	_, err = b.CopyElevation(b.ctx(), b.operative, b.people.site.ID, south.ID, register.ElevationCopy{To: to(b.north), Options: whole(false)})
	refused(t, err, defects.Forbidden, "role_forbidden")
}

func TestACopyLeavesNothingOutsideUnlessTold(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		south := b.handed()
		x, z := defects.MM(2000), defects.MM(5500)
		high := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID, X: &x, Z: &z}})
		b.take(b.clerk, picture(t, 2, noPlace()), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID, Bay: 7}})
		c := register.ElevationCopy{To: to(b.north), Options: whole(false)}
		_, err := b.copy(south, c)
		refused(t, err, defects.Conflict, "things_outside")
		require.Contains(t, err.Error(), "North: the photo")
		require.Equal(t, b.north, b.named("Long Row / North"))

		c.Anyway = true
		_, err = b.copy(south, c)
		require.NoError(t, err)
		require.Equal(t, high.Place, b.photo(high.ID).Place, "what is recorded stays as recorded")
		require.Contains(t, string(b.last(b.people.site.ID).Data), `"anyway":true`)
	})
}

func TestCopiedBaysTakeUpTheDifferenceOfLengths(t *testing.T) {
	t.Parallel()
	from := defects.Elevation{
		Name: "A", Length: 10_000, Height: 6000, Bays: []defects.MM{4000, 9000},
		Openings: []defects.Opening{{Name: "W1", X: 8990, Width: 1000, Z: 0, Height: 1000}},
	}
	target := defects.Elevation{Name: "B", Length: 9970, Height: 5000}
	o := defects.CopyOptions{Bays: true, Tolerance: 50}
	got, err := defects.CopyElevation(from, target, o)
	require.NoError(t, err)
	require.Equal(t, []defects.MM{4000, 9000}, got.Bays, "bays that ended before the wall's end still do")
	o.Mirrored = true
	got, err = defects.CopyElevation(from, target, o)
	require.NoError(t, err)
	require.Equal(t, []defects.MM{970, 5970, 9970}, got.Bays)
	from.Bays[1] = 10_000
	o.Mirrored = false
	got, err = defects.CopyElevation(from, target, o)
	require.NoError(t, err)
	require.Equal(t, []defects.MM{4000, 9970}, got.Bays)
	o.Openings = true
	_, err = defects.CopyElevation(from, target, o)
	refused(t, err, defects.Invalid, "outside_elevation")
	from.Openings[0].X = 100
	o.Mirrored = true
	got, err = defects.CopyElevation(from, target, o)
	require.NoError(t, err)
	require.Equal(t, defects.MM(9970-1100), got.Openings[0].X, "kept from the right end")
}
