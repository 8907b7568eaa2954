package imaging

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"image"
	stdjpeg "image/jpeg"
	"io"

	"storeyrod/defects"
)

// jpegShape is what a frame header says of the memory a full decoding takes.
type jpegShape struct {
	samples float64 // of all components, for each pixel
	rgb     bool    // components named R, G and B
	adobe   int     // colour transform of the Adobe segment, −1 without one
}

// frame reads the components of a frame header (ITU-T T.81 B.2.2).
func (j *jpegShape) frame(components []byte) {
	var sum, hMost, vMost int
	names := ""
	for i := 0; i+3 <= len(components); i += 3 {
		h, v := int(components[i+1]>>4), int(components[i+1]&15)
		sum, hMost, vMost = sum+h*v, max(hMost, h), max(vMost, v)
		names += string(rune(components[i]))
	}
	j.samples = float64(sum) / float64(max(hMost*vMost, 1))
	j.rgb = names == "RGB"
}

// fullBytes is what the standard decoder holds of a JPEG at once: samples,
// coefficients of four bytes when progressive, and pixels of four bytes where
// colours are no YCbCr.
func (s *survey) fullBytes() int64 {
	each := s.shape.samples
	if s.Progressive {
		each *= 5
	}
	if s.Components == 4 || s.shape.rgb || s.shape.adobe == 0 {
		each += 4
	}
	return int64(each * float64(s.Pixels()))
}

// fullJPEG has the standard decoder decode what the scaled one leaves, if its
// cost can be borne.
func (s *survey) fullJPEG(r *watchedReader, lim Limits) (image.Image, error) {
	if s.fullBytes() > lim.MaxDecodeBytes {
		return nil, defects.RefuseField(defects.TooLarge, "file", "too_many_pixels",
			fmt.Sprintf("a JPEG of %d × %d pixels coded in this way takes too much memory to decode; the original is kept", s.Width, s.Height))
	}
	if err := r.rewind(); err != nil {
		return nil, err
	}
	if err := s.countScans(bufio.NewReaderSize(r, 1<<16), lim); err != nil {
		return nil, err
	}
	if err := r.rewind(); err != nil {
		return nil, err
	}
	img, err := s.standard(r)
	var left stdjpeg.UnsupportedError
	if errors.As(err, &left) {
		return nil, defects.RefuseField(defects.UnsupportedType, "file", "no_decoder",
			fmt.Sprintf("no view copy can be made of this kind of JPEG (%s); the original is kept", string(left)))
	}
	return img, err
}

// standard decodes; four components without an Adobe segment are inks as they
// are, while Adobe stores them inverted. The decoder takes the latter only.
func (s *survey) standard(r io.Reader) (image.Image, error) {
	if s.Components != 4 || s.shape.adobe >= 0 {
		return stdjpeg.Decode(r)
	}
	if _, err := io.CopyN(io.Discard, r, 2); err != nil {
		return nil, err
	}
	adobe := []byte("\xFF\xD8\xFF\xEE\x00\x0EAdobe\x00\x64\x00\x00\x00\x00\x00")
	img, err := stdjpeg.Decode(io.MultiReader(bytes.NewReader(adobe), r))
	if m, ok := img.(*image.CMYK); ok {
		for i := range m.Pix {
			m.Pix[i] = ^m.Pix[i]
		}
	}
	return img, err
}

// countScans goes over a whole JPEG by its markers and refuses one that has
// more segments, or asks for more passes over the picture, than any camera or
// program writes: each scan, however few bytes it has, costs a pass.
func (s *survey) countScans(r *bufio.Reader, lim Limits) error {
	scans, segments := int64(0), 0
	tooMany := func() error {
		return defects.RefuseField(defects.TooLarge, "file", "too_many_scans",
			"the picture is coded in more passes than are taken; the original is kept")
	}
	for {
		marker, err := nextJPEGMarker(r)
		if err != nil || marker == mEOI {
			return nil // whether the end is missing is for the decoder to say
		}
		if marker == mTEM || marker >= mRST0 && marker <= mSOI {
			continue
		}
		if marker == mSOS {
			if scans++; scans*max(s.Pixels(), minScanPixels) > lim.MaxScanPixels {
				return tooMany()
			}
		}
		if segments++; segments > lim.MaxSegments {
			return tooMany()
		}
		var size [2]byte
		if _, err := io.ReadFull(r, size[:]); err != nil {
			return nil
		}
		if _, err := r.Discard(max(int(be16(size[:]))-2, 0)); err != nil {
			return nil
		}
	}
}

// minScanPixels is what a scan of a tiny picture counts as.
const minScanPixels = 1 << 20

// nextJPEGMarker passes over coded data.
func nextJPEGMarker(r *bufio.Reader) (byte, error) {
	for {
		if _, err := r.ReadSlice(0xFF); err != nil {
			if errors.Is(err, bufio.ErrBufferFull) {
				continue
			}
			return 0, err
		}
		for {
			b, err := r.ReadByte()
			if err != nil {
				return 0, err
			}
			if b == 0x00 {
				break
			}
			if b != 0xFF {
				return b, nil
			}
		}
	}
}
