package models

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"storeyrod/defects/register"
)

// A table or column that is added must be held by records, or be named as one
// that none holds. The list of tables is held to the schema here; columns are
// read from the database itself.
func TestEveryTableIsHeldByRecordsOrNamedAsTransient(t *testing.T) {
	t.Parallel()
	s := openArchive(t)
	var tables []string
	require.NoError(t, s.read.gorm.Raw("SELECT name FROM sqlite_master WHERE type = 'table'").Scan(&tables).Error)
	require.Greater(t, len(tables), 15)
	place := map[string]int{}
	for i, a := range archivedTables() {
		place[a.name] = i
		require.Contains(t, tables, a.name)
	}
	for _, name := range tables {
		_, held := place[name]
		require.NotEqual(t, held, slices.Contains(transient(), name), "%s belongs into archivedTables or into transient, and not into both", name)
	}
	for name, at := range place {
		var keys []struct{ Table, From string }
		require.NoError(t, s.read.gorm.Raw(`SELECT "table", "from" FROM pragma_foreign_key_list(?)`, name).Scan(&keys).Error)
		for _, k := range keys {
			later := slices.Contains(archivedTables()[at].later, k.From) || k.From == "site_id"
			to, held := place[k.Table]
			require.True(t, held, "%s points to %s", name, k.Table)
			require.True(t, to < at || later, "%s.%s points to %s, which is filled after it", name, k.From, k.Table)
		}
	}
}

// Every column of the log but the entry is read from the entry, so a record
// holds the entries alone. A further column must be read from it too.
func TestTheColumnsOfTheLogAreReadFromItsEntries(t *testing.T) {
	t.Parallel()
	s := openArchive(t)
	var columns []string
	require.NoError(t, s.read.gorm.Raw("SELECT name FROM pragma_table_info('log')").Scan(&columns).Error)
	stmt := &gorm.Statement{DB: s.read.gorm}
	require.NoError(t, stmt.Parse(&logRow{}))
	require.ElementsMatch(t, columns, stmt.Schema.DBNames)
}

// What is left out of a row must be a column that there is.
func TestColumnsThatAreMadeAgainExist(t *testing.T) {
	t.Parallel()
	s := openArchive(t)
	require.NoError(t, s.Read(t.Context(), func(tx register.Tx) error {
		tables, err := tx.Archive().Tables(t.Context(), "")
		for i, a := range archivedTables() {
			var names []string
			for _, c := range tables[i].Columns {
				names = append(names, c.Name)
			}
			for name := range a.remade {
				require.Contains(t, names, name, a.name)
			}
			require.Subset(t, names, append(slices.Clone(a.key), a.later...), a.name)
			require.Equal(t, a.site != "", tables[i].Site >= 0, a.name)
			require.NotEqual(t, register.BytesColumn, tables[i].Columns[0].Kind, "gorm spreads bytes right after a bracket")
		}
		return err
	}))
}

func openArchive(t *testing.T) *Store {
	t.Helper()
	s, err := Open(t.Context(), Config{Path: filepath.Join(t.TempDir(), fmt.Sprintf("%d.db", 1))})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}
