package defects

import (
	"fmt"
	"slices"
)

// PullOutRule is how a characteristic resistance is derived from site tests
// (ETAG 014 Annex D, from memory): N_Rk = Factor × mean of the Lowest smallest
// loads, at most Cap; N_Rd = N_Rk / Gamma.
type PullOutRule struct {
	Factor   Decimal  // 0.6
	Lowest   int      // 5
	Cap      *Decimal // kN, 1.5; nil = none
	MinTests int      // 15
	Gamma    Decimal  // 2.0
	Required *Decimal // kN, the designer's characteristic value; nil = not stated
	// Steps, when an assessment allows only listed characteristic values, are
	// what N_Rk is rounded down to; see RoundDownToStep.
	Steps []Decimal
}

// DefaultPullOutRule is 0.6 × the mean of the five lowest of at least fifteen
// tests, at most 1.5 kN, γ = 2.0 (ETAG 014 Annex D, from memory).
func DefaultPullOutRule() PullOutRule {
	limit := Decimal{nano: 1_500_000_000, places: 1}
	return PullOutRule{
		Factor: Decimal{nano: 600_000_000, places: 1}, Lowest: 5, Cap: &limit, MinTests: 15,
		Gamma: Decimal{nano: 2_000_000_000, places: 1},
	}
}

const maxPullOutSteps = 50

// Check refuses a rule that cannot be computed, with code bad_pull_out_rule.
func (r PullOutRule) Check() error {
	why := ""
	switch {
	case r.Factor.Sign() <= 0:
		why = "the factor must be above 0"
	case r.Lowest < 1:
		why = "at least one lowest load must be averaged"
	case r.MinTests < r.Lowest:
		why = "fewer tests are asked than are averaged"
	case r.Gamma.Sign() <= 0:
		why = "the partial factor must be above 0"
	case r.Cap != nil && r.Cap.Sign() <= 0:
		why = "the cap must be above 0"
	case r.Required != nil && r.Required.Sign() < 0:
		why = "the required value must not be negative"
	case slices.ContainsFunc(r.Steps, func(s Decimal) bool { return s.Sign() <= 0 }):
		why = "a listed characteristic value must be above 0"
	case len(r.Steps) > maxPullOutSteps:
		why = fmt.Sprintf("at most %d characteristic values can be listed", maxPullOutSteps)
	default:
		return nil
	}
	return RefuseField(Invalid, "pull_out", "bad_pull_out_rule", why)
}

// PullOutResult is the outcome of a pull-out test set, all loads in kN. The
// figures are nil when the set gives none; they are unrounded (cut, never
// raised, at the ninth place).
type PullOutResult struct {
	Rule       PullOutRule
	N          int
	Lowest     []Decimal // the loads averaged, ascending
	N1         *Decimal
	Raw        *Decimal // factor × N1, before cap and steps
	Capped     bool     // the cap governs, before the steps
	NRk        *Decimal
	NRd        *Decimal
	Required   *Decimal
	Verdict    Outcome
	Reason     string
	ReasonText string
}

// ReasonBelowSteps is the reason of a set too weak for any listed value.
const ReasonBelowSteps = "below_steps"

// maxLoad bounds loads so that no sum can overflow; a thousand times what an
// anchor of this trade holds.
const maxLoad = 25_000 * nanosPerUnit

