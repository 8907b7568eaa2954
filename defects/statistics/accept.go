package statistics

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"storeyrod/defects"
)

// PlanChoice is the plan that acceptance by variables is to follow: a level of the
// published table, or two risks to derive one from. The zero value asks for none.
type PlanChoice struct {
	AQL      string // of MIL-STD-414 Table B-1: "1.0", "1.5", "4.0" or "6.5"
	Producer RiskPoint
	Consumer RiskPoint
}

// PlanAQLs are the levels that the published table has, in per cent.
func PlanAQLs() []string { return []string{"1.0", "1.5", "4.0", "6.5"} }

// longestPlan bounds the plans that are derived: more values than anybody takes,
// and each step of the search costs.
const longestPlan = 400

func (c PlanChoice) byRisks() bool { return c.Producer != RiskPoint{} || c.Consumer != RiskPoint{} }

func (c PlanChoice) check() error {
	switch {
	case c.AQL != "" && c.byRisks():
		return bad("aql", CodeBadValue, "choose an AQL or two risks, not both")
	case c.AQL != "" && militaryK(c.AQL) == nil:
		return bad("aql", "no_plan", "the table has AQL %s, not %q", strings.Join(PlanAQLs(), ", "), c.AQL)
	case !c.byRisks():
		return nil
	}
	if err := checkRisks(c.Producer, c.Consumer); err != nil {
		return err
	}
	// The s-method needs about 1 + k²/2 times the values of the σ-method.
	sigma, err := FindSigmaPlan(c.Producer, c.Consumer)
	if err != nil {
		return err
	}
	about := float64(sigma.N) * (1 + sigma.K*sigma.K/2)
	if sigma.N < 1 || about > longestPlan { // below 1 where the count does not fit its type
		return bad("risk", "no_plan", "telling these lots apart takes more than %d values; choose shares that lie further apart", longestPlan)
	}
	return nil
}

// Acceptance is a decision by variables with the plan it followed.
type Acceptance struct {
	Plan   VariablesPlan
	Source string
	Result VariablesResult
}

// accept decides by variables, s-method, Form k. Without a plan asked for there
// is no decision; with one that the readings do not fit it says what it asks for.
func (a *Analysis) accept(sum Summary, choice PlanChoice) *Acceptance {
	if choice == (PlanChoice{}) {
		return nil
	}
	out := Acceptance{}
	var err error
	switch {
	case a.Void > 0:
		err = bad("calibration", defects.ReasonCalibrationExpired, "%d of the %d readings are void, as their instrument was out of calibration", a.Void, a.N)
	case !a.Limit.Shared:
		err = bad("limits", CodeBadValue, "%s", a.Limit.WhyNone())
	default:
		if out.Plan, out.Source, err = choice.plan(sum.N); err == nil {
			out.Result, err = out.Plan.AcceptByVariables(sum, intervalOf(a.Limit.Lower, a.Limit.Upper))
		}
	}
	if err != nil {
		a.unsaid(SaidAcceptance, err)
		return nil
	}
	return &out
}

// plan is the plan that was chosen. The published one is that for n values.
func (c PlanChoice) plan(n int) (VariablesPlan, string, error) {
	if c.AQL == "" {
		p, err := FindVariablesPlan(c.Producer, c.Consumer)
		return p, fmt.Sprintf("derived from two risks: %s of lots with %s bad accepted, %s of lots with %s",
			percent(c.Producer.Accept), percent(c.Producer.Share), percent(c.Consumer.Accept), percent(c.Consumer.Share)), err
	}
	var sizes []string
	for letter := byte('B'); letter <= 'Q'; letter++ {
		p, err := MilitaryPlan(c.AQL, letter)
		if err != nil {
			return p, "", err
		}
		if p.N == n {
			return p, fmt.Sprintf("MIL-STD-414 Table B-1, AQL %s %%, code letter %c", c.AQL, letter), nil
		}
		sizes = append(sizes, fmt.Sprint(p.N))
	}
	return VariablesPlan{}, "", bad("values", "no_plan", "the table has plans for %s values, not for %d", strings.Join(slices.Compact(sizes), ", "), n)
}

// percent prints a share of 1 in per cent, without needless digits.
func percent(share float64) string {
	return fmt.Sprintf("%g %%", math.Round(share*1e6)/1e4)
}
