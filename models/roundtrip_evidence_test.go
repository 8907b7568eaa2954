package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

func bits(v uint64) *uint64 { return &v }

func samplePhoto(siteID, elevation string) defects.Photo {
	return defects.Photo{
		ID: "ph1", SiteID: siteID, SHA256: "abc", Size: 12_345, FileName: "IMG_0001.JPG", ReceivedAt: at,
		Capture: defects.Capture{
			Type: "jpeg", Width: 4000, Height: 3000, Orientation: 6, Make: "M", Model: "N", Lens: "L", Software: "S",
			TakenLocal: "2026-03-14T09:00:00", UTCOffset: "+01:00", TakenUTC: later(time.Nanosecond), SubSec: "123", GPSUTC: later(time.Second),
			Lat: num(53.123456789012345), Lon: num(-1.5), AltitudeM: num(-2.25), Direction: num(359.99), DirectionBy: "T",
			TiltDeg: num(-12.5), HErrorM: num(4.7), FocalMM: num(4.25), Focal35MM: num(26),
		},
		AddedBy: "p", AddedName: "Ada", Gang: "north", Stage: "S7", Place: place(elevation), PlacedBy: defects.PlacedProgram,
		Facing:    []defects.FaceGuess{{ElevationID: elevation, Name: "Block A / North", DistanceM: 7.5, OffAxisDeg: -1, Why: "nearest", P: 0.57}},
		Offered:   "it more likely shows Block A / East (0.95)",
		LabelSeen: true, ScaleSeen: true, Kind: "context", Note: "n", Grade: defects.GradeB,
		Flags: []defects.Flag{{Code: "no_place", Text: "no position", Caps: defects.GradeC}}, Overruled: "seen on site", Derived: "ready", Likeness: bits(0xF0F0_0000_0000_0001), CopiesSeq: 1, CopiesAt: at, Version: 1,
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
			require.NoError(w.t, err)
			named, err := tx.Photos().NamedSHAs(ctx(w), []string{"abd", "abc"})
			require.Equal(w.t, []string{"abc"}, named)
			return err
		})
		w.write(func(tx register.Tx) error {
			named, err := tx.Photos().NamedSHAs(ctx(w), []string{"abd", "abc"})
			require.Equal(w.t, []string{"abc"}, named)
			return err
		})
		changed := p
		changed.Place, changed.PlacedBy, changed.Note, changed.Flags, changed.Overruled = defects.Place{}, defects.NotPlaced, "", nil, ""
		changed.LabelSeen, changed.ScaleSeen, changed.Grade, changed.Facing = false, false, defects.GradeC, nil
		changed.Offered = ""
		forged := changed
		forged.SHA256, forged.Size, forged.AddedBy, forged.Derived, forged.Capture = "other", 1, "q", "", defects.Capture{}
		forged.Likeness, forged.CopiesSeq, forged.CopiesAt = nil, 7, at.Add(time.Hour)
		w.write(func(tx register.Tx) error { return tx.Photos().UpdatePhoto(ctx(w), forged) })
		changed.Version = 2
		w.write(func(tx register.Tx) error {
			got, err := tx.Photos().Photo(ctx(w), siteID, "ph1")
			require.Equal(w.t, changed, got)
			require.NoError(w.t, err)
			return tx.Copies().SetCopies(ctx(w), siteID, "ph1", register.CopiesState{Derived: "failed: out of memory", At: at.Add(time.Minute)})
		})
		changed.Derived, changed.CopiesSeq, changed.CopiesAt = "failed: out of memory", 2, at.Add(time.Minute)
		w.read(func(tx register.Tx) error {
			got, err := tx.Photos().PhotosByID(ctx(w), siteID, []string{"none", "ph1"})
			require.Equal(w.t, []defects.Photo{changed}, got)
			return err
		})
	})
}

func sampleReading(siteID, elevation string) defects.Reading {
	return defects.Reading{
		ID: "r1", SiteID: siteID, ClientID: "phone-1", SetID: "set1", Quantity: "joint_width_bed", Value: defects.MustDecimal("13.60"), Unit: "mm",
		Observations: []defects.Decimal{defects.MustDecimal("13.5"), defects.MustDecimal("-0.70"), defects.MustDecimal("28")},
		Expanded:     dec("0.20"), BaseLength: dec("2.0"), Nominal: dec("10"), Area: dec("0.5"), Courses: 4, FailurePlane: "insulation", Mode: "wood", Dolly: "50 mm round",
		Trend: defects.Rising, AirTemperature: dec("4.5"), Humidity: dec("80"),
		InstrumentID: "i1", Instrument: "taper gauge 2", MeasuredAt: at, ByID: "p", ByName: "Ada", Gang: "north", Batch: "B1",
		Stage: "S7", Place: place(elevation), Photos: []string{"ph1"}, Note: "n", Confirmed: true, EnteredBy: "p", EnteredName: "Ada", EnteredAt: at,
		Withdrawn: "wrong wall", SnagNumber: 1, Version: 1,
		Verdict: defects.Verdict{
			Outcome: defects.Fail, Reason: "beyond", ReasonText: "beyond the limit", Lower: dec("7"), Upper: dec("13"),
			Expanded: dec("0.20"), Guard: dec("0.2"), PConform: num(0.0123456789), Rule: defects.FourWay, Schedule: "x@1",
			Title: "T", Edition: "2021", Clause: "4.2", Line: "3", Basis: defects.Memory, Warning: "condensation",
			PassedOver: []defects.PassedOver{{
				Schedule: "y@2", Rank: defects.StandardRank, Outcome: defects.Pass, Lower: dec("6"), Upper: dec("14"), Basis: defects.Secondary,
			}},
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
			Readings: 15, Stated: defects.Statement{
				Source: "drawing S-12", GammaQ: dec("1.5"), Anchors: 240, Action: dec("0.5"), By: defects.Person{ID: "p", Name: "Ada", Role: defects.Clerk}, At: at,
				Zones: []defects.ZoneAction{{Zone: defects.Edge, Suction: defects.MustDecimal("1.20"), Ordered: defects.MustDecimal("8")}},
			}, Verdict: rd.Verdict, Result: dec("0.512345678"), ResultText: "N_Rk 0.51 kN", Version: 1,
		}
		filled(w.t, set)
		filled(w.t, set.Stated)
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
