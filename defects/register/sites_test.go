package register_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func ptr[T any](v T) *T { return &v }

func TestASiteIsMadeByAnAdminWhoBecomesItsManager(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	root, amal := f.admin("root"), f.account("amal")
	_, err := f.CreateSite(f.ctx(), amal, register.NewSite{Name: "Quarry Lane", TimeZone: "Europe/London"})
	refused(t, err, defects.Forbidden, "admin_only")

	s, err := f.CreateSite(f.ctx(), root, register.NewSite{Name: " Quarry Lane ", TimeZone: "Europe/London", Demo: true})
	require.NoError(t, err)
	require.Equal(t, "Quarry Lane", s.Name)
	require.Equal(t, defects.FourWay, s.Rule)
	require.Equal(t, "1", s.Guard.String())
	members, err := f.Members(f.ctx(), root, s.ID)
	require.NoError(t, err)
	require.Len(t, members, 1)
	require.Equal(t, defects.Manager, members[0].Role)
	require.Equal(t, root.AccountID, members[0].AccountID)

	_, err = f.CreateSite(f.ctx(), root, register.NewSite{Name: "Quarry Lane", TimeZone: "UTC"})
	refused(t, err, defects.Conflict, "name_taken")
}

func TestBadSitesAreRefusedByField(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	for name, tc := range map[string]struct {
		n           register.NewSite
		field, code string
	}{
		"no name":          {register.NewSite{TimeZone: "UTC"}, "name", "name_empty"},
		"no zone":          {register.NewSite{Name: "A"}, "time_zone", "unknown_time_zone"},
		"local zone":       {register.NewSite{Name: "A", TimeZone: "Local"}, "time_zone", "unknown_time_zone"},
		"unknown zone":     {register.NewSite{Name: "A", TimeZone: "Mars/Base"}, "time_zone", "unknown_time_zone"},
		"zone as path":     {register.NewSite{Name: "A", TimeZone: "../etc/passwd"}, "time_zone", "unknown_time_zone"},
		"unknown rule":     {register.NewSite{Name: "A", TimeZone: "UTC", Rule: "lenient"}, "rule", "unknown_rule"},
		"negative guard":   {register.NewSite{Name: "A", TimeZone: "UTC", Guard: ptr(defects.MustDecimal("-0.1"))}, "guard", "bad_guard"},
		"unknown schedule": {register.NewSite{Name: "A", TimeZone: "UTC", Schedules: []string{"no-such"}}, "schedules[0]", "unknown_schedule"},
		"unknown version":  {register.NewSite{Name: "A", TimeZone: "UTC", Schedules: []string{builtIn(t) + "@99"}}, "schedules[0]", "unknown_schedule"},
		"twice":            {register.NewSite{Name: "A", TimeZone: "UTC", Schedules: []string{builtIn(t), builtIn(t) + "@1"}}, "schedules[1]", "schedule_twice"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := f.CreateSite(t.Context(), register.System(""), tc.n)
			require.Equal(t, tc.field, refused(t, err, defects.Invalid, tc.code).Field)
		})
	}
}

func TestWhoMayUpdateASite(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	version := 1
	for _, tc := range []struct {
		who   register.Actor
		patch register.SitePatch
		may   bool
	}{
		{p.clerk, register.SitePatch{Name: ptr("By the clerk")}, true},
		{p.clerk, register.SitePatch{Rule: ptr(defects.Simple)}, false},
		{p.designer, register.SitePatch{Rule: ptr(defects.Guarded)}, true},
		{p.designer, register.SitePatch{Name: ptr("By the designer")}, false},
		{p.designer, register.SitePatch{Name: ptr("Both"), Rule: ptr(defects.Simple)}, false},
		{p.manager, register.SitePatch{Name: ptr("Both"), Rule: ptr(defects.Simple)}, true},
		{p.installer, register.SitePatch{Name: ptr("No")}, false},
		{p.auditor, register.SitePatch{Name: ptr("No")}, false},
		{p.owner, register.SitePatch{Guard: ptr(defects.MustDecimal("0.83"))}, false},
		{p.auditor, register.SitePatch{}, false},
	} {
		s, err := f.UpdateSite(f.ctx(), tc.who, p.site.ID, version, tc.patch)
		if !tc.may {
			refused(t, err, defects.Forbidden, "role_forbidden")
			continue
		}
		require.NoError(t, err)
		version++
		require.Equal(t, version, s.Version)
	}
}

