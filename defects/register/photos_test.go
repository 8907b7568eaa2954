package register_test

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
)

func TestAPhotoIsKeptReadPlacedAndLogged(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		data := picture(t, 1, shot(9, 178, 5))
		p := b.take(b.clerk, data, register.PhotoInput{FileName: `C:\photos\..\IMG_0412.jpg`, Stage: "SL", Kind: "detail", Note: "bay 3", ScaleSeen: true})

		require.Equal(t, string(evidence.RefOf(data)), p.SHA256)
		require.Equal(t, int64(len(data)), p.Size)
		require.Equal(t, "IMG_0412.jpg", p.FileName)
		require.Equal(t, b.clock.Now(), p.ReceivedAt)
		require.Equal(t, b.north.ID, p.Place.ElevationID)
		require.Equal(t, defects.PlacedProgram, p.PlacedBy)
		require.Equal(t, b.north.ID, p.Facing[0].ElevationID)
		require.InDelta(t, 9, p.Facing[0].DistanceM, 0.5)
		require.Equal(t, defects.GradeA, p.Grade)
		require.Empty(t, p.Flags)

		stored, err := b.Photo(b.ctx(), b.auditor, b.people.site.ID, p.ID)
		require.NoError(t, err)
		require.Equal(t, p, stored)
		open, err := b.OpenPhoto(b.ctx(), b.auditor, b.people.site.ID, p.ID, register.Original)
		require.NoError(t, err)
		defer open.Body.Close()
		back, err := io.ReadAll(open.Body)
		require.NoError(t, err)
		require.Equal(t, data, back, "originals come back as received")
		require.Equal(t, "image/jpeg", open.Type)
		require.Equal(t, int64(len(data)), open.Size)

		e := b.last(b.people.site.ID)
		require.Equal(t, "photo.take", e.Kind)
		require.Equal(t, p.ID, e.Subject.ID)
		require.Contains(t, string(e.Data), p.SHA256)
		require.Equal(t, "test phone", e.Actor.Device)
	})
}

// J5 of the reference: which way was the camera looking?
func TestPlaceAndDirectionGradeAPhoto(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		onNorth := register.PhotoInput{Place: defects.Place{ElevationID: b.north.ID, Bay: 3, Lift: 1}}
		site := b.people.site.ID

		coherent := b.take(b.clerk, picture(t, 1, shot(9, 178, 5)), onNorth)
		require.Equal(t, defects.GradeA, coherent.Grade)
		require.Equal(t, defects.PlacedPerson, coherent.PlacedBy)
		require.Equal(t, 3, coherent.Place.Bay)

		away := b.take(b.clerk, picture(t, 2, shot(9, 12, 5)), onNorth)
		require.Equal(t, []string{defects.FlagLookedAway}, flagCodes(away))
		require.Contains(t, away.Flags[0].Text, "camera looked away from this wall: South elevation?")
		require.Equal(t, b.north.ID, away.Place.ElevationID, "a person's choice is flagged, never changed")

		// The site has no fence of its own: 30 m round the outline stand in.
		near := b.take(b.clerk, picture(t, 3, shot(30+41, 178, 65)), register.PhotoInput{})
		require.Equal(t, []string{defects.FlagPlaceNotProven}, flagCodes(near))
		require.Equal(t, defects.GradeB, near.Grade)
		require.Contains(t, near.Flags[0].Text, "41 m outside the fence")
		require.Equal(t, defects.NotPlaced, near.PlacedBy)

		far := b.take(b.clerk, picture(t, 4, shot(30+214, 178, 8)), register.PhotoInput{})
		require.Equal(t, []string{defects.FlagOutsideFence}, flagCodes(far))
		require.Equal(t, defects.GradeX, far.Grade)
		_, err := b.UpdatePhoto(b.ctx(), b.manager, site, far.ID, 1, register.PhotoPatch{Overrule: ptr("seen it myself")})
		require.Contains(t, refused(t, err, defects.Forbidden, "role_forbidden").Text, "clerk")
		over, err := b.UpdatePhoto(b.ctx(), b.clerk, site, far.ID, 1, register.PhotoPatch{Overrule: ptr("phone kept the office's position")})
		require.NoError(t, err)
		require.Equal(t, defects.GradeB, over.Grade)
		require.Contains(t, over.Flags[0].Text, "phone kept the office's position")
		back, err := b.UpdatePhoto(b.ctx(), b.clerk, site, far.ID, 2, register.PhotoPatch{Overrule: ptr("")})
		require.NoError(t, err)
		require.Equal(t, defects.GradeX, back.Grade)
		_, err = b.UpdatePhoto(b.ctx(), b.clerk, site, coherent.ID, 1, register.PhotoPatch{Overrule: ptr("to be sure")})
		refused(t, err, defects.Conflict, "nothing_to_overrule")

		bare := b.take(b.clerk, picture(t, 5, noPlace()), register.PhotoInput{})
		require.Equal(t, defects.GradeC, bare.Grade)
		labelled := b.take(b.clerk, picture(t, 6, noPlace()), register.PhotoInput{LabelSeen: true})
		require.Equal(t, defects.GradeB, labelled.Grade)
		seen, err := b.UpdatePhoto(b.ctx(), b.clerk, site, bare.ID, 1, register.PhotoPatch{LabelSeen: ptr(true)})
		require.NoError(t, err)
		require.Equal(t, defects.GradeB, seen.Grade)
	})
}

