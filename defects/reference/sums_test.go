package reference_test

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

var update = flag.Bool("update", false, "write golden files anew")

// checkSums holds every built-in schedule to the digest it was published with.
// A changed figure is a new file with the next version, never a new digest.
func checkSums(t *testing.T) {
	t.Helper()
	const golden = "testdata/schedules.sha256"
	var lines strings.Builder
	for _, s := range reference.Schedules() {
		text, err := reference.EncodeSchedule(s)
		require.NoError(t, err)
		fmt.Fprintf(&lines, "%x  %s\n", sha256.Sum256(text), defects.ScheduleRef(s))
	}
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(golden, []byte(lines.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), lines.String())
}
