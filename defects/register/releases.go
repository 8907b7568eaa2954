package register

import (
	"context"
	"fmt"
	"slices"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

// ReleaseInput is an answer to a hold point for an area. Zero bays or lifts
// mean all of them.
type ReleaseInput struct {
	HoldPoint        string // "H7"
	ElevationID      string
	BayFrom, BayTo   int
	LiftFrom, LiftTo int
	Outcome          defects.ReleaseOutcome
	Text             string // conditions, or reasons of a refusal
}

// Readiness says whether a hold point may be released, and what stands in the
// way.
type Readiness struct {
	Ready   bool
	Reasons []defects.Detail
}

// ReadinessOf says whether a hold point may be released now, under the outcome
// and conditions in mind. Without an outcome it answers for a plain release. An
// operative learns of other gangs' work only how many things stand in the way.
func (r *Register) ReadinessOf(ctx context.Context, a Actor, siteID string, in ReleaseInput) (Readiness, error) {
	if in.Outcome == "" {
		in.Outcome = defects.Released
	}
	out := Readiness{}
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		rel := r.release(a, m, siteID, in)
		facts, err := holdFacts(ctx, tx, rel)
		if err != nil {
			return err
		}
		all := defects.HoldReasons(rel, facts)
		out.Ready = len(all) == 0
		out.Reasons = defects.HoldReasons(rel, factsSeen(m, facts))
		if hidden := len(all) - len(out.Reasons); hidden > 0 {
			out.Reasons = append(out.Reasons, defects.Detail{
				Code: "others_work", Text: fmt.Sprintf("and %d thing(s) that are not your gang's", hidden),
			})
		}
		return nil
	})
	return out, err
}

// ReleaseHold records an answer to a hold point. A release, with or without
// conditions, of what is not ready answers Conflict hold_point_not_ready with
// the reasons in Details. A refusal and a lapse after notice are recorded as
// they are.
func (r *Register) ReleaseHold(ctx context.Context, a Actor, siteID string, in ReleaseInput) (rel defects.Release, err error) {
	if in.Text, err = cleanNote("text", in.Text); err != nil {
		return rel, err
	}
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ReleaseHoldPoint)
		if err != nil {
			return err
		}
		rel = r.release(a, m, siteID, in)
		facts, err := holdFacts(ctx, tx, rel)
		if err != nil {
			return err
		}
		if err := defects.CheckRelease(rel, facts); err != nil {
			return err
		}
		reasons := defects.HoldReasons(rel, facts)
		if granted(rel.Outcome) && len(reasons) > 0 {
			return &defects.Error{
				Kind: defects.Conflict, Code: "hold_point_not_ready", Details: reasons,
				Text: fmt.Sprintf("%s is not ready: %d thing(s) stand in the way", rel.HoldPoint, len(reasons)),
			}
		}
		rel.ID = r.NewID()
		if err := tx.Releases().InsertRelease(ctx, rel); err != nil {
			return err
		}
		return r.note(ctx, tx, a, m, siteID, releaseEvent(rel, reasons))
	})
	if err != nil {
		return defects.Release{}, err
	}
	return rel, nil
}

func granted(o defects.ReleaseOutcome) bool {
	return o == defects.Released || o == defects.ReleasedConditions
}

func (r *Register) release(a Actor, m defects.Membership, siteID string, in ReleaseInput) defects.Release {
	return defects.Release{
		SiteID: siteID, HoldPoint: in.HoldPoint, ElevationID: in.ElevationID, BayFrom: in.BayFrom, BayTo: in.BayTo,
		LiftFrom: in.LiftFrom, LiftTo: in.LiftTo, Outcome: in.Outcome, Text: in.Text, By: person(a, m), At: r.Now(),
	}
}

// holdFacts loads what an answer rests on, after checking that its area exists.
func holdFacts(ctx context.Context, tx Tx, rel defects.Release) (defects.HoldFacts, error) {
	f := defects.HoldFacts{Points: reference.HoldPoints(), Stages: reference.Stages()}
	if !slices.ContainsFunc(f.Points, func(h defects.HoldPoint) bool { return h.Code == rel.HoldPoint }) {
		return f, defects.RefuseField(defects.Invalid, "hold_point", "unknown_hold_point", "choose one of H0 to H11")
	}
	if rel.ElevationID == "" {
		return f, defects.RefuseField(defects.Invalid, "elevation", "bad_area", "a hold point is answered for an area of one elevation")
	}
	e, err := tx.Walls().Elevation(ctx, rel.SiteID, rel.ElevationID)
	if err != nil {
		return f, inField(err, "elevation")
	}
	if n := len(e.Bays); n > 0 && max(rel.BayFrom, rel.BayTo) > n {
		return f, defects.RefuseField(defects.Invalid, "bay", "no_such_bay", fmt.Sprintf("%s has bays 1 to %d", e.Name, n))
	}
	if n := len(e.Lifts); n > 0 && max(rel.LiftFrom, rel.LiftTo) > n {
		return f, defects.RefuseField(defects.Invalid, "lift", "no_such_lift", fmt.Sprintf("%s has lifts 1 to %d", e.Name, n))
	}
	if f.Snags, err = tx.Snags().ListSnags(ctx, SnagFilter{SiteID: rel.SiteID, ElevationID: e.ID}, everything()); err != nil {
		return f, err
	}
	if f.Releases, err = tx.Releases().Releases(ctx, rel.SiteID); err != nil {
		return f, err
	}
	f.Readings, err = holdReadings(ctx, tx, rel.SiteID, e.ID)
	return f, err
}

// holdReadings are the unanswered readings of an elevation; where one is
// conditional, those of its quantity, among which a later pass may be; the
// pull-offs that passed; and the tests without a verdict.
func holdReadings(ctx context.Context, tx Tx, siteID, elevationID string) ([]defects.Reading, error) {
	open, err := tx.Readings().ListReadings(ctx, ReadingFilter{SiteID: siteID, ElevationID: elevationID, Unanswered: true}, everything())
	if err != nil {
		return nil, err
	}
	quantities := []string{"bond_strength"} // answers for work done in bad weather
	for _, rd := range open {
		if rd.Verdict.Outcome != defects.Fail && !slices.Contains(quantities, rd.Quantity) {
			quantities = append(quantities, rd.Quantity)
		}
	}
	out := open
	for _, q := range quantities {
		passed, err := tx.Readings().ListReadings(ctx, ReadingFilter{
			SiteID: siteID, ElevationID: elevationID, Quantity: q, Outcome: defects.Pass,
		}, everything())
		if err != nil {
			return nil, err
		}
		out = append(out, passed...)
	}
	for _, q := range []string{"bond_strength", "proof_load"} {
		unjudged, err := tx.Readings().ListReadings(ctx, ReadingFilter{
			SiteID: siteID, ElevationID: elevationID, Quantity: q, Outcome: defects.NoVerdict,
		}, everything())
		if err != nil {
			return nil, err
		}
		out = append(out, unjudged...)
	}
	return out, nil
}

// Releases lists a site's answers to hold points, newest first; an operative's
// without their texts.
func (r *Register) Releases(ctx context.Context, a Actor, siteID string) (list []defects.Release, err error) {
	err = r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		list, err = tx.Releases().Releases(ctx, siteID)
		for i := range list {
			if othersHidden(m) {
				list[i].Text = "" // may name another gang's work
			}
		}
		return err
	})
	return list, err
}