func TestTheSameBytesTwiceAreOnePhoto(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	data := picture(t, 1, shot(9, 178, 5))
	first := b.take(b.clerk, data, register.PhotoInput{FileName: "a.jpg"})
	entries := len(b.logged(b.people.site.ID))
	again, known, err := b.TakePhoto(b.ctx(), b.installer, b.people.site.ID, bytes.NewReader(data), register.PhotoInput{FileName: "b.jpg"})
	require.NoError(t, err)
	require.True(t, known)
	require.Equal(t, first, again)
	require.Equal(t, 1, b.rows())
	require.Equal(t, 1, b.files())
	require.Len(t, b.logged(b.people.site.ID), entries)

	// Another site has a photo of its own over the same original.
	other := b.fixture.site("Tanyard Lane")
	p, known, err := b.TakePhoto(b.ctx(), other.clerk, other.site.ID, bytes.NewReader(data), register.PhotoInput{})
	require.NoError(t, err)
	require.False(t, known)
	require.NotEqual(t, first.ID, p.ID)
	require.Equal(t, 1, b.files())
}

func TestTheSameBytesAtOnceAreOnePhoto(t *testing.T) {
	t.Parallel()
	onEachBed(t, func(t *testing.T, b *readingBed) {
		data := picture(t, 1, shot(9, 178, 5))
		var (
			wait sync.WaitGroup
			mu   sync.Mutex
			ids  []string
			news int
			errs []error
		)
		for range 8 {
			wait.Go(func() {
				p, known, err := b.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(data), register.PhotoInput{})
				mu.Lock()
				defer mu.Unlock()
				ids, errs = append(ids, p.ID), append(errs, err)
				if !known {
					news++
				}
			})
		}
		wait.Wait()
		require.NoError(t, errors.Join(errs...))
		require.Equal(t, 1, news)
		slices.Sort(ids)
		require.Len(t, slices.Compact(ids), 1)
		require.Equal(t, 1, b.rows())
		require.Equal(t, 1, b.files())
		require.Equal(t, 1, b.kinds()["photo.take"])
	})
}

