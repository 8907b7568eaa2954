package register_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/models"
	"storeyrod/models/modelstest"
)

// write puts a site's record into a folder and gives its files.
func (f *fixture) write(who register.Actor, siteID string) (dir string, files map[string]string) {
	f.t.Helper()
	dir = filepath.Join(f.t.TempDir(), "record")
	w, err := evidence.CreateBundle(dir)
	require.NoError(f.t, err)
	_, err = f.ExportSite(f.ctx(), who, siteID, w, func() {})
	require.NoError(f.t, err)
	require.NoError(f.t, w.Close(f.ctx()))
	files = map[string]string{}
	from := os.DirFS(dir)
	require.NoError(f.t, fs.WalkDir(from, ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(from, path)
		files[path] = string(text)
		return err
	}))
	return dir, files
}

// Courtyards, elevations that changed sides and photos that are offered anew go
// into either database and are written from it again byte for byte; the log folds
// to every row on the way.
func TestARecordKeepsCourtyardsTurnsCopiesAndOffers(t *testing.T) {
	t.Parallel()
	modelstest.Each(t, func(t *testing.T, open func(...modelstest.Option) *models.Store) {
		b := newReadingBedOn(t, newFixture(t))
		site := b.people.site.ID
		b.addCourt()
		p := b.take(b.clerk, picture(t, 1, shot(9, 178, 4)), register.PhotoInput{})
		_, err := b.copy(b.handed(), register.ElevationCopy{To: to(b.north), Options: whole(true)})
		require.NoError(t, err)
		south := b.named("Long Row / South")
		_, err = b.AssignSide(b.ctx(), b.clerk, site, b.north.ID, b.north.Version+1, 0, south.Edge)
		require.NoError(t, err)
		court := b.building("Court")
		_, err = b.ReshapeBuilding(b.ctx(), b.clerk, site, court.ID, court.Version, register.Reshape{Move: &defects.Move{East: 1500, TurnDeg: dec0("3.5")}})
		require.NoError(t, err)
		require.NotEmpty(t, b.photo(p.ID).Offered)

		dir, want := b.write(register.System("test"), site)
		other := newFixtureOn(t, open())
		bundle, err := evidence.OpenBundle(dir)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, bundle.Close()) })
		sum, err := other.ImportSite(t.Context(), register.System("test"), bundle, func() {})
		require.NoError(t, err)
		require.Empty(t, sum.Faults)
		_, got := other.write(register.System("test"), site)
		require.Equal(t, want, got)
		require.Contains(t, want["tables/buildings.jsonl"], `"courts":"{\"ring\":[[[`)
	})
}
