package register_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/imaging"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

// fixture is a Register on a new SQLite database and a new evidence folder,
// with a clock that the test moves and ids that come in order.
type fixture struct {
	*register.Register
	t     *testing.T
	dir   string // holds originals and derived
	clock *testClock
}

const testPassword = "an invented password"

// newFixture starts at noon UTC on Monday 1 June 2026.
func newFixture(t *testing.T) *fixture {
	t.Helper()
	return newFixtureOn(t, modelstest.Open(t))
}

// onEach runs fn as a subtest on SQLite and on PostgreSQL, each with a fixture
// of its own.
func onEach(t *testing.T, fn func(t *testing.T, f *fixture)) {
	t.Helper()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) { fn(t, newFixtureOn(t, open())) })
}

// newFixtureOn is newFixture on an empty store.
func newFixtureOn(t *testing.T, store register.Store) *fixture {
	t.Helper()
	f := &fixture{t: t, dir: t.TempDir(), clock: &testClock{now: time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)}}
	blobs, err := evidence.OpenDir(filepath.Join(f.dir, "originals"), f.clock.Now())
	require.NoError(t, err)
	derived, err := evidence.OpenDerivedDir(filepath.Join(f.dir, "derived"), f.clock.Now())
	require.NoError(t, err)
	var ids, secrets counter
	f.Register = register.New(register.Deps{
		Store: store, Blobs: blobs, Parts: blobs, Derived: derived,
		Limits: imaging.DefaultLimits(), Pool: imaging.NewPool(50_000_000),
		Clock:  f.clock.Now,
		NewID:  func() string { return fmt.Sprintf("00000000-0000-7000-8000-%012d", ids.next()) },
		Secret: func() string { return fmt.Sprintf("secret-%06d", secrets.next()) },
		// Real hashing takes a tenth of a second a time on purpose; the command
		// line's tests use it.
		Hash:   func(p string) (string, error) { return "hashed:" + p, nil },
		Verify: func(p, hash string) (bool, error) { return hash == "hashed:"+p, nil },
		Logger: slog.New(slog.DiscardHandler),
	})
	return f
}

// with gives a Register on the same data with some parts changed.
func (f *fixture) with(change func(*register.Deps)) *register.Register {
	d := f.Deps
	change(&d)
	return register.New(d)
}

func (f *fixture) ctx() context.Context { return f.t.Context() }

// account makes an account with testPassword and answers it as an actor.
func (f *fixture) account(login string) register.Actor {
	f.t.Helper()
	acc, err := f.CreateAccount(f.ctx(), register.System("test"), register.NewAccount{
		Login: login, Name: strings.ToUpper(login[:1]) + login[1:] + " Example", Password: testPassword,
	})
	require.NoError(f.t, err)
	return register.Actor{AccountID: acc.ID, Name: acc.Name, Device: "test phone"}
}

// admin makes an account that may make sites and accounts.
func (f *fixture) admin(login string) register.Actor {
	f.t.Helper()
	acc, err := f.CreateAccount(f.ctx(), register.System("test"), register.NewAccount{
		Login: login, Name: "Admin " + login, Password: testPassword, Admin: true,
	})
	require.NoError(f.t, err)
	return register.Actor{AccountID: acc.ID, Name: acc.Name, Admin: true, Device: "test desk"}
}

// people is a site with a member of every role. Installer and operative are of
// gang "A", other and otherOperative of gang "B"; stranger belongs to no site.
type people struct {
	site                                                           defects.Site
	clerk, installer, operative, auditor, designer, manager, owner register.Actor
	other, otherOperative, stranger                                register.Actor
}

// by gives the site's member of a role.
func (p people) by(role defects.Role) register.Actor {
	return map[defects.Role]register.Actor{
		defects.Clerk: p.clerk, defects.Installer: p.installer, defects.Operative: p.operative,
		defects.Auditor: p.auditor, defects.Designer: p.designer, defects.Manager: p.manager, defects.Owner: p.owner,
	}[role]
}

