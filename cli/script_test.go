package cli_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
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

// scratch is a folder for what tests share, which no single one of them can
// take away.
var scratch string

// tidying gives all tests the scratch folder and takes it away at their end.
type tidying struct{ *testing.M }

func (m tidying) Run() int {
	var err error
	if scratch, err = os.MkdirTemp("", "storeyrod-tests"); err != nil {
		panic(err)
	}
	defer os.RemoveAll(scratch)
	return m.M.Run()
}

// builtProgram is the program as it is shipped. Tests that make whole processes
// work for a long time take it, as the race detector would slow those down
// fivefold; what happens inside one process is tried under it elsewhere.
var builtProgram = sync.OnceValues(func() (string, error) {
	file := filepath.Join(scratch, "storeyrod")
	if out, err := exec.Command("go", "build", "-o", file, "storeyrod").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build the program: %w: %s", err, out)
	}
	return file, nil
})

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
