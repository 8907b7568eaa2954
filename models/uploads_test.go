package models_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/models/modelstest"
)

func TestUploadsComeBackWholeAndAreCounted(t *testing.T) {
	contract(t, func(w *world) {
		siteID, walls := w.site("North")
		u := register.Upload{
			ID: w.id("upload"), SiteID: siteID, AccountID: "p", Length: 900, Offset: 0, Metadata: "note YQ==",
			Input: register.PhotoInput{
				FileName: "a.jpg", Stage: "SL", Kind: "detail", Note: "a", Gang: "north", Place: place(walls[0]), LabelSeen: true, ScaleSeen: true,
			},
			State: register.UploadOpen, CreatedAt: at, ExpiresAt: at.Add(time.Hour),
		}
		filled(w.t, u, "Offset", "PhotoID")
		filled(w.t, u.Input)
		stored := func(want register.Stored) {
			w.t.Helper()
			w.read(func(tx register.Tx) error {
				got, err := tx.Sites().Stored(ctx(w), siteID)
				require.Equal(w.t, want, got)
				return err
			})
		}
		stored(register.Stored{})
		w.write(func(tx register.Tx) error { return tx.Uploads().InsertUpload(ctx(w), u) })
		stored(register.Stored{Reserved: 900})
		u.Offset, u.ExpiresAt = 500, at.Add(2*time.Hour)
		w.write(func(tx register.Tx) error { return tx.Uploads().UpdateUpload(ctx(w), u) })
		w.read(func(tx register.Tx) error {
			got, err := tx.Uploads().Upload(ctx(w), siteID, u.ID)
			require.Equal(w.t, u, got)
			require.NoError(w.t, err)
			mine, err := tx.Uploads().OpenUploads(ctx(w), siteID, "p")
			require.Equal(w.t, []register.Upload{u}, mine)
			return err
		})
		photo := w.photo(siteID)
		done := u
		done.Offset, done.State, done.PhotoID = 900, register.UploadTaken, photo.ID
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Photos().InsertPhoto(ctx(w), photo))
			return tx.Uploads().UpdateUpload(ctx(w), done)
		})
		stored(register.Stored{Photos: photo.Size})
		w.refused(defects.Stale, "upload_over", func(tx register.Tx) error { return tx.Uploads().UpdateUpload(ctx(w), u) })
		w.read(func(tx register.Tx) error {
			_, err := tx.Uploads().Upload(ctx(w), "another site", u.ID)
			require.ErrorIs(w.t, err, defects.NotFound)
			found, err := tx.Uploads().UploadsByID(ctx(w), []string{u.ID, "none"})
			require.Equal(w.t, []register.Upload{done}, found)
			require.NoError(w.t, err)
			for over, want := range map[time.Time]int{at: 0, at.Add(3 * time.Hour): 1} {
				old, err := tx.Uploads().UploadsExpired(ctx(w), at.Add(3*time.Hour), over, 10)
				require.NoError(w.t, err)
				require.Len(w.t, old, want)
			}
			return nil
		})
		w.write(func(tx register.Tx) error {
			require.NoError(w.t, tx.Uploads().DeleteUpload(ctx(w), u), "it is not open any more: nothing happens")
			return tx.Uploads().DeleteUpload(ctx(w), done)
		})
		stored(register.Stored{Photos: photo.Size})
	})
}

// BenchmarkRoom asks what a site stores, on a small and on a large site.
func BenchmarkRoom(b *testing.B) {
	for _, photos := range []int{10, 100_000} {
		b.Run(fmt.Sprintf("%d photos", photos), func(b *testing.B) {
			s := modelstest.Open(b)
			require.NoError(b, s.Write(b.Context(), func(tx register.Tx) error {
				if err := tx.Sites().InsertSite(b.Context(), defects.Site{ID: "site", Name: "Invented", Rule: defects.FourWay}); err != nil {
					return err
				}
				for i := range photos {
					id := fmt.Sprintf("p%06d", i)
					if err := tx.Photos().InsertPhoto(b.Context(), defects.Photo{ID: id, SiteID: "site", SHA256: id, Size: 3, ReceivedAt: at}); err != nil {
						return err
					}
				}
				return nil
			}))
			for b.Loop() {
				require.NoError(b, s.Read(b.Context(), func(tx register.Tx) error {
					stored, err := tx.Sites().Stored(b.Context(), "site")
					require.EqualValues(b, 3*photos, stored.Photos)
					return err
				}))
			}
		})
	}
}
