package register

import (
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
)

// TestSheet is a set of tests as somebody looks into its working.
type TestSheet struct {
	Set      defects.Set
	Readings []defects.Reading // those the reader may see, withdrawn ones too
	Hidden   bool              // some are another gang's, and the working is not told
	others   []defects.Reading // all of them
	bench    *bench
}

// openTests loads a set of one quantity with the bench it is looked at by.
func (r *Register) openTests(ctx context.Context, tx Tx, a Actor, siteID, id, quantity string) (TestSheet, error) {
	var s TestSheet
	m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
	if err != nil {
		return s, err
	}
	if s.Set, s.others, s.Readings, err = seenSet(ctx, tx, m, siteID, id); err != nil {
		return s, err
	}
	if s.Set.Quantity != quantity {
		return s, defects.RefuseField(defects.Invalid, "set", "other_quantity",
			fmt.Sprintf("this is a set of %s, not of %s", s.Set.Quantity, quantity))
	}
	s.Hidden = len(s.Readings) < len(s.others)
	s.bench, err = r.bench(ctx, tx, a, m, siteID, nil)
	return s, err
}

// seenSet loads a set and its readings in the order taken: all of them, and
// those that a member may see.
func seenSet(ctx context.Context, tx Tx, m defects.Membership, siteID, id string) (set defects.Set, all, seen []defects.Reading, err error) {
	if set, err = tx.Readings().Set(ctx, siteID, id); err != nil {
		return set, nil, nil, err
	}
	if all, err = readingsOfSet(ctx, tx, set); err != nil {
		return set, nil, nil, err
	}
	if !setSeen(m, all) {
		return set, nil, nil, defects.RefuseField(defects.NotFound, "set", "set_not_found", "no such set on this site")
	}
	seen = slices.DeleteFunc(slices.Clone(all), func(rd defects.Reading) bool { return mayRead(m, rd) != nil })
	return set, all, seen, nil
}

func standing(list []defects.Reading) []defects.Reading {
	return slices.DeleteFunc(slices.Clone(list), func(rd defects.Reading) bool { return rd.Withdrawn != "" })
}

// PullOutSheet is the working of a pull-out set.
type PullOutSheet struct {
	TestSheet
	Now      defects.SetVerdict // from the readings as they stand, under the schedule of the set's own verdict
	Unnoted  int                // tests that do not say how they ended
	Ordered  []defects.Ordered  // by zone, where the project's limits order a pattern
	Siblings []defects.Set      // the site's other pull-out sets, each for its own wall
}

// PullOutSheet works a pull-out set out, under the schedule that its verdict
// comes from, so that figures and verdict belong together whatever is in force
// by now.
func (r *Register) PullOutSheet(ctx context.Context, a Actor, siteID, id string) (PullOutSheet, error) {
	var s PullOutSheet
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if s.TestSheet, err = r.openTests(ctx, tx, a, siteID, id, "pull_out_load"); err != nil {
			return err
		}
		b := s.bench
		for _, zone := range []defects.Zone{defects.Field, defects.Edge, defects.Ground} {
			if o, ok := defects.OrderedPattern(b.rules, zone); ok {
				s.Ordered = append(s.Ordered, o)
			}
		}
		if ref := s.Set.Verdict.Schedule; ref != "" {
			b.site.Schedules = []string{ref}
			if b.rules, err = r.rules(ctx, tx, b.site); err != nil {
				return err
			}
		}
		if !s.Hidden {
			count := standing(s.others)
			s.Now = b.judgeSet(s.Set, count)
			for _, rd := range count {
				if rd.FailurePlane == "" {
					s.Unnoted++
				}
			}
		}
		sets, err := setsSeen(ctx, tx, b.me, siteID)
		s.Siblings = slices.DeleteFunc(slices.Clone(sets), func(o defects.Set) bool { return o.ID == id || o.Quantity != s.Set.Quantity })
		return err
	})
	return s, err
}

// HasDesign reports that there is a design value to work anchors out from.
func (s PullOutSheet) HasDesign() bool { return s.Now.PullOut != nil && s.Now.PullOut.NRd != nil }

// AnchorLine is the anchors that one zone needs beside what was ordered.
type AnchorLine struct {
	defects.ZoneAnchors
	Suction defects.Decimal
	Ordered defects.Decimal
	Agreed  bool // the pattern is the project's own limit, not what was entered
	Enough  bool // the ordered pattern covers the load
}

