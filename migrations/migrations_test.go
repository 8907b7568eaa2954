package migrations_test

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	_ "github.com/jackc/pgx/v5/stdlib" // driver "pgx"
	"github.com/stretchr/testify/require"
	_ "modernc.org/sqlite" // driver "sqlite"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/migrations"
	"storeyrod/models/modelstest"
)

func names(t *testing.T, d migrations.Dialect) []string {
	t.Helper()
	files, err := migrations.Files(d)
	require.NoError(t, err)
	list, err := fs.Glob(files, "*.sql")
	require.NoError(t, err)
	return list
}

func TestNumbersAreDenseAndEqualInBothDialects(t *testing.T) {
	t.Parallel()
	lite := names(t, migrations.SQLite)
	require.Equal(t, lite, names(t, migrations.Postgres))
	require.NotEmpty(t, lite)
	for i, name := range lite {
		number, err := strconv.Atoi(name[:5])
		require.NoError(t, err, name)
		require.Equal(t, i+1, number, name)
	}
}

func TestUpDownUpLeavesTheSameSchema(t *testing.T) {
	t.Parallel()
	t.Run("sqlite", func(t *testing.T) {
		t.Parallel()
		db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "a.db")+"?_pragma=foreign_keys(1)")
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, db.Close()) })
		db.SetMaxOpenConns(1)
		upDownUp(t, db, migrations.SQLite, sqliteSchema)
	})
	t.Run("postgres", func(t *testing.T) {
		t.Parallel()
		db, err := sql.Open("pgx", modelstest.PostgresURL(t))
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, db.Close()) })
		upDownUp(t, db, migrations.Postgres, postgresSchema...)
	})
}

func upDownUp(t *testing.T, db *sql.DB, d migrations.Dialect, queries ...string) {
	t.Helper()
	ctx := context.Background()
	_, err := migrations.Up(ctx, db, d)
	require.NoError(t, err)
	first := schema(t, db, queries)
	require.Greater(t, len(first), 20)

	require.NoError(t, migrations.DownTo(ctx, db, d, 0))
	for _, line := range schema(t, db, queries) {
		require.Contains(t, line, "goose", "left behind by the way down")
	}
	status, err := migrations.Status(ctx, db, d)
	require.NoError(t, err)
	require.Len(t, status, len(names(t, d)))
	require.False(t, slices.ContainsFunc(status, func(s migrations.State) bool { return s.Applied }))

	n, err := migrations.Up(ctx, db, d)
	require.NoError(t, err)
	require.Equal(t, len(status), n)
	require.Equal(t, first, schema(t, db, queries))
}

const sqliteSchema = `SELECT type || ' ' || name || ' on ' || tbl_name || ': ' || COALESCE(sql, '')
	FROM sqlite_master WHERE name <> 'sqlite_sequence' ORDER BY 1`

var postgresSchema = []string{
	`SELECT table_name || '.' || column_name || ' ' || data_type || ' ' || is_nullable || ' ' || COALESCE(collation_name, '')
		|| ' ' || ordinal_position FROM information_schema.columns WHERE table_schema = 'public' ORDER BY 1`,
	`SELECT conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) FROM pg_constraint
		WHERE connamespace = 'public'::regnamespace ORDER BY 1`,
	`SELECT indexdef FROM pg_indexes WHERE schemaname = 'public' ORDER BY 1`,
	`SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1`,
	`SELECT proname || prosrc FROM pg_proc WHERE pronamespace = 'public'::regnamespace ORDER BY 1`,
}

func schema(t *testing.T, db *sql.DB, queries []string) []string {
	t.Helper()
	var lines []string
	for _, q := range queries {
		rows, err := db.Query(q)
		require.NoError(t, err)
		for rows.Next() {
			var line string
			require.NoError(t, rows.Scan(&line))
			lines = append(lines, line)
		}
		require.NoError(t, rows.Err())
		require.NoError(t, rows.Close())
	}
	return lines
}

func TestDownWithDataGoesThrough(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "a.db")+"?_pragma=foreign_keys(1)")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	db.SetMaxOpenConns(1)
	_, err = migrations.Up(ctx, db, migrations.SQLite)
	require.NoError(t, err)
	for _, q := range []string{
		"INSERT INTO sites VALUES ('s', 'Quarry Terrace', 'Etc/UTC', 0, 'simple', '0', '', '', 0, 1, NULL, NULL, '')",
		"INSERT INTO counters VALUES ('s', 's', 0, 0)",
		"INSERT INTO log VALUES ('s', 1, 0, 'site.made', 'site', 's', 0, 'a', x'00')",
	} {
		_, err = db.Exec(q)
		require.NoError(t, err, q)
	}
	require.NoError(t, migrations.DownTo(ctx, db, migrations.SQLite, 0))
}

