package register_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestABuildingTypedInMetresGetsElevationsWithBaysAndLifts(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	taken, err := f.AddBuildings(f.ctx(), p.clerk, p.site.ID, []register.NewBuilding{{
		Name: "Typed", Height: 7000, DefectsMonths: 24, CompletedOn: "2026-05-01",
		Plan: []defects.XY{{X: 0, Y: 0}, {X: 12, Y: 0}, {X: 12, Y: 5}, {X: 0, Y: 5}, {X: 0, Y: 0}},
	}})
	require.NoError(t, err)
	require.Len(t, taken.Buildings, 1)
	require.Len(t, taken.Buildings[0].Plan, 4, "closed without repeating the first point")
	require.Len(t, taken.Elevations, 4)
	require.Empty(t, taken.Notes)
	south := taken.Elevations[0]
	require.Equal(t, "South", south.Name)
	require.Equal(t, "Typed", south.Building)
	require.Equal(t, defects.MM(12000), south.Length)
	require.Equal(t, "180.0", south.Bearing.String())
	require.Equal(t, []defects.MM{2400, 4800, 7200, 9600, 12000}, south.Bays, "no wider than 2.5 m")
	require.Equal(t, []defects.MM{2000, 4000, 6000, 7000}, south.Lifts)

	list, err := f.Elevations(f.ctx(), p.owner, p.site.ID)
	require.NoError(t, err)
	require.Equal(t, taken.Elevations, list)
	one, err := f.Elevation(f.ctx(), p.owner, p.site.ID, south.ID)
	require.NoError(t, err)
	require.Equal(t, south, one)
	buildings, err := f.Buildings(f.ctx(), p.owner, p.site.ID)
	require.NoError(t, err)
	require.Equal(t, taken.Buildings, buildings)
}

