package statistics_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/statistics"
)

func planOf(t *testing.T, v vector, p statistics.Plan) {
	t.Helper()
	var want []any
	require.NoError(t, json.Unmarshal(v.Expected, &want), v)
	require.Equal(t, want, []any{p.Code, float64(p.N), float64(p.Ac), float64(p.Re)}, "%s", v)
}

func TestCodeLetters(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-code-") {
		var in struct{ Lot int }
		var want map[string]string
		v.read(t, &in, &want)
		for level, code := range want {
			got, err := statistics.CodeLetter(in.Lot, level)
			require.NoError(t, err)
			require.Equal(t, code, got, "%s level %s", v, level)
		}
	}
	_, err := statistics.CodeLetter(0, "II")
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = statistics.CodeLetter(10, "S-1")
	refusedWith(t, "unknown_level", err)
}

func TestSinglePlansFollowTheArrows(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-plan-") {
		var in struct {
			AQL    json.Number
			Letter string `json:"code letter"`
		}
		require.NoError(t, json.Unmarshal(v.Inputs, &in))
		p, err := statistics.PlanForLetter(in.Letter, in.AQL.String(), statistics.NormalInspection)
		require.NoError(t, err)
		planOf(t, v, p)
	}
	for _, v := range methodVectors(t, "samp-e2e-") {
		var in struct {
			N                    int
			Level, Severity, AQL string
		}
		require.NoError(t, json.Unmarshal(v.Inputs, &in))
		p, err := statistics.SinglePlan(in.N, in.Level, in.AQL, statistics.Inspection(in.Severity))
		require.NoError(t, err)
		planOf(t, v, p)
	}
}

func TestReducedAndTightenedColumns(t *testing.T) {
	t.Parallel()
	v := methodVectors(t, "samp-reduced-4.0")[0]
	var in struct{ AQL, Letters string }
	var want []any
	v.read(t, &in, &want)
	sizes := []int{2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800}
	for i, letter := range in.Letters {
		j := i
		for want[j] == "down" || want[j] == "up" {
			if want[j] == "down" {
				j++
			} else {
				j--
			}
		}
		p, err := statistics.PlanForLetter(string(letter), in.AQL, statistics.ReducedInspection)
		require.NoError(t, err)
		require.Equal(t, want[j], []any{float64(p.Ac), float64(p.Re)}, "%s letter %c", v, letter)
		require.Equal(t, sizes[j], p.N)
		require.Equal(t, in.Letters[j:j+1], p.Code)
		require.Equal(t, string(letter), p.LotCode)
	}
	// An arrow past the last letter has no plan (tightened, AQL 0.015, letter R).
	_, err := statistics.PlanForLetter("R", "0.015", statistics.TightenedInspection)
	refusedWith(t, "no_plan", err)
}

func TestEveryCellOfTheTablesEndsAtAPlanOrARefusal(t *testing.T) {
	t.Parallel()
	for _, s := range []statistics.Inspection{statistics.NormalInspection, statistics.TightenedInspection, statistics.ReducedInspection} {
		for _, aql := range statistics.AQLs() {
			for _, letter := range "ABCDEFGHJKLMNPQR" {
				p, err := statistics.PlanForLetter(string(letter), aql, s)
				if err != nil {
					refusedWith(t, "no_plan", err)
					continue
				}
				require.Equal(t, p.Ac+1, p.Re)
				require.Greater(t, p.N, p.Ac)
			}
		}
	}
	_, err := statistics.PlanForLetter("I", "2.5", statistics.NormalInspection)
	refusedWith(t, "unknown_code", err)
	_, err = statistics.PlanForLetter("E", "2.6", statistics.NormalInspection)
	refusedWith(t, "unknown_aql", err)
	_, err = statistics.PlanForLetter("E", "2.5", "lax")
	refusedWith(t, "unknown_inspection", err)
	p, err := statistics.PlanForLetter("F", "2.50", statistics.NormalInspection)
	require.NoError(t, err)
	require.Equal(t, 20, p.N)
}

