package defects

import (
	"fmt"
	"strings"
)

// ProofArea is one discrete area for proof tests: one kind of anchor in one base
// material and condition.
type ProofArea struct {
	Anchors    int
	Tested     int
	Failed     int
	CauseNoted bool // why the first failure happened has been written down
}

// ProofStage says how far the testing of an area has been driven.
type ProofStage string

// The stages (BS 8539 Annex B.3, read in a published summary; rounding up ours).
const (
	ProofFirst   ProofStage = "2.5 %"
	ProofDoubled ProofStage = "5 %"
	ProofAll     ProofStage = "100 %"
)

// ProofDemand is what an area needs next.
type ProofDemand struct {
	Stage          ProofStage
	Tests          int      // in all
	More           int      // still to do
	LoadFactor     *Decimal // on the characteristic action; nil = the designer sets it
	CauseNeeded    bool
	InformDesigner bool
	Release        bool // the hold on the fixings may go
	Text           string
}

// ProofTests is the number of tests and the load that an area asks for: 2.5 % of
// the anchors and at least 3; after one failure 5 % and at least 6, with the
// cause; after more all of them, and the designer must reconsider.
func ProofTests(a ProofArea) (ProofDemand, error) {
	if a.Anchors < 1 || a.Tested < 0 || a.Failed < 0 || a.Failed > a.Tested || a.Tested > a.Anchors {
		return ProofDemand{}, RefuseField(Invalid, "tests", "bad_value", "tests must lie within the anchors, and failures within the tests")
	}
	var d ProofDemand
	switch a.Failed {
	case 0:
		d = ProofDemand{Stage: ProofFirst, Tests: max(3, (a.Anchors+39)/40), LoadFactor: proofFactor(1_500_000_000)}
	case 1:
		d = ProofDemand{Stage: ProofDoubled, Tests: max(6, (a.Anchors+19)/20), LoadFactor: proofFactor(1_250_000_000), CauseNeeded: !a.CauseNoted}
	default:
		d = ProofDemand{Stage: ProofAll, Tests: a.Anchors, CauseNeeded: !a.CauseNoted, InformDesigner: true}
	}
	d.Tests = min(d.Tests, a.Anchors)
	d.More = max(0, d.Tests-a.Tested)
	d.Release = d.More == 0 && !d.CauseNeeded && !d.InformDesigner
	d.Text = fmt.Sprintf("%s of %d anchors: %d tests, %d to do", d.Stage, a.Anchors, d.Tests, d.More)
	if d.CauseNeeded {
		d.Text += "; note the cause of the failure"
	}
	if d.InformDesigner {
		d.Text += "; inform the designer, who decides on the specification"
	}
	return d, nil
}

func proofFactor(nano int64) *Decimal { return &Decimal{nano: nano, places: 2} }

// ProofLoad is the load in kN for a stage: the characteristic action times the
// stage's factor. The bool is false where the source gives none.
func (d ProofDemand) ProofLoad(action Decimal) (Decimal, bool) {
	if d.LoadFactor == nil || action.Sign() <= 0 {
		return Decimal{}, false
	}
	return action.Mul(*d.LoadFactor), true
}

// ProofHeld is how the end of a proof test that held is noted; nothing noted
// says the same.
const ProofHeld = "held"

// ProofFailed reports a proof test in which the anchor did not hold: judged a
// failure, below the load it was to hold (the reading's nominal value), or noted
// to have ended in any other way than by holding.
func ProofFailed(r Reading) bool {
	end := strings.ToLower(strings.TrimSpace(r.FailurePlane))
	return r.Verdict.Outcome == Fail || (r.Nominal != nil && r.Value.Less(*r.Nominal)) ||
		(end != "" && end != ProofHeld && end != string(EndNotToFailure))
}

// ProofTally counts the tests of an area that stand. The cause of a failure is
// noted when every failed test carries a remark.
func ProofTally(readings []Reading) ProofArea {
	a := ProofArea{CauseNoted: true}
	for _, r := range readings {
		if r.Withdrawn != "" {
			continue
		}
		a.Tested++
		if ProofFailed(r) {
			a.Failed++
			a.CauseNoted = a.CauseNoted && strings.TrimSpace(r.Note) != ""
		}
	}
	a.CauseNoted = a.CauseNoted && a.Failed > 0
	return a
}
