package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func sampleAccount(id string) defects.Account {
	return defects.Account{
		ID: id, Login: "login-" + id, Name: "Ada Invented", PasswordHash: "$argon2id$…", Admin: true, Disabled: true,
		CreatedAt: at, Version: 1,
	}
}

func TestAccountsComeBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		a := sampleAccount(w.id("account"))
		filled(w.t, a)
		w.write(func(tx register.Tx) error { return tx.People().InsertAccount(ctx(w), a) })
		w.read(func(tx register.Tx) error {
			got, err := tx.People().AccountByLogin(ctx(w), a.Login)
			require.Equal(w.t, a, got)
			return err
		})
		changed := a
		changed.Name, changed.Admin, changed.Disabled, changed.PasswordHash = "Ada Renamed", false, false, ""
		w.write(func(tx register.Tx) error { return tx.People().UpdateAccount(ctx(w), changed) })
		changed.Version = 2
		w.read(func(tx register.Tx) error {
			got, err := tx.People().Account(ctx(w), a.ID)
			require.Equal(w.t, changed, got)
			all, lerr := tx.People().Accounts(ctx(w))
			require.NoError(w.t, lerr)
			require.Equal(w.t, []defects.Account{changed}, all)
			return err
		})
	})
}

func TestMembershipsAreReplacedRemovedAndListedWithNames(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		a := sampleAccount(w.id("account"))
		m := defects.Membership{SiteID: siteID, AccountID: a.ID, Name: a.Name, Login: a.Login, Role: defects.Installer, Gang: "north"}
		filled(w.t, m)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.People().InsertAccount(ctx(w), a))
			first := m
			first.Role = defects.Clerk
			require.NoError(w.t, tx.People().SetMembership(ctx(w), first))
			return tx.People().SetMembership(ctx(w), m)
		})
		for _, by := range []register.MembershipFilter{{SiteID: siteID}, {AccountID: a.ID}, {SiteID: siteID, AccountID: a.ID}} {
			w.read(func(tx register.Tx) error {
				got, err := tx.People().Memberships(ctx(w), by)
				require.Equal(w.t, []defects.Membership{m}, got)
				return err
			})
		}
		m.Role = ""
		w.write(func(tx register.Tx) error { return tx.People().SetMembership(ctx(w), m) })
		w.read(func(tx register.Tx) error {
			got, err := tx.People().Memberships(ctx(w), register.MembershipFilter{SiteID: siteID})
			require.Empty(w.t, got)
			return err
		})
		w.refused(defects.Invalid, "filter_needed", func(tx register.Tx) error {
			_, err := tx.People().Memberships(ctx(w), register.MembershipFilter{})
			return err
		})
	})
}

func TestKeysComeBackWholeAndEnd(t *testing.T) {
	contract(t, func(w *world) {
		a := sampleAccount(w.id("account"))
		k := defects.Key{
			ID: "k1", Hash: "h1", AccountID: a.ID, Kind: defects.TokenKey, Label: "import", CreatedAt: at,
			ExpiresAt: at.Add(time.Hour), LastSeen: at, Revoked: true,
		}
		filled(w.t, k)
		setup := defects.Key{ID: "k2", Hash: "h2", Kind: defects.LinkKey, CreatedAt: at, ExpiresAt: at.Add(time.Minute), LastSeen: at}
		session := defects.Key{ID: "k3", Hash: "h3", AccountID: a.ID, Kind: defects.SessionKey, CreatedAt: at.Add(1), ExpiresAt: at.Add(time.Hour), LastSeen: at}
		session.CreatedAt = at.Add(time.Second)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.People().InsertAccount(ctx(w), a))
			for _, key := range []defects.Key{k, setup, session} {
				require.NoError(w.t, tx.Keys().InsertKey(ctx(w), key))
			}
			got, err := tx.Keys().KeyByHash(ctx(w), "h2")
			require.Equal(w.t, setup, got)
			return err
		})
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Keys().TouchKey(ctx(w), "k3", at.Add(time.Minute)))
			return tx.Keys().RevokeKeysOf(ctx(w), a.ID, defects.SessionKey)
		})
		session.LastSeen, session.Revoked = at.Add(time.Minute), true
		w.read(func(tx register.Tx) error {
			got, err := tx.Keys().KeysOf(ctx(w), a.ID)
			require.Equal(w.t, []defects.Key{session, k}, got)
			return err
		})
		w.refused(defects.NotFound, "key_not_found", func(tx register.Tx) error { return tx.Keys().RevokeKey(ctx(w), "none") })
		w.write(func(tx register.Tx) error {
			n, err := tx.Keys().DeleteKeysExpired(ctx(w), at.Add(30*time.Minute))
			require.Equal(w.t, 1, n)
			return err
		})
	})
}

func TestSitesAndWallsComeBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		s := defects.Site{
			ID: "s1", Name: "Quarry Terrace (invented)", TimeZone: "Europe/London", Demo: true, Rule: defects.Guarded,
			Guard: defects.MustDecimal("1.50"), Schedules: []string{"project@2", "din-18202-t3@1"},
			Fence: []defects.LonLat{{Lon: -1.2345678901234, Lat: 53.5}, {Lon: 0.1, Lat: 53.5}, {Lon: 0, Lat: 54}}, PhotoQuota: new(int64),
			FaceThreshold: dec("0.95"), Accuracy: defects.Accuracy95, Version: 1, CreatedAt: at,
		}
		b := defects.Building{
			ID: "b1", SiteID: "s1", Name: "Block A", Ring: []defects.LonLat{{Lon: -1.1, Lat: 53.1}, {Lon: -1.2, Lat: 53.1}, {Lon: -1.2, Lat: 53.2}},
			Plan: []defects.XY{{X: 0, Y: 0.25}, {X: 10.125, Y: 0}}, Height: 6250,
			Courts:     [][]defects.LonLat{{{Lon: -1.12, Lat: 53.12}, {Lon: -1.13, Lat: 53.12}, {Lon: -1.13, Lat: 53.13}}, {{Lon: -1.15, Lat: 53.12}}},
			PlanCourts: [][]defects.XY{{{X: 1, Y: 1.0625}, {X: 2, Y: 1}, {X: 2, Y: 2}}}, CompletedOn: "2026-02-28", DefectsMonths: 24, Version: 1,
		}
		e := defects.Elevation{
			ID: "e1", SiteID: "s1", BuildingID: "b1", Building: "Block A", Name: "North", Order: 1, Court: 2, Edge: -1, Length: 10_125,
			Height: 6250, Bearing: defects.MustDecimal("359.9"), BaseLine: 150, Bays: []defects.MM{5000, 10_125}, Lifts: []defects.MM{2000, 6250},
			Openings: []defects.Opening{{Name: "W07", Kind: "window", X: 100, Z: 900, Width: 1200, Height: 1350}}, Version: 1,
		}
		m := defects.Milestone{
			ID: "m1", SiteID: "s1", Kind: defects.CoverUp, Stage: "S4", ElevationID: "e1", BayFrom: 1, BayTo: 2, LiftFrom: 1,
			LiftTo: 3, On: "2026-04-01", Version: 1,
		}
		filled(w.t, s)
		filled(w.t, b)
		filled(w.t, e)
		filled(w.t, m)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Sites().InsertSite(ctx(w), s))
			require.NoError(w.t, tx.Walls().InsertBuilding(ctx(w), b))
			require.NoError(w.t, tx.Walls().InsertElevation(ctx(w), e))
			m0 := m
			m0.Version = 0
			return tx.Sites().SaveMilestone(ctx(w), m0)
		})
		check := func() {
			w.read(func(tx register.Tx) error {
				got, err := tx.Sites().Site(ctx(w), "s1")
				require.NoError(w.t, err)
				require.Equal(w.t, s, got)
				buildings, err := tx.Walls().Buildings(ctx(w), "s1")
				require.NoError(w.t, err)
				require.Equal(w.t, []defects.Building{b}, buildings)
				one, err := tx.Walls().Elevation(ctx(w), "s1", "e1")
				require.NoError(w.t, err)
				require.Equal(w.t, e, one)
				elevations, err := tx.Walls().Elevations(ctx(w), "s1")
				require.Equal(w.t, []defects.Elevation{e}, elevations)
				return err
			})
		}
		check()
		w.write(func(tx register.Tx) error {
			s.Fence, s.Schedules, s.Demo = nil, nil, false
			require.NoError(w.t, tx.Sites().UpdateSite(ctx(w), s))
			b.Plan, b.CompletedOn, b.DefectsMonths = nil, "", 0
			require.NoError(w.t, tx.Walls().UpdateBuilding(ctx(w), b))
			e.Bays, e.Openings, e.Height = nil, nil, 5000
			require.NoError(w.t, tx.Walls().UpdateElevation(ctx(w), e))
			m.On = "2026-05-01"
			return tx.Sites().SaveMilestone(ctx(w), m)
		})
		s.Version, b.Version, e.Version, m.Version = 2, 2, 2, 2
		check()
		w.write(func(tx register.Tx) error {
			got, err := tx.Sites().Milestones(ctx(w), "s1")
			require.NoError(w.t, err)
			require.Equal(w.t, []defects.Milestone{m}, got)
			return tx.Sites().DeleteMilestone(ctx(w), "s1", "m1")
		})
		w.refused(defects.NotFound, "milestone_not_found", func(tx register.Tx) error { return tx.Sites().DeleteMilestone(ctx(w), "s1", "m1") })
	})
}

