package imaging

import (
	"encoding/binary"
	"math"
)

// rawBlock reads single values of a TIFF structure (TIFF 6.0 §2) in the form
// they are stored in. The tag decoder turns sub-second digits into a number
// ("005" becomes 5) and a zero denominator into zero degrees; evidence needs
// both as written.
type rawBlock struct {
	b     []byte
	order binary.ByteOrder
}

// Tags read raw. Numbers of the Exif 2.32 tables.
const (
	tagExifDir    = 0x8769
	tagGPSDir     = 0x8825
	tagSubSecOrig = 0x9291
	tagElevation  = 0x9405 // CameraElevationAngle, since Exif 2.31
	tagLat        = 0x0002
	tagLon        = 0x0004
	tagGPSTime    = 0x0007
)

// TIFF value types.
const (
	typeByte      = 1
	typeASCII     = 2
	typeShort     = 3
	typeLong      = 4
	typeRational  = 5
	typeUndefined = 7
	typeSRational = 10
)

func newRawBlock(b []byte) rawBlock {
	if len(b) < 8 {
		return rawBlock{}
	}
	switch string(b[:4]) {
	case "II*\x00":
		return rawBlock{b: b, order: binary.LittleEndian}
	case "MM\x00*":
		return rawBlock{b: b, order: binary.BigEndian}
	}
	return rawBlock{}
}

func (r rawBlock) ok() bool { return r.order != nil }

// rawValue is one directory entry with its bytes.
type rawValue struct {
	kind  uint16
	count uint32
	data  []byte
}

// dir gives the offset of the Exif or GPS directory, 0 when absent.
func (r rawBlock) dir(pointer uint16) uint32 {
	v, ok := r.find(r.order.Uint32(r.b[4:]), pointer)
	if !ok || v.kind != typeLong || v.count != 1 {
		return 0
	}
	return r.order.Uint32(v.data)
}

// find looks up a tag in the directory at an offset. Directories are short
// and bounded by the block, so a plain search is enough.
func (r rawBlock) find(dir uint32, tag uint16) (rawValue, bool) {
	if dir < 8 || uint64(dir)+2 > uint64(len(r.b)) {
		return rawValue{}, false
	}
	n := int(r.order.Uint16(r.b[dir:]))
	for i := range n {
		at := uint64(dir) + 2 + uint64(i)*12
		if at+12 > uint64(len(r.b)) {
			return rawValue{}, false
		}
		e := r.b[at : at+12]
		if r.order.Uint16(e) == tag {
			return r.value(e)
		}
	}
	return rawValue{}, false
}

func (r rawBlock) value(e []byte) (rawValue, bool) {
	v := rawValue{kind: r.order.Uint16(e[2:]), count: r.order.Uint32(e[4:])}
	unit := uint64(0)
	switch v.kind {
	case typeByte, typeASCII, typeUndefined:
		unit = 1
	case typeShort:
		unit = 2
	case typeLong:
		unit = 4
	case typeRational, typeSRational:
		unit = 8
	}
	size := unit * uint64(v.count)
	if size == 0 || size > maxTagBytes {
		return v, false
	}
	if size <= 4 {
		v.data = e[8 : 8+size]
		return v, true
	}
	at := uint64(r.order.Uint32(e[8:]))
	if at+size > uint64(len(r.b)) {
		return v, false
	}
	v.data = r.b[at : at+size]
	return v, true
}

// rationals gives the value as numbers; NaN stands for a zero denominator,
// except that 0/0 after the first number counts as "not given", thus 0.
func (r rawBlock) rationals(v rawValue) ([]float64, bool) {
	if v.kind != typeRational && v.kind != typeSRational {
		return nil, false
	}
	out := make([]float64, 0, v.count)
	for i := 0; i+8 <= len(v.data); i += 8 {
		num, den := float64(r.order.Uint32(v.data[i:])), float64(r.order.Uint32(v.data[i+4:]))
		if v.kind == typeSRational {
			num, den = float64(int32(r.order.Uint32(v.data[i:]))), float64(int32(r.order.Uint32(v.data[i+4:])))
		}
		switch {
		case den != 0:
			out = append(out, num/den)
		case num == 0 && i > 0:
			out = append(out, 0)
		default:
			out = append(out, math.NaN())
		}
	}
	return out, true
}
