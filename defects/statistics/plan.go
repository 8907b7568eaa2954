package statistics

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Inspection is a severity of ISO 2859-1.
type Inspection string

// The severities; a new supplier starts with Normal inspection.
const (
	NormalInspection    Inspection = "normal"
	TightenedInspection Inspection = "tightened"
	ReducedInspection   Inspection = "reduced"
)

// Plan is a single sampling plan for attributes: draw N of the lot, accept with
// at most Ac bad ones, reject from Re.
type Plan struct {
	LotCode string // letter of the lot's size
	Code    string // letter of the plan used, after following arrows
	N       int
	Ac, Re  int
	All     bool // the plan asks for the whole lot, so every item is inspected
}

const letters = "ABCDEFGHJKLMNPQR"

// CodeLetter is the sample size code letter of a lot at general level "I", "II"
// or "III" (ISO 2859-1 Table 1, read in a published one-page chart).
func CodeLetter(lot int, level string) (string, error) {
	column := slices.Index([]string{"I", "II", "III"}, level)
	switch {
	case lot < 1:
		return "", bad("lot", CodeBadValue, "a lot has at least 1 item")
	case column < 0:
		return "", bad("level", "unknown_level", "the general levels are I, II and III, not %q", level)
	}
	rows := []struct {
		upTo  int
		codes string
	}{
		{8, "AAB"},
		{15, "ABC"},
		{25, "BCD"},
		{50, "CDE"},
		{90, "CEF"},
		{150, "DFG"},
		{280, "EGH"},
		{500, "FHJ"},
		{1200, "GJK"},
		{3200, "HKL"},
		{10_000, "JLM"},
		{35_000, "KMN"},
		{150_000, "LNP"},
		{500_000, "MPQ"},
		{math.MaxInt, "NQR"},
	}
	for _, r := range rows {
		if lot <= r.upTo {
			return r.codes[column : column+1], nil
		}
	}
	return "", nil // not reached: the last row takes every lot
}

// arrow marks a cell that sends to the next letter; other cells are Ac.
const (
	up   = -1
	down = -2
)

// diagonal is the run of cells down a column from its Ac = 0 row; Re is Ac + 1.
func diagonal(s Inspection) (cells []int, start int) {
	switch s {
	case TightenedInspection:
		return []int{0, down, down, 1, 2, 3, 5, 8, 12, 18}, 1
	case ReducedInspection:
		return []int{0, up, down, down, 1, 2, 3, 5, 6, 8, 10}, 0
	}
	return []int{0, up, down, 1, 2, 3, 5, 7, 10, 14, 21}, 0
}

func sampleSizes(s Inspection) [16]int {
	if s == ReducedInspection {
		return [16]int{2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800}
	}
	return [16]int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000}
}

// AQLs lists the acceptance quality limits the tables are known for, in per cent.
func AQLs() []string {
	return []string{
		"0.010", "0.015", "0.025", "0.040", "0.065", "0.10", "0.15", "0.25", "0.40", "0.65", "1.0", "1.5", "2.5", "4.0", "6.5",
	}
}

