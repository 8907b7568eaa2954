package defects

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// toleranceVector is one entry of testdata/vectors/tolerance-vectors.json; it
// names its own source.
type toleranceVector struct {
	ID       string                     `json:"id"`
	Inputs   map[string]json.RawMessage `json:"inputs"`
	Expected json.RawMessage            `json:"expected"`
	Within   float64                    `json:"tolerance"`
	Source   string                     `json:"source"`
	Known    string                     `json:"read_or_memory"`
}

func (v toleranceVector) String() string { return v.ID + ": " + v.Source + " [" + v.Known + "]" }

func toleranceVectors(t *testing.T, prefix string) []toleranceVector {
	t.Helper()
	text, err := os.ReadFile("../testdata/vectors/tolerance-vectors.json")
	require.NoError(t, err)
	var all, list []toleranceVector
	require.NoError(t, json.Unmarshal(text, &all))
	for _, v := range all {
		if strings.HasPrefix(v.ID, prefix) {
			list = append(list, v)
		}
	}
	require.NotEmpty(t, list, prefix)
	return list
}

func (v toleranceVector) decimal(t *testing.T, name string) Decimal {
	t.Helper()
	d, err := ParseDecimal(string(v.Inputs[name]))
	require.NoError(t, err, "%s: %s", v, name)
	return d
}

func (v toleranceVector) input(t *testing.T, name string, into any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(v.Inputs[name], into), "%s: %s", v, name)
}

func (v toleranceVector) expect(t *testing.T, into any) {
	t.Helper()
	require.NoError(t, json.Unmarshal(v.Expected, into), "%s", v)
}
