package imaging

// walkWebP goes over the RIFF chunks (WebP container specification, Google).
func (s *survey) walkWebP(lim Limits) error {
	riff, err := s.src.read(0, 12)
	if err != nil {
		return err
	}
	end := int64(le32(riff[4:])) + 8
	if end > s.src.size {
		return errShort
	}
	at := int64(12)
	for range lim.MaxSegments {
		if at+8 > end {
			break
		}
		head, err := s.src.read(at, 8)
		if err != nil {
			return err
		}
		body := span{at: at + 8, n: int64(le32(head[4:]))}
		if body.at+body.n > s.src.size {
			return errShort
		}
		if err := s.webpChunk(string(head[:4]), body); err != nil {
			return err
		}
		at = body.at + body.n + body.n&1
	}
	if s.Width == 0 {
		return damaged("the picture has no size", nil)
	}
	return nil
}

func (s *survey) webpChunk(name string, body span) error {
	switch name {
	case "VP8X":
		b, err := s.src.read(body.at, 10)
		if err != nil {
			return err
		}
		s.Width, s.Height = le24(b[4:])+1, le24(b[7:])+1
		s.Decodable = b[0]&0x02 == 0 // animation has no single picture
	case "VP8 ":
		return s.webpLossy(body)
	case "VP8L":
		return s.webpLossless(body)
	case "ALPH":
		s.PixelBytes = webpAlphaBytes
	case "EXIF":
		if s.exif.n == 0 {
			s.exif = body
		}
	case "ICCP":
		if len(s.icc) == 0 {
			s.icc = []span{body}
		}
	}
	return nil
}

// What a pixel of a WebP costs: without loss two bitmaps of four bytes; beside
// a lossy picture one such for its transparency, which is coded without loss.
const (
	webpLosslessBytes = 8
	webpAlphaBytes    = 7
)

// webpLossy reads the key frame header (RFC 6386 §9.1).
func (s *survey) webpLossy(body span) error {
	b, err := s.src.read(body.at, 10)
	if err != nil {
		return err
	}
	if b[3] != 0x9D || b[4] != 0x01 || b[5] != 0x2A {
		return damaged("the picture has no start code", nil)
	}
	return s.webpSize(int(b[6])|int(b[7]&0x3F)<<8, int(b[8])|int(b[9]&0x3F)<<8)
}

// webpLossless reads the size of the lossless coding (WebP lossless bitstream §3).
func (s *survey) webpLossless(body span) error {
	b, err := s.src.read(body.at, 5)
	if err != nil {
		return err
	}
	if b[0] != 0x2F {
		return damaged("the picture has no signature", nil)
	}
	s.Lossless, s.PixelBytes = true, webpLosslessBytes
	bits := le32(b[1:])
	return s.webpSize(int(bits&0x3FFF)+1, int(bits>>14&0x3FFF)+1)
}

// webpSize takes the size of the picture itself; where an extended header
// stated the canvas before, the larger of the two counts for the limits.
func (s *survey) webpSize(width, height int) error {
	if s.Width == 0 {
		s.Width, s.Height, s.Decodable = width, height, true
		return nil
	}
	s.maxPixel = Header{Type: WebP, Width: width, Height: height, Lossless: s.Lossless, PixelBytes: s.PixelBytes}
	return nil
}
