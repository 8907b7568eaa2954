package imaging

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/bep/imagemeta"

	"storeyrod/defects"
)

// Notes say what a photo's Exif data got wrong. They never stop a photo from
// being taken: the capture holds what could be read, the note says the rest.
const (
	NoteExifDamaged     = "exif_damaged"      // the block could not be read to its end
	NoteExifTooLarge    = "exif_too_large"    // over Limits.MaxMetadata, not read
	NoteTimeUnreadable  = "time_unreadable"   // a capture time is there but is no time
	NoteOffsetUnread    = "offset_unreadable" // an offset is there but is none
	NoteGPSTimeUnread   = "gps_time_unreadable"
	NoteGPSRollover     = "gps_date_rollover"  // GNSS date off by the 1024 weeks of the GPS week counter
	NoteGPSVoid         = "gps_void"           // the receiver said it had no live fix
	NotePlaceNoRef      = "place_ref_missing"  // no N/S or E/W: hemisphere unknown, so no place
	NotePlaceUnreadable = "place_unreadable"   // zero denominators or no number
	NotePlaceOutOfRange = "place_out_of_range" // beyond ±90 or ±180 degrees
	NotePlaceZero       = "place_zero"         // exactly 0, 0: most likely no fix
	NoteDirectionBad    = "direction_out_of_range"
	NoteOrientationBad  = "orientation_out_of_range"
	NotePictureDamaged  = "picture_damaged" // ReadExif only: the picture itself is cut off or missing
)

// ReadCapture tells what a photo says of itself. Without Exif data the
// capture holds type, size and orientation 1 only. Faulty Exif data give
// notes, not an error; an error is a *defects.Error as of CheckHeader, or a
// failure of the reader.
func ReadCapture(r io.ReadSeeker, lim Limits) (defects.Capture, []string, error) {
	s, err := surveyFile(r, lim)
	if err != nil {
		return defects.Capture{}, nil, err
	}
	return s.capture(lim)
}

// ReadExif is ReadCapture for looking only: a file whose picture is cut off
// or missing, but whose Exif data are whole, still tells what they say, with
// Width and Height 0 where no size could be read and the note
// "picture_damaged". Such a file is no photo to take in.
func ReadExif(r io.ReadSeeker, lim Limits) (defects.Capture, []string, error) {
	s, err := surveyFile(r, lim)
	var refusal *defects.Error
	if err == nil {
		return s.capture(lim)
	}
	// A file torn off within the segment behind its Exif data is no picture
	// file any more; exiftool and exiv2 read nothing from it either.
	if !s.beyondExif || !errors.As(err, &refusal) || refusal.Code != "damaged_file" {
		return defects.Capture{}, nil, err
	}
	c, notes, err := s.capture(lim)
	return c, append(notes, NotePictureDamaged), err
}

// capture reads the Exif block that the survey found.
func (s *survey) capture(lim Limits) (defects.Capture, []string, error) {
	c := defects.Capture{Type: string(s.Type), Width: s.Width, Height: s.Height, Orientation: 1}
	if s.exif.n == 0 {
		return c, nil, nil
	}
	block, err := s.exifBlock(lim)
	switch {
	case errors.Is(err, errTooBig):
		return c, []string{NoteExifTooLarge}, nil
	case err != nil:
		return c, []string{NoteExifDamaged}, nil
	}
	c, notes := readBlock(c, block)
	return c, notes, nil
}

// exifBlock loads the Exif data and strips what containers put in front, so
// that it begins with the TIFF header.
func (s *survey) exifBlock(lim Limits) ([]byte, error) {
	b, err := s.load([]span{s.exif}, lim.MaxMetadata)
	if err != nil {
		return nil, err
	}
	if s.exifHex {
		if b, err = unhexProfile(b, lim.MaxMetadata); err != nil {
			return nil, err
		}
	}
	if s.Type == HEIC || s.Type == HEIF {
		if len(b) < 4 || int64(be32(b)) > int64(len(b)-4) {
			return nil, errShort
		}
		b = b[4+be32(b):]
	}
	// JPEG always has the prefix; WebP and PNG writers add it against the rules.
	return bytes.TrimPrefix(b, []byte(exifPrefix)), nil
}