func TestAnOldOrUnstatedVersionChangesNothing(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	wall := f.walls(p, "Terrace")[0]
	tool, err := f.AddInstrument(f.ctx(), p.clerk, p.site.ID, register.NewInstrument{Name: "taper gauge"})
	require.NoError(t, err)
	buildings, err := f.Buildings(f.ctx(), p.clerk, p.site.ID)
	require.NoError(t, err)
	m, err := f.SetMilestone(f.ctx(), p.clerk, defects.Milestone{SiteID: p.site.ID, Kind: defects.Strike, On: "2026-07-01"})
	require.NoError(t, err)
	before := len(f.logged(p.site.ID))
	for what, do := range map[string]func(version int) error{
		"site": func(v int) error {
			_, err := f.UpdateSite(f.ctx(), p.manager, p.site.ID, v, register.SitePatch{Name: ptr("B")})
			return err
		},
		"elevation": func(v int) error {
			_, err := f.UpdateElevation(f.ctx(), p.manager, p.site.ID, wall.ID, v, register.ElevationPatch{Name: ptr("B")})
			return err
		},
		"building": func(v int) error {
			_, err := f.UpdateBuilding(f.ctx(), p.manager, p.site.ID, buildings[0].ID, v, register.BuildingPatch{Name: ptr("B")})
			return err
		},
		"instrument": func(v int) error {
			_, err := f.AddCalibration(f.ctx(), p.manager, p.site.ID, tool.ID, v, defects.Calibration{Certificate: "C1", On: "2026-01-01", Due: "2026-12-31"})
			return err
		},
		"milestone": func(v int) error {
			m := m
			m.Version = v
			_, err := f.SetMilestone(f.ctx(), p.manager, m)
			return err
		},
	} {
		refused(t, do(0), defects.VersionNeeded, "version_needed")
		stale := refused(t, do(7), defects.Stale, "stale")
		require.Equal(t, "1", stale.Details[0].Text, what)
	}
	require.Len(t, f.logged(p.site.ID), before)
}

func TestAStrangerDoesNotLearnThatASiteExists(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p, other := f.site("Quarry Lane"), f.site("Mill Lane")
	wall := f.walls(p, "Terrace")[0]
	for _, who := range []register.Actor{p.stranger, other.manager} {
		for name, do := range calls(f, p.site.ID, wall.ID) {
			require.Equal(t, "site_not_found", refused(t, do(who), defects.NotFound, "site_not_found").Code, name)
		}
	}
	for name, do := range calls(f, "no such site", wall.ID) {
		refused(t, do(p.manager), defects.NotFound, "site_not_found")
		require.ErrorIs(t, do(register.Actor{}), defects.Unauthenticated, name)
	}
	// A foreign elevation's id is no help on one's own site.
	_, err := f.Elevation(f.ctx(), other.manager, other.site.ID, wall.ID)
	require.ErrorIs(t, err, defects.NotFound)
	_, err = f.SetMilestone(f.ctx(), other.manager, defects.Milestone{SiteID: other.site.ID, Kind: defects.Strike, On: "2026-07-01", ElevationID: wall.ID})
	require.ErrorIs(t, err, defects.NotFound)
}

