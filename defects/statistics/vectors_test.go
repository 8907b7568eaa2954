package statistics_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// vector is one entry of testdata/vectors/method-vectors.json; it names its own
// source and tolerance.
type vector struct {
	ID        string          `json:"id"`
	Inputs    json.RawMessage `json:"inputs"`
	Expected  json.RawMessage `json:"expected"`
	Tolerance any             `json:"tolerance"`
	Source    string          `json:"source"`
	Known     string          `json:"read_or_memory_or_computed"`
}

func (v vector) String() string { return v.ID + ": " + v.Source + " [" + v.Known + "]" }

func (v vector) read(t *testing.T, inputs, expected any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(v.Inputs, inputs), v)
	require.NoError(t, json.Unmarshal(v.Expected, expected), v)
}

// tol is the vector's own tolerance.
func (v vector) tol(t *testing.T) float64 {
	t.Helper()
	switch x := v.Tolerance.(type) {
	case float64:
		return x
	case string:
		if x == "exact" {
			return 0
		}
		var f float64
		require.NoError(t, json.Unmarshal([]byte(x), &f), v)
		return f
	}
	t.Fatalf("%s has no tolerance", v)
	return 0
}

func methodVectors(t *testing.T, prefix string) []vector {
	t.Helper()
	text, err := os.ReadFile("../../testdata/vectors/method-vectors.json")
	require.NoError(t, err)
	var all, list []vector
	require.NoError(t, json.Unmarshal(text, &all))
	for _, v := range all {
		if strings.HasPrefix(v.ID, prefix) {
			list = append(list, v)
		}
	}
	require.NotEmpty(t, list, prefix)
	return list
}

// computed is one entry of testdata/vectors.json, written by vectors.py.
type computed struct {
	Kind     string          `json:"kind"`
	Inputs   json.RawMessage `json:"inputs"`
	Expected json.RawMessage `json:"expected"`
	Source   string          `json:"source"`
}

func computedVectors(t *testing.T, kind string) []computed {
	t.Helper()
	text, err := os.ReadFile("testdata/vectors.json")
	require.NoError(t, err)
	var all, list []computed
	require.NoError(t, json.Unmarshal(text, &all))
	for _, v := range all {
		if v.Kind == kind {
			list = append(list, v)
		}
	}
	require.NotEmpty(t, list, kind)
	return list
}

func (v computed) read(t *testing.T, inputs, expected any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(v.Inputs, inputs))
	require.NoError(t, json.Unmarshal(v.Expected, expected))
}

func decimals(texts ...string) []defects.Decimal {
	list := make([]defects.Decimal, len(texts))
	for i, s := range texts {
		list[i] = defects.MustDecimal(s)
	}
	return list
}

// exact takes JSON numbers digit by digit.
func exact(numbers []json.Number) []defects.Decimal {
	list := make([]defects.Decimal, len(numbers))
	for i, n := range numbers {
		list[i] = defects.MustDecimal(n.String())
	}
	return list
}

func ptr(f float64) *float64 { return &f }

// refusedWith asks for a coded refusal.
func refusedWith(t *testing.T, code string, err error) {
	t.Helper()
	var refused *defects.Error
	require.ErrorAs(t, err, &refused)
	require.Equal(t, code, refused.Code)
	require.NotEmpty(t, refused.Text)
}