// readBlock is the edge: whatever the block does to the code below, the photo
// is still taken.
func readBlock(c defects.Capture, block []byte) (out defects.Capture, notes []string) {
	defer func() {
		if recover() != nil {
			out, notes = c, []string{NoteExifDamaged}
		}
	}()
	t, whole := readTags(block)
	f := fields{tags: t, c: c}
	if !whole {
		f.note(NoteExifDamaged)
	}
	f.fill()
	return f.c, f.notes
}

// Directories as imagemeta names them.
const (
	dirMain = "IFD0"
	dirExif = "IFD0/ExifIFDP"
	dirGPS  = "IFD0/GPSInfoIFD"
)

// tagKey names a tag by its directory: a GPS tag outside the GPS directory is
// some other program's tag with the same number.
type tagKey struct{ dir, name string }

// tags holds the decoded values, and the block for what needs its raw form.
type tags struct {
	values map[tagKey]any
	raw    rawBlock
}

// wanted lists the tags that fill a capture.
func wanted() map[tagKey]bool {
	keys := map[tagKey]bool{}
	for dir, names := range map[string][]string{
		dirMain: {"Orientation", "Make", "Model", "Software"},
		dirExif: {
			"LensModel", "DateTimeOriginal", "OffsetTimeOriginal",
			"FocalLength", "FocalLengthIn35mmFormat",
		},
		dirGPS: {
			"GPSLatitudeRef", "GPSLatitude", "GPSLongitudeRef", "GPSLongitude", "GPSAltitudeRef",
			"GPSAltitude", "GPSDateStamp", "GPSTimeStamp", "GPSStatus", "GPSImgDirectionRef",
			"GPSImgDirection", "GPSHPositioningError",
		},
	} {
		for _, name := range names {
			keys[tagKey{dir, name}] = true
		}
	}
	return keys
}

// Bounds for one block: tags seen, bytes of one value, and reads made by the
// decoder. The last keeps crafted directories from being walked for ever.
const (
	maxTags     = 4000
	maxTagBytes = 4096
	maxReads    = 20_000
)

// readTags decodes the block; whole is false when it broke off.
func readTags(block []byte) (t tags, whole bool) {
	t = tags{values: map[tagKey]any{}, raw: newRawBlock(block)}
	want := wanted()
	if !t.raw.ok() {
		return t, false
	}
	_, err := imagemeta.Decode(imagemeta.Options{
		R:           &meteredReader{r: bytes.NewReader(block), left: maxReads},
		ImageFormat: imagemeta.TIFF,
		Sources:     imagemeta.EXIF,
		ShouldHandleTag: func(ti imagemeta.TagInfo) bool {
			return want[tagKey{ti.Namespace, ti.Tag}]
		},
		HandleTag: func(ti imagemeta.TagInfo) error {
			key := tagKey{ti.Namespace, ti.Tag}
			if _, twice := t.values[key]; !twice {
				t.values[key] = ti.Value
			}
			return nil
		},
		LimitNumTags: maxTags,
		LimitTagSize: maxTagBytes,
	})
	return t, err == nil
}

// errOutOfReads stops a decoder that does not come to an end.
var errOutOfReads = errors.New("metadata takes too many reads")

// meteredReader gives up after a number of reads.
type meteredReader struct {
	r    *bytes.Reader
	left int
}

// Read passes on until the allowance is used up.
func (m *meteredReader) Read(p []byte) (int, error) {
	if m.left--; m.left < 0 {
		return 0, errOutOfReads
	}
	return m.r.Read(p)
}

// Seek moves without cost.
func (m *meteredReader) Seek(offset int64, whence int) (int64, error) {
	n, err := m.r.Seek(offset, whence)
	if err != nil {
		return n, fmt.Errorf("move in metadata: %w", err)
	}
	return n, nil
}
