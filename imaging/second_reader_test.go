package imaging_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/rwcarlsen/goexif/exif"
	"github.com/stretchr/testify/require"

	"storeyrod/imaging"
)

// A second reader's opinion on trusted files only: hostile ones make it
// allocate without bound.
func TestASecondReaderAgreesOnPlaceAndTime(t *testing.T) {
	t.Parallel()
	places, times := 0, 0
	for _, name := range []string{
		"goexif/has-lens-info.jpg", "bep/metadata_demo_exif_only.jpg", "bep/sunrise.jpg", "bep/mushroom.jpg",
		"metadata-extractor/withPanasonicFaces.jpg", "metadata-extractor/withExifAndIptc.jpg",
		"metadata-extractor/simple.jpg", "bep/nikon_nef_fraction.jpg", "bep/canon_cr2_integer.jpg",
	} {
		b := sample(t, name)
		c, _, err := imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
		require.NoError(t, err)
		x, err := exif.Decode(bytes.NewReader(b))
		require.NoError(t, err, name)
		if lat, lon, err := x.LatLong(); err == nil {
			require.InDelta(t, lat, *c.Lat, 1e-9, name)
			require.InDelta(t, lon, *c.Lon, 1e-9, name)
			places++
		} else {
			require.False(t, c.HasPlace(), name)
		}
		if tag, err := x.Get(exif.DateTimeOriginal); err == nil {
			s, err := tag.StringVal()
			require.NoError(t, err)
			at, err := time.Parse("2006:01:02 15:04:05", s)
			require.NoError(t, err)
			require.Equal(t, at.Format("2006-01-02T15:04:05"), c.TakenLocal, name)
			times++
		}
	}
	require.GreaterOrEqual(t, places, 4)
	require.GreaterOrEqual(t, times, 8)
}