func aqlIndex(aql string) int {
	trim := func(s string) string {
		if !strings.Contains(s, ".") {
			return s
		}
		return strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	for i, a := range AQLs() {
		if trim(a) == trim(aql) {
			return i
		}
	}
	return -1
}

// PlanForLetter is the single plan of ISO 2859-1 Tables 2-A, 2-B and 2-C for a
// code letter (the diagonal pattern read in public transcriptions). Arrows are
// followed, with the sample size of the plan they end at. AQLs beyond 6.5 % are
// counts per hundred items and are not in it.
func PlanForLetter(letter, aql string, s Inspection) (Plan, error) {
	row := strings.Index(letters, letter)
	column := aqlIndex(aql)
	switch {
	case len(letter) != 1 || row < 0:
		return Plan{}, bad("code", "unknown_code", "the code letters are %s, not %q", letters, letter)
	case column < 0:
		return Plan{}, bad("aql", "unknown_aql", "AQL %q is not in the tables; they have %s", aql, strings.Join(AQLs(), " "))
	case s != NormalInspection && s != TightenedInspection && s != ReducedInspection:
		return Plan{}, bad("inspection", "unknown_inspection", "inspection is normal, tightened or reduced, not %q", string(s))
	}
	cells, shift := diagonal(s)
	first := len(AQLs()) - 1 - column + shift
	for used := row; used >= 0 && used < len(letters); {
		cell := up
		switch i := used - first; {
		case i < 0:
			cell = down
		case i < len(cells):
			cell = cells[i]
		}
		switch cell {
		case up:
			used--
		case down:
			used++
		default:
			return Plan{LotCode: letter, Code: letters[used : used+1], N: sampleSizes(s)[used], Ac: cell, Re: cell + 1}, nil
		}
	}
	return Plan{}, bad("aql", "no_plan", "the arrows lead out of the table for letter %s and AQL %s; choose another AQL", letter, aql)
}

// SinglePlan is the plan for a lot. A sample not smaller than the lot means that
// every item is inspected.
func SinglePlan(lot int, level, aql string, s Inspection) (Plan, error) {
	letter, err := CodeLetter(lot, level)
	if err != nil {
		return Plan{}, err
	}
	p, err := PlanForLetter(letter, aql, s)
	if err != nil {
		return Plan{}, err
	}
	return p.within(lot), nil
}

// ZeroPlan takes the sample size of the lot's own letter and accepts no bad item
// at all: the rule of this trade's audits for critical and major defects (common
// practice, no source).
func ZeroPlan(lot int, level string) (Plan, error) {
	letter, err := CodeLetter(lot, level)
	if err != nil {
		return Plan{}, err
	}
	n := sampleSizes(NormalInspection)[strings.Index(letters, letter)]
	return Plan{LotCode: letter, Code: letter, N: n, Re: 1}.within(lot), nil
}

func (p Plan) within(lot int) Plan {
	if p.N >= lot {
		p.N, p.All = lot, true
	}
	return p
}

// Acceptance is the probability that the plan accepts a large lot with the share
// bad (binomial).
func (p Plan) Acceptance(share float64) float64 {
	return distuv.Beta{Alpha: float64(p.Ac + 1), Beta: float64(p.N - p.Ac)}.Survival(share)
}

// QualityAccepted is the share of bad items at which the plan accepts with the
// probability accept: the other way round of Acceptance.
func (p Plan) QualityAccepted(accept float64) float64 {
	return crossing(0, 1, func(share float64) float64 { return accept - p.Acceptance(share) })
}

// FindAttributesPlan is the plan with the smallest sample that keeps both risks
// (binomial).
func FindAttributesPlan(producer, consumer RiskPoint) (Plan, error) {
	if err := checkRisks(producer, consumer); err != nil {
		return Plan{}, err
	}
	for ac, n := 0, 1; n <= 20_000; {
		p := Plan{N: n, Ac: ac, Re: ac + 1}
		switch {
		case n <= ac || p.Acceptance(consumer.Share) > consumer.Accept:
			n++
		case p.Acceptance(producer.Share) >= producer.Accept:
			return p, nil
		default:
			ac++
		}
	}
	return Plan{}, bad("risk", "no_plan", "no plan of up to 20 000 items tells these lots apart")
}

// Detection is the probability that n drawn from a lot show at least one of its
// bad items (hypergeometric).
func Detection(lot, n, defective int) (float64, error) {
	if lot < 1 || n < 0 || n > lot || defective < 0 || defective > lot {
		return 0, bad("lot", CodeBadValue, "sample and bad items must lie within the lot")
	}
	if defective == 0 || n == 0 {
		return 0, nil
	}
	if defective > lot-n {
		return 1, nil
	}
	var miss float64
	n, defective = max(n, defective), min(n, defective) // the odds are the same both ways round
	for i := range defective {
		miss += math.Log1p(-float64(n) / float64(lot-i))
	}
	return -math.Expm1(miss), nil
}

// Discovery is the smallest sample that shows at least one of the bad items of a
// lot with the confidence, accepting on zero; and the probability it reaches.
func Discovery(lot, defective int, confidence float64) (n int, reached float64, err error) {
	if defective < 1 || defective > lot {
		return 0, 0, bad("defective", CodeBadValue, "bad items must lie between 1 and the lot")
	}
	if !between01(confidence) {
		return 0, 0, bad("confidence", CodeBadValue, "the confidence lies between 0 and 1")
	}
	lo, hi := 0, lot
	for hi-lo > 1 {
		mid := lo + (hi-lo)/2
		p, err := Detection(lot, mid, defective)
		if err != nil {
			return 0, 0, err
		}
		// 0.95 itself must count as reached whatever its last bit.
		if p >= confidence-1e-12 {
			hi = mid
		} else {
			lo = mid
		}
	}
	reached, err = Detection(lot, hi, defective)
	return hi, reached, err
}

// ZeroFailures is the number of items without a failure that proves, with the
// confidence, that at least the share reliability of a large lot is good.
func ZeroFailures(reliability, confidence float64) (int, error) {
	if !between01(reliability) || !between01(confidence) {
		return 0, bad("confidence", CodeBadValue, "reliability and confidence lie between 0 and 1")
	}
	return int(math.Ceil(math.Log1p(-confidence) / math.Log(reliability))), nil
}

// UpperShare is the one-sided Clopper–Pearson bound: with the confidence, no
// more than this share of a large lot is bad when found of n drawn were.
func UpperShare(n, found int, confidence float64) (float64, error) {
	if n < 1 || found < 0 || found > n || !between01(confidence) {
		return 0, bad("found", CodeBadValue, "found must lie between 0 and the sample, the confidence between 0 and 1")
	}
	if found == n {
		return 1, nil
	}
	d := distuv.Beta{Alpha: float64(found + 1), Beta: float64(n - found)}
	return crossing(0, 1, func(p float64) float64 { return d.CDF(p) - confidence }), nil
}
