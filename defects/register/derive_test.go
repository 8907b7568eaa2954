package register_test

import (
	"bytes"
	"context"
	"image/jpeg"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

func (b *readingBed) open(v register.Variant, id string) (register.Opened, error) {
	return b.OpenPhoto(b.ctx(), b.clerk, b.people.site.ID, id, v)
}

func (b *readingBed) photo(id string) defects.Photo {
	b.t.Helper()
	p, err := b.Photo(b.ctx(), b.clerk, b.people.site.ID, id)
	require.NoError(b.t, err)
	return p
}

func TestViewCopiesAreMadeUprightWithoutMetadata(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	turned := shot(9, 178, 5)
	turned.Orientation = 6
	data := picture(t, 1, turned)
	p := b.take(b.clerk, data, register.PhotoInput{})
	w, h := p.Capture.Upright()
	require.NotEqual(t, p.Capture.Width, w)

	_, err := b.open(register.Thumb, p.ID)
	refused(t, err, defects.Unavailable, "not_ready_yet")
	done, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done)
	require.Equal(t, "ready", b.photo(p.ID).Derived)
	require.Equal(t, 1, b.photo(p.ID).Version, "making view copies is no change of the record")

	for _, v := range []register.Variant{register.Preview, register.Thumb} {
		open, err := b.open(v, p.ID)
		require.NoError(t, err)
		body, err := io.ReadAll(open.Body)
		require.NoError(t, err)
		require.NoError(t, open.Body.Close())
		require.Equal(t, open.Size, int64(len(body)))
		require.Equal(t, "image/jpeg", open.Type)
		conf, err := jpeg.DecodeConfig(bytes.NewReader(body))
		require.NoError(t, err)
		require.Equal(t, w < h, conf.Width < conf.Height, "upright")
		require.NotContains(t, string(body), "Exif")
		require.NotContains(t, string(body), "Invented")
	}
	done, err = b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Zero(t, done)
}

func TestNoiseIsNoPictureAndItsOriginalIsKept(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	// A whole file whose picture data are noise: header and end read well.
	data := picture(t, 1, shot(9, 178, 5))
	for i := len(data) / 2; i < len(data)-2; i++ {
		data[i] = 0x55
	}
	bad := b.take(b.clerk, data, register.PhotoInput{})
	good := b.take(b.clerk, picture(t, 2, shot(9, 178, 5)), register.PhotoInput{})
	done, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 2, done)
	require.Equal(t, "ready", b.photo(good.ID).Derived)
	damaged := b.photo(bad.ID)
	require.Equal(t, "failed: damaged_file", damaged.Derived)
	require.Contains(t, []defects.Grade{defects.GradeC, defects.GradeX}, damaged.Grade, "nobody can look at it")
	require.Equal(t, "pixels_damaged", damaged.Flags[len(damaged.Flags)-1].Code)
	require.Equal(t, "photo.update", b.last(damaged.SiteID).Kind, "and the log says so")
	_, err = b.open(register.Preview, bad.ID)
	require.Contains(t, refused(t, err, defects.NotFound, "no_view_copy").Text, "damaged or cut off")
	open, err := b.open(register.Original, bad.ID)
	require.NoError(t, err)
	require.NoError(t, open.Body.Close())
}

func TestALostOriginalIsNotedAndDoesNotStopTheQueue(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	lost := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	other := b.take(b.clerk, picture(t, 2, noPlace()), register.PhotoInput{})
	gone := b.with(func(d *register.Deps) { d.Blobs = withoutOne{d.Blobs, evidence.Ref(lost.SHA256)} })
	done, err := gone.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 2, done)
	require.Equal(t, "failed: original_missing", b.photo(lost.ID).Derived)
	require.Equal(t, "ready", b.photo(other.ID).Derived)
}

// withoutOne is a store that lost one original.
type withoutOne struct {
	evidence.Store
	lost evidence.Ref
}

func (s withoutOne) Open(ctx context.Context, ref evidence.Ref) (io.ReadSeekCloser, int64, error) {
	if ref == s.lost {
		return nil, 0, evidence.ErrNotFound
	}
	return s.Store.Open(ctx, ref)
}

func TestAFaultOfTheMachineLeavesThePhotoWaiting(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	full := b.with(func(d *register.Deps) { d.Derived = fullDerived{d.Derived} })
	done, err := full.DeriveWaiting(b.ctx(), 10)
	require.ErrorIs(t, err, evidence.ErrFull)
	require.Zero(t, done)
	require.Empty(t, b.photo(p.ID).Derived)
	b.clock.add(time.Hour)
	done, err = b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	require.Equal(t, 1, done)
	require.Equal(t, "ready", b.photo(p.ID).Derived)
}

// fullDerived is a store of view copies whose disk is full.
type fullDerived struct{ evidence.DerivedStore }

func (fullDerived) PutDerived(context.Context, evidence.Ref, string, []byte) error {
	return evidence.ErrFull
}

func TestLostViewCopiesAreMadeAgain(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	_, err := b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	folders, err := filepath.Glob(filepath.Join(b.dir, "derived", p.SHA256[:2]+"*"))
	require.NoError(t, err)
	require.NotEmpty(t, folders)
	for _, f := range folders {
		require.NoError(t, os.RemoveAll(f))
	}
	_, err = b.open(register.Thumb, p.ID)
	refused(t, err, defects.Unavailable, "not_ready_yet")
	_, err = b.DeriveWaiting(b.ctx(), 10)
	require.NoError(t, err)
	open, err := b.open(register.Thumb, p.ID)
	require.NoError(t, err)
	require.NoError(t, open.Body.Close())
}

func TestTheDeriverWakesForNewPhotosAndTakesUpOldOnes(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	// Taken before the deriver runs, as after a restart.
	old := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	ctx, stop := context.WithCancel(b.ctx())
	ended := make(chan struct{})
	restarted := b.with(func(*register.Deps) {})
	go func() {
		restarted.RunDeriver(ctx)
		close(ended)
	}()
	ready := func(id string) func() bool { return func() bool { return b.photo(id).Derived == "ready" } }
	require.Eventually(t, ready(old.ID), 20*time.Second, 10*time.Millisecond)
	fresh, _, err := restarted.TakePhoto(ctx, b.clerk, b.people.site.ID, bytes.NewReader(picture(t, 2, noPlace())), register.PhotoInput{})
	require.NoError(t, err)
	require.Eventually(t, ready(fresh.ID), 20*time.Second, 10*time.Millisecond)
	stop()
	select {
	case <-ended:
	case <-time.After(20 * time.Second):
		t.Fatal("the deriver does not end with its context")
	}
}
