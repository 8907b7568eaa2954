package imaging

import (
	"bytes"
	"slices"
)

// JPEG markers (ITU-T T.81 table B.1).
const (
	mSOF0  = 0xC0
	mSOF1  = 0xC1
	mSOF2  = 0xC2
	mDHT   = 0xC4
	mJPG   = 0xC8
	mDAC   = 0xCC
	mSOF15 = 0xCF
	mRST0  = 0xD0
	mSOI   = 0xD8
	mEOI   = 0xD9
	mSOS   = 0xDA
	mTEM   = 0x01
	mAPP1  = 0xE1
	mAPP2  = 0xE2
	mAPP14 = 0xEE
)

const (
	exifPrefix = "Exif\x00\x00"
	iccPrefix  = "ICC_PROFILE\x00"
)

// iccPart is one APP2 segment of a colour profile (ICC.1 annex B.4).
type iccPart struct {
	seq  byte
	body span
}

// walkJPEG goes over the marker segments up to the start of the first scan.
func (s *survey) walkJPEG(lim Limits) error {
	var parts []iccPart
	s.shape.adobe = -1
	at := int64(2)
	for range lim.MaxSegments {
		marker, body, err := s.nextMarker(at)
		if err != nil {
			return err
		}
		if marker == mTEM || marker >= mRST0 && marker <= mSOI {
			at = body
			continue
		}
		if marker == mEOI {
			return damaged("the picture ends before it begins", nil)
		}
		size, err := s.src.read(body, 2)
		if err != nil {
			return err
		}
		seg := span{at: body + 2, n: int64(be16(size)) - 2}
		if seg.n < 0 || seg.at+seg.n > s.src.size {
			return errShort
		}
		s.beyondExif = s.exif.n > 0
		if marker == mSOS {
			s.icc = orderICC(parts)
			if s.Width == 0 {
				return damaged("the picture has no frame header", nil)
			}
			return nil
		}
		if parts, err = s.jpegSegment(marker, seg, parts); err != nil {
			return err
		}
		at = seg.at + seg.n
	}
	return damaged("too many segments", nil)
}

// nextMarker finds the marker at or after an offset. Fill bytes are part of
// the format; stray bytes are not, but decoders forgive them and so do we,
// for a bounded distance.
func (s *survey) nextMarker(at int64) (marker byte, body int64, err error) {
	const window, windows = 256, 16
	for range windows {
		buf, err := s.src.upTo(at, window)
		if err != nil {
			return 0, 0, err
		}
		for i := 0; i+1 < len(buf); i++ {
			if buf[i] == 0xFF && buf[i+1] != 0xFF && buf[i+1] != 0x00 {
				return buf[i+1], at + int64(i) + 2, nil
			}
		}
		if len(buf) < window {
			return 0, 0, errShort
		}
		at += window - 1
	}
	return 0, 0, damaged("no segment where one is due", nil)
}

// jpegSegment notes what a segment tells: the frame, Exif, colour profile.
func (s *survey) jpegSegment(marker byte, seg span, parts []iccPart) ([]iccPart, error) {
	switch {
	case marker == mAPP1 && s.exif.n == 0:
		head, err := s.src.upTo(seg.at, int(min(seg.n, 6)))
		if err == nil && len(head) >= 5 && string(head[:5]) == exifPrefix[:5] {
			s.exif = seg
		}
	case marker == mAPP2:
		head, err := s.src.upTo(seg.at, int(min(seg.n, 14)))
		if err == nil && len(head) == 14 && bytes.HasPrefix(head, []byte(iccPrefix)) {
			parts = append(parts, iccPart{seq: head[12], body: span{seg.at + 14, seg.n - 14}})
		}
	case marker == mAPP14:
		head, err := s.src.upTo(seg.at, int(min(seg.n, 12)))
		if err == nil && len(head) == 12 && bytes.HasPrefix(head, []byte("Adobe")) {
			s.shape.adobe = int(head[11])
		}
	case marker >= mSOF0 && marker <= mSOF15 && marker != mDHT && marker != mJPG && marker != mDAC:
		return parts, s.jpegFrame(marker, seg)
	}
	return parts, nil
}

// jpegFrame reads the frame header (T.81 B.2.2). Arithmetic, lossless,
// hierarchical and 12-bit pictures are taken but have no decoder here.
func (s *survey) jpegFrame(marker byte, seg span) error {
	if s.Width != 0 {
		return damaged("two frame headers", nil)
	}
	if seg.n < 6 {
		return errShort
	}
	b, err := s.src.upTo(seg.at, int(min(seg.n, 6+3*4)))
	if err != nil {
		return err
	}
	s.Height, s.Width, s.Components = int(be16(b[1:])), int(be16(b[3:])), int(b[5])
	if s.Width == 0 || s.Height == 0 || s.Components == 0 || seg.n < 6+3*int64(s.Components) {
		return damaged("the frame header makes no sense", nil)
	}
	s.shape.frame(b[6:])
	s.Progressive = marker == mSOF2
	s.Decodable = marker <= mSOF2 && b[0] == 8
	return nil
}

// orderICC puts the parts of a profile in order; a doubled number keeps the first.
func orderICC(parts []iccPart) []span {
	slices.SortStableFunc(parts, func(a, b iccPart) int { return int(a.seq) - int(b.seq) })
	var list []span
	last := -1
	for _, p := range parts {
		if int(p.seq) != last {
			list = append(list, p.body)
		}
		last = int(p.seq)
	}
	return list
}