func TestABatchOfBuildingsTakesKnowsAndRefuses(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	f.walls(p, "Terrace")
	there, err := f.Buildings(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	turned := append(there[0].Ring[1:], there[0].Ring[:1]...) // the same outline from its next corner
	plan := []defects.XY{{X: 0, Y: 0}, {X: 12, Y: 0}, {X: 12, Y: 5}}
	taken, err := f.AddBuildings(f.ctx(), p.manager, p.site.ID, []register.NewBuilding{
		{Name: " terrace", Ring: turned, Height: 5000},
		{Name: "TERRACE", Plan: plan, Height: 5000},
		{Name: "Crossed", Height: 5000, Plan: []defects.XY{{X: 0, Y: 0}, {X: 12, Y: 5}, {X: 12, Y: 0}, {X: 0, Y: 5}}},
		{Name: "New", Plan: plan},
		{Name: "new", Plan: plan, Height: 5000},
		{Plan: plan, Height: 5000},
		{Name: "Both", Plan: plan, Ring: []defects.LonLat{{Lon: 1, Lat: 1}}, Height: 5000},
		{Name: "None", Height: 5000},
		{Name: "Too high", Plan: plan, Height: 500_001},
		{Name: "No day", Plan: plan, Height: 5000, CompletedOn: "2026-02-30"},
		{Name: "Months", Plan: plan, Height: 5000, DefectsMonths: -1},
		{Name: "Small", Height: 5000, Plan: []defects.XY{{X: 0, Y: 0}, {X: 0.3, Y: 0}, {X: 0.3, Y: 0.3}}},
		{Name: "Closed twice", Height: 5000, Plan: append(append([]defects.XY{}, plan...), plan[0], plan[0])},
		{Name: "Bays", Plan: plan, Height: 5000, BayWidth: -1},
	})
	require.NoError(t, err)
	require.Equal(t, []string{"terrace"}, taken.Known)
	require.Len(t, taken.Buildings, 1)
	require.Equal(t, "New", taken.Buildings[0].Name)
	require.Equal(t, defects.MM(6000), taken.Buildings[0].Height)
	require.Len(t, taken.Notes, 1)
	require.Contains(t, taken.Notes[0], "New: no height given, 6.000 m assumed")
	got := map[string]string{}
	for _, r := range taken.Refused {
		got[r.Item] = r.Err.CodeOrKind()
	}
	require.Contains(t, taken.Refused[0].Err.Text, "building Terrace with another outline: the site has 4 corners in degrees, this one 3 corners in metres")
	require.Equal(t, map[string]string{
		"Crossed": "ring_crosses", "new": "name_twice", "building 6": "name_empty", "TERRACE": "building_differs", "Both": "two_outlines",
		"None": "too_few_points", "Too high": "bad_height", "No day": "bad_date", "Months": "bad_months",
		"Small": "no_elevation", "Closed twice": "zero_edge", "Bays": "bad_size",
	}, got)

	_, err = f.AddBuildings(f.ctx(), p.installer, p.site.ID, nil)
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, err = f.AddBuildings(f.ctx(), p.manager, p.site.ID, make([]register.NewBuilding, 501))
	refused(t, err, defects.TooLarge, "too_many_buildings")
}

func TestTheSameFileAgainChangesNothing(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	f.walls(p, "Terrace")
	before := len(f.logged(p.site.ID))
	buildings, err := f.Buildings(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	taken, err := f.AddBuildings(f.ctx(), p.clerk, p.site.ID, []register.NewBuilding{{Name: "Terrace", Height: 9000, Ring: buildings[0].Ring}})
	require.NoError(t, err)
	require.Equal(t, register.BuildingsTaken{Known: []string{"Terrace"}}, taken)
	require.Len(t, f.logged(p.site.ID), before)
}

func TestUpdatingAnElevationIsCheckedAndLoggedBeforeAndAfter(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	wall := f.walls(p, "Terrace")[0]
	window := defects.Opening{Name: "W01", Kind: "window", X: 2000, Z: 1000, Width: 1200, Height: 1100}
	for name, tc := range map[string]struct {
		patch register.ElevationPatch
		kind  defects.Kind
		field string
		code  string
	}{
		"lifts not ascending":  {register.ElevationPatch{Lifts: &[]defects.MM{3000, 2000}}, defects.Invalid, "lifts[1]", "not_ascending"},
		"bay beyond the wall":  {register.ElevationPatch{Bays: &[]defects.MM{90_000}}, defects.Invalid, "bays[0]", "outside_elevation"},
		"opening off the wall": {register.ElevationPatch{Openings: &[]defects.Opening{{Name: "W", X: 90_000, Width: 1, Height: 1}}}, defects.Invalid, "openings[0].x", "outside_elevation"},
		"opening unknown":      {register.ElevationPatch{Openings: &[]defects.Opening{{Name: "W", Kind: "hatch", Width: 1, Height: 1}}}, defects.Invalid, "openings[0].kind", "unknown_kind"},
		"openings twice":       {register.ElevationPatch{Openings: &[]defects.Opening{window, window}}, defects.Invalid, "openings[1].name", "opening_twice"},
		"too many openings":    {register.ElevationPatch{Openings: ptr(make([]defects.Opening, 401))}, defects.TooLarge, "openings", "too_many"},
		"height nought":        {register.ElevationPatch{Height: ptr(defects.MM(0))}, defects.Invalid, "height", "bad_height"},
		"another's name":       {register.ElevationPatch{Name: ptr("east")}, defects.Conflict, "name", "name_taken"},
	} {
		_, err := f.UpdateElevation(f.ctx(), p.clerk, p.site.ID, wall.ID, 1, tc.patch)
		require.Equal(t, tc.field, refused(t, err, tc.kind, tc.code).Field, name)
	}
	_, err := f.UpdateElevation(f.ctx(), p.designer, p.site.ID, wall.ID, 1, register.ElevationPatch{Name: ptr("X")})
	refused(t, err, defects.Forbidden, "role_forbidden")

	after, err := f.UpdateElevation(f.ctx(), p.clerk, p.site.ID, wall.ID, 1, register.ElevationPatch{
		Name: ptr("Street side"), BaseLine: ptr(defects.MM(150)), Openings: &[]defects.Opening{window},
	})
	require.NoError(t, err)
	require.Equal(t, 2, after.Version)
	stored, err := f.Elevation(f.ctx(), p.clerk, p.site.ID, wall.ID)
	require.NoError(t, err)
	require.Equal(t, after, stored)
	e := f.last(p.site.ID)
	require.Equal(t, "elevation.update", e.Kind)
	require.Equal(t, wall.ID, e.Subject.ID)
	require.Equal(t, "clerk", e.Actor.Role)
	require.Equal(t, "test phone", e.Actor.Device)
	sameJSON(t, register.ElevationRow(wall), part(t, e.Data, "before"))
	sameJSON(t, register.ElevationRow(after), part(t, e.Data, "after"))
}

func sameJSON(t *testing.T, want any, got json.RawMessage) {
	t.Helper()
	text, err := json.Marshal(want)
	require.NoError(t, err)
	require.JSONEq(t, string(text), string(got))
}

func TestUpdatingABuilding(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	f.walls(p, "Terrace")
	_, err := f.AddBuildings(f.ctx(), p.clerk, p.site.ID, []register.NewBuilding{{
		Name: "Other", Height: 5000, Plan: []defects.XY{{X: 0, Y: 0}, {X: 12, Y: 0}, {X: 12, Y: 5}},
	}})
	require.NoError(t, err)
	list, err := f.Buildings(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	id := list[1].ID
	require.Equal(t, "Terrace", list[1].Name)
	_, err = f.UpdateBuilding(f.ctx(), p.clerk, p.site.ID, id, 1, register.BuildingPatch{Name: ptr("other")})
	refused(t, err, defects.Conflict, "name_taken")
	_, err = f.UpdateBuilding(f.ctx(), p.clerk, p.site.ID, id, 1, register.BuildingPatch{CompletedOn: ptr("31.3.2026")})
	refused(t, err, defects.Invalid, "bad_date")
	_, err = f.UpdateBuilding(f.ctx(), p.clerk, p.site.ID, "no such", 1, register.BuildingPatch{})
	refused(t, err, defects.NotFound, "building_not_found")
	b, err := f.UpdateBuilding(f.ctx(), p.clerk, p.site.ID, id, 1, register.BuildingPatch{
		Name: ptr("Quarry Terrace"), CompletedOn: ptr("2026-03-31"), DefectsMonths: ptr(24), Height: ptr(defects.MM(7000)),
	})
	require.NoError(t, err)
	require.Equal(t, 2, b.Version)
	walls, err := f.Elevations(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	names := map[string]bool{}
	for _, e := range walls {
		names[e.Building] = true
	}
	require.Equal(t, map[string]bool{"Other": true, "Quarry Terrace": true}, names, "elevations carry the new name")
}

func TestMilestonesNameAPartOfAWall(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	wall := f.walls(p, "Terrace")[0]
	for name, tc := range map[string]struct {
		m           defects.Milestone
		field, code string
	}{
		"unknown kind":      {defects.Milestone{Kind: "party", On: "2026-07-01"}, "kind", "unknown_kind"},
		"cover-up of what":  {defects.Milestone{Kind: defects.CoverUp, On: "2026-07-01"}, "stage", "unknown_stage"},
		"unknown stage":     {defects.Milestone{Kind: defects.CoverUp, Stage: "ZZ", On: "2026-07-01"}, "stage", "unknown_stage"},
		"strike of a stage": {defects.Milestone{Kind: defects.Strike, Stage: "BM", On: "2026-07-01"}, "stage", "stage_not_used"},
		"no day":            {defects.Milestone{Kind: defects.Strike}, "on", "bad_date"},
		"no such day":       {defects.Milestone{Kind: defects.Strike, On: "2026-06-31"}, "on", "bad_date"},
		"bays of what":      {defects.Milestone{Kind: defects.Strike, On: "2026-07-01", BayFrom: 1, BayTo: 2}, "elevation", "elevation_needed"},
		"bays backwards":    {defects.Milestone{Kind: defects.Strike, On: "2026-07-01", ElevationID: wall.ID, BayFrom: 2, BayTo: 1}, "bay_from", "no_such_bay"},
		"bay too far":       {defects.Milestone{Kind: defects.Strike, On: "2026-07-01", ElevationID: wall.ID, BayFrom: 1, BayTo: 99}, "bay_from", "no_such_bay"},
		"half a span":       {defects.Milestone{Kind: defects.Strike, On: "2026-07-01", ElevationID: wall.ID, LiftTo: 2}, "lift_from", "no_such_lift"},
	} {
		tc.m.SiteID = p.site.ID
		_, err := f.SetMilestone(f.ctx(), p.clerk, tc.m)
		require.Equal(t, tc.field, refused(t, err, defects.Invalid, tc.code).Field, name)
	}
	m, err := f.SetMilestone(f.ctx(), p.clerk, defects.Milestone{
		SiteID: p.site.ID, Kind: defects.CoverUp, Stage: "BM", On: "2026-07-01", ElevationID: wall.ID, BayFrom: 1, BayTo: 2, LiftFrom: 1, LiftTo: 1,
	})
	require.NoError(t, err)
	require.Equal(t, 1, m.Version)
	m.On = "2026-07-08"
	m, err = f.SetMilestone(f.ctx(), p.manager, m)
	require.NoError(t, err)
	require.Equal(t, 2, m.Version)
	list, err := f.Milestones(f.ctx(), p.operative, p.site.ID)
	require.NoError(t, err)
	require.Equal(t, []defects.Milestone{m}, list)

	refused(t, f.DeleteMilestone(f.ctx(), p.installer, p.site.ID, m.ID), defects.Forbidden, "role_forbidden")
	require.NoError(t, f.DeleteMilestone(f.ctx(), p.clerk, p.site.ID, m.ID))
	refused(t, f.DeleteMilestone(f.ctx(), p.clerk, p.site.ID, m.ID), defects.NotFound, "milestone_not_found")
	sameJSON(t, register.MilestoneRow(m), part(t, f.last(p.site.ID).Data, "before"))
}

func TestInstrumentsKeepTheirCalibrationsTheNewestFirst(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	_, err := f.AddInstrument(f.ctx(), p.auditor, p.site.ID, register.NewInstrument{Name: "gauge"})
	refused(t, err, defects.Forbidden, "role_forbidden")
	for name, tc := range map[string]struct {
		n           register.NewInstrument
		field, code string
	}{
		"no name":             {register.NewInstrument{}, "name", "name_empty"},
		"negative resolution": {register.NewInstrument{Name: "g", Unit: "mm", Resolution: ptr(defects.MustDecimal("-0.1"))}, "resolution", "negative"},
		"no unit":             {register.NewInstrument{Name: "g", Resolution: ptr(defects.MustDecimal("0.1"))}, "unit", "unit_needed"},
	} {
		_, err := f.AddInstrument(f.ctx(), p.clerk, p.site.ID, tc.n)
		require.Equal(t, tc.field, refused(t, err, defects.Invalid, tc.code).Field, name)
	}
	tool, err := f.AddInstrument(f.ctx(), p.installer, p.site.ID, register.NewInstrument{
		Name: "taper gauge 2", Kind: "taper gauge", Serial: "invented-7", Unit: "mm", Resolution: ptr(defects.MustDecimal("0.10")),
	})
	require.NoError(t, err)
	_, err = f.AddInstrument(f.ctx(), p.clerk, p.site.ID, register.NewInstrument{Name: "Taper Gauge 2"})
	refused(t, err, defects.Conflict, "name_taken")

	for i, c := range []defects.Calibration{
		{Certificate: "C-2", On: "2026-02-01", Due: "2027-01-31", Expanded: ptr(defects.MustDecimal("0.20"))},
		{Certificate: "C-1", On: "2025-02-01", Due: "2026-01-31"},
	} {
		tool, err = f.AddCalibration(f.ctx(), p.clerk, p.site.ID, tool.ID, i+1, c)
		require.NoError(t, err)
	}
	require.Equal(t, "C-2", tool.Calibrations[0].Certificate)
	_, err = f.AddCalibration(f.ctx(), p.clerk, p.site.ID, tool.ID, 3, defects.Calibration{Certificate: "C-1", On: "2025-02-01", Due: "2026-01-31"})
	refused(t, err, defects.Conflict, "calibration_known")
	_, err = f.AddCalibration(f.ctx(), p.clerk, p.site.ID, tool.ID, 3, defects.Calibration{Certificate: "C-3", On: "2026-02-01", Due: "2026-01-31"})
	refused(t, err, defects.Invalid, "due_before_on")
	list, err := f.Instruments(f.ctx(), p.operative, p.site.ID)
	require.NoError(t, err)
	require.Equal(t, []defects.Instrument{tool}, list)
	require.Equal(t, "0.10", list[0].Resolution.String(), "as it was written")
}

func TestTheStateIsTheFoldOfTheLog(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane", builtIn(t))
	wall := f.walls(p, "Terrace")[0]
	_, err := f.UpdateSite(f.ctx(), p.manager, p.site.ID, 1, register.SitePatch{
		Name: ptr("Renamed"), Guard: ptr(defects.MustDecimal("0.83")),
		Fence: &[]defects.LonLat{{Lon: -1.51, Lat: 53.39}, {Lon: -1.48, Lat: 53.39}, {Lon: -1.48, Lat: 53.41}, {Lon: -1.51, Lat: 53.39}},
	})
	require.NoError(t, err)
	_, err = f.UpdateElevation(f.ctx(), p.clerk, p.site.ID, wall.ID, 1, register.ElevationPatch{Height: ptr(defects.MM(6500))})
	require.NoError(t, err)
	tool, err := f.AddInstrument(f.ctx(), p.clerk, p.site.ID, register.NewInstrument{Name: "gauge"})
	require.NoError(t, err)
	_, err = f.AddCalibration(f.ctx(), p.clerk, p.site.ID, tool.ID, 1, defects.Calibration{Certificate: "C", On: "2026-01-01", Due: "2026-12-31"})
	require.NoError(t, err)
	kept, err := f.SetMilestone(f.ctx(), p.clerk, defects.Milestone{SiteID: p.site.ID, Kind: defects.Strike, On: "2026-07-01"})
	require.NoError(t, err)
	gone, err := f.SetMilestone(f.ctx(), p.clerk, defects.Milestone{SiteID: p.site.ID, Kind: defects.Completion, On: "2026-08-01"})
	require.NoError(t, err)
	require.NoError(t, f.DeleteMilestone(f.ctx(), p.clerk, p.site.ID, gone.ID))
	require.NoError(t, f.SetRole(f.ctx(), p.manager, p.site.ID, "owner.quarry-lane", "", ""))

	folded := map[string]json.RawMessage{}
	for i, e := range f.logged(p.site.ID) {
		require.Equal(t, int64(i+1), e.Seq)
		key := e.Subject.Type + " " + e.Subject.ID
		if folded[key] = part(t, e.Data, "after"); folded[key] == nil {
			delete(folded, key)
		}
	}
	require.NotContains(t, folded, "milestone "+gone.ID)
	sameJSON(t, register.MilestoneRow(kept), folded["milestone "+kept.ID])
	site, err := f.Site(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	sameJSON(t, register.SiteRow(site.Site), folded["site "+p.site.ID])
	buildings, err := f.Buildings(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	for _, b := range buildings {
		sameJSON(t, register.BuildingRow(b), folded["building "+b.ID])
	}
	walls, err := f.Elevations(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	for _, e := range walls {
		sameJSON(t, register.ElevationRow(e), folded["elevation "+e.ID])
	}
	tools, err := f.Instruments(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	sameJSON(t, register.InstrumentRow(tools[0]), folded["instrument "+tool.ID])
	members, err := f.Members(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	roles := map[string]string{}
	for key, row := range folded {
		var m struct{ Account, Role string }
		require.NoError(t, json.Unmarshal(row, &m))
		if m.Role != "" && key == "member "+m.Account {
			roles[m.Account] = m.Role
		}
	}
	require.Len(t, roles, len(members))
	for _, m := range members {
		require.Equal(t, string(m.Role), roles[m.AccountID])
	}
}

func TestTheLargestOutlineStillFitsTheLog(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	plan := []defects.XY{{X: 1.0 / 3, Y: -100.0 / 3}}
	for i := range defects.MaxRingPoints - 2 { // a saw along one side, every tooth too short to be an elevation
		plan = append(plan, defects.XY{X: float64(i)/30 + 1.0/3, Y: float64(i%2)/30 + 1.0/7})
	}
	plan = append(plan, defects.XY{X: float64(defects.MaxRingPoints)/30 + 1.0/3, Y: -100.0 / 3})
	taken, err := f.AddBuildings(f.ctx(), p.clerk, p.site.ID, []register.NewBuilding{{Name: "Saw", Height: 5000, Plan: plan}})
	require.NoError(t, err)
	require.Empty(t, taken.Refused)
	_, err = f.UpdateBuilding(f.ctx(), p.clerk, p.site.ID, taken.Buildings[0].ID, 1, register.BuildingPatch{Name: ptr("Saw 2")})
	require.NoError(t, err)
	openings := make([]defects.Opening, 400)
	for i := range openings {
		openings[i] = defects.Opening{Name: fmt.Sprintf("%0120d", i), Kind: "window", X: defects.MM(10 * i), Z: 1000, Width: 10, Height: 1200}
	}
	for version := 1; version <= 2; version++ {
		openings[0].Height++
		_, err = f.UpdateElevation(f.ctx(), p.clerk, p.site.ID, taken.Elevations[0].ID, version, register.ElevationPatch{Openings: &openings})
		require.NoError(t, err)
	}
}
