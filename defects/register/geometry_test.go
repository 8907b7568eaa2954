package register_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// The court is some 40 m by 33 m around a yard of 20 m by 16 m, east of the test
// building and more than its photos' reach away.
const (
	courtRing = `[[-1.4980,53.4000],[-1.4974,53.4000],[-1.4974,53.4003],[-1.4980,53.4003],[-1.4980,53.4000]]`
	courtYard = `[[-1.49785,53.40008],[-1.49785,53.40022],[-1.49755,53.40022],[-1.49755,53.40008],[-1.49785,53.40008]]`
)

func (b *readingBed) addCourt() register.BuildingsTaken {
	b.t.Helper()
	list, refused, err := register.ParseGeoJSON(strings.NewReader(collection(feature(`{"building":"Court","height_m":9}`, polygon(courtRing, courtYard)))), maxFile)
	require.NoError(b.t, err)
	require.Empty(b.t, refused)
	taken, err := b.AddBuildings(b.ctx(), b.clerk, b.people.site.ID, list)
	require.NoError(b.t, err)
	require.Empty(b.t, taken.Refused)
	require.Empty(b.t, taken.Notes)
	return taken
}

func (b *readingBed) named(name string) defects.Elevation {
	b.t.Helper()
	all, err := b.Elevations(b.ctx(), b.clerk, b.people.site.ID)
	require.NoError(b.t, err)
	for _, e := range all {
		if e.Building+" / "+e.Name == name {
			return e
		}
	}
	b.t.Fatalf("no elevation %s", name)
	return defects.Elevation{}
}

func (b *readingBed) building(name string) defects.Building {
	b.t.Helper()
	all, err := b.Buildings(b.ctx(), b.clerk, b.people.site.ID)
	require.NoError(b.t, err)
	for _, one := range all {
		if one.Name == name {
			return one
		}
	}
	b.t.Fatalf("no building %s", name)
	return defects.Building{}
}

func TestTheFacesOfACourtyardAreElevations(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		taken := b.addCourt()
		names := map[string]string{}
		for _, e := range taken.Elevations {
			names[e.Name] = e.Bearing.String()
		}
		require.Equal(t, map[string]string{
			"South": "180.0", "East": "90.0", "North": "0.0", "West": "270.0",
			"Courtyard North": "0.0", "Courtyard South": "180.0", "Courtyard East": "90.0", "Courtyard West": "270.0",
		}, names)

		// Who stands in the yard and looks south sees the face that looks north.
		c := shot(0, 180, 4)
		lat, lon := 53.40016, -1.4977
		c.Lat, c.Lon = &lat, &lon
		p := b.take(b.clerk, picture(t, 1, c), register.PhotoInput{})
		require.Equal(t, b.named("Court / Courtyard North").ID, p.Place.ElevationID, "%+v", p.Facing)
		require.Equal(t, defects.PlacedProgram, p.PlacedBy)
		require.Greater(t, p.Facing[0].P, 0.95)

		all, err := b.Elevations(b.ctx(), b.clerk, b.people.site.ID)
		require.NoError(t, err)
		out, err := register.EncodeGeoJSON([]defects.Building{b.building("Court")}, all)
		require.NoError(t, err)
		back, bad, err := register.ParseGeoJSON(strings.NewReader(string(out)), maxFile)
		require.NoError(t, err)
		require.Empty(t, bad)
		require.Equal(t, b.building("Court").Courts, back[0].Courts)
		require.Contains(t, string(out), `"name":"Courtyard North","court":1,"edge":`)
		again, err := b.AddBuildings(b.ctx(), b.clerk, b.people.site.ID, back)
		require.NoError(t, err)
		require.Equal(t, []string{"Court"}, again.Known)
		back[0].Courts = nil
		filled, err := b.AddBuildings(b.ctx(), b.clerk, b.people.site.ID, back)
		require.NoError(t, err)
		require.Equal(t, "building_differs", filled.Refused[0].Err.CodeOrKind())
		require.Contains(t, filled.Refused[0].Err.Error(), "1 courtyards")
	})
}

