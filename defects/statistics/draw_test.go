package statistics_test

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/statistics"
)

// Job J11: 64 elevations, level II, letter E, 13; an invented site.
func osierClose() []statistics.Item {
	lot := statistics.Numbered(64)
	for i := range lot {
		lot[i].Stratum = fmt.Sprintf("gang %d", 1+i*4/64)
	}
	lot[63].Stratum, lot[47].Stratum = "gang 4", "gang 4"
	return lot
}

func TestAnAuditDrawIsTheSameOnEveryMachine(t *testing.T) {
	t.Parallel()
	plan, err := statistics.ZeroPlan(64, "II")
	require.NoError(t, err)
	require.Equal(t, statistics.Plan{LotCode: "E", Code: "E", N: 13, Ac: 0, Re: 1}, plan)
	drawn, err := statistics.Draw("2026-05-04 Osier Close", statistics.Numbered(64), plan.N, "7", "9")
	require.NoError(t, err)
	var ids []string
	for _, it := range drawn.Sample {
		ids = append(ids, it.ID)
	}
	// for i in $(seq 64); do printf '%s  %s\n' "$(printf 'SEED\n%s' $i | sha256sum | cut -c1-64)" $i; done | sort | head -13
	require.Equal(t, sha256sumDraw, strings.Join(ids, " "))
	require.Len(t, drawn.Risk, 2)

	more, err := statistics.Draw("2026-05-04 Osier Close", statistics.Numbered(64), 20)
	require.NoError(t, err)
	require.Equal(t, drawn.Sample, more.Sample[:13], "a larger draw keeps the smaller one")
	other, err := statistics.Draw("another seed", statistics.Numbered(64), 13)
	require.NoError(t, err)
	require.NotEqual(t, drawn.Sample, other.Sample)
}

// What 13 of 64 can miss: 76, 50 and 20 % (DOMAIN's job J11, computed).
func TestTheDrawSaysWhatItCanMiss(t *testing.T) {
	t.Parallel()
	for defective, want := range map[int]float64{6: 0.76, 3: 0.50, 1: 0.20} {
		p, err := statistics.Detection(64, 13, defective)
		require.NoError(t, err)
		require.InDelta(t, want, p, 0.006)
	}
}

func TestStrataAreAllRepresentedInProportion(t *testing.T) {
	t.Parallel()
	lot := osierClose()
	drawn, err := statistics.Draw("s", lot, 13)
	require.NoError(t, err)
	count := map[string]int{}
	for _, it := range drawn.Sample {
		count[it.Stratum]++
	}
	require.Equal(t, map[string]int{"gang 1": 3, "gang 2": 3, "gang 3": 3, "gang 4": 4}, count)
	require.Len(t, statistics.Extend(lot, "gang 4"), 17)
	require.Empty(t, statistics.Extend(lot, "gang 9"))

	small := append(statistics.Numbered(97), statistics.Item{ID: "a", Stratum: "a"}, statistics.Item{ID: "b", Stratum: "b"},
		statistics.Item{ID: "c", Stratum: "c"})
	drawn, err = statistics.Draw("s", small, 4)
	require.NoError(t, err)
	require.Len(t, drawn.Sample, 4)
	for _, id := range []string{"a", "b", "c"} {
		require.True(t, slices.ContainsFunc(drawn.Sample, func(it statistics.Item) bool { return it.ID == id }))
	}
	for n := range 101 {
		drawn, err = statistics.Draw("s", small, n)
		require.NoError(t, err)
		require.Len(t, drawn.Sample, n)
		seen := map[string]bool{}
		for _, it := range drawn.Sample {
			require.False(t, seen[it.ID])
			seen[it.ID] = true
		}
	}
}

// With fair hashing each of 20 items is drawn 5 of 20 times as often as not;
// 4 standard deviations over 4000 seeds.
func TestEachItemIsDrawnEquallyOften(t *testing.T) {
	t.Parallel()
	count := map[string]int{}
	for i := range 4000 {
		drawn, err := statistics.Draw(fmt.Sprintf("%x", sha256.Sum256([]byte{byte(i), byte(i >> 8)})), statistics.Numbered(20), 5)
		require.NoError(t, err)
		for _, it := range drawn.Sample {
			count[it.ID]++
		}
	}
	for id, n := range count {
		require.InDelta(t, 1000, n, 4*27.4, id)
	}
	require.Len(t, count, 20)
}

func TestADrawRefusesWhatWouldBeGuessed(t *testing.T) {
	t.Parallel()
	lot := statistics.Numbered(5)
	for code, f := range map[string]func() (statistics.Drawn, error){
		"bad_seed":              func() (statistics.Drawn, error) { return statistics.Draw("a\nb", lot, 1) },
		statistics.CodeBadValue: func() (statistics.Drawn, error) { return statistics.Draw("s", lot, 6) },
		"duplicate_item":        func() (statistics.Drawn, error) { return statistics.Draw("s", append(lot, lot[0]), 2) },
		"unknown_item":          func() (statistics.Drawn, error) { return statistics.Draw("s", lot, 2, "99") },
	} {
		_, err := f()
		refusedWith(t, code, err)
	}
	none, err := statistics.Draw("s", nil, 0)
	require.NoError(t, err)
	require.Empty(t, none.Sample)
}

// sha256sumDraw is what sha256sum and sort make of it.
const sha256sumDraw = "20 37 50 32 47 31 22 39 53 21 56 40 28"
