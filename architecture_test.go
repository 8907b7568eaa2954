package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "storeyrod"

// rule says what the non-test files of one package may import.
type rule struct {
	ours   []string // packages of this project, by folder
	others []string // third-party modules, by prefix
	stdNot []string // standard packages refused, by prefix; std "only" overrides
	std    []string // when set, the only standard packages allowed
}

// law is the import graph of the project. A new package is a new line here and
// a line of reason in DEVELOPERS.md.
var law = map[string]rule{
	".": {ours: []string{"cli"}},
	"defects": {std: []string{
		"cmp", "errors", "fmt", "iter", "maps", "math", "math/bits", "slices", "strconv", "strings",
		"time", "unicode", "unicode/utf8",
	}},
	"defects/reference": {
		ours:   []string{"defects"},
		stdNot: []string{"net", "database/sql", "os", "html/template"},
	},
	"defects/statistics": {
		ours:   []string{"defects"},
		others: []string{"gonum.org/v1/gonum"},
		std:    []string{"bytes", "cmp", "crypto/sha256", "fmt", "math", "math/big", "math/bits", "slices", "strings", "time"},
	},
	"defects/register": {
		ours:   []string{"defects", "defects/reference", "defects/statistics", "evidence", "imaging"},
		stdNot: []string{"net", "database/sql", "os", "html/template"},
	},
	"imaging": {
		ours: []string{"defects", "imaging/jpeg", "imaging/hevc"},
		others: []string{
			"github.com/bep/imagemeta", "github.com/disintegration/imaging", "golang.org/x/image",
			"golang.org/x/sync/semaphore",
		},
		stdNot: []string{"net", "database/sql", "os"},
	},
	"imaging/jpeg": {std: []string{"context", "encoding/binary", "errors", "fmt", "image", "io", "math", "math/bits"}},
	"imaging/hevc": {
		others: []string{"github.com/tetratelabs/wazero"},
		stdNot: []string{"net", "database/sql", "os"},
	},
	// flock: a lock on a part that ends with its process, on every system.
	"evidence":              {others: []string{"github.com/gofrs/flock"}, stdNot: []string{"net", "database/sql", "image"}},
	"evidence/evidencetest": {ours: []string{"evidence"}, others: []string{"github.com/stretchr/testify"}, stdNot: []string{"net", "database/sql"}},
	"report":                {ours: []string{"defects", "defects/statistics"}, stdNot: []string{"net/http", "database/sql", "os"}},
	"web":                   {stdNot: []string{"database/sql", "os"}},
	"migrations": {
		others: []string{"github.com/pressly/goose/v3"},
		stdNot: []string{"net", "html/template"},
	},
	"models": {
		ours: []string{"defects", "defects/register", "evidence", "migrations"},
		others: []string{
			"gorm.io/gorm", "gorm.io/driver/postgres", "github.com/libtnb/sqlite", "github.com/jackc/pgx/v5",
			"modernc.org/sqlite", "github.com/gofrs/flock",
		},
		stdNot: []string{"net/http", "html/template"},
	},
	"models/modelstest": {
		ours:   []string{"models"},
		others: []string{"github.com/stretchr/testify", "github.com/jackc/pgx/v5"},
	},
	"server": {
		ours: []string{"defects", "defects/reference", "defects/register", "defects/statistics", "evidence", "report", "web"},
		others: []string{
			"github.com/gin-gonic/gin", "github.com/danielgtaylor/huma/v2", "github.com/prometheus/client_golang",
		},
		stdNot: []string{"database/sql", "os/exec"},
	},
	"cli": {
		ours: []string{
			"defects", "defects/reference", "defects/register", "defects/statistics", "evidence", "imaging", "imaging/hevc",
			"migrations", "models", "report", "server", "web",
		},
		others: []string{
			"github.com/spf13/cobra", "github.com/google/uuid",
			"github.com/alexedwards/argon2id", "golang.org/x/sync/errgroup", "github.com/gofrs/flock",
		},
		stdNot: []string{"database/sql"},
	},
}

func TestImportsFollowTheLaw(t *testing.T) {
	t.Parallel()
	for dir, files := range goFiles(t) {
		r, known := law[dir]
		if !known {
			t.Errorf("package %s is not in the law of architecture_test.go", dir)
			continue
		}
		for _, file := range files {
			for _, path := range imports(t, file) {
				if why := r.refuses(path); why != "" {
					t.Errorf("%s imports %q: %s", file, path, why)
				}
			}
		}
	}
}

func TestEveryPackageSaysWhatItOwns(t *testing.T) {
	t.Parallel()
	for dir := range goFiles(t) {
		if dir == "." {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, "doc.go"))
		require.NoError(t, err, "package %s has no doc.go", dir)
		prose := strings.Join(strings.Fields(strings.ReplaceAll(string(text), "//", " ")), " ")
		require.Regexp(t, "must (not import|import nothing)", prose, "doc.go of %s does not say what it must not import", dir)
	}
}

func TestLawCatchesPlantedViolations(t *testing.T) {
	t.Parallel()
	for _, planted := range []struct{ dir, path string }{
		{"defects", "context"},
		{"defects", "encoding/json"},
		{"defects", "storeyrod/models"},
		{"defects", "gonum.org/v1/gonum/mathext"},
		{"defects/statistics", "os"},
		{"defects/register", "net/http"},
		{"server", "storeyrod/models"},
		{"server", "gorm.io/gorm"},
		{"report", "github.com/gin-gonic/gin"},
		{"imaging/jpeg", "image/jpeg"},
		{"imaging/hevc", "os/exec"},
		{"evidence", "database/sql"},
		{"models", "github.com/gin-gonic/gin"},
	} {
		require.NotEmpty(t, law[planted.dir].refuses(planted.path), "%s → %s", planted.dir, planted.path)
	}
}

// refuses says why the import is against the rule, or nothing.
func (r rule) refuses(path string) string {
	switch {
	case path == module || strings.HasPrefix(path, module+"/"):
		if !slices.Contains(r.ours, strings.TrimPrefix(strings.TrimPrefix(path, module), "/")) {
			return "imports go one way; see the law in architecture_test.go"
		}
	case strings.Contains(strings.Split(path, "/")[0], "."):
		if !slices.ContainsFunc(r.others, func(p string) bool { return under(path, p) }) {
			return "this third-party package is not for this layer"
		}
	case r.std != nil:
		if !slices.Contains(r.std, path) {
			return "only the pure standard packages are allowed here"
		}
	default:
		if slices.ContainsFunc(r.stdNot, func(p string) bool { return under(path, p) }) {
			return "this standard package is not for this layer"
		}
	}
	return ""
}

func under(path, prefix string) bool { return path == prefix || strings.HasPrefix(path, prefix+"/") }

// goFiles lists the non-test Go files by folder, testdata left out.
func goFiles(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || d.Name() == "node_modules" || (path != "." && strings.HasPrefix(d.Name(), "."))) {
			return filepath.SkipDir
		}
		if strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			dir := filepath.ToSlash(filepath.Dir(path))
			found[dir] = append(found[dir], path)
		}
		return nil
	})
	require.NoError(t, err)
	return found
}

func imports(t *testing.T, file string) []string {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
	require.NoError(t, err)
	var paths []string
	for _, spec := range parsed.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		paths = append(paths, path)
	}
	return paths
}