func TestFootprintsInDoubtAreTakenAndFlaggedByName(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	b.take(b.clerk, picture(t, 1, shot(9, 178, 4)), register.PhotoInput{})
	far := `[[18.0,59.3],[18.0003,59.3],[18.0003,59.3001],[18.0,59.3001],[18.0,59.3]]`
	turned := `[[-1.4980,53.4],[-1.4980,53.4002],[-1.4976,53.4002],[-1.4976,53.4],[-1.4980,53.4]]`
	list, refused, err := register.ParseGeoJSON(strings.NewReader(collection(
		feature(`{"building":"Elsewhere","height_m":6}`, polygon(far)),
		feature(`{"building":"Clockwise","height_m":6}`, polygon(turned)))), maxFile)
	require.NoError(t, err)
	require.Empty(t, refused)
	taken, err := b.AddBuildings(b.ctx(), b.clerk, b.people.site.ID, list)
	require.NoError(t, err)
	require.Len(t, taken.Buildings, 2)
	notes := strings.Join(taken.Notes, "\n")
	require.Regexp(t, `(?m)^Elsewhere: lies 1[34]\d\d km from the nearest of the site's other buildings; are its coordinates right\?$`, notes)
	require.Regexp(t, `(?m)^Elsewhere: lies 1[34]\d\d km from the nearest of the site's photos`, notes)
	require.Contains(t, notes, "Clockwise: the outline runs the other way round")
	require.Len(t, taken.Notes, 3)
}

// The building is turned by a quarter about its middle: what was its long north
// wall looks east, and its west wall looks north.
func TestPhotosAreOfferedAnewAndNotMovedWhenABuildingIsTurned(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		byProgram := b.take(b.clerk, picture(t, 1, shot(9, 178, 4)), register.PhotoInput{})
		require.Equal(t, b.north.ID, byProgram.Place.ElevationID)
		byPerson := b.take(b.clerk, picture(t, 2, shot(12, 181, 4)), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID, Bay: 2, Lift: 1}})
		without := b.take(b.clerk, picture(t, 3, noPlace()), register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID}})
		before := b.building("Long Row")

		got, err := b.ReshapeBuilding(b.ctx(), b.clerk, site, before.ID, before.Version, register.Reshape{Move: &defects.Move{TurnDeg: dec0("90")}})
		require.NoError(t, err)
		require.Equal(t, 2, got.Offered)
		require.Len(t, got.Elevations, 4)
		require.Equal(t, "90.0", b.named("Long Row / North").Bearing.String(), "the wall keeps its name until somebody gives it another")
		require.Equal(t, b.north.Length, b.named("Long Row / North").Length)
		require.Equal(t, before.Version+1, b.building("Long Row").Version)

		for _, p := range []defects.Photo{byProgram, byPerson} {
			now := b.photo(p.ID)
			require.Equal(t, p.Place, now.Place, "it stays until somebody decides")
			require.Equal(t, p.PlacedBy, now.PlacedBy)
			require.Equal(t, p.Grade, now.Grade)
			require.Contains(t, now.Offered, "Long Row / West")
			require.Equal(t, b.named("Long Row / West").ID, now.Facing[0].ElevationID)
		}
		require.Empty(t, b.photo(without.ID).Offered, "a photo that says nothing of its place speaks for no wall")
		list, err := b.ListPhotos(b.ctx(), b.clerk, register.PhotoFilter{SiteID: site, Offered: true}, register.Page{Limit: 10})
		require.NoError(t, err)
		require.Len(t, list.Items, 2)

		kinds := map[string]int{}
		for _, e := range b.logged(site) {
			kinds[e.Kind]++
		}
		require.Equal(t, 1, kinds["building.reshape"])
		require.Equal(t, 4, kinds["elevation.turn"])
		require.Equal(t, 2, kinds["photo.offer"])

		keep := byPerson.Place
		_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, byPerson.ID, b.photo(byPerson.ID).Version, register.PhotoPatch{ElevationID: &keep.ElevationID, Place: &keep})
		require.NoError(t, err)
		require.Empty(t, b.photo(byPerson.ID).Offered, "somebody said that it stays")
		require.Equal(t, keep, b.photo(byPerson.ID).Place)

		back := b.building("Long Row")
		_, err = b.ReshapeBuilding(b.ctx(), b.clerk, site, back.ID, back.Version, register.Reshape{Move: &defects.Move{TurnDeg: dec0("-90")}})
		require.NoError(t, err)
		require.Empty(t, b.photo(byProgram.ID).Offered, "its own data agree with its place again")
		require.InDelta(t, before.Ring[2].Lon, b.building("Long Row").Ring[2].Lon, 2e-9)
		require.InDelta(t, before.Ring[2].Lat, b.building("Long Row").Ring[2].Lat, 2e-9)
	})
}