func TestOperatingCharacteristics(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-oc-") {
		var in struct {
			N, Ac int
			AQL   float64 `json:"AQL%"`
		}
		var want []float64
		v.read(t, &in, &want)
		p := statistics.Plan{N: in.N, Ac: in.Ac, Re: in.Ac + 1}
		require.InDelta(t, want[0], p.Acceptance(in.AQL/100), v.tol(t), "%s", v)
		require.InDelta(t, want[1], p.QualityAccepted(0.95), v.tol(t), "%s", v)
		require.InDelta(t, want[2], p.QualityAccepted(0.10), v.tol(t), "%s", v)
	}
	v := methodVectors(t, "samp-attr-findplan")[0]
	var in struct{ PRP, CRP [2]float64 }
	var want []int
	v.read(t, &in, &want)
	p, err := statistics.FindAttributesPlan(statistics.RiskPoint{Share: in.PRP[0], Accept: in.PRP[1]}, statistics.RiskPoint{Share: in.CRP[0], Accept: in.CRP[1]})
	require.NoError(t, err)
	require.Equal(t, want, []int{p.N, p.Ac}, "%s", v)
}

func TestDiscoverySizes(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-disc-") {
		var in struct {
			N, D       int
			Confidence float64
		}
		var want []float64
		v.read(t, &in, &want)
		n, reached, err := statistics.Discovery(in.N, in.D, in.Confidence)
		require.NoError(t, err)
		require.Equal(t, int(want[0]), n, "%s", v)
		require.InDelta(t, want[1], reached, v.tol(t), "%s", v)
	}
	for _, v := range computedVectors(t, "detection") {
		var in struct{ Lot, N, Defective int }
		var want float64
		v.read(t, &in, &want)
		p, err := statistics.Detection(in.Lot, in.N, in.Defective)
		require.NoError(t, err)
		require.InDelta(t, want, p, 1e-12, "%+v (%s)", in, v.Source)
	}
	for _, v := range methodVectors(t, "samp-zero-fail") {
		var in struct {
			Conf        float64
			Reliability []float64
		}
		var want []int
		v.read(t, &in, &want)
		for i, r := range in.Reliability {
			n, err := statistics.ZeroFailures(r, in.Conf)
			require.NoError(t, err)
			require.Equal(t, want[i], n, "%s", v)
		}
	}
	for _, v := range methodVectors(t, "samp-upper95") {
		var in struct{ N, Found []int }
		var want []float64
		v.read(t, &in, &want)
		for i := range in.N {
			p, err := statistics.UpperShare(in.N[i], in.Found[i], 0.95)
			require.NoError(t, err)
			require.InDelta(t, want[i], p, v.tol(t), "%s", v)
		}
	}
	for _, bad := range [][3]int{{0, 0, 0}, {5, 6, 1}, {5, 2, 6}, {5, -1, 1}} {
		_, err := statistics.Detection(bad[0], bad[1], bad[2])
		refusedWith(t, statistics.CodeBadValue, err)
	}
	whole, err := statistics.Detection(5, 5, 1)
	require.NoError(t, err)
	require.Equal(t, 1.0, whole)
	_, _, err = statistics.Discovery(5, 0, 0.95)
	refusedWith(t, statistics.CodeBadValue, err)
}

func TestAcceptanceByVariables(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-3951-1-ex16.2-") {
		var in struct {
			X    []json.Number
			L, U *float64
			N    int
			K    float64
		}
		var want []any
		v.read(t, &in, &want)
		sum, err := statistics.Summarise(exact(in.X))
		require.NoError(t, err)
		r, err := statistics.VariablesPlan{N: in.N, K: in.K}.AcceptByVariables(sum, statistics.Interval{Lower: in.L, Upper: in.U})
		require.NoError(t, err)
		q := r.QUpper
		if in.L != nil {
			q = r.QLower
		}
		require.InDelta(t, want[0], q, v.tol(t), "%s", v)
		require.Equal(t, want[2] == "accept", r.Accepted, "%s", v)
	}
	v := methodVectors(t, "samp-3951-1-ex17.2")[0]
	var in struct {
		X           []json.Number
		L, Sigma, K float64
	}
	var want []any
	v.read(t, &in, &want)
	sum, err := statistics.Summarise(exact(in.X))
	require.NoError(t, err)
	r, err := statistics.VariablesPlan{N: 11, K: in.K}.AcceptWithSigma(sum, in.Sigma, statistics.Interval{Lower: &in.L})
	require.NoError(t, err)
	require.InDelta(t, want[0], sum.Mean, v.tol(t), "%s", v)
	require.InDelta(t, want[1], in.L+in.K*in.Sigma, v.tol(t), "%s", v)
	require.False(t, r.Accepted)
}

