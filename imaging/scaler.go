package imaging

import "slices"

// scaler resamples one plane with Lanczos while its rows come in. Four result
// rows are made at a time, first down the columns, then along the rows, as the
// first pass is the cheaper one and leaves fewer rows to the second. No more
// rows are held than these four need.
type scaler struct {
	width, height int // of the source
	stride        int // from one held row to the next
	across, down  kernel
	rows          int // of the result
	out           view

	held []byte // source rows that are still needed, one after the other
	top  int    // number of the first of them
	next int    // number of the next result row, a multiple of four

	columns []uint64 // the pass down: one word for each column, a lane for each row
}

// newScaler resamples a plane of w × h samples with these kernels.
func newScaler(w, h int, across, down kernel, out view) *scaler {
	stride := (w + 7) &^ 7 // whole words
	return &scaler{
		width: w, height: h, stride: stride,
		across: across, down: down, rows: len(down.first), out: out,
		columns: make([]uint64, stride+spare),
	}
}

// spare is how far the last weights of a kernel, all zero, reach behind the
// samples.
const spare = 3

// portion is how many rows are copied at most before result rows are made.
const portion = 32

// take adds the next rows of the plane and makes what result rows it can.
func (s *scaler) take(pix []byte, stride, rows int) {
	for done := 0; done < rows; done += portion {
		s.drop()
		for y := done; y < min(done+portion, rows); y++ {
			s.held = append(s.held, pix[y*stride:y*stride+s.width]...)
			s.held = append(s.held, make([]byte, s.stride-s.width)...)
		}
		have := s.top + len(s.held)/s.stride
		for s.next < s.rows && s.needs(min(s.next+3, s.rows-1)) <= have {
			s.pass()
		}
	}
}

// needs is how many source rows there must be for a result row.
func (s *scaler) needs(row int) int { return min(s.down.first[row]+s.down.taps, s.height) }

// drop forgets the rows that no result row needs any more.
func (s *scaler) drop() {
	have := s.top + len(s.held)/s.stride
	first := have
	if s.next < s.rows {
		first = min(s.down.first[s.next], have)
	}
	n := copy(s.held, s.held[(first-s.top)*s.stride:])
	s.held, s.top = s.held[:n], first
}

// pass makes the next four result rows. Where fewer are left, the last one is
// made again and not stored.
func (s *scaler) pass() {
	var rows [4][]byte
	var weights [4][]int16
	s.held = slices.Grow(s.held, spare*s.stride)
	held := s.held[:len(s.held)+spare*s.stride]
	for i := range rows {
		y := min(s.next+i, s.rows-1)
		rows[i] = held[(s.down.first[y]-s.top)*s.stride:]
		weights[i] = s.down.weight[y*s.down.taps:][:s.down.taps]
	}
	for x := 0; x < s.stride; x += 8 {
		e0, o0 := blend(rows[0][x:], s.stride, weights[0])
		e1, o1 := blend(rows[1][x:], s.stride, weights[1])
		e2, o2 := blend(rows[2][x:], s.stride, weights[2])
		e3, o3 := blend(rows[3][x:], s.stride, weights[3])
		c := (*[8]uint64)(s.columns[x:])
		c[0], c[2], c[4], c[6] = cross(e0, e1, e2, e3)
		c[1], c[3], c[5], c[7] = cross(o0, o1, o2, o3)
	}
	s.along(min(4, s.rows-s.next))
	s.next += 4
}

// along resamples the columns along the rows and stores n of the four rows.
func (s *scaler) along(n int) {
	taps, weight := s.across.taps, s.across.weight
	at, dx, dy := s.out.at(0, s.next), s.out.dx, s.out.dy
	pix, columns := s.out.pix, s.columns
	for _, first := range s.across.first {
		sum := uint64(start)
		c, w := columns[first:first+taps], weight[:taps]
		for len(c) >= 4 && len(w) >= 4 {
			sum += uint64(w[0])*c[0] + uint64(w[1])*c[1] + uint64(w[2])*c[2] + uint64(w[3])*c[3]
			c, w = c[4:], w[4:]
		}
		weight = weight[taps:]
		sum = settle(sum)
		if n == 4 {
			pix[at], pix[at+dy], pix[at+2*dy], pix[at+3*dy] = byte(sum), byte(sum>>16), byte(sum>>32), byte(sum>>48)
		} else {
			for i := range n {
				pix[at+i*dy] = byte(sum >> (16 * i))
			}
		}
		at += dx
	}
}
