package jpeg

import "io"

// window is how much of the file is held at once. It is a multiple of what a
// disk gives in one go and far below the size of the planes.
const window = 64 << 10

// source gives the bytes of the file through a window. The bit reader looks
// into the window directly; all others use the methods.
type source struct {
	r        io.Reader
	buf      [window]byte
	pos, end int   // buf[pos:end] is still to be read
	err      error // why the reader gave no more
}

// fill moves what is left to the front and reads at least one more byte. It
// says false when the reader has none.
func (s *source) fill() bool {
	if s.err != nil {
		return false
	}
	s.end = copy(s.buf[:], s.buf[s.pos:s.end])
	s.pos = 0
	// A reader may give nothing a few times; one that always does is broken.
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		s.err = err
		if n > 0 {
			return true
		}
		if err != nil {
			return false
		}
	}
	s.err = io.ErrNoProgress
	return false
}

func (s *source) byte() (byte, error) {
	if s.pos == s.end && !s.fill() {
		return 0, ended(s.err)
	}
	b := s.buf[s.pos]
	s.pos++
	return b, nil
}

// full reads exactly len(p) bytes.
func (s *source) full(p []byte) error {
	for len(p) > 0 {
		if s.pos == s.end && !s.fill() {
			return ended(s.err)
		}
		n := copy(p, s.buf[s.pos:s.end])
		s.pos += n
		p = p[n:]
	}
	return nil
}

func (s *source) skip(n int) error {
	for n > 0 {
		if s.pos == s.end && !s.fill() {
			return ended(s.err)
		}
		step := min(n, s.end-s.pos)
		s.pos += step
		n -= step
	}
	return nil
}