// Anchors works out the anchors per square metre from the set's design value. A
// pattern that was left out, or entered below what the project's limits order,
// is that of the limits. Without a design value it refuses with code
// no_design_value, without a pattern with ordered_missing.
func (s PullOutSheet) Anchors(actions []defects.ZoneAction, gammaQ defects.Decimal) ([]AnchorLine, error) {
	if !s.HasDesign() {
		return nil, defects.Refuse(defects.Conflict, "no_design_value", "the set has no design value, so no number of anchors follows from it")
	}
	actions, agreed := slices.Clone(actions), make([]bool, len(actions))
	for i := range actions {
		one := &actions[i]
		for _, o := range s.Ordered {
			if o.Zone == one.Zone && one.Ordered.Less(o.PerM2) {
				one.Ordered, agreed[i] = o.PerM2, true
			}
		}
		switch {
		case one.Suction.Sign() <= 0:
			return nil, defects.RefuseField(defects.Invalid, "suction_"+string(one.Zone), "suction_missing", "state the designer's suction on the zone, above 0")
		case one.Ordered.Sign() <= 0:
			return nil, defects.RefuseField(defects.Invalid, "ordered_"+string(one.Zone), "ordered_missing", "state the pattern that the designer ordered, above 0")
		}
	}
	if gammaQ.Sign() <= 0 {
		return nil, defects.RefuseField(defects.Invalid, "gamma_q", "bad_value", "the partial factor must be above 0")
	}
	zones, err := defects.AnchorsByZone(actions, *s.Now.PullOut.NRd, gammaQ)
	if err != nil {
		return nil, err
	}
	out := make([]AnchorLine, len(zones))
	for i, z := range zones {
		out[i] = AnchorLine{
			ZoneAnchors: z, Suction: actions[i].Suction, Ordered: actions[i].Ordered, Agreed: agreed[i], Enough: z.PerM2.Cmp(actions[i].Ordered) == 0,
		}
	}
	return out, nil
}

// BondLine is one pull-off test with what it came to in words.
type BondLine struct {
	defects.Reading
	Peak  *defects.Decimal // newtons, from the strength and the dolly
	Area  *defects.Decimal // mm²
	Words string
}

// BondSheet is a set of pull-off tests, each judged by itself.
type BondSheet struct {
	TestSheet
	Lines  []BondLine
	Worst  defects.Outcome  // of the tests that stand
	Source *defects.Verdict // limit of the first that has one; nil = none has
	Trial  *BondTrial
}

// BondTrial is a test that is worked out and not stored.
type BondTrial struct {
	Test     defects.BondTest
	Strength defects.Decimal // N/mm², unrounded
	Area     defects.Decimal
	Verdict  defects.Verdict
	Words    string
}

// BondSheet works a bond set out; trial, when there is one, is a test to be
// worked out under the limits in force without storing it.
func (r *Register) BondSheet(ctx context.Context, a Actor, siteID, id string, trial *defects.BondTest) (BondSheet, error) {
	var s BondSheet
	err := r.Store.Read(ctx, func(tx Tx) (err error) {
		if s.TestSheet, err = r.openTests(ctx, tx, a, siteID, id, "bond_strength"); err != nil {
			return err
		}
		var outcomes []defects.Outcome
		for _, rd := range standing(s.others) {
			outcomes = append(outcomes, rd.Verdict.Outcome)
			if s.Source == nil && rd.Verdict.Title != "" {
				s.Source = &defects.Verdict{Title: rd.Verdict.Title, Edition: rd.Verdict.Edition, Clause: rd.Verdict.Clause, Basis: rd.Verdict.Basis}
			}
		}
		s.Worst = defects.Worst(outcomes...)
		for _, rd := range s.Readings {
			line := BondLine{Reading: rd, Words: defects.BondWords(rd.Verdict, rd.FailurePlane)}
			if peak, area, ok := defects.BondPeak(rd.Value, rd.Dolly); ok {
				line.Peak, line.Area = &peak, &area
			}
			s.Lines = append(s.Lines, line)
		}
		if trial != nil {
			s.Trial, err = s.bench.bondTrial(s.Set, *trial)
		}
		return err
	})
	return s, err
}

func (b *bench) bondTrial(set defects.Set, test defects.BondTest) (*BondTrial, error) {
	in, err := test.BondReading()
	if err != nil {
		return nil, err
	}
	area, err := defects.DollyArea(test.Dolly)
	if err != nil {
		return nil, err
	}
	in.Stage, in.Zone = set.Stage, set.Place.Zone
	v := defects.JudgeGoverning(in, b.rules, b.site.Rule, b.site.Guard)
	nameSuppliers(&v, in.Quantity)
	return &BondTrial{Test: test, Strength: in.Value, Area: area, Verdict: v, Words: defects.BondWords(v, test.Plane)}, nil
}
