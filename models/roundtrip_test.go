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
			Fence: []defects.LonLat{{Lon: -1.2345678901234, Lat: 53.5}, {Lon: 0.1, Lat: 53.5}, {Lon: 0, Lat: 54}}, Version: 1, CreatedAt: at,
		}
		b := defects.Building{
			ID: "b1", SiteID: "s1", Name: "Block A", Ring: []defects.LonLat{{Lon: -1.1, Lat: 53.1}, {Lon: -1.2, Lat: 53.1}, {Lon: -1.2, Lat: 53.2}},
			Plan: []defects.XY{{X: 0, Y: 0.25}, {X: 10.125, Y: 0}}, Height: 6250, CompletedOn: "2026-02-28", DefectsMonths: 24, Version: 1,
		}
		e := defects.Elevation{
			ID: "e1", SiteID: "s1", BuildingID: "b1", Building: "Block A", Name: "North", Order: 1, Edge: -1, Length: 10_125,
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
			Expanded: dec("0.2"), Version: 1,
			Calibrations: []defects.Calibration{{Certificate: "C-1", On: "2026-01-02", Due: "2027-01-01", Expanded: dec("0.15")}, {Certificate: "C-0"}},
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

func samplePhoto(siteID, elevation string) defects.Photo {
	return defects.Photo{
		ID: "ph1", SiteID: siteID, SHA256: "abc", Size: 12_345, FileName: "IMG_0001.JPG", ReceivedAt: at,
		Capture: defects.Capture{
			Type: "jpeg", Width: 4000, Height: 3000, Orientation: 6, Make: "M", Model: "N", Lens: "L", Software: "S",
			TakenLocal: "2026-03-14T09:00:00", UTCOffset: "+01:00", TakenUTC: later(time.Nanosecond), SubSec: "123", GPSUTC: later(time.Second),
			Lat: num(53.123456789012345), Lon: num(-1.5), AltitudeM: num(-2.25), Direction: num(359.99), DirectionBy: "T",
			HErrorM: num(4.7), FocalMM: num(4.25), Focal35MM: num(26),
		},
		AddedBy: "p", AddedName: "Ada", Gang: "north", Stage: "S7", Place: place(elevation), PlacedBy: defects.PlacedProgram,
		Facing:    []defects.FaceGuess{{ElevationID: elevation, Name: "Block A / North", DistanceM: 7.5, OffAxisDeg: -1, Why: "nearest"}},
		LabelSeen: true, ScaleSeen: true, Kind: "context", Note: "n", Grade: defects.GradeB,
		Flags: []defects.Flag{{Code: "no_place", Text: "no position", Caps: defects.GradeC}}, Overruled: "seen on site", Derived: "ready", Version: 1,
	}
}

func TestPhotosComeBackWholeAndKeepWhatWasReceived(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		p := samplePhoto(siteID, e[0])
		filled(w.t, p)
		filled(w.t, p.Capture)
		w.write(func(tx register.Tx) error { return tx.Photos().InsertPhoto(ctx(w), p) })
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().PhotoBySHA(ctx(w), siteID, "abc")
			require.Equal(w.t, p, got)
			return err
		})
		changed := p
		changed.Place, changed.PlacedBy, changed.Note, changed.Flags, changed.Overruled = defects.Place{}, defects.NotPlaced, "", nil, ""
		changed.LabelSeen, changed.ScaleSeen, changed.Grade, changed.Facing = false, false, defects.GradeC, nil
		forged := changed
		forged.SHA256, forged.Size, forged.AddedBy, forged.Derived, forged.Capture = "other", 1, "q", "", defects.Capture{}
		w.write(func(tx register.Tx) error { return tx.Photos().UpdatePhoto(ctx(w), forged) })
		changed.Version = 2
		w.write(func(tx register.Tx) error {
			got, err := tx.Photos().Photo(ctx(w), siteID, "ph1")
			require.Equal(w.t, changed, got)
			require.NoError(w.t, err)
			return tx.Photos().SetDerived(ctx(w), "ph1", "failed: out of memory")
		})
		changed.Derived = "failed: out of memory"
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().PhotosByID(ctx(w), siteID, []string{"none", "ph1"})
			require.Equal(w.t, []defects.Photo{changed}, got)
			return err
		})
	})
}