// site makes a site in Europe/London with members of every role. Logins carry
// the site's name, so that a test can have several sites.
func (f *fixture) site(name string, schedules ...string) people {
	f.t.Helper()
	var p people
	var err error
	p.site, err = f.CreateSite(f.ctx(), register.System("test"), register.NewSite{
		Name: name, TimeZone: "Europe/London", Schedules: schedules,
	})
	require.NoError(f.t, err)
	prefix := strings.ToLower(strings.ReplaceAll(name, " ", "-"))
	for _, m := range []struct {
		who   *register.Actor
		login string
		role  defects.Role
		gang  string
	}{
		{&p.clerk, "clerk", defects.Clerk, ""},
		{&p.installer, "installer", defects.Installer, "A"},
		{&p.operative, "operative", defects.Operative, "A"},
		{&p.auditor, "auditor", defects.Auditor, ""},
		{&p.designer, "designer", defects.Designer, ""},
		{&p.manager, "manager", defects.Manager, ""},
		{&p.owner, "owner", defects.Owner, ""},
		{&p.other, "other", defects.Installer, "B"},
		{&p.otherOperative, "other-operative", defects.Operative, "B"},
		{&p.stranger, "stranger", "", ""},
	} {
		*m.who = f.account(m.login + "." + prefix)
		if m.role != "" {
			require.NoError(f.t, f.SetRole(f.ctx(), register.System("test"), p.site.ID, m.login+"."+prefix, m.role, m.gang))
		}
	}
	return p
}

// walls adds a building in degrees, some 20 m by 11 m and 6 m high, and answers
// its elevations: South, East, North, West.
func (f *fixture) walls(p people, name string) []defects.Elevation {
	f.t.Helper()
	taken, err := f.AddBuildings(f.ctx(), p.manager, p.site.ID, []register.NewBuilding{{
		Name: name, Height: 6000,
		Ring: []defects.LonLat{{Lon: -1.5, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4}, {Lon: -1.4997, Lat: 53.4001}, {Lon: -1.5, Lat: 53.4001}},
	}})
	require.NoError(f.t, err)
	require.Empty(f.t, taken.Refused)
	require.Len(f.t, taken.Elevations, 4)
	return taken.Elevations
}

// logged reads a site's whole log.
func (f *fixture) logged(siteID string) []evidence.Entry {
	f.t.Helper()
	var out []evidence.Entry
	err := f.Store.Read(f.ctx(), func(tx register.Tx) error {
		raw, err := tx.Log().Entries(f.ctx(), siteID, 0, 100_000)
		for _, line := range raw {
			e, err := evidence.Decode(line)
			require.NoError(f.t, err)
			out = append(out, e)
		}
		return err
	})
	require.NoError(f.t, err)
	return out
}

// last is the newest entry of a site's log.
func (f *fixture) last(siteID string) evidence.Entry {
	f.t.Helper()
	all := f.logged(siteID)
	require.NotEmpty(f.t, all)
	return all[len(all)-1]
}

// refused holds that err is a refusal of the kind and code.
func refused(t *testing.T, err error, kind defects.Kind, code string) *defects.Error {
	t.Helper()
	var e *defects.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, kind, e.Kind, e.Error())
	require.Equal(t, code, e.CodeOrKind(), e.Error())
	return e
}

// testClock stands still until it is moved.
type testClock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *testClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// add moves the clock.
func (c *testClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

type counter struct {
	mu sync.Mutex
	n  int
}

func (c *counter) next() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n++
	return c.n
}

// errNoLog is what noLog's log answers.
var errNoLog = errors.New("the log cannot be written")

// noLog is a store whose log takes nothing, to prove that what is not logged is
// not done.
type noLog struct{ register.Store }

func (s noLog) Write(ctx context.Context, fn func(register.Tx) error) error {
	return s.Store.Write(ctx, func(tx register.Tx) error { return fn(noLogTx{tx}) })
}

type noLogTx struct{ register.Tx }

func (tx noLogTx) Log() register.Log { return noLogLog{tx.Tx.Log()} }

type noLogLog struct{ register.Log }

func (noLogLog) Append(context.Context, evidence.Entry) (int64, error) { return 0, errNoLog }
