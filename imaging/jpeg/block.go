package jpeg

// block is the dequantised coefficients of 8 × 8 samples, row by row: the one
// of vertical frequency v and horizontal frequency u at 8v+u.
type block struct {
	coef [64]int32
	used uint64 // bit i: coef[i] was in the stream; never set for coef[0], DC
}

// zigzag gives the place in the block of the k-th coefficient of the stream
// (figure A.6).
var zigzag = [64]uint8{
	0, 1, 8, 16, 9, 2, 3, 10,
	17, 24, 32, 25, 18, 11, 4, 5,
	12, 19, 26, 33, 40, 48, 41, 34,
	27, 20, 13, 6, 7, 14, 21, 28,
	35, 42, 49, 56, 57, 50, 43, 36,
	29, 22, 15, 23, 30, 37, 44, 51,
	58, 59, 52, 45, 38, 31, 39, 46,
	53, 60, 61, 54, 47, 55, 62, 63,
}

// maxDC bounds the sum of the differences. Eight-bit samples need 11 bits and a
// sign; with 15 no product with a step of 16 bits can overflow.
const maxDC = 1<<15 - 1

// read decodes the next block of the stream.
func (p *part) read(in *bits, b *block) error {
	if b.used != 0 {
		*b = block{}
	}
	if err := p.readDC(in, b); err != nil {
		return err
	}
	if err := p.readAC(in, b); err != nil {
		return err
	}
	if in.overrun() {
		return in.cut()
	}
	return nil
}

// readDC decodes the difference to the DC coefficient of the block before
// (F.2.2.1).
func (p *part) readDC(in *bits, b *block) error {
	acc, n := in.refill(in.acc, in.n)
	s := p.dc.look[acc>>(64-lookBits)]
	if s.drop == 0 {
		if s = p.dc.long(acc); s.drop == 0 {
			return in.noCode()
		}
	}
	acc <<= s.drop & 63
	n -= int(s.drop)
	v := int32(s.value)
	if s.size != 0 {
		v = extend(acc, s.size)
		acc <<= s.size & 63
		n -= int(s.size)
	}
	in.acc, in.n = acc, n
	p.pred += v
	if p.pred > maxDC || p.pred < -maxDC {
		return corrupt("a DC coefficient out of range")
	}
	b.coef[0] = p.pred * p.quant[0]
	return nil
}

// readAC decodes the other 63 coefficients (F.2.2.2), puts them in their place
// (A.3.6) and dequantises them (A.3.4).
func (p *part) readAC(in *bits, b *block) error {
	acc, n := in.acc, in.n
	quant, codes, used := p.quant, p.ac, uint64(0)
	for k := 1; k < 64; k++ {
		if n < 32 { // a code and its magnitude take up to 16 + 10 bits
			acc, n = in.refill(acc, n)
		}
		s := codes.look[acc>>(64-lookBits)]
		if s.drop == 0 {
			if s = codes.long(acc); s.drop == 0 {
				return in.noCode()
			}
		}
		acc <<= s.drop & 63
		n -= int(s.drop)
		v := int32(s.value)
		if s.size != 0 {
			v = extend(acc, s.size)
			acc <<= s.size & 63
			n -= int(s.size)
		} else if v == 0 && s.run == 0 {
			break // end of block
		}
		k += int(s.run)
		if k > 63 {
			return corrupt("a block of more than 64 coefficients")
		}
		if v != 0 { // else sixteen zeros
			at := zigzag[k] & 63
			b.coef[at] = v * quant[k]
			used |= 1 << at
		}
	}
	in.acc, in.n, b.used = acc, n, used
	return nil
}

// cut is the error for coded data that ended too soon.
func (b *bits) cut() error {
	if b.src.err != nil && b.src.end-b.src.pos < 2 {
		return ended(b.src.err)
	}
	return corrupt("the coded data ends early")
}

// noCode is the error for bits that are no code. Where the data ended, they
// are the padding's.
func (b *bits) noCode() error {
	if b.pad > 0 {
		return b.cut()
	}
	return corrupt("bits that are no code")
}
