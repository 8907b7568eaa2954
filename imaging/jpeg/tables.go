package jpeg

// tables are the tables in force for the next scan.
type tables struct {
	quant   [4]*quantisation
	dc, ac  [4]*huffman
	restart int // MCUs between restart markers; 0 = none
}

// quantisation holds the step of each coefficient in zig-zag order.
type quantisation [64]int32

// parseQuant reads DQT (B.2.4.1): one or more tables of 8 or 16 bits.
func (t *tables) parseQuant(p []byte) error {
	for len(p) > 0 {
		precision, to := p[0]>>4, p[0]&15
		if precision > 1 || to > 3 {
			return corrupt("no such quantisation table")
		}
		size := 64 * (1 + int(precision))
		if len(p) < 1+size {
			return corrupt("a quantisation table is too short")
		}
		var q quantisation
		for k := range q {
			if precision == 0 {
				q[k] = int32(p[1+k])
			} else {
				q[k] = int32(p[1+2*k])<<8 | int32(p[2+2*k])
			}
		}
		// A new table, not a changed one: a scan keeps those it began with.
		t.quant[to] = &q
		p = p[1+size:]
	}
	return nil
}

// parseHuffman reads DHT (B.2.4.2): one or more tables of codes.
func (t *tables) parseHuffman(p []byte) error {
	for len(p) > 0 {
		class, to := p[0]>>4, p[0]&15
		if class > 1 || to > 3 {
			return corrupt("no such Huffman table")
		}
		if len(p) < 17 {
			return corrupt("a Huffman table is too short")
		}
		counts := [17]int{}
		n := 0
		for i := 1; i <= 16; i++ {
			counts[i] = int(p[i])
			n += counts[i]
		}
		if n > 256 || len(p) < 17+n {
			return corrupt("a Huffman table is too short")
		}
		h, err := newHuffman(counts, p[17:17+n], class == 0)
		if err != nil {
			return err
		}
		if class == 0 {
			t.dc[to] = h
		} else {
			t.ac[to] = h
		}
		p = p[17+n:]
	}
	return nil
}

// parseRestart reads DRI (B.2.4.4).
func (t *tables) parseRestart(p []byte) error {
	if len(p) != 2 {
		return corrupt("the restart interval has a wrong length")
	}
	t.restart = int(p[0])<<8 | int(p[1])
	return nil
}
