package jpeg

// Marker codes, the byte after 0xFF (T.81 table B.1).
const (
	markerTEM   = 0x01
	markerSOF0  = 0xC0 // baseline sequential, Huffman
	markerSOF1  = 0xC1 // extended sequential, Huffman
	markerSOF2  = 0xC2 // progressive, Huffman
	markerDHT   = 0xC4
	markerJPG   = 0xC8
	markerDAC   = 0xCC
	markerSOF15 = 0xCF
	markerRST0  = 0xD0
	markerRST7  = 0xD7
	markerSOI   = 0xD8
	markerEOI   = 0xD9
	markerSOS   = 0xDA
	markerDQT   = 0xDB
	markerDNL   = 0xDC
	markerDRI   = 0xDD
	markerDHP   = 0xDE
	markerEXP   = 0xDF
	markerAPP14 = 0xEE
	markerFill  = 0xFF
)

// marker reads the marker that is due, with any fill bytes before it (B.1.1.2).
// Stray bytes are not part of the format. Some decoders skip them, so they are
// called unsupported, not corrupt: another decoder may judge.
func (s *source) marker() (byte, error) {
	b, err := s.byte()
	if err != nil {
		return 0, err
	}
	if b != markerFill {
		return 0, unsupported("stray bytes where a marker is due")
	}
	for b == markerFill {
		if b, err = s.byte(); err != nil {
			return 0, err
		}
	}
	if b == 0 {
		return 0, unsupported("stray bytes where a marker is due")
	}
	return b, nil
}

// length reads the length of a segment without its own two bytes (B.1.1.4).
func (s *source) length() (int, error) {
	var b [2]byte
	if err := s.full(b[:]); err != nil {
		return 0, err
	}
	n := int(b[0])<<8 | int(b[1])
	if n < 2 {
		return 0, corrupt("a segment shorter than its length")
	}
	return n - 2, nil
}

// segment reads the parameters of a segment.
func (s *source) segment() ([]byte, error) {
	n, err := s.length()
	if err != nil {
		return nil, err
	}
	p := make([]byte, n)
	return p, s.full(p)
}