func TestBadPhotosAreRefusedAndLeaveNothingBehind(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	whole := picture(t, 1, shot(9, 178, 5))
	small := b.with(func(d *register.Deps) { d.Limits.MaxBytes = 1000 })
	cases := map[string]struct {
		reg  *register.Register
		data []byte
		kind defects.Kind
		code string
	}{
		"nothing":        {b.Register, nil, defects.Invalid, "empty_file"},
		"text":           {b.Register, []byte("this is no photo"), defects.UnsupportedType, "unsupported_type"},
		"pdf named jpg":  {b.Register, []byte("%PDF-1.7 something"), defects.UnsupportedType, "unsupported_type"},
		"cut in header":  {b.Register, whole[:40], defects.Invalid, "damaged_file"},
		"cut in half":    {b.Register, whole[:len(whole)/2], defects.Invalid, "damaged_file"},
		"last byte gone": {b.Register, whole[:len(whole)-1], defects.Invalid, "damaged_file"},
		"cut png":        {b.Register, pngOf(t)[:60], defects.Invalid, "damaged_file"},
		"dimension bomb": {b.Register, bomb(whole), defects.TooLarge, "too_many_pixels"},
		"too many bytes": {small, whole, defects.TooLarge, "too_many_bytes"},
	}
	for name, c := range cases {
		_, _, err := c.reg.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(c.data), register.PhotoInput{FileName: "photo.jpg"})
		require.Error(t, err, name)
		e := refused(t, err, c.kind, c.code)
		require.NotEmpty(t, e.Field, name)
		require.Zero(t, b.files(), name)
		require.Zero(t, b.rows(), name)
	}
	require.Zero(t, b.kinds()["photo.take"])

	says := map[string]register.PhotoInput{
		"unknown_stage":       {Stage: "XX"},
		"elevation_missing":   {Place: defects.Place{Bay: 2}},
		"elevation_not_found": {Place: defects.Place{ElevationID: "none"}},
		"no_such_bay":         {Place: defects.Place{ElevationID: "North", Bay: 99}},
		"text_too_long":       {Note: strings.Repeat("x", 2001)},
		"bad_text":            {Kind: "det\x00ail"},
	}
	for code, in := range says {
		_, _, err := b.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(whole), in)
		refused(t, err, defects.Invalid, code)
		require.Zero(t, b.files(), code)
	}

	broken := iotest.TimeoutReader(iotest.OneByteReader(bytes.NewReader(whole)))
	_, _, err := b.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, broken, register.PhotoInput{})
	require.ErrorIs(t, err, iotest.ErrTimeout)
	require.Zero(t, b.files())
}

func TestAnOriginalWhoseRowFailedServesTheNextAttempt(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	data := picture(t, 1, shot(9, 178, 5))
	broken := b.with(func(d *register.Deps) { d.Store = noLog{d.Store} })
	_, _, err := broken.TakePhoto(b.ctx(), b.clerk, b.people.site.ID, bytes.NewReader(data), register.PhotoInput{})
	require.ErrorIs(t, err, errNoLog)
	require.Zero(t, b.rows(), "no row without its log entry")
	require.Equal(t, 1, b.originals())
	b.take(b.clerk, data, register.PhotoInput{})
	require.Equal(t, 1, b.rows())
	require.Equal(t, 1, b.files())
}

// pngOf is a small valid PNG of some 70 bytes or more.
func pngOf(t *testing.T) []byte {
	t.Helper()
	var buf bytes.Buffer
	require.NoError(t, png.Encode(&buf, image.NewGray(image.Rect(0, 0, 40, 30))))
	require.Greater(t, buf.Len(), 60)
	return buf.Bytes()
}

// bomb makes a JPEG say that it is 60000 pixels wide and high.
func bomb(jpeg []byte) []byte {
	out := bytes.Clone(jpeg)
	at := bytes.Index(out, []byte{0xFF, 0xC0, 0x00, 0x11, 0x08})
	copy(out[at+5:], []byte{0xEA, 0x60, 0xEA, 0x60})
	return out
}

func TestPoisonedExifIsNotedAndThePhotoTaken(t *testing.T) {
	t.Parallel()
	b := newPhotoBed(t)
	// An Exif block with a value of a type that does not exist.
	block := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x02\x00\x00\x63\x00\x00\x00\x01\x01\x02\x03\x04\x00\x00\x00\x00"
	n := len(block) + 2
	plain := picture(t, 1, defects.Capture{Orientation: 1})
	data := slices.Concat([]byte{0xFF, 0xD8, 0xFF, 0xE1, byte(n >> 8), byte(n)}, []byte(block), plain[2:])
	p := b.take(b.clerk, data, register.PhotoInput{LabelSeen: true})
	require.Contains(t, flagCodes(p), "exif_damaged")
	require.Equal(t, defects.GradeC, p.Grade)
	require.Equal(t, 320, p.Capture.Width)

	again, err := b.UpdatePhoto(b.ctx(), b.clerk, b.people.site.ID, p.ID, 1, register.PhotoPatch{Note: ptr("sent by chat")})
	require.NoError(t, err)
	require.Equal(t, flagCodes(p), flagCodes(again), "what was wrong with the file stays said")
}
