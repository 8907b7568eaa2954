package statistics

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestAShortRunHasTheMeanAndSpreadOfAllItsDigits(t *testing.T) {
	t.Parallel()
	for name, texts := range map[string][]string{
		"as measured":            {"9.6", "9.8", "9.7", "10.1", "9.9"},
		"of differing places":    {"9.65", "9.8", "10", "-0.125"},
		"far apart":              {"-9000000.123456789", "8000000.5", "0"},
		"equal":                  {"7.30", "7.3", "7.300"},
		"large with small steps": {"1000000000.1", "1000000000.2", "1000000000.3"},
	} {
		var values []defects.Decimal
		for _, text := range texts {
			values = append(values, defects.MustDecimal(text))
		}
		want := momentsAbout(values[0].Nano(), values)
		mean, s := shortRun(values)
		require.InEpsilon(t, want.mean(), mean, 1e-14, name)
		if want.deviation() == 0 {
			require.Zero(t, s, name)
			continue
		}
		require.InEpsilon(t, want.deviation(), s, 1e-14, name)
	}
}
