package jpeg

import "encoding/binary"

// bits is the entropy-coded stream: the next bits, first one on top.
type bits struct {
	src *source
	acc uint64
	n   int // bits of acc that count
	// pad of the n bits are zeros added where the coded data ended. Decoding
	// goes on into them and is found out once a block (overrun), which is
	// cheaper than asking at each code.
	pad int
}

// refill tops the accumulator up to at least 56 bits. Accumulator and count
// are passed in and out, so that a loop can keep them in registers.
func (b *bits) refill(acc uint64, n int) (uint64, int) {
	s := b.src
	if s.end-s.pos >= 8 {
		v := binary.BigEndian.Uint64(s.buf[s.pos : s.pos+8])
		// Eight bytes at once, when none of them is 0xFF: a byte x is 0xFF
		// where ^x is zero, and subtracting 1 from each zero byte borrows.
		if (^v-0x0101010101010101)&v&0x8080808080808080 == 0 {
			// Only whole bytes count; the odd bits below them are entered
			// again, with the same value, by the next refill.
			s.pos += (63 - n) >> 3
			return acc | v>>(n&63), n | 56
		}
	}
	return b.refillByByte(acc, n)
}

func (b *bits) refillByByte(acc uint64, n int) (uint64, int) {
	for ; n <= 56; n += 8 {
		c, ok := b.next()
		if !ok {
			b.pad += 8
		}
		acc |= uint64(c) << (56 - n)
	}
	return acc, n
}

// next gives the next byte of coded data. After 0xFF a stuffed zero is dropped
// (F.2.2.5); anything else there is a marker, which stays unread.
func (b *bits) next() (byte, bool) {
	s := b.src
	if s.pos == s.end && !s.fill() {
		return 0, false
	}
	c := s.buf[s.pos]
	if c != 0xFF {
		s.pos++
		return c, true
	}
	if s.pos+1 == s.end && !s.fill() {
		return 0, false
	}
	if s.buf[s.pos+1] != 0 {
		return 0, false
	}
	s.pos += 2
	return c, true
}

// overrun says that more bits were used than there are.
func (b *bits) overrun() bool { return b.n < b.pad }

// finish ends a stretch of coded data: less than a byte of padding may be left
// (F.1.2.3), and the next byte of the file is that of a marker.
func (b *bits) finish() error {
	if b.n-b.pad >= 8 {
		return unsupported("stray bytes where a marker is due")
	}
	b.acc, b.n, b.pad = 0, 0, 0
	return nil
}