// TestClosedListsEqualTheChecks compares every list of package defects that the
// schema repeats; ” stands for "not stated" and is no member.
func TestClosedListsEqualTheChecks(t *testing.T) {
	t.Parallel()
	outcomes := words(defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail, defects.NoVerdict)
	zones := words(defects.Field, defects.Edge, defects.Ground)
	lists := map[string][]string{
		"snags_state_check":        words(defects.States()...),
		"snags_severity_check":     words(defects.Severities()...),
		"snags_ground_check":       words(defects.Grounds()...),
		"snags_extent_check":       words(defects.Single, defects.Several, defects.Pattern),
		"snags_zone_check":         zones,
		"photos_zone_check":        zones,
		"readings_zone_check":      zones,
		"sets_zone_check":          zones,
		"readings_outcome_check":   outcomes,
		"sets_outcome_check":       outcomes,
		"surveys_outcome_check":    outcomes,
		"photos_grade_check":       words(defects.GradeA, defects.GradeB, defects.GradeC, defects.GradeX),
		"photos_placed_by_check":   words(defects.PlacedProgram, defects.PlacedPerson),
		"sites_rule_check":         words(defects.Rules()...),
		"rejudgements_rule_check":  words(defects.Rules()...),
		"rejudgements_state_check": words(defects.RejudgeStates()...),
		"readings_trend_check":     words(defects.Rising, defects.Falling, defects.Steady),
		"sites_accuracy_check":     words(defects.Accuracy68, defects.Accuracy95),
		"memberships_role_check":   words(defects.Roles()...),
		"keys_kind_check":          words(defects.SessionKey, defects.TokenKey, defects.LinkKey),
		"uploads_state_check":      words(register.UploadStates()...),
		"milestones_kind_check":    words(defects.CoverUp, defects.Strike, defects.Completion),
		"releases_outcome_check": words(defects.Released, defects.ReleasedConditions, defects.ReleaseRefused,
			defects.LapsedAfterNotice),
	}
	for _, d := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		checks := checksOf(t, d)
		require.ElementsMatch(t, keysOf(lists), keysOf(checks), "a list that no check mirrors, or the reverse (%s)", d)
		for name, want := range lists {
			require.ElementsMatch(t, want, checks[name], "%s of %s", name, d)
		}
	}
}

func TestOpenIsWhatTheStateSays(t *testing.T) {
	t.Parallel()
	var final []string
	for _, s := range defects.States() {
		if !s.Open() {
			final = append(final, fmt.Sprintf("'%s'", s))
		}
	}
	want := "is_open = (state NOT IN (" + strings.Join(final, ", ") + "))"
	for _, d := range []migrations.Dialect{migrations.SQLite, migrations.Postgres} {
		require.Contains(t, text(t, d), want)
	}
}

func text(t *testing.T, d migrations.Dialect) string {
	t.Helper()
	files, err := migrations.Files(d)
	require.NoError(t, err)
	var b strings.Builder
	for _, name := range names(t, d) {
		content, err := fs.ReadFile(files, name)
		require.NoError(t, err)
		b.Write(content)
	}
	return b.String()
}

// checksOf finds "CONSTRAINT name CHECK (column IN ('a', 'b'))".
func checksOf(t *testing.T, d migrations.Dialect) map[string][]string {
	t.Helper()
	check := regexp.MustCompile(`CONSTRAINT (\w+) CHECK \(\w+ IN\s*\(('[^)]*)\)\)`)
	word := regexp.MustCompile(`'([^']*)'`)
	out := map[string][]string{}
	for _, m := range check.FindAllStringSubmatch(text(t, d), -1) {
		for _, w := range word.FindAllStringSubmatch(m[2], -1) {
			if w[1] != "" {
				out[m[1]] = append(out[m[1]], w[1])
			}
		}
	}
	return out
}

func words[S ~string](list ...S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

func keysOf(m map[string][]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}

// In a table WITHOUT ROWID the columns of the key lead, in their order. SQLite
// 3.40 and earlier misread NOT NULL columns before them: its integrity_check
// reports NULL values that are not there.
func TestKeysLeadInTablesWithoutRowid(t *testing.T) {
	t.Parallel()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(t.TempDir(), "a.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	db.SetMaxOpenConns(1)
	_, err = migrations.Up(t.Context(), db, migrations.SQLite)
	require.NoError(t, err)
	rows, err := db.QueryContext(t.Context(), `SELECT m.name, c.name, c.cid, c.pk FROM sqlite_master m, pragma_table_info(m.name) c
		WHERE m.type = 'table' AND m.sql LIKE '%WITHOUT ROWID%' AND c.pk > 0`)
	require.NoError(t, err)
	defer rows.Close()
	n := 0
	for ; rows.Next(); n++ {
		var table, column string
		var at, pk int
		require.NoError(t, rows.Scan(&table, &column, &at, &pk))
		require.Equal(t, pk-1, at, "%s.%s", table, column)
	}
	require.NoError(t, rows.Err())
	require.GreaterOrEqual(t, n, 7)
}