func TestAcceptanceByVariablesRefusesAnotherSet(t *testing.T) {
	t.Parallel()
	plan := statistics.VariablesPlan{N: 3, K: 1}
	limit := statistics.Interval{Upper: ptr(5)}
	_, err := plan.AcceptByVariables(statistics.Summary{N: 2, Mean: 1, S: 1}, limit)
	refusedWith(t, statistics.CodeTooFew, err)
	_, err = plan.AcceptByVariables(statistics.Summary{N: 4, Mean: 1, S: 1}, limit)
	refusedWith(t, "too_many", err)
	_, err = plan.AcceptByVariables(statistics.Summary{N: 3, Mean: 1}, limit)
	refusedWith(t, statistics.CodeNoSpread, err)
	_, err = plan.AcceptByVariables(statistics.Summary{N: 3, Mean: 1, S: 1}, statistics.Interval{})
	refusedWith(t, statistics.CodeBadValue, err)
	_, err = plan.AcceptWithSigma(statistics.Summary{N: 3, Mean: 1, S: 1}, 0, limit)
	refusedWith(t, statistics.CodeBadValue, err)
}

func TestPlansByVariables(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-var-J-") {
		var in struct {
			N    int
			K, P float64
		}
		var want float64
		v.read(t, &in, &want)
		require.InDelta(t, want, statistics.VariablesPlan{N: in.N, K: in.K}.Acceptance(in.P), v.tol(t), "%s", v)
	}
	producer, consumer := statistics.RiskPoint{Share: 0.05, Accept: 0.95}, statistics.RiskPoint{Share: 0.15, Accept: 0.075}
	var in any
	var want []float64
	v := methodVectors(t, "samp-var-findplan")[0]
	v.read(t, &in, &want)
	p, err := statistics.FindVariablesPlan(producer, consumer)
	require.NoError(t, err)
	require.Equal(t, int(want[0]), p.N, "%s", v)
	// The published k misses the producer's 0.95 by 2e-6, so it is held to what that is worth in k.
	require.InDelta(t, want[1], p.K, 1e-5, "%s", v)
	require.InDelta(t, 0.95, p.Acceptance(0.05), 1e-9)
	v = methodVectors(t, "samp-var-findplan-pa")[0]
	var pa []float64
	v.read(t, &in, &pa)
	for i, share := range []float64{0.05, 0.15} {
		require.InDelta(t, pa[i], statistics.VariablesPlan{N: 49, K: 1.326538}.Acceptance(share), v.tol(t), "%s", v)
	}
	v = methodVectors(t, "samp-var-known")[0]
	v.read(t, &in, &want)
	p, err = statistics.FindSigmaPlan(producer, consumer)
	require.NoError(t, err)
	require.Equal(t, int(want[0]), p.N, "%s", v)
	require.InDelta(t, want[1], p.K, v.tol(t), "%s", v)
	_, err = statistics.FindVariablesPlan(consumer, producer)
	refusedWith(t, statistics.CodeBadValue, err)
}

func TestThePublicDomainVariablesTable(t *testing.T) {
	t.Parallel()
	for _, v := range methodVectors(t, "samp-414-AQL") {
		aql := strings.TrimPrefix(v.ID, "samp-414-AQL")
		var in any
		var want map[string]any
		v.read(t, &in, &want)
		for letter, cell := range want {
			p, err := statistics.MilitaryPlan(aql, letter[0])
			require.NoError(t, err)
			if _, arrow := cell.(string); arrow {
				cell = want["C"]
			}
			require.Equal(t, cell, []any{float64(p.N), p.K}, "%s letter %s", v, letter)
		}
	}
	for _, bad := range []struct {
		aql    string
		letter byte
	}{{"2.5", 'F'}, {"1.0", 'A'}, {"1.0", 'R'}} {
		_, err := statistics.MilitaryPlan(bad.aql, bad.letter)
		refusedWith(t, "no_plan", err)
	}
}