func TestSitesAreListedByName(t *testing.T) {
	contract(t, func(w *world) {
		w.write(func(tx register.Tx) error {
			for _, n := range []string{"B", "C", "A"} {
				require.NoError(w.t, tx.Sites().InsertSite(ctx(w), defects.Site{ID: "id" + n, Name: n, Rule: defects.Simple, CreatedAt: at}))
			}
			return nil
		})
		for want, ids := range map[string][]string{"ABC": nil, "AC": {"idC", "idA", "none"}, "": {}} {
			w.read(func(tx register.Tx) error {
				list, err := tx.Sites().Sites(ctx(w), ids)
				got := ""
				for _, s := range list {
					got += s.Name
				}
				require.Equal(w.t, want, got)
				return err
			})
		}
	})
}

func TestInstrumentsAndSchedulesComeBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		siteID, _ := w.site()
		i := defects.Instrument{
			ID: "i1", SiteID: siteID, Name: "taper gauge 2", Kind: "gauge", Serial: "4711", Resolution: dec("0.10"), Unit: "mm",
			Expanded: dec("0.2"), Repeatability: dec("0.0512"), Repeats: 7, Version: 1,
			Calibrations: []defects.Calibration{{Certificate: "C-1", On: "2026-01-02", Due: "2027-01-01", Expanded: dec("0.15"), K: dec("2.05")}, {Certificate: "C-0"}},
		}
		filled(w.t, i)
		d := register.StoredSchedule{Name: "project", Version: 3, Document: []byte(`{"a": "é"}`), AddedBy: "p", AddedAt: at}
		filled(w.t, d)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Tools().InsertInstrument(ctx(w), i))
			require.NoError(w.t, tx.Schedules().InsertSchedule(ctx(w), siteID, register.StoredSchedule{Name: "project", Version: 2, AddedAt: at}))
			return tx.Schedules().InsertSchedule(ctx(w), siteID, d)
		})
		w.write(func(tx register.Tx) error {
			got, err := tx.Tools().Instrument(ctx(w), siteID, "i1")
			require.NoError(w.t, err)
			require.Equal(w.t, i, got)
			i.Resolution, i.Calibrations = nil, i.Calibrations[:1]
			return tx.Tools().UpdateInstrument(ctx(w), i)
		})
		i.Version = 2
		w.read(func(tx register.Tx) error {
			got, err := tx.Tools().Instruments(ctx(w), siteID)
			require.NoError(w.t, err)
			require.Equal(w.t, []defects.Instrument{i}, got)
			ds, err := tx.Schedules().Schedules(ctx(w), siteID)
			require.Len(w.t, ds, 2)
			require.Equal(w.t, d, ds[1])
			return err
		})
		w.refused(defects.Conflict, "version_taken", func(tx register.Tx) error { return tx.Schedules().InsertSchedule(ctx(w), siteID, d) })
	})
}

func TestReleasesComeBackWholeNewestFirst(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		r := defects.Release{
			ID: "rel1", SiteID: siteID, HoldPoint: "H7", ElevationID: e[0], BayFrom: 1, BayTo: 2, LiftFrom: 1, LiftTo: 3,
			Outcome: defects.ReleasedConditions, Text: "t", By: defects.Person{ID: "p", Name: "Ada", Role: defects.Clerk}, At: at,
		}
		filled(w.t, r)
		old := r
		old.ID, old.At, old.ElevationID, old.Outcome = "rel2", at.Add(-time.Hour), "", defects.ReleaseRefused
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Releases().InsertRelease(ctx(w), old))
			return tx.Releases().InsertRelease(ctx(w), r)
		})
		w.read(func(tx register.Tx) error {
			got, err := tx.Releases().Releases(ctx(w), siteID)
			require.Equal(w.t, []defects.Release{r, old}, got)
			return err
		})
	})
}

func TestRepliesAreKeptOnceAndForgottenInTime(t *testing.T) {
	contract(t, func(w *world) {
		a := sampleAccount("a1")
		r := register.Reply{
			AccountID: "a1", Key: "k", Fingerprint: "f", Status: 201, ContentType: "application/json", Location: "/x", ETag: `"1"`,
			Body: []byte("{}"), At: at,
		}
		filled(w.t, r)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.People().InsertAccount(ctx(w), a))
			return tx.Replies().SaveReply(ctx(w), r)
		})
		w.read(func(tx register.Tx) error {
			got, err := tx.Replies().Reply(ctx(w), "a1", "k")
			require.Equal(w.t, r, got)
			return err
		})
		w.refused(defects.Conflict, "reply_known", func(tx register.Tx) error { return tx.Replies().SaveReply(ctx(w), r) })
		w.write(func(tx register.Tx) error {
			n, err := tx.Replies().DeleteRepliesBefore(ctx(w), at.Add(time.Second))
			require.Equal(w.t, 1, n)
			return err
		})
		w.refused(defects.NotFound, "reply_not_found", func(tx register.Tx) error {
			_, err := tx.Replies().Reply(ctx(w), "a1", "k")
			return err
		})
	})
}
