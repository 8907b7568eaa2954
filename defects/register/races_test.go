package register_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// atOnce runs fn n times together and answers how many went through; the
// others must be refused as said.
func atOnce(t *testing.T, n int, fn func(i int) error, kind defects.Kind, code string) int {
	t.Helper()
	errs := make(chan error, n)
	for i := range n {
		go func() { errs <- fn(i) }()
	}
	won := 0
	for range n {
		if err := <-errs; err == nil {
			won++
		} else {
			refused(t, err, kind, code)
		}
	}
	return won
}

func TestOfManyUsesOfALinkAtOnceOneWins(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		f.account("amal")
		link, err := f.CreateLink(f.ctx(), register.System(""), "amal", time.Hour)
		require.NoError(t, err)
		won := atOnce(t, 6, func(int) error {
			_, _, err := f.UseLink(f.ctx(), link, "", "phone")
			return err
		}, defects.Unauthenticated, "link_over")
		require.Equal(t, 1, won)
	})
}

func TestOfTwoFirstSetUpsAtOnceOneWins(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		link, err := f.CreateSetupLink(f.ctx())
		require.NoError(t, err)
		won, refusals := 0, make(chan error, 4)
		for i := range 4 {
			go func() {
				_, _, err := f.CompleteSetup(f.ctx(), link, register.NewAccount{
					Login: fmt.Sprintf("first%d", i), Name: "First", Password: testPassword,
				}, "desk")
				refusals <- err
			}()
		}
		for range 4 {
			if err := <-refusals; err == nil {
				won++
			} else {
				var e *defects.Error
				require.ErrorAs(t, err, &e)
			}
		}
		require.Equal(t, 1, won)
		list, err := f.Accounts(f.ctx(), register.System(""))
		require.NoError(t, err)
		require.Len(t, list, 1)
	})
}

func TestANewSetUpLinkEndsTheOneBefore(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		first, err := f.CreateSetupLink(f.ctx())
		require.NoError(t, err)
		second, err := f.CreateSetupLink(f.ctx())
		require.NoError(t, err)
		n := register.NewAccount{Login: "first", Name: "First", Password: testPassword}
		_, _, err = f.CompleteSetup(f.ctx(), first, n, "desk")
		refused(t, err, defects.Unauthenticated, "link_over")
		_, _, err = f.CompleteSetup(f.ctx(), second, n, "desk")
		require.NoError(t, err)
	})
}

func TestTwoManagersWhoRemoveEachOtherAtOnceLeaveOne(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		p := f.site("Quarry Lane")
		require.NoError(t, f.SetRole(f.ctx(), p.manager, p.site.ID, "owner.quarry-lane", defects.Manager, ""))
		pairs := []struct {
			who   register.Actor
			login string
		}{{p.manager, "owner.quarry-lane"}, {p.owner, "manager.quarry-lane"}}
		// The slower one is no member any more.
		won := atOnce(t, 2, func(i int) error {
			return f.SetRole(f.ctx(), pairs[i].who, p.site.ID, pairs[i].login, "", "")
		}, defects.NotFound, "site_not_found")
		require.Equal(t, 1, won)
		members, err := f.Members(f.ctx(), register.System(""), p.site.ID)
		require.NoError(t, err)
		managers := 0
		for _, m := range members {
			if m.Role == defects.Manager {
				managers++
			}
		}
		require.Equal(t, 1, managers)
	})
}

func TestOfTwoChangesOfOneVersionOneIsStale(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		p := f.site("Quarry Lane")
		wall := f.walls(p, "Terrace")[0]
		won := atOnce(t, 4, func(i int) error {
			_, err := f.UpdateElevation(f.ctx(), p.clerk, p.site.ID, wall.ID, 1, register.ElevationPatch{Name: ptr(fmt.Sprintf("Face %d", i))})
			return err
		}, defects.Stale, "stale")
		require.Equal(t, 1, won)
	})
}

func TestTwoVersionsOfAScheduleAddedAtOnceGetTheirOwnNumbers(t *testing.T) {
	t.Parallel()
	onEach(t, func(t *testing.T, f *fixture) {
		p := f.site("Quarry Lane")
		seen := make(chan int, 3)
		won := atOnce(t, 3, func(int) error {
			s, err := f.AddSchedule(f.ctx(), p.designer, p.site.ID, strings.NewReader(ownSchedule("own", "12")))
			seen <- s.Version
			return err
		}, defects.Conflict, "never")
		require.Equal(t, 3, won)
		require.ElementsMatch(t, []int{1, 2, 3}, []int{<-seen, <-seen, <-seen})
	})
}