func sampleReading(siteID, elevation string) defects.Reading {
	return defects.Reading{
		ID: "r1", SiteID: siteID, SetID: "set1", Quantity: "joint_width_bed", Value: defects.MustDecimal("13.60"), Unit: "mm",
		Expanded: dec("0.20"), BaseLength: dec("2.0"), Nominal: dec("10"), Area: dec("0.5"), Courses: 4, FailurePlane: "insulation", Mode: "wood", Dolly: "50 mm round",
		InstrumentID: "i1", Instrument: "taper gauge 2", MeasuredAt: at, ByID: "p", ByName: "Ada", Gang: "north", Batch: "B1",
		Stage: "S7", Place: place(elevation), Photos: []string{"ph1"}, Note: "n", Confirmed: true, EnteredBy: "p", EnteredAt: at,
		Withdrawn: "wrong wall", SnagNumber: 1, Version: 1,
		Verdict: defects.Verdict{
			Outcome: defects.Fail, Reason: "beyond", ReasonText: "beyond the limit", Lower: dec("7"), Upper: dec("13"),
			Expanded: dec("0.20"), Guard: dec("0.2"), PConform: num(0.0123456789), Rule: defects.FourWay, Schedule: "x@1",
			Title: "T", Edition: "2021", Clause: "4.2", Line: "3", Basis: defects.Memory,
		},
	}
}

func TestReadingsAndSetsComeBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		rd := sampleReading(siteID, e[0])
		filled(w.t, rd)
		filled(w.t, rd.Verdict)
		set := defects.Set{
			ID: "set1", SiteID: siteID, Quantity: "pull_out_load", Name: "east", Place: place(e[0]), Substrate: "solid brick", Stage: "S2",
			Readings: 15, Verdict: rd.Verdict, Result: dec("0.512345678"), ResultText: "N_Rk 0.51 kN", Version: 1,
		}
		filled(w.t, set)
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Photos().InsertPhoto(ctx(w), samplePhoto(siteID, e[0])))
			require.NoError(w.t, tx.Tools().InsertInstrument(ctx(w), defects.Instrument{ID: "i1", SiteID: siteID, Name: "g"}))
			require.NoError(w.t, tx.Snags().InsertSnag(ctx(w), w.snag(siteID, e[0], 1)))
			s0 := set
			s0.Version = 0
			require.NoError(w.t, tx.Readings().SaveSet(ctx(w), s0))
			return tx.Readings().InsertReading(ctx(w), rd)
		})
		check := func() {
			w.read(func(tx register.Tx) error {
				got, err := tx.Readings().Reading(ctx(w), siteID, "r1")
				require.NoError(w.t, err)
				require.Equal(w.t, rd, got)
				sets, err := tx.Readings().Sets(ctx(w), siteID)
				require.NoError(w.t, err)
				require.Equal(w.t, []defects.Set{set}, sets)
				one, err := tx.Readings().Set(ctx(w), siteID, "set1")
				require.Equal(w.t, set, one)
				return err
			})
		}
		check()
		w.write(func(tx register.Tx) error {
			rd.Withdrawn, rd.SnagNumber, rd.Confirmed, rd.Photos, rd.SetID, rd.Place = "", 0, false, nil, "", defects.Place{}
			rd.Verdict = defects.Verdict{Outcome: defects.NoVerdict, Reason: "no_base_length"}
			require.NoError(w.t, tx.Readings().UpdateReading(ctx(w), rd))
			set.Result, set.Readings = nil, 0
			return tx.Readings().SaveSet(ctx(w), set)
		})
		rd.Version, set.Version = 2, 2
		check()
	})
}

