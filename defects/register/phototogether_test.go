package register_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// at is a capture some seconds later.
func at(c defects.Capture, seconds int) defects.Capture {
	t, _ := time.Parse("2006-01-02T15:04:05", c.TakenLocal)
	c.TakenLocal = t.Add(time.Duration(seconds) * time.Second).Format("2006-01-02T15:04:05")
	return c
}

// corner is a capture from beyond the north-east corner of the test building,
// looking at it.
func corner() defects.Capture {
	c := shot(3, 222, 4)
	east := -1.49966
	c.Lon = &east
	return c
}

func TestPhotosOfAWalkArePlacedByTheirNeighbours(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		sure := b.take(b.clerk, picture(t, 1, shot(9, 178, 4)), register.PhotoInput{})
		require.Equal(t, defects.PlacedProgram, sure.PlacedBy)
		open := b.take(b.clerk, picture(t, 2, at(corner(), 15)), register.PhotoInput{})
		require.Equal(t, defects.NotPlaced, open.PlacedBy, "by itself it fits more than one wall: %+v", open.Facing)
		told := b.take(b.clerk, picture(t, 3, at(shot(9, 182, 4), 30)), register.PhotoInput{})
		alone := b.take(b.clerk, picture(t, 4, at(corner(), 40_000)), register.PhotoInput{})

		got, err := b.PlaceTogether(b.ctx(), b.clerk, b.people.site.ID)
		require.NoError(t, err)
		require.Equal(t, 4, got.Looked)
		require.Equal(t, []string{open.ID}, got.Placed)
		require.Empty(t, got.Doubted)
		now, err := b.Photo(b.ctx(), b.clerk, b.people.site.ID, open.ID)
		require.NoError(t, err)
		require.Equal(t, sure.Place.ElevationID, now.Place.ElevationID)
		require.Equal(t, defects.PlacedProgram, now.PlacedBy)
		require.Greater(t, now.Facing[0].P, 0.9)
		require.Equal(t, "photo.update", b.last(b.people.site.ID).Kind, "the log tells of it")
		for _, p := range []defects.Photo{told, alone} {
			same, err := b.Photo(b.ctx(), b.clerk, b.people.site.ID, p.ID)
			require.NoError(t, err)
			require.Equal(t, p.Version, same.Version)
		}

		again, err := b.PlaceTogether(b.ctx(), b.clerk, b.people.site.ID)
		require.NoError(t, err)
		require.Empty(t, again.Placed)
		_, err = b.PlaceTogether(b.ctx(), b.auditor, b.people.site.ID)
		refused(t, err, defects.Forbidden, "role_forbidden")
	})
}
