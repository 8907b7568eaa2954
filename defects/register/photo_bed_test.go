package register_test

import (
	"bytes"
	"io"
	"io/fs"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/imaging"
)

// metresNorth is roughly one metre in degrees of latitude.
const metresNorth = 1 / 111_270.0

// shot is the capture of a phone standing the given metres north of the test
// building's north wall, before its middle, at two minutes to noon UTC on the
// fixture's day.
func shot(north, heading, accuracy float64) defects.Capture {
	lat, lon := 53.4001+north*metresNorth, -1.49985
	return defects.Capture{
		Make: "Invented", Model: "Phone 1", Orientation: 1, TakenLocal: "2026-06-01T12:58:00", UTCOffset: "+01:00",
		Lat: &lat, Lon: &lon, Direction: &heading, DirectionBy: "T", HErrorM: &accuracy,
	}
}

// noPlace is a capture without position and direction.
func noPlace() defects.Capture {
	c := shot(9, 178, 5)
	c.Lat, c.Lon, c.Direction, c.HErrorM = nil, nil, nil, nil
	return c
}

// picture draws a small wall; each seed gives other bytes.
func picture(t *testing.T, seed uint64, c defects.Capture) []byte {
	t.Helper()
	b, err := imaging.RenderJPEG(imaging.SceneSpec{Width: 320, Height: 240, Seed: seed}, c)
	require.NoError(t, err)
	return b
}

// photoBed is a reading bed with a second name; photos need no schedule.
func newPhotoBed(t *testing.T) *readingBed {
	t.Helper()
	return newReadingBed(t)
}

func (b *readingBed) take(who register.Actor, data []byte, in register.PhotoInput) defects.Photo {
	b.t.Helper()
	p, known, err := b.TakePhoto(b.ctx(), who, b.people.site.ID, bytes.NewReader(data), in)
	require.NoError(b.t, err)
	require.False(b.t, known)
	return p
}

// files counts what lies in the folder of originals, half-written files too.
func (b *readingBed) files() int {
	b.t.Helper()
	n := 0
	err := filepath.WalkDir(filepath.Join(b.dir, "originals"), func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			n++
		}
		return err
	})
	require.NoError(b.t, err)
	return n
}

func (b *readingBed) originals() int {
	b.t.Helper()
	n := 0
	require.NoError(b.t, b.Blobs.List(b.ctx(), func(evidence.Ref, int64) error { n++; return nil }))
	return n
}

func (b *readingBed) rows() int {
	b.t.Helper()
	page, err := b.ListPhotos(b.ctx(), b.clerk, register.PhotoFilter{SiteID: b.people.site.ID}, register.Page{Limit: 500})
	require.NoError(b.t, err)
	return len(page.Items)
}

func flagCodes(p defects.Photo) []string {
	var out []string
	for _, f := range p.Flags {
		out = append(out, f.Code)
	}
	return out
}

type readSeekCloser = io.ReadSeekCloser

// pictureReader is a small wall without a place.
func pictureReader(t *testing.T, seed uint64) io.Reader {
	t.Helper()
	return bytes.NewReader(picture(t, seed, noPlace()))
}
