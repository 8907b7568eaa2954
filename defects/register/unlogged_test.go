package register_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func TestWhatCannotBeLoggedIsNotDone(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	p := f.site("Quarry Lane")
	mute := f.with(func(d *register.Deps) { d.Store = noLog{d.Store} })
	name := "New name"
	for what, do := range map[string]func() error{
		"account": func() error {
			_, err := mute.CreateAccount(f.ctx(), register.System(""), register.NewAccount{Login: "bo", Name: "Bo"})
			return err
		},
		"session": func() error {
			_, _, err := mute.SignIn(f.ctx(), "clerk.quarry-lane", testPassword, "phone")
			return err
		},
		"role": func() error {
			return mute.SetRole(f.ctx(), p.manager, p.site.ID, "stranger.quarry-lane", defects.Clerk, "")
		},
		"site": func() error {
			_, err := mute.CreateSite(f.ctx(), register.System(""), register.NewSite{Name: "Other", TimeZone: "UTC"})
			return err
		},
		"site update": func() error {
			_, err := mute.UpdateSite(f.ctx(), p.manager, p.site.ID, 1, register.SitePatch{Name: &name})
			return err
		},
		"building": func() error {
			_, err := mute.AddBuildings(f.ctx(), p.manager, p.site.ID, []register.NewBuilding{{
				Name: "A", Plan: []defects.XY{{X: 0, Y: 0}, {X: 9, Y: 0}, {X: 9, Y: 9}},
			}})
			return err
		},
		"milestone": func() error {
			_, err := mute.SetMilestone(f.ctx(), p.manager, defects.Milestone{SiteID: p.site.ID, Kind: defects.Strike, On: "2026-07-01"})
			return err
		},
		"instrument": func() error {
			_, err := mute.AddInstrument(f.ctx(), p.manager, p.site.ID, register.NewInstrument{Name: "rule"})
			return err
		},
	} {
		require.ErrorIs(t, do(), errNoLog, what)
	}
	require.NoError(t, f.Store.Read(f.ctx(), func(tx register.Tx) error {
		_, err := tx.People().AccountByLogin(f.ctx(), "bo")
		require.ErrorIs(t, err, defects.NotFound)
		keys, err := tx.Keys().KeysOf(f.ctx(), p.clerk.AccountID)
		require.NoError(t, err)
		require.Empty(t, keys)
		sites, err := tx.Sites().Sites(f.ctx(), nil)
		require.NoError(t, err)
		require.Len(t, sites, 1)
		require.Equal(t, "Quarry Lane", sites[0].Name)
		require.Equal(t, 1, sites[0].Version)
		members, err := tx.People().Memberships(f.ctx(), register.MembershipFilter{AccountID: p.stranger.AccountID})
		require.NoError(t, err)
		require.Empty(t, members)
		buildings, err := tx.Walls().Buildings(f.ctx(), p.site.ID)
		require.NoError(t, err)
		require.Empty(t, buildings)
		milestones, err := tx.Sites().Milestones(f.ctx(), p.site.ID)
		require.NoError(t, err)
		require.Empty(t, milestones)
		tools, err := tx.Tools().Instruments(f.ctx(), p.site.ID)
		require.NoError(t, err)
		require.Empty(t, tools)
		return nil
	}))
}
