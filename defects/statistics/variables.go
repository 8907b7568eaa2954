package statistics

import (
	"math"
)

// VariablesPlan is a plan for acceptance by variables in Form k: n values, and
// accept when (U − x̄)/s or (x̄ − L)/s is at least K.
type VariablesPlan struct {
	N int
	K float64
}

// VariablesResult is a decision by variables; an absent limit has no quality
// statistic (NaN).
type VariablesResult struct {
	QLower, QUpper float64
	K              float64
	Accepted       bool
}

// AcceptByVariables decides with the s-method, Form k (ISO 3951-1, from
// memory). The plan's n must be the set's. With both limits each is held on its
// own ("separate control").
func (p VariablesPlan) AcceptByVariables(sum Summary, tolerance Interval) (VariablesResult, error) {
	if sum.S == 0 {
		return VariablesResult{}, bad("values", CodeNoSpread, "all values are equal; the s-method needs some spread")
	}
	return p.decide(sum.N, sum.Mean, sum.S, tolerance)
}

// AcceptWithSigma decides with the σ-method: the spread sigma > 0 is known.
func (p VariablesPlan) AcceptWithSigma(sum Summary, sigma float64, tolerance Interval) (VariablesResult, error) {
	if !finite(sigma) || sigma <= 0 {
		return VariablesResult{}, bad("sigma", CodeBadValue, "the known spread must be above 0")
	}
	return p.decide(sum.N, sum.Mean, sigma, tolerance)
}

func (p VariablesPlan) decide(n int, mean, s float64, tolerance Interval) (VariablesResult, error) {
	switch {
	case tolerance.Lower == nil && tolerance.Upper == nil:
		return VariablesResult{}, bad("limits", CodeBadValue, "acceptance by variables needs a limit")
	case n < p.N:
		return VariablesResult{}, bad("values", CodeTooFew, "the plan asks for %d values, not %d", p.N, n)
	case n > p.N:
		return VariablesResult{}, bad("values", "too_many", "the plan is for %d values, not %d; choosing among them would spoil it", p.N, n)
	}
	out := VariablesResult{QLower: math.NaN(), QUpper: math.NaN(), K: p.K, Accepted: true}
	if tolerance.Lower != nil {
		out.QLower = (mean - *tolerance.Lower) / s
		out.Accepted = out.QLower >= p.K
	}
	if tolerance.Upper != nil {
		out.QUpper = (*tolerance.Upper - mean) / s
		out.Accepted = out.Accepted && out.QUpper >= p.K
	}
	return out, nil
}

// Acceptance is P_a of the s-method for a lot with the share p beyond one limit.
func (p VariablesPlan) Acceptance(share float64) float64 {
	root := math.Sqrt(float64(p.N))
	return 1 - NoncentralCDF(p.K*root, float64(p.N-1), NormalQuantile(1-share)*root)
}

// RiskPoint is a share of bad items and the probability of accepting such a lot.
type RiskPoint struct{ Share, Accept float64 }

func checkRisks(producer, consumer RiskPoint) error {
	for _, v := range []float64{producer.Share, producer.Accept, consumer.Share, consumer.Accept} {
		if !between01(v) {
			return bad("risk", CodeBadValue, "shares and probabilities lie between 0 and 1")
		}
	}
	if producer.Share >= consumer.Share || producer.Accept <= consumer.Accept {
		return bad("risk", CodeBadValue, "the good lot must have the smaller share and the larger probability of acceptance")
	}
	return nil
}

// FindVariablesPlan is the smallest s-method plan that accepts the producer's
// lot exactly as often as asked and the consumer's no more often.
func FindVariablesPlan(producer, consumer RiskPoint) (VariablesPlan, error) {
	if err := checkRisks(producer, consumer); err != nil {
		return VariablesPlan{}, err
	}
	z := NormalQuantile(1 - producer.Share)
	for n := 2; n <= 20_000; n++ {
		root := math.Sqrt(float64(n))
		plan := VariablesPlan{N: n, K: NoncentralQuantile(1-producer.Accept, float64(n-1), z*root) / root}
		if plan.Acceptance(consumer.Share) <= consumer.Accept {
			return plan, nil
		}
	}
	return VariablesPlan{}, bad("risk", "no_plan", "no plan of up to 20 000 values tells these lots apart")
}

// FindSigmaPlan is FindVariablesPlan for a known spread (σ-method).
func FindSigmaPlan(producer, consumer RiskPoint) (VariablesPlan, error) {
	if err := checkRisks(producer, consumer); err != nil {
		return VariablesPlan{}, err
	}
	zp, zc := NormalQuantile(1-producer.Share), NormalQuantile(1-consumer.Share)
	root := (NormalQuantile(producer.Accept) - NormalQuantile(consumer.Accept)) / (zp - zc)
	n := math.Ceil(root * root)
	return VariablesPlan{N: int(n), K: zp - NormalQuantile(producer.Accept)/math.Sqrt(n)}, nil
}

// militaryK are k of MIL-STD-414 Table B-1 (public domain; s-method, Form 1,
// normal inspection) by AQL index and letter from B; 0 = take the next letter
// down. AQL 2.5 could not be read and is left out.
func militaryK(aql string) []float64 {
	switch aql {
	case "1.0":
		return []float64{0, 1.45, 1.53, 1.62, 1.72, 1.79, 1.82, 1.85, 1.86, 1.89, 1.89, 1.93, 1.98, 2.00, 2.03, 2.04}
	case "1.5":
		return []float64{0, 1.34, 1.40, 1.50, 1.58, 1.65, 1.69, 1.72, 1.73, 1.76, 1.76, 1.80, 1.84, 1.86, 1.89, 1.89}
	case "4.0":
		return []float64{0.958, 1.01, 1.07, 1.15, 1.23, 1.30, 1.33, 1.35, 1.36, 1.39, 1.39, 1.42, 1.46, 1.48, 1.51, 1.51}
	case "6.5":
		return []float64{0.765, 0.814, 0.874, 0.955, 1.03, 1.09, 1.12, 1.14, 1.15, 1.18, 1.18, 1.21, 1.24, 1.26, 1.29, 1.29}
	}
	return nil
}

// MilitaryPlan is a plan of MIL-STD-414 Table B-1 for an AQL in per cent ("1.0",
// "1.5", "4.0", "6.5") and a code letter of that standard, B to Q (it has an I).
// For any other level derive one with FindVariablesPlan.
func MilitaryPlan(aql string, letter byte) (VariablesPlan, error) {
	sizes := [...]int{3, 4, 5, 7, 10, 15, 20, 25, 30, 35, 40, 50, 75, 100, 150, 200}
	row := militaryK(aql)
	i := int(letter) - 'B'
	if row == nil || i < 0 || i >= len(sizes) {
		return VariablesPlan{}, bad("aql", "no_plan", "the table has no plan for AQL %q and letter %q; derive one from two risks", aql, string(letter))
	}
	if row[i] == 0 {
		i++
	}
	return VariablesPlan{N: sizes[i], K: row[i]}, nil
}