func sampleSnag(siteID, elevation string) defects.Snag {
	ada := defects.Person{ID: "p", Name: "Ada", Role: defects.Clerk}
	bob := defects.Person{ID: "q", Name: "Bob", Role: defects.Installer}
	return defects.Snag{
		ID: "sn1", SiteID: siteID, Number: 112, Code: "J03", Title: "Uneven joints", Stage: "S7", Severity: defects.Critical,
		Extent: defects.Pattern, Covered: true, Place: place(elevation), PlaceWords: "North / bay 1", Requirement: "7 to 13 mm",
		Text: "seen", ReadingID: "r1", ReadingText: "13.6 mm", Quantity: "joint_width_bed", Competent: "fire", Gang: "north",
		State: defects.Offered, Round: 2, RaisedBy: ada, RaisedAt: at, InstructedAt: at.Add(time.Hour), OwnDue: "2026-04-01",
		PlannedOn: "2026-03-20", DeferUntil: "2026-05-01", OfferedBy: bob,
		MadeGood: defects.MakingGood{
			Kind: "rework", Text: "repointed", Product: "mortar", Batch: "B1", ByID: "q", ByName: "Bob", Started: at,
		},
		OfferPhotos: []string{"ph1"}, OfferReading: "r1", FirstSigned: ada, ClosedAt: at.Add(2 * time.Hour), DisputeBy: bob,
		Ground: defects.ByDesign,
		Concession: &defects.Concession{
			AskedBy: bob, AskedAt: at, Reason: "r", Area: "2.6 m run", Deviation: dec("14.10"), Unit: "mm", Conditions: "c",
			Expires: "2030-01-01", Document: "d", Technical: ada, GrantedAt: at, Value: ada, ValueAt: at, From: 7,
		},
		Photos: []string{"ph2", "ph1"}, WalkRank: 1<<63 - 1, Version: 1,
	}
}

func TestSnagsComeBackWhole(t *testing.T) {
	contract(t, func(w *world) {
		siteID, e := w.site("North")
		s := sampleSnag(siteID, e[0])
		filled(w.t, s)
		filled(w.t, *s.Concession)
		filled(w.t, s.MadeGood)
		w.write(func(tx register.Tx) error {
			second := samplePhoto(siteID, e[0])
			second.ID, second.SHA256 = "ph2", "def"
			require.NoError(w.t, tx.Photos().InsertPhoto(ctx(w), samplePhoto(siteID, e[0])))
			require.NoError(w.t, tx.Photos().InsertPhoto(ctx(w), second))
			rd := sampleReading(siteID, e[0])
			rd.SetID, rd.InstrumentID, rd.SnagNumber = "", "", 0
			require.NoError(w.t, tx.Readings().InsertReading(ctx(w), rd))
			return tx.Snags().InsertSnag(ctx(w), s)
		})
		check := func() {
			w.read(func(tx register.Tx) error {
				got, err := tx.Snags().Snag(ctx(w), siteID, 112)
				require.Equal(w.t, s, got)
				return err
			})
		}
		check()
		w.write(func(tx register.Tx) error {
			s.Concession, s.MadeGood, s.OfferPhotos, s.OfferReading, s.FirstSigned = nil, defects.MakingGood{}, nil, "", defects.Person{}
			s.OfferedBy, s.DisputeBy, s.Ground, s.ClosedAt, s.Covered = defects.Person{}, defects.Person{}, "", time.Time{}, false
			s.State, s.Photos = defects.Withdrawn, []string{"ph2"}
			return tx.Snags().UpdateSnag(ctx(w), s)
		})
		s.Version = 2
		check()
		w.read(func(tx register.Tx) error {
			use, err := tx.Snags().EvidenceUse(ctx(w), siteID, []string{"ph1", "ph2"})
			require.Equal(w.t, map[string][]int{"ph2": {112}}, use)
			return err
		})
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
