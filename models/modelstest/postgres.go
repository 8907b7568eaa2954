package modelstest

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	_ "embed" // postgres.sh
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"storeyrod/models"
)

//go:embed postgres.sh
var script string

// notInstalled is the exit code of the script for a missing package.
const notInstalled = 69

// errNotInstalled says that there is no PostgreSQL on this machine.
var errNotInstalled = errors.New("PostgreSQL is not installed (Debian package postgresql)")

// server is the running server and its migrated database to copy from.
type server struct {
	address  string
	template string
	alive    io.WriteCloser // the script's standard input; collecting it as garbage would stop the server
}

// OpenPostgres gives an empty, migrated store in a PostgreSQL database of its
// own, dropped when the test ends.
func OpenPostgres(t testing.TB, options ...Option) *models.Store {
	t.Helper()
	return open(t, models.Config{URL: PostgresURL(t), Readers: 12}, options)
}

// PostgresURL gives the address of an empty, migrated database of its own,
// dropped when the test ends.
func PostgresURL(t testing.TB) string {
	t.Helper()
	s, err := running()
	if errors.Is(err, errNotInstalled) && os.Getenv("CI") != "true" {
		t.Skipf("not run on PostgreSQL: %v", err)
	}
	require.NoError(t, err)
	name := "test_" + strings.ToLower(rand.Text())
	require.NoError(t, s.run("CREATE DATABASE "+name+" TEMPLATE "+s.template))
	t.Cleanup(func() { require.NoError(t, s.run("DROP DATABASE "+name+" WITH (FORCE)")) })
	return s.database(name)
}

var running = sync.OnceValues(func() (*server, error) {
	s := &server{address: os.Getenv("STOREYROD_TEST_POSTGRES"), template: "template_" + strings.ToLower(rand.Text())}
	if s.address == "" {
		var err error
		if s.address, s.alive, err = start(); err != nil {
			return nil, err
		}
	}
	if err := s.run("CREATE DATABASE " + s.template); err != nil {
		return nil, err
	}
	m, err := models.Open(context.Background(), models.Config{URL: s.database(s.template)})
	if err != nil {
		return nil, err
	}
	return s, m.Close() // nobody may be connected to a database that is copied
})

// start runs the script. It stops the server when its standard input closes,
// which the system does for us when this program ends, however it ends.
func start() (address string, alive io.WriteCloser, err error) {
	cmd := exec.Command("sh", "-c", script)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		return "", nil, err
	}
	if alive, err = cmd.StdinPipe(); err != nil {
		return "", nil, err
	}
	if err := cmd.Start(); err != nil {
		return "", nil, err
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err == nil {
		return strings.TrimSpace(line), alive, nil
	}
	err = cmd.Wait()
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) && exit.ExitCode() == notInstalled {
		return "", nil, errNotInstalled
	}
	return "", nil, fmt.Errorf("start PostgreSQL: %w: %s", err, complaint.String())
}

func (s *server) database(name string) string {
	u, err := url.Parse(s.address)
	if err != nil {
		return s.address // the connection that follows tells what is wrong with it
	}
	u.Path = "/" + name
	return u.String()
}

func (s *server) run(statement string) error {
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.address)
	if err != nil {
		return fmt.Errorf("connect to the test server: %w", err)
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, statement); err != nil {
		return fmt.Errorf("%s: %w", statement, err)
	}
	return nil
}
