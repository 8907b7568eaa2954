package modelstest

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/models"
)

// Option changes how a test's store is opened.
type Option func(*models.Config)

// Observe tells fn every statement the store runs.
func Observe(fn func(sql string)) Option {
	return func(c *models.Config) { c.Observe = fn }
}

// Open gives an empty, migrated SQLite store in a file of its own. It is closed
// when the test ends.
func Open(t testing.TB, options ...Option) *models.Store {
	t.Helper()
	path := filepath.Join(t.TempDir(), "storeyrod.db")
	content, err := emptyFile()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, content, 0o600))
	return open(t, models.Config{Path: path}, options)
}

// Each runs fn as a subtest on SQLite and on PostgreSQL. Every call of open
// gives another empty store, closed when the subtest ends. Without a PostgreSQL
// package that subtest is skipped, but fails when CI=true.
func Each(t *testing.T, fn func(t *testing.T, open func(...Option) *models.Store)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) {
		t.Parallel()
		fn(t, func(o ...Option) *models.Store { return Open(t, o...) })
	})
	t.Run("postgres", func(t *testing.T) {
		t.Parallel()
		fn(t, func(o ...Option) *models.Store { return OpenPostgres(t, o...) })
	})
}

func open(t testing.TB, c models.Config, options []Option) *models.Store {
	t.Helper()
	for _, o := range options {
		o(&c)
	}
	s, err := models.Open(context.Background(), c)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// emptyFile is a migrated database's bytes, made once per test program: copying
// them is faster than migrating for every test.
var emptyFile = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "storeyrod-empty")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "empty.db")
	s, err := models.Open(context.Background(), models.Config{Path: path})
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})
