package imaging

import "encoding/binary"

// box is one box of an ISO base media file held in memory.
type box struct {
	kind string
	at   int64 // of the body, from the start of the memory split
	body []byte
}

// boxes splits memory into boxes (ISO/IEC 14496-12 §4.2), at most n of them.
// What does not fit ends the list: the rest is not trusted.
func boxes(b []byte, n int) []box {
	var list []box
	at := uint64(0)
	for len(b) >= 8 && len(list) < n {
		size, head := uint64(be32(b)), uint64(8)
		switch {
		case size == 1 && len(b) >= 16:
			size, head = binary.BigEndian.Uint64(b[8:]), 16
		case size == 0:
			size = uint64(len(b))
		}
		if size < head || size > uint64(len(b)) {
			return list
		}
		list = append(list, box{kind: string(b[4:8]), at: int64(at + head), body: b[head:size]})
		b, at = b[size:], at+size
	}
	return list
}

// cursor reads big-endian numbers off memory; past the end it gives zeros and
// says so in short.
type cursor struct {
	b     []byte
	short bool
}

func (c *cursor) bytes(n int) []byte {
	if n > len(c.b) {
		c.b, c.short = nil, true
		return make([]byte, n)
	}
	out := c.b[:n]
	c.b = c.b[n:]
	return out
}

func (c *cursor) u(n int) uint64 {
	var v uint64
	for _, x := range c.bytes(n) {
		v = v<<8 | uint64(x)
	}
	return v
}

func (c *cursor) id(wide bool) uint32 {
	if wide {
		return uint32(c.u(4))
	}
	return uint32(c.u(2))
}