// calls is every use case of a site's set-up, by name.
func calls(f *fixture, siteID, wallID string) map[string]func(register.Actor) error {
	ctx := f.ctx()
	return map[string]func(register.Actor) error{
		"site":      func(a register.Actor) error { _, err := f.Site(ctx, a, siteID); return err },
		"find site": func(a register.Actor) error { _, err := f.FindSite(ctx, a, siteID); return err },
		"update site": func(a register.Actor) error {
			_, err := f.UpdateSite(ctx, a, siteID, 1, register.SitePatch{Name: ptr("X")})
			return err
		},
		"members": func(a register.Actor) error { _, err := f.Members(ctx, a, siteID); return err },
		"set role": func(a register.Actor) error {
			return f.SetRole(ctx, a, siteID, "clerk.quarry-lane", defects.Owner, "")
		},
		"add buildings": func(a register.Actor) error { _, err := f.AddBuildings(ctx, a, siteID, nil); return err },
		"buildings":     func(a register.Actor) error { _, err := f.Buildings(ctx, a, siteID); return err },
		"update building": func(a register.Actor) error {
			_, err := f.UpdateBuilding(ctx, a, siteID, "x", 1, register.BuildingPatch{})
			return err
		},
		"elevations": func(a register.Actor) error { _, err := f.Elevations(ctx, a, siteID); return err },
		"elevation":  func(a register.Actor) error { _, err := f.Elevation(ctx, a, siteID, wallID); return err },
		"update elevation": func(a register.Actor) error {
			_, err := f.UpdateElevation(ctx, a, siteID, wallID, 1, register.ElevationPatch{})
			return err
		},
		"set milestone": func(a register.Actor) error {
			_, err := f.SetMilestone(ctx, a, defects.Milestone{SiteID: siteID, Kind: defects.Strike, On: "2026-07-01"})
			return err
		},
		"delete milestone": func(a register.Actor) error { return f.DeleteMilestone(ctx, a, siteID, "x") },
		"milestones":       func(a register.Actor) error { _, err := f.Milestones(ctx, a, siteID); return err },
		"add instrument": func(a register.Actor) error {
			_, err := f.AddInstrument(ctx, a, siteID, register.NewInstrument{Name: "X"})
			return err
		},
		"add calibration": func(a register.Actor) error {
			_, err := f.AddCalibration(ctx, a, siteID, "x", 1, defects.Calibration{Certificate: "C", On: "2026-01-01", Due: "2026-01-02"})
			return err
		},
		"instruments": func(a register.Actor) error { _, err := f.Instruments(ctx, a, siteID); return err },
		"add schedule": func(a register.Actor) error {
			_, err := f.AddSchedule(ctx, a, siteID, strings.NewReader(ownSchedule("own", "12")))
			return err
		},
		"schedules": func(a register.Actor) error { _, _, err := f.SchedulesOf(ctx, a, siteID); return err },
	}
}

func TestRolesAreSetByManagersAndAdminsOnly(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p, root := f.site("Quarry Lane"), f.admin("root")
	for _, role := range defects.Roles() {
		err := f.SetRole(f.ctx(), p.by(role), p.site.ID, "stranger.quarry-lane", defects.Auditor, "")
		if role == defects.Manager {
			require.NoError(t, err)
			continue
		}
		refused(t, err, defects.Forbidden, "role_forbidden")
	}
	require.NoError(t, f.SetRole(f.ctx(), root, p.site.ID, "stranger.quarry-lane", defects.Clerk, ""))
	e := f.last(p.site.ID)
	require.Equal(t, "member.set", e.Kind)
	require.Equal(t, "admin", e.Actor.Role)
	require.JSONEq(t, `{"account":"`+p.stranger.AccountID+`","login":"stranger.quarry-lane","name":"Stranger.quarry-lane Example","role":"auditor","gang":""}`,
		string(part(t, e.Data, "before")))
	refused(t, f.SetRole(f.ctx(), root, p.site.ID, "root", defects.Manager, ""), defects.Forbidden, "own_role")
	refused(t, f.SetRole(f.ctx(), root, "no such site", "stranger.quarry-lane", defects.Clerk, ""), defects.NotFound, "site_not_found")
	// He says who belongs to a site; its record is not his to read.
	_, err := f.Elevations(f.ctx(), root, p.site.ID)
	refused(t, err, defects.NotFound, "site_not_found")
}

func part(t *testing.T, data json.RawMessage, name string) json.RawMessage {
	t.Helper()
	parts := map[string]json.RawMessage{}
	require.NoError(t, json.Unmarshal(data, &parts))
	return parts[name]
}

