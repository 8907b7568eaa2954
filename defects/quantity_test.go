package defects

import (
	"encoding/csv"
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestQuantitiesAreThoseOfTheAgreedTable(t *testing.T) {
	t.Parallel()
	f, err := os.Open("testdata/quantities.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	list := Quantities()
	require.Len(t, list, len(rows)-1)
	for i, row := range rows[1:] {
		q := list[i]
		require.Equal(t, row, []string{
			q.Name, q.Unit, string(q.Needs), q.Meaning, q.PlausibleMin.String(), q.PlausibleMax.String(),
		})
		found, ok := QuantityByName(q.Name)
		require.True(t, ok)
		require.Equal(t, q, found)
	}
	_, ok := QuantityByName("mood")
	require.False(t, ok)
}

func TestAWrongUnitIsRefusedAndNeverConverted(t *testing.T) {
	t.Parallel()
	q, _ := QuantityByName("pull_out_load")
	require.NoError(t, CheckUnit(q, "kN"))
	for _, unit := range []string{"N", "kn", "KN", "", "kN ", "mm"} {
		err := CheckUnit(q, unit)
		var refused *Error
		require.True(t, errors.As(err, &refused), unit)
		require.Equal(t, "wrong_unit", refused.Code)
		require.Equal(t, "unit", refused.Field)
		require.Contains(t, refused.Text, "kN")
	}
}

// Typed slips of job J28: the question names what may have been meant, and the
// value itself stays as it was typed.
func TestAnImplausibleValueIsAskedAbout(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ quantity, value, suggestion, unit, says string }{
		{"pull_out_load", "920", "0.92", "kN", "920 N"},
		{"joint_width_bed", "102", "10.2", "mm", "10.2 mm"},
		{"joint_width_perpend", "105", "10.5", "mm", "10.5 mm"},
		{"base_coat_depth_wet", "55", "5.5", "mm", "5.5 mm"},
	} {
		q, ok := QuantityByName(c.quantity)
		require.True(t, ok)
		d := Plausible(q, MustDecimal(c.value))
		require.NotNil(t, d, c.quantity)
		require.Equal(t, "implausible", d.Code)
		require.NotNil(t, d.Suggestion)
		require.Equal(t, c.suggestion, d.Suggestion.String())
		require.Equal(t, c.unit, d.SuggestedUnit)
		require.Contains(t, d.Question, c.says)
		require.Contains(t, d.Question, c.value+" "+q.Unit)
		require.ErrorIs(t, d.AsError("value"), Question)
	}
}

func TestPlausibleBoundsAreTakenWithoutAQuestion(t *testing.T) {
	t.Parallel()
	for _, q := range Quantities() {
		require.Nil(t, Plausible(q, q.PlausibleMin), q.Name)
		require.Nil(t, Plausible(q, q.PlausibleMax), q.Name)
		require.NotNil(t, Plausible(q, q.PlausibleMax.Add(MustDecimal("0.001"))), q.Name)
		require.NotNil(t, Plausible(q, q.PlausibleMin.Sub(MustDecimal("0.001"))), q.Name)
	}
}

func TestAGuessIsMadeOnlyWhenItIsPlausibleItself(t *testing.T) {
	t.Parallel()
	q, _ := QuantityByName("joint_width_bed")
	d := Plausible(q, MustDecimal("99999"))
	require.NotNil(t, d)
	require.Nil(t, d.Suggestion)
	require.Empty(t, d.SuggestedUnit)
}