// Characteristic evaluates a set of loads at failure in kN. N_Rk is compared
// unrounded with the required value: 0.5196 fails 0.52. Too few tests give no
// figure at all, since fewer have no standing as a characteristic value.
func Characteristic(values []Decimal, rule PullOutRule) PullOutResult {
	res := PullOutResult{Rule: rule, N: len(values), Required: rule.Required, Verdict: NoVerdict}
	if err := rule.Check(); err != nil {
		return res.none("bad_pull_out_rule", err.Error())
	}
	for _, v := range values {
		if v.nano < 0 || v.nano > maxLoad {
			return res.none("bad_value", "a load of "+v.String()+" kN cannot be a load at failure")
		}
	}
	if short := rule.MinTests - len(values); short > 0 {
		return res.none(ReasonTooFew, tooFewText(short, len(values), rule.MinTests))
	}
	sorted := slices.Clone(values)
	slices.SortFunc(sorted, Decimal.Cmp)
	res.Lowest = sorted[:rule.Lowest]
	var sum int64
	for _, v := range res.Lowest {
		sum += v.nano
	}
	n := int64(rule.Lowest)
	n1 := Decimal{nano: sum / n}
	// Cutting at the ninth place keeps the comparison with a typed required
	// value exact: floor(x) < c exactly when x < c, for whole c.
	nrk := Decimal{nano: mulDivFloor(sum, rule.Factor.nano, n*nanosPerUnit)}
	raw := nrk
	res.Raw = &raw
	if rule.Cap != nil && rule.Cap.Less(nrk) {
		nrk, res.Capped = *rule.Cap, true
	}
	if len(rule.Steps) > 0 {
		step, ok := RoundDownToStep(nrk, rule.Steps)
		if !ok {
			res.N1 = &n1
			res = res.none(ReasonBelowSteps, "factor × N1 is "+nrk.Round(3).String()+" kN, below every characteristic value the assessment lists")
			if rule.Required != nil {
				res.Verdict = Fail
			}
			return res
		}
		nrk = step
	}
	nrd := Decimal{nano: mulDivFloor(nrk.nano, nanosPerUnit, rule.Gamma.nano)}
	res.N1, res.NRk, res.NRd = &n1, &nrk, &nrd
	return res.against(rule.Required)
}

// Void takes every figure back, as for a tester out of calibration.
func (r PullOutResult) Void(reason, text string) PullOutResult {
	return PullOutResult{Rule: r.Rule, N: r.N, Required: r.Required}.none(reason, text)
}

func (r PullOutResult) against(required *Decimal) PullOutResult {
	switch {
	case required == nil:
		return r.none(ReasonRequiredMissing, reasonText(ReasonRequiredMissing))
	case r.NRk.Less(*required):
		r.Verdict = Fail
	default:
		r.Verdict = Pass
	}
	return r
}

func (r PullOutResult) none(reason, text string) PullOutResult {
	r.Verdict, r.Reason, r.ReasonText = NoVerdict, reason, text
	return r
}

func tooFewText(short, have, want int) string {
	unit := "tests"
	if short == 1 {
		unit = "test"
	}
	return fmt.Sprintf("%d %s short: %d of %d", short, unit, have, want)
}

// RoundDownToStep is the largest step not above v, and false when v is below
// all of them. Some assessments allow only listed characteristic values
// (0.3 0.4 0.5 0.6 0.75 0.9 1.2 1.5 kN in ETAG 014, from memory).
func RoundDownToStep(v Decimal, steps []Decimal) (Decimal, bool) {
	best, found := Decimal{}, false
	for _, s := range steps {
		if !v.Less(s) && (!found || best.Less(s)) {
			best, found = s, true
		}
	}
	return best, found
}

// PullOutTest is one test with the substrate it was made in.
type PullOutTest struct {
	Substrate string
	Load      Decimal // kN at failure
}

// SubstrateResult is the result of the tests in one substrate.
type SubstrateResult struct {
	Substrate string
	PullOutResult
}

// CharacteristicBySubstrate evaluates each substrate on its own, in the order
// they first come: tests in one wall say nothing about another. required holds
// the designer's value where substrates differ; without an entry the rule's own
// stands. A test without a substrate is refused with code substrate_missing.
func CharacteristicBySubstrate(tests []PullOutTest, rule PullOutRule, required map[string]Decimal) ([]SubstrateResult, Outcome, error) {
	var order []string
	loads := map[string][]Decimal{}
	for i, t := range tests {
		if t.Substrate == "" {
			return nil, NoVerdict, RefuseField(Invalid, fmt.Sprintf("tests[%d]", i), "substrate_missing", "name the substrate of every test")
		}
		if loads[t.Substrate] == nil {
			order = append(order, t.Substrate)
		}
		loads[t.Substrate] = append(loads[t.Substrate], t.Load)
	}
	out := make([]SubstrateResult, len(order))
	outcomes := make([]Outcome, len(order))
	for i, name := range order {
		own := rule
		if value, ok := required[name]; ok {
			own.Required = &value
		}
		out[i] = SubstrateResult{name, Characteristic(loads[name], own)}
		outcomes[i] = out[i].Verdict
	}
	return out, Worst(outcomes...), nil
}
