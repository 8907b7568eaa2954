package cli_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

const demoName = "Larkrow Court (invented)"

// listed is what an exported list says, as far as these tests look.
type listed struct {
	Building  string
	Elevation string
	Invented  bool           `json:"invented_data"`
	ByState   map[string]int `json:"by_state"`
	Snags     []struct {
		Number, Walk, Round    int
		State, Severity, Place string
	}
}

func TestDemoShowsTheWholeJob(t *testing.T) {
	t.Parallel()
	data := filepath.Join(t.TempDir(), "demo")
	require.Contains(t, must(t, "demo", "--no-serve", "--data", data), "site: "+demoName+"\n")

	var lists []listed
	export := []string{"export", "snags", "--site", demoName, "--data", data, "--format"}
	require.NoError(t, json.Unmarshal([]byte(must(t, append(export, "json")...)), &lists))
	states, blocks := map[string]int{}, map[string]bool{}
	total, severities, secondRound := 0, map[string]int{}, 0
	for _, l := range lists {
		require.True(t, l.Invented, "the data is said to be invented")
		blocks[l.Building] = true
		for i, s := range l.Snags {
			require.Equal(t, i+1, s.Walk)
			states[s.State]++
			severities[s.Severity]++
			total++
			if s.Round > 1 {
				secondRound++
			}
		}
	}
	require.Len(t, blocks, 3, "three terraces")
	for _, s := range defects.States() {
		require.Positive(t, states[string(s)], s)
	}
	for _, s := range defects.Severities() {
		require.Positive(t, severities[string(s)], s)
	}
	require.Positive(t, secondRound)

	rows, err := csv.NewReader(strings.NewReader(must(t, append(export, "csv")...))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, total+1, "the same snags in every form")
	var map_ struct{ Features []json.RawMessage }
	require.NoError(t, json.Unmarshal([]byte(must(t, append(export, "geojson")...)), &map_))
	require.Len(t, map_.Features, total)

	require.GreaterOrEqual(t, wholeOriginals(t, data), 60, "photos")
	require.Contains(t, must(t, "demo", "--no-serve", "--data", data), "site: "+demoName, "what is there is left as it is")
	t.Run("over the server", func(t *testing.T) { sameOverTheServer(t, data) })
}

// sameOverTheServer holds that a server gives what the folder gives, and takes
// in what the folder takes in.
func sameOverTheServer(t *testing.T, data string) {
	out, err := program(t, "user", "token", "clerk", "--label", "test", "--data", data).Output()
	require.NoError(t, err)
	token := strings.TrimSpace(string(out))
	s := serve(t, data)
	remote := []string{"--site", demoName, "--server", s.base, "--token", token}
	local := []string{"--site", demoName, "--data", data}
	for _, more := range [][]string{
		{"--format", "csv"},
		{"--format", "geojson"},
		{"--format", "csv", "--open"},
		{"--format", "csv", "--elevation", "Larkrow Terrace / South"},
	} {
		verb := append([]string{"export", "snags"}, more...)
		require.Equal(t, must(t, append(verb, local...)...), must(t, append(verb, remote...)...), "%v", more)
	}

	photo := []string{"import", "photos", "../testdata/photos/bep/sunrise.jpg"}
	require.Contains(t, must(t, append(photo, remote...)...), "taken         1 photos")
	require.Contains(t, must(t, append(photo, remote...)...), "known         1")

	table := filepath.Join(t.TempDir(), "r.csv")
	require.NoError(t, os.WriteFile(table, []byte("quantity,value,unit,elevation\nmesh_lap,120,mm,Larkrow Terrace / South\nmesh_lap,12,cm,Larkrow Terrace / South\n"), 0o600))
	text, err := program(t, append([]string{"import", "readings", table}, remote...)...).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(text), "taken         1 readings")
	require.Contains(t, string(text), "row 3: unit: ")
	require.Contains(t, string(text), "[wrong_unit]")

	plan := filepath.Join(t.TempDir(), "f.geojson")
	require.NoError(t, os.WriteFile(plan, []byte(footprint), 0o600))
	require.Contains(t, must(t, append([]string{"import", "buildings", plan}, remote...)...), "taken         1 buildings")

	refused, err := program(t, "export", "snags", "--site", demoName, "--server", s.base, "--token", "wrong").CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(refused), "[bad_token]")
	s.stop(t)
}

func TestDemoLeavesAnotherInstanceAlone(t *testing.T) {
	t.Parallel()
	data := quarry(t)
	out, err := program(t, "demo", "--no-serve", "--data", data).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "[data_in_use]")
	require.NotContains(t, must(t, "user", "list", "--data", data), "clerk", fmt.Sprint("nothing was added to ", data))
}
