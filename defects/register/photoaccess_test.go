package register_test

import (
	"bytes"
	"context"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

func TestWhoMayTakeAndSeePhotos(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	site := b.people.site.ID
	for i, role := range defects.Roles() {
		data := picture(t, uint64(10+i), shot(9, 178, 5))
		p, _, err := b.TakePhoto(b.ctx(), b.people.by(role), site, bytes.NewReader(data), register.PhotoInput{Gang: "Z"})
		if !role.May(defects.AddPhoto) {
			refused(t, err, defects.Forbidden, "role_forbidden")
			continue
		}
		require.NoError(t, err, role)
		want := "Z"
		if role == defects.Operative {
			want = "A"
		}
		require.Equal(t, want, p.Gang)
	}
	_, _, err := b.TakePhoto(b.ctx(), b.stranger, site, strings.NewReader("x"), register.PhotoInput{})
	require.ErrorIs(t, err, defects.NotFound)

	clerks := b.take(b.clerk, picture(t, 90, noPlace()), register.PhotoInput{})
	own := b.take(b.operative, picture(t, 91, noPlace()), register.PhotoInput{})
	_, err = b.Photo(b.ctx(), b.operative, site, clerks.ID)
	refused(t, err, defects.NotFound, "photo_not_found")
	_, err = b.OpenPhoto(b.ctx(), b.operative, site, clerks.ID, register.Thumb)
	refused(t, err, defects.NotFound, "photo_not_found")
	page, err := b.ListPhotos(b.ctx(), b.operative, register.PhotoFilter{SiteID: site}, register.Page{})
	require.NoError(t, err)
	for _, p := range page.Items {
		require.Equal(t, b.operative.AccountID, p.AddedBy)
	}
	require.Len(t, page.Items, 2)
	page, err = b.ListPhotos(b.ctx(), b.operative, register.PhotoFilter{SiteID: site, AddedBy: b.clerk.AccountID}, register.Page{})
	require.NoError(t, err)
	require.Empty(t, page.Items)
	_, err = b.Photo(b.ctx(), b.clerk, b.fixture.site("Tanyard Lane").site.ID, clerks.ID)
	require.ErrorIs(t, err, defects.NotFound)

	// Originals carry place and time: for the permission, and for one's own.
	for _, role := range defects.Roles() {
		open, err := b.OpenPhoto(b.ctx(), b.people.by(role), site, own.ID, register.Original)
		if role.May(defects.ViewOriginal) || role == defects.Operative {
			require.NoError(t, err, role)
			require.NoError(t, open.Body.Close())
			continue
		}
		refused(t, err, defects.Forbidden, "role_forbidden")
	}
	_, err = b.OpenPhoto(b.ctx(), b.clerk, site, own.ID, "huge")
	refused(t, err, defects.NotFound, "no_such_variant")
}

func TestAPhotoIsPlacedByAPersonUnderAVersion(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	site := b.people.site.ID
	p := b.take(b.clerk, picture(t, 1, shot(9, 178, 5)), register.PhotoInput{Place: defects.Place{ElevationID: "North", Bay: 3}})
	south := b.walls[0]
	require.Equal(t, "South", south.Name)

	_, err := b.UpdatePhoto(b.ctx(), b.operative, site, p.ID, 1, register.PhotoPatch{Note: ptr("x")})
	refused(t, err, defects.Forbidden, "role_forbidden")
	_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 0, register.PhotoPatch{Note: ptr("x")})
	require.ErrorIs(t, err, defects.VersionNeeded)
	_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 2, register.PhotoPatch{Note: ptr("x")})
	require.ErrorIs(t, err, defects.Stale)
	_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 1, register.PhotoPatch{ElevationID: ptr("none")})
	refused(t, err, defects.Invalid, "elevation_not_found")
	_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 1, register.PhotoPatch{Place: &defects.Place{Bay: 99}})
	refused(t, err, defects.Invalid, "no_such_bay")

	moved, err := b.UpdatePhoto(b.ctx(), b.installer, site, p.ID, 1, register.PhotoPatch{ElevationID: &south.ID, Stage: ptr("BM")})
	require.NoError(t, err)
	require.Equal(t, 2, moved.Version)
	require.Equal(t, defects.Place{ElevationID: south.ID}, moved.Place, "the old wall's bay means nothing here")
	require.Equal(t, []string{defects.FlagLookedAway}, flagCodes(moved)[:1])
	stored, err := b.Photo(b.ctx(), b.clerk, site, p.ID)
	require.NoError(t, err)
	require.Equal(t, moved, stored)
	e := b.last(site)
	require.Equal(t, "photo.update", e.Kind)
	require.Contains(t, string(e.Data), `"before":{`)

	within, err := b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 2, register.PhotoPatch{Place: &defects.Place{Bay: 2, Lift: 1}})
	require.NoError(t, err)
	require.Equal(t, defects.Place{ElevationID: south.ID, Bay: 2, Lift: 1}, within.Place)
	off, err := b.UpdatePhoto(b.ctx(), b.clerk, site, p.ID, 3, register.PhotoPatch{ElevationID: ptr("")})
	require.NoError(t, err)
	require.Equal(t, defects.NotPlaced, off.PlacedBy)
	require.Empty(t, off.Place)
}

func TestFileNamesAreTextOnly(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	names := []struct{ given, shown string }{
		{"../../etc/passwd", "passwd"},
		{`..\..\boot.ini`, "boot.ini"},
		{"a\x00b\u202egpj.jpg", "abgpj.jpg"},
		{"..", ""},
		{"", ""},
		{"/", ""},
		{"name\xff.jpg", "name.jpg"},
		{strings.Repeat("ä", 150) + ".jpg", strings.Repeat("ä", 100)},
	}
	for i, n := range names {
		p := b.take(b.clerk, picture(t, uint64(i+1), noPlace()), register.PhotoInput{FileName: n.given})
		require.Equal(t, n.shown, p.FileName)
		require.LessOrEqual(t, len(p.FileName), 200)
	}
}

func TestPhotosCanBeListedPageByPage(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		var want []string
		for i := range 5 {
			if i == 2 {
				b.clock.add(time.Second)
			}
			want = append(want, b.take(b.clerk, picture(t, uint64(i+1), noPlace()), register.PhotoInput{}).ID)
		}
		slices.Reverse(want)
		var got []string
		page := register.Page{Limit: 2}
		for {
			out, err := b.ListPhotos(b.ctx(), b.owner, register.PhotoFilter{SiteID: b.people.site.ID, Unplaced: true}, page)
			require.NoError(t, err)
			for _, p := range out.Items {
				got = append(got, p.ID)
			}
			if page.After = out.Next; out.Next == "" {
				break
			}
		}
		require.Equal(t, want, got)
	})
}

func TestAFullStoreSaysSo(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	full := b.with(func(d *register.Deps) { d.Blobs = fullStore{d.Blobs} })
	_, _, err := full.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(picture(t, 1, noPlace())), register.PhotoInput{})
	refused(t, err, defects.Unavailable, "store_unavailable")
	require.Zero(t, b.rows())
}

// fullStore is a store whose disk is full.
type fullStore struct{ evidence.Store }

func (fullStore) Stage(context.Context, io.Reader, int64) (*evidence.Staged, error) {
	return nil, evidence.ErrFull
}
