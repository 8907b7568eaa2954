package cli_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"storeyrod/cli"
)

func TestMain(m *testing.M) {
	testscript.Main(tidying{m}, map[string]func(){
		"storeyrod": func() {
			os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv))
		},
	})
}

// tidying takes away what tests share, which no single one of them can.
type tidying struct{ *testing.M }

func (m tidying) Run() int {
	code := m.M.Run()
	if shared != "" {
		_ = os.RemoveAll(shared)
	}
	return code
}

// The scripts run the whole program, each in a folder of its own.
func TestVerbs(t *testing.T) {
	t.Parallel()
	data, err := filepath.Abs("../testdata")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("TESTDATA", data)
			return nil
		},
	})
}

// tool finds an outside program; only outside CI may its absence skip a test.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is needed under CI and is not installed", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return path
}
