package register

import (
	"context"
	"fmt"

	"storeyrod/defects"
)

// ofSets lists what sets still ask for: a snag when one fails and none was
// raised from its readings, and the tests that are short.
func (q asked) ofSets(ctx context.Context) ([]FollowUp, error) {
	if q.gang != "" {
		return nil, nil // a set is the clerk's and the designer's, not one gang's
	}
	sets, err := q.tx.Readings().Sets(ctx, q.site)
	if err != nil {
		return nil, err
	}
	var out []FollowUp
	for _, set := range sets {
		if q.elevation != "" && set.Place.ElevationID != q.elevation {
			continue
		}
		f, err := q.ofSet(ctx, set)
		if err != nil {
			return nil, err
		}
		if f != nil {
			out = append(out, *f)
		}
	}
	return out, nil
}

func (q asked) ofSet(ctx context.Context, set defects.Set) (*FollowUp, error) {
	f := FollowUp{SetID: set.ID, Quantity: set.Quantity}
	if set.Quantity == "proof_load" {
		return q.ofProof(ctx, f, set)
	}
	switch {
	case set.Verdict.Outcome == defects.Fail:
		readings, err := readingsOfSet(ctx, q.tx, set)
		if err != nil {
			return nil, err
		}
		lowest, answered := lowestOf(readings)
		if answered {
			return nil, nil
		}
		f.propose(defects.KindForFailure(set.Quantity, set.Stage))
		f.ReadingID = lowest.ID
		f.Text = fmt.Sprintf("the set %s fails: %s", set.Name, SetText(set))
	case set.Verdict.Reason == defects.ReasonTooFew:
		f.Want = testsShort(set.Verdict.ReasonText)
		f.Text = fmt.Sprintf("the set %s has no verdict: %s", set.Name, set.Verdict.ReasonText)
	case set.Verdict.Reason == defects.ReasonJudgedSingly: // the readings ask for themselves
		return nil, nil
	case set.Verdict.Outcome == defects.NoVerdict && set.Readings > 0:
		f.Text = fmt.Sprintf("the set %s has no verdict: %s", set.Name, set.Verdict.ReasonText)
	default:
		return nil, nil
	}
	return &f, nil
}

// ofProof asks for more proof tests where one did not hold. How many is for the
// page of the area, where the number of its anchors is stated.
func (q asked) ofProof(ctx context.Context, f FollowUp, set defects.Set) (*FollowUp, error) {
	readings, err := readingsOfSet(ctx, q.tx, set)
	if err != nil {
		return nil, err
	}
	area := defects.ProofTally(readings)
	switch area.Failed {
	case 0:
		return nil, nil
	case 1:
		f.Text = fmt.Sprintf("the area %s: 1 of %d proof tests did not hold; test 5 %% of its anchors, at least 6", set.Name, area.Tested)
	default:
		f.Text = fmt.Sprintf("the area %s: %d of %d proof tests did not hold; test all its anchors and inform the designer", set.Name, area.Failed, area.Tested)
	}
	if !area.CauseNoted {
		f.Text += "; note the cause"
	}
	return &f, nil
}

// lowestOf is the smallest value that stands, and whether a snag was raised
// from any.
func lowestOf(readings []defects.Reading) (lowest defects.Reading, answered bool) {
	for _, rd := range readings {
		if rd.Withdrawn != "" {
			continue
		}
		answered = answered || rd.SnagNumber != 0
		if lowest.ID == "" || rd.Value.Less(lowest.Value) {
			lowest = rd
		}
	}
	return lowest, answered
}

// testsShort reads the number that a verdict's text begins with: "1 test short".
func testsShort(text string) int {
	n := 0
	if _, err := fmt.Sscanf(text, "%d", &n); err != nil {
		return 0
	}
	return n
}

// SetText says what a set came to against its limit.
func SetText(s defects.Set) string {
	text := s.ResultText
	if s.Verdict.Lower != nil {
		q, _ := defects.QuantityByName(s.Quantity)
		text += fmt.Sprintf(" against at least %s %s", s.Verdict.Lower, q.Unit)
	}
	return text
}
