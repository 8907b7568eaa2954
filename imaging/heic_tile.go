package imaging

import (
	"bytes"
	"encoding/binary"
)

// maxTileBytes bounds the coded data of one tile.
const maxTileBytes = 24 << 20

// tileFile makes a HEIC file that holds one tile and nothing else, so that the
// decoder sees neither the rest of the photo nor its metadata.
func (s *survey) tileFile(p *heicPlan, t heicTile) ([]byte, error) {
	if len(t.data) == 0 {
		return nil, damaged("a tile has no data", nil)
	}
	data, err := s.load(t.data, maxTileBytes)
	if err != nil {
		return nil, damaged("a tile is cut off", err)
	}
	ispe := append(make([]byte, 4), u32(p.tileW, p.tileH)...)
	build := func(at int) []byte {
		return boxOf("meta", make([]byte, 4),
			boxOf("hdlr", make([]byte, 8), []byte("pict"), make([]byte, 13)),
			boxOf("pitm", []byte{0, 0, 0, 0, 0, 1}),
			boxOf("iinf", []byte{0, 0, 0, 0, 0, 1}, boxOf("infe", []byte{2, 0, 0, 0, 0, 1, 0, 0}, []byte("hvc1\x00"))),
			boxOf("iprp",
				boxOf("ipco", boxOf("hvcC", t.config), boxOf("ispe", ispe), boxOf("pixi", p.channels())),
				boxOf("ipma", []byte{0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 3, 0x81, 2, 3})),
			boxOf("iloc", []byte{0, 0, 0, 0, 0x44, 0, 0, 1, 0, 1, 0, 0, 0, 1}, u32(at, len(data))))
	}
	head := boxOf("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	at := len(head) + len(build(0)) + 8
	return bytes.Join([][]byte{head, build(at), boxOf("mdat", data)}, nil), nil
}

// channels is the body of pixi: bits of each channel. The decoder tells grey
// pictures from others by it.
func (p *heicPlan) channels() []byte {
	if p.grey {
		return []byte{0, 0, 0, 0, 1, 8}
	}
	return []byte{0, 0, 0, 0, 3, 8, 8, 8}
}

// boxOf makes a box.
func boxOf(kind string, body ...[]byte) []byte {
	n := 8
	for _, b := range body {
		n += len(b)
	}
	out := append(u32(n), kind...)
	for _, b := range body {
		out = append(out, b...)
	}
	return out
}

func u32(v ...int) []byte {
	var b []byte
	for _, n := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(n))
	}
	return b
}
