package models_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/register"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

// A record reads the same whichever database wrote it: tables, columns and their
// order are equal, and truth values go by as 0 and 1.
func TestBothDatabasesHaveTheSameColumns(t *testing.T) {
	t.Parallel()
	tables := func(s *models.Store) (out []register.Table) {
		require.NoError(t, s.Read(t.Context(), func(tx register.Tx) (err error) {
			out, err = tx.Archive().Tables(t.Context(), "")
			return err
		}))
		for _, table := range out {
			for i := range table.Columns {
				if table.Columns[i].Kind == register.TruthColumn {
					table.Columns[i].Kind = register.WholeColumn
				}
			}
		}
		return out
	}
	lite, pg := tables(modelstest.Open(t)), tables(modelstest.OpenPostgres(t))
	require.Greater(t, len(lite), 15)
	require.Equal(t, lite, pg)
}
