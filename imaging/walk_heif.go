package imaging

import "encoding/binary"

// walkHEIF finds the meta box and reads from it the size of the primary item
// and where the Exif item lies (ISO/IEC 23008-12).
func (s *survey) walkHEIF(lim Limits) error {
	at := int64(0)
	for range lim.MaxSegments {
		head, err := s.src.upTo(at, 16)
		if err != nil || len(head) < 8 {
			return damaged("the box of descriptions is missing", err)
		}
		size, skip := int64(be32(head)), int64(8)
		if size == 1 && len(head) == 16 {
			size, skip = int64(binary.BigEndian.Uint64(head[8:])), 16
		}
		if size == 0 {
			size = s.src.size - at
		}
		if size < skip || size > s.src.size-at {
			return errShort
		}
		if string(head[4:8]) == "meta" {
			return s.heifMeta(span{at + skip, size - skip}, lim)
		}
		at += size
	}
	return damaged("too many boxes", nil)
}

// heifMeta reads the box of descriptions: how large the primary picture is,
// where the Exif data lie, and how its pixels are put together.
func (s *survey) heifMeta(where span, lim Limits) error {
	if where.n > int64(lim.MaxMetadata) {
		return damaged("the box of descriptions is too large", nil)
	}
	meta, err := s.src.read(where.at, int(where.n))
	if err != nil {
		return err
	}
	if len(meta) < 4 {
		return errShort
	}
	items := newHEIFItems(where.at + 4)
	for _, b := range boxes(meta[4:], lim.MaxSegments) {
		items.take(b, lim)
	}
	if items.left < 0 {
		return damaged("the box of descriptions lists too much", nil)
	}
	return s.heifResult(items)
}

// heifResult turns what was listed into the survey's answer. A picture that
// can't be decoded is a photo all the same.
func (s *survey) heifResult(h *heifItems) error {
	size, stated := h.sizeOf(h.primary)
	if !stated {
		size = h.largest
	}
	if size[0] == 0 || size[1] == 0 {
		return damaged("the picture has no size", nil)
	}
	s.Width, s.Height = size[0], size[1]
	s.maxPixel = Header{Type: s.Type, Width: h.largest[0], Height: h.largest[1]}
	if places := h.placesOf(h.exif); h.exif != 0 && len(places) == 1 {
		s.exif = places[0]
	}
	s.heic, s.heicWhy = s.planHEIC(h)
	s.Decodable = s.heicWhy == nil
	return nil
}
