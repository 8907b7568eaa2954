package register_test

import (
	"bytes"
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects/register"
)

// failingWrites is a store whose process dies before any commit.
type failingWrites struct{ register.Store }

func (failingWrites) Write(context.Context, func(register.Tx) error) error {
	return errors.New("the machine stops here")
}

func TestAnOriginalWithoutARowIsTakenBackAndOneWithARowNever(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	p := b.take(b.clerk, picture(t, 1, noPlace()), register.PhotoInput{})
	dying := b.with(func(d *register.Deps) { d.Store = failingWrites{d.Store} })
	_, _, err := dying.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(picture(t, 2, noPlace())), register.PhotoInput{})
	require.Error(t, err)
	require.Equal(t, 2, b.originals())

	n, err := b.ReclaimOriginals(b.ctx(), time.Now().Add(-time.Hour))
	require.NoError(t, err)
	require.Zero(t, n, "it may still be of an intake under way")
	n, err = b.ReclaimOriginals(b.ctx(), time.Now().Add(time.Second))
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.Equal(t, 1, b.files())
	open, err := b.open(register.Original, p.ID)
	require.NoError(t, err)
	require.NoError(t, open.Body.Close())
}