func TestABuildingIsReshapedInItsVersionAndByWhoMay(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	was := b.building("Long Row")
	turn := register.Reshape{Move: &defects.Move{TurnDeg: dec0("5")}}
	try := func(who register.Actor, id string, version int, s register.Reshape) error {
		_, err := b.ReshapeBuilding(b.ctx(), who, b.people.site.ID, id, version, s)
		return err
	}
	refused(t, try(b.clerk, was.ID, was.Version+1, turn), defects.Stale, "stale")
	refused(t, try(b.clerk, "nowhere", 1, turn), defects.NotFound, "building_not_found")
	refused(t, try(b.operative, was.ID, was.Version, turn), defects.Forbidden, "role_forbidden")
	refused(t, try(b.stranger, was.ID, was.Version, turn), defects.NotFound, "site_not_found")
	refused(t, try(b.clerk, was.ID, was.Version, register.Reshape{Move: &defects.Move{}}), defects.Invalid, "nothing_moves")
	refused(t, try(b.clerk, was.ID, was.Version, register.Reshape{Move: &defects.Move{East: 5_000_001}}), defects.Invalid, "too_far")
	refused(t, try(b.clerk, was.ID, was.Version, register.Reshape{Move: &defects.Move{TurnDeg: dec0("361")}}), defects.Invalid, "bad_turn")
	refused(t, try(b.clerk, was.ID, was.Version, register.Reshape{Plan: []defects.XY{{}, {X: 5}, {Y: 5}}}), defects.Invalid, "other_unit")
	refused(t, try(b.clerk, was.ID, was.Version, register.Reshape{Ring: was.Ring[:3]}), defects.Invalid, "corners_differ")
	require.Equal(t, was, b.building("Long Row"))

	ring := append([]defects.LonLat{}, was.Ring...)
	ring[2].Lat += 2 * metresNorth // the north-east corner lies 2 m further out
	require.NoError(t, try(b.clerk, was.ID, was.Version, register.Reshape{Ring: ring}))
	require.Equal(t, ring, b.building("Long Row").Ring)
	east := b.named("Long Row / East")
	require.InDelta(t, 13_127, float64(east.Length), 15)
	require.Equal(t, east.Length, east.Bays[len(east.Bays)-1], "the last bay still ends with the wall")
	require.Equal(t, b.named("Long Row / South").Version, 1, "a wall that did not change has no new version")
}

func TestElevationsChangeSidesWithEachOther(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		site := b.people.site.ID
		p := b.take(b.clerk, picture(t, 1, shot(9, 178, 4)), register.PhotoInput{})
		south := b.named("Long Row / South")
		got, err := b.AssignSide(b.ctx(), b.clerk, site, b.north.ID, b.north.Version, 0, south.Edge)
		require.NoError(t, err)
		require.Len(t, got.Elevations, 2)
		north, other := b.named("Long Row / North"), b.named("Long Row / South")
		require.Equal(t, []any{south.Edge, "180.0"}, []any{north.Edge, north.Bearing.String()})
		require.Equal(t, []any{b.north.Edge, "0.0"}, []any{other.Edge, other.Bearing.String()})
		require.Equal(t, 1, got.Offered)
		require.Contains(t, b.photo(p.ID).Offered, "Long Row / South")
		require.Equal(t, north.ID, b.photo(p.ID).Place.ElevationID)

		_, err = b.AssignSide(b.ctx(), b.clerk, site, b.north.ID, b.north.Version, 0, 1)
		refused(t, err, defects.Stale, "stale")
		_, err = b.AssignSide(b.ctx(), b.clerk, site, b.north.ID, north.Version, 1, 0)
		refused(t, err, defects.Invalid, "no_such_side")
		_, err = b.AssignSide(b.ctx(), b.clerk, site, "nowhere", 1, 0, 0)
		refused(t, err, defects.NotFound, "elevation_not_found")

		off, near := dec0("120"), dec0("190.5")
		_, err = b.UpdateElevation(b.ctx(), b.clerk, site, north.ID, north.Version, register.ElevationPatch{Bearing: &off})
		refused(t, err, defects.Invalid, "off_its_side")
		turned, err := b.UpdateElevation(b.ctx(), b.clerk, site, north.ID, north.Version, register.ElevationPatch{Bearing: &near})
		require.NoError(t, err)
		require.Equal(t, "190.5", turned.Bearing.String())
	})
}

func dec0(text string) defects.Decimal { return defects.MustDecimal(text) }
