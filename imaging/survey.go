package imaging

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"storeyrod/defects"
)

// errShort marks a read beyond the end of the file.
var errShort = errors.New("file ends early")

// source reads a file at offsets, never beyond its end and never more than
// asked for, so a stated length cannot make it allocate what is not there.
type source struct {
	r    io.ReadSeeker
	size int64
}

func newSource(r io.ReadSeeker) (source, error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return source{}, fmt.Errorf("find the size of the photo: %w", err)
	}
	return source{r: r, size: size}, nil
}

func (s source) read(at int64, n int) ([]byte, error) {
	if at < 0 || n < 0 || at > s.size || int64(n) > s.size-at {
		return nil, errShort
	}
	if _, err := s.r.Seek(at, io.SeekStart); err != nil {
		return nil, fmt.Errorf("move in the photo: %w", err)
	}
	buf := make([]byte, n)
	if _, err := io.ReadFull(s.r, buf); err != nil {
		return nil, fmt.Errorf("read the photo: %w", err)
	}
	return buf, nil
}

// upTo reads n bytes or as many as there are.
func (s source) upTo(at int64, n int) ([]byte, error) {
	if at < 0 || at >= s.size {
		return nil, errShort
	}
	return s.read(at, int(min(int64(n), s.size-at)))
}

// span is a piece of the file.
type span struct {
	at int64
	n  int64
}

// survey is the result of walking the container once: the header and where
// the metadata lies. Nothing of the metadata is loaded yet.
type survey struct {
	Header
	src  source
	exif span // Exif block, with or without its "Exif\0\0" prefix; n = 0 when absent
	// beyondExif says that a whole JPEG segment follows the Exif data.
	beyondExif bool
	exifHex    bool   // the block is an older PNG text chunk of hex digits
	icc        []span // colour profile in order
	iccDeep    bool   // the profile is compressed (PNG)
	pngDepth   byte   // bits a sample of a PNG
	pngColour  byte   // its colour type
	shape      jpegShape
	iccMade    []byte // a profile for what the file says by number alone
	heic       *heicPlan
	heicWhy    error  // why there is no plan
	maxPixel   Header // the largest picture inside, for the limits (HEIF tiles and items)
}

// surveyFile sniffs, walks and applies the limits.
func surveyFile(r io.ReadSeeker, lim Limits) (survey, error) {
	src, err := newSource(r)
	if err != nil {
		return survey{}, err
	}
	head, err := src.upTo(0, SniffLen)
	if err != nil && !errors.Is(err, errShort) {
		return survey{}, err
	}
	s := survey{src: src}
	s.Size = src.size
	if s.Type, err = Sniff(head); err != nil {
		return s, err
	}
	if s.Size > lim.MaxBytes {
		return s, defects.RefuseField(defects.TooLarge, "file", "too_many_bytes",
			fmt.Sprintf("the file has %d bytes; at most %d are taken", s.Size, lim.MaxBytes))
	}
	if err := s.walk(lim); err != nil {
		return s, asDamage(err)
	}
	if s.maxPixel.Pixels() > s.Pixels() {
		if err := s.maxPixel.checkSize(lim); err != nil {
			return s, err
		}
	}
	return s, s.checkSize(lim)
}

func (s *survey) walk(lim Limits) error {
	switch s.Type {
	case JPEG:
		return s.walkJPEG(lim)
	case PNG:
		return s.walkPNG(lim)
	case WebP:
		return s.walkWebP(lim)
	default:
		return s.walkHEIF(lim)
	}
}

// asDamage turns a read beyond the end into the coded refusal and leaves
// other errors (a failing disk, a refusal already made) alone.
func asDamage(err error) error {
	if errors.Is(err, errShort) || errors.Is(err, io.ErrUnexpectedEOF) {
		return damaged("its header is cut off", err)
	}
	return err
}

// load reads the pieces, up to a limit in all.
func (s *survey) load(pieces []span, most int) ([]byte, error) {
	var all []byte
	for _, p := range pieces {
		if p.n > int64(most-len(all)) {
			return nil, errTooBig
		}
		part, err := s.src.read(p.at, int(p.n))
		if err != nil {
			return nil, err
		}
		all = append(all, part...)
	}
	return all, nil
}

// errTooBig marks metadata over Limits.MaxMetadata.
var errTooBig = errors.New("metadata over the limit")

func be16(b []byte) uint16 { return binary.BigEndian.Uint16(b) }
func be32(b []byte) uint32 { return binary.BigEndian.Uint32(b) }
func le32(b []byte) uint32 { return binary.LittleEndian.Uint32(b) }
func le24(b []byte) int    { return int(b[0]) | int(b[1])<<8 | int(b[2])<<16 }
