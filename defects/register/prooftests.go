package register

import (
	"context"
	"errors"

	"storeyrod/defects"
)

// ProofAsk is what a person states of an area in place of what is noted for its
// set, since no reading says it.
type ProofAsk struct {
	SetID   string
	Anchors int              // in the area
	Action  *defects.Decimal // characteristic action on one anchor, kN; nil = not stated
}

// ProofSheet is one discrete area for proof tests: a set of proof_load with what
// was done in it and, once its number of anchors is stated, what is due.
type ProofSheet struct {
	Set    defects.Set
	Area   defects.ProofArea
	Failed []defects.Reading    // those that did not hold, as far as the reader may see them
	Demand *defects.ProofDemand // nil = the number of anchors is not stated
	Load   *defects.Decimal     // kN; nil = no action stated, or the designer sets it
	Err    *defects.Error       // what was stated cannot be
}

// ProofSheets lists a site's areas for proof tests. What is asked of a set that
// there is not is refused.
func (r *Register) ProofSheets(ctx context.Context, a Actor, siteID string, asked []ProofAsk) ([]ProofSheet, error) {
	var out []ProofSheet
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		sets, err := setsSeen(ctx, tx, m, siteID)
		if err != nil {
			return err
		}
		out = nil
		known := map[string]bool{}
		for _, set := range sets {
			if set.Quantity != "proof_load" {
				continue
			}
			known[set.ID] = true
			all, err := readingsOfSet(ctx, tx, set)
			if err != nil {
				return err
			}
			s := ProofSheet{Set: set, Area: defects.ProofTally(all)}
			for _, rd := range standing(all) {
				if defects.ProofFailed(rd) && mayRead(m, rd) == nil {
					s.Failed = append(s.Failed, rd)
				}
			}
			if n := set.Stated.Anchors; n > 0 {
				s.ask(ProofAsk{SetID: set.ID, Anchors: n, Action: set.Stated.Action})
			}
			for _, ask := range asked {
				if ask.SetID == set.ID {
					s.ask(ask)
				}
			}
			out = append(out, s)
		}
		for _, ask := range asked {
			if !known[ask.SetID] {
				return defects.RefuseField(defects.NotFound, "area", "set_not_found", "no such set of proof tests on this site")
			}
		}
		return nil
	})
	return out, err
}

func (s *ProofSheet) ask(ask ProofAsk) {
	s.Area.Anchors, s.Demand, s.Load, s.Err = ask.Anchors, nil, nil, nil
	d, err := defects.ProofTests(s.Area)
	if err != nil {
		if !errors.As(err, &s.Err) {
			s.Err = defects.Refuse(defects.Invalid, "bad_value", err.Error())
		}
		return
	}
	s.Demand = &d
	if ask.Action != nil {
		if load, ok := d.ProofLoad(*ask.Action); ok {
			s.Load = &load
		}
	}
}