func TestTheLastManagerStaysAndNobodyChangesHisOwnRole(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	refused(t, f.SetRole(f.ctx(), p.manager, p.site.ID, "manager.quarry-lane", defects.Clerk, ""), defects.Forbidden, "own_role")
	refused(t, f.SetRole(f.ctx(), register.System(""), p.site.ID, "manager.quarry-lane", defects.Clerk, ""), defects.Conflict, "last_manager")
	refused(t, f.SetRole(f.ctx(), register.System(""), p.site.ID, "manager.quarry-lane", "", ""), defects.Conflict, "last_manager")
	require.NoError(t, f.SetRole(f.ctx(), p.manager, p.site.ID, "owner.quarry-lane", defects.Manager, ""))
	require.NoError(t, f.SetRole(f.ctx(), p.owner, p.site.ID, "manager.quarry-lane", "", ""))
	_, err := f.Site(f.ctx(), p.manager, p.site.ID)
	refused(t, err, defects.NotFound, "site_not_found")
	refused(t, f.SetRole(f.ctx(), p.owner, p.site.ID, "clerk.quarry-lane", "foreman", ""), defects.Invalid, "unknown_role")
	refused(t, f.SetRole(f.ctx(), p.owner, p.site.ID, "clerk.quarry-lane", defects.Operative, " "), defects.Invalid, "gang_needed")
	refused(t, f.SetRole(f.ctx(), p.owner, p.site.ID, "nobody", defects.Clerk, ""), defects.NotFound, "account_not_found")
	before := len(f.logged(p.site.ID))
	require.NoError(t, f.SetRole(f.ctx(), p.owner, p.site.ID, "clerk.quarry-lane", defects.Clerk, ""))
	require.Len(t, f.logged(p.site.ID), before, "saying the same again is no change")
}

func TestTheOperatorActsOnEverySiteAsItsManagerAndIsLoggedAsSuch(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	op := register.System("server console")
	v, err := f.FindSite(f.ctx(), op, "quarry lane")
	require.NoError(t, err)
	require.Equal(t, p.site.ID, v.ID)
	require.Equal(t, defects.Manager, v.Role)
	_, err = f.UpdateSite(f.ctx(), op, p.site.ID, 1, register.SitePatch{Name: ptr("B")})
	require.NoError(t, err)
	e := f.last(p.site.ID)
	require.Equal(t, register.SystemID, e.Actor.ID)
	require.Equal(t, "server console", e.Actor.Device)
	_, err = f.Site(f.ctx(), op, "no such site")
	require.ErrorIs(t, err, defects.NotFound)
}

func TestSitesListsOnesOwnAndAdminsSeeAll(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	f.site("Mill Lane")
	f.walls(p, "Terrace")
	list, err := f.Sites(f.ctx(), p.operative)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, 4, list[0].Elevations)
	require.Equal(t, "A", list[0].Gang)
	list, err = f.Sites(f.ctx(), p.stranger)
	require.NoError(t, err)
	require.Empty(t, list)
	list, err = f.Sites(f.ctx(), f.admin("root"))
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Empty(t, list[0].Role)
	_, err = f.FindSite(f.ctx(), p.clerk, "Mill Lane")
	refused(t, err, defects.NotFound, "site_not_found")
}

func TestAnOperativeCountsHisOwnGangsSnags(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	wall := f.walls(p, "Terrace")[0]
	for _, gang := range []string{"A", "A", "B"} {
		_, err := f.RaiseSnag(f.ctx(), p.clerk, p.site.ID, register.RaiseInput{
			ElevationID: wall.ID, X: ptr(defects.MM(1000)), Z: ptr(defects.MM(1000)), Code: "SL-07", Gang: gang,
			Extent: defects.Single, Requirement: "invented", Text: "seen", NoReadingReason: "seen from the ground",
		})
		require.NoError(t, err)
	}
	for who, want := range map[*register.Actor]int{&p.clerk: 3, &p.operative: 2, &p.otherOperative: 1, &p.installer: 3} {
		v, err := f.Site(f.ctx(), *who, p.site.ID)
		require.NoError(t, err)
		require.Equal(t, want, v.Open, who.Name)
	}
}
