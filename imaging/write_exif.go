package imaging

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
)

// WithExif puts a capture into a JPEG as an Exif APP1 segment directly behind
// its first marker (Exif 2.32 §4.5.2), in place of any Exif that was there.
// Type, Width and Height are not written, as the picture itself states them.
// Angles keep 10⁻⁶ of a second, lengths a millimetre or a micrometre. Text
// the standard wants as ASCII is refused when it is not.
func WithExif(jpeg []byte, c defects.Capture) ([]byte, error) {
	if len(jpeg) < 4 || jpeg[0] != 0xFF || jpeg[1] != mSOI {
		return nil, damaged("no JPEG to write Exif into", nil)
	}
	block, err := exifTIFF(c)
	if err != nil {
		return nil, err
	}
	n := 2 + len(exifPrefix) + len(block)
	if n > math.MaxUint16 {
		return nil, defects.Refuse(defects.TooLarge, "exif_too_large", "the Exif data do not fit into one segment")
	}
	rest, err := dropExif(jpeg[2:])
	if err != nil {
		return nil, err
	}
	out := make([]byte, 0, len(jpeg)+n+2)
	out = append(out, 0xFF, mSOI, 0xFF, mAPP1, byte(n>>8), byte(n))
	out = append(out, exifPrefix...)
	out = append(out, block...)
	return append(out, rest...), nil
}

// dropExif removes Exif segments from what follows the first marker.
func dropExif(b []byte) ([]byte, error) {
	var kept []byte
	at := 0
	for at+4 <= len(b) && b[at] == 0xFF && b[at+1] >= 0xE0 && b[at+1] <= 0xEF {
		end := at + 2 + int(be16(b[at+2:]))
		if end > len(b) || end < at+4 {
			return nil, damaged("a segment is cut off", nil)
		}
		if b[at+1] != mAPP1 || !strings.HasPrefix(string(b[at+4:min(end, at+10)]), exifPrefix) {
			kept = append(kept, b[at:end]...)
		}
		at = end
	}
	return append(kept, b[at:]...), nil
}

// entry is one value of a directory, its bytes in little-endian order.
type entry struct {
	tag, kind uint16
	count     uint32
	data      []byte
}

// directory gathers entries; the first fault is kept.
type directory struct {
	entries []entry
	err     error
}

func (d *directory) ascii(tag uint16, field, s string) {
	if s == "" {
		return
	}
	for _, r := range s {
		if (r < ' ' || r > '~') && d.err == nil {
			d.err = defects.RefuseField(defects.Invalid, field, "not_ascii", "Exif text must be plain ASCII")
		}
	}
	d.entries = append(d.entries, entry{tag, typeASCII, uint32(len(s) + 1), append([]byte(s), 0)})
}

func (d *directory) short(tag uint16, v int) {
	d.entries = append(d.entries, entry{tag, typeShort, 1, binary.LittleEndian.AppendUint16(nil, uint16(v))})
}

func (d *directory) long(tag uint16, v uint32) {
	d.entries = append(d.entries, entry{tag, typeLong, 1, binary.LittleEndian.AppendUint32(nil, v)})
}

func (d *directory) raw(tag, kind uint16, b ...byte) {
	d.entries = append(d.entries, entry{tag, kind, uint32(len(b)), b})
}

// rational writes numbers with a common denominator.
func (d *directory) rational(tag uint16, field string, den uint32, values ...float64) {
	var data []byte
	for _, v := range values {
		n := math.Round(v * float64(den))
		if !(n >= 0 && n <= math.MaxUint32) && d.err == nil {
			d.err = defects.RefuseField(defects.Invalid, field, "out_of_range", fmt.Sprintf("%g cannot be written as Exif", v))
		}
		data = binary.LittleEndian.AppendUint32(data, uint32(n))
		data = binary.LittleEndian.AppendUint32(data, den)
	}
	d.entries = append(d.entries, entry{tag, typeRational, uint32(len(values)), data})
}

// signed writes one number that may be negative.
func (d *directory) signed(tag uint16, field string, den uint32, v float64) {
	n := math.Round(v * float64(den))
	if !(math.Abs(n) <= math.MaxInt32) && d.err == nil {
		d.err = defects.RefuseField(defects.Invalid, field, "out_of_range", fmt.Sprintf("%g cannot be written as Exif", v))
	}
	data := binary.LittleEndian.AppendUint32(nil, uint32(int32(n)))
	d.entries = append(d.entries, entry{tag, typeSRational, 1, binary.LittleEndian.AppendUint32(data, den)})
}

// size is the length of the directory with its values.
func (d *directory) size() uint32 {
	n := uint32(2 + 12*len(d.entries) + 4)
	for _, e := range d.entries {
		if len(e.data) > 4 {
			n += uint32(len(e.data)+1) &^ 1
		}
	}
	return n
}

// bytes lays the directory out for a place in the block: entries in order of
// tag, the end mark, then the values that do not fit into four bytes.
func (d *directory) bytes(at uint32) []byte {
	slices.SortFunc(d.entries, func(a, b entry) int { return cmp.Compare(a.tag, b.tag) })
	le := binary.LittleEndian
	out := le.AppendUint16(nil, uint16(len(d.entries)))
	var tail []byte
	behind := at + uint32(2+12*len(d.entries)+4)
	for _, e := range d.entries {
		out = le.AppendUint16(out, e.tag)
		out = le.AppendUint16(out, e.kind)
		out = le.AppendUint32(out, e.count)
		if len(e.data) <= 4 {
			out = append(out, append(slices.Clone(e.data), 0, 0, 0, 0)[:4]...)
			continue
		}
		out = le.AppendUint32(out, behind+uint32(len(tail)))
		tail = append(tail, e.data...)
		if len(tail)%2 == 1 {
			tail = append(tail, 0)
		}
	}
	return append(le.AppendUint32(out, 0), tail...)
}

// exifTIFF builds the block: TIFF header, main, Exif and GPS directories.
func exifTIFF(c defects.Capture) ([]byte, error) {
	first, exif, gps := mainDirectory(c), exifDirectory(c), gpsDirectory(c)
	first.long(tagExifDir, 0)
	if len(gps.entries) > 0 {
		first.long(tagGPSDir, 0)
	}
	const start = 8
	exifAt := start + first.size()
	gpsAt := exifAt + exif.size()
	for i, e := range first.entries {
		switch e.tag {
		case tagExifDir:
			first.entries[i].data = binary.LittleEndian.AppendUint32(nil, exifAt)
		case tagGPSDir:
			first.entries[i].data = binary.LittleEndian.AppendUint32(nil, gpsAt)
		}
	}
	out := append([]byte("II*\x00"), start, 0, 0, 0)
	out = append(out, first.bytes(start)...)
	out = append(out, exif.bytes(exifAt)...)
	if len(gps.entries) > 0 {
		out = append(out, gps.bytes(gpsAt)...)
	}
	return out, cmp.Or(first.err, exif.err, gps.err)
}

func mainDirectory(c defects.Capture) *directory {
	d := &directory{}
	d.ascii(0x010F, "make", c.Make)
	d.ascii(0x0110, "model", c.Model)
	if c.Orientation >= 1 && c.Orientation <= 8 {
		d.short(0x0112, c.Orientation)
	}
	// Mandatory in the main directory: 72 dots an inch when not known.
	d.rational(0x011A, "resolution", 1, 72)
	d.rational(0x011B, "resolution", 1, 72)
	d.short(0x0128, 2)
	d.ascii(0x0131, "software", c.Software)
	d.short(0x0213, 1) // chroma samples centred, as in JPEG
	return d
}

func exifDirectory(c defects.Capture) *directory {
	d := &directory{}
	d.raw(0x9000, typeUndefined, []byte("0232")...)
	if c.TakenLocal != "" {
		t, err := time.Parse(localLayout, c.TakenLocal)
		if err != nil {
			d.err = defects.RefuseField(defects.Invalid, "taken_local", "bad_time", "a time is written 2006-01-02T15:04:05")
		}
		d.ascii(0x9003, "taken_local", t.Format("2006:01:02 15:04:05"))
		d.ascii(0x9004, "taken_local", t.Format("2006:01:02 15:04:05"))
	}
	d.ascii(0x9011, "utc_offset", c.UTCOffset)
	d.raw(0x9101, typeUndefined, 1, 2, 3, 0)
	if c.FocalMM != nil {
		d.rational(0x920A, "focal_mm", 1000, *c.FocalMM)
	}
	d.ascii(tagSubSecOrig, "subsec", c.SubSec)
	if c.TiltDeg != nil {
		d.signed(tagElevation, "tilt_deg", 100, *c.TiltDeg)
	}
	d.raw(0xA000, typeUndefined, []byte("0100")...)
	d.short(0xA001, 1)
	if c.Width > 0 && c.Height > 0 {
		d.long(0xA002, uint32(c.Width))
		d.long(0xA003, uint32(c.Height))
	}
	if c.Focal35MM != nil {
		d.short(0xA405, int(math.Round(*c.Focal35MM)))
	}
	d.ascii(0xA434, "lens", c.Lens)
	return d
}

func gpsDirectory(c defects.Capture) *directory {
	d := &directory{}
	if c.HasPlace() {
		d.angle(1, "lat", *c.Lat, "N", "S")
		d.angle(3, "lon", *c.Lon, "E", "W")
		d.ascii(0x12, "lat", "WGS-84")
	}
	if c.AltitudeM != nil {
		below := byte(0)
		if *c.AltitudeM < 0 {
			below = 1
		}
		d.raw(5, typeByte, below)
		d.rational(6, "altitude_m", 1000, math.Abs(*c.AltitudeM))
	}
	if c.GPSUTC != nil {
		t := c.GPSUTC.UTC()
		seconds := float64(t.Second()) + float64(t.Nanosecond())/1e9
		d.rational(tagGPSTime, "gps_utc", 1_000_000, float64(t.Hour()), float64(t.Minute()), seconds)
		d.ascii(0x1D, "gps_utc", t.Format("2006:01:02"))
	}
	if c.Direction != nil {
		d.ascii(0x10, "direction_ref", c.DirectionBy)
		d.rational(0x11, "direction_deg", 10_000, *c.Direction)
	}
	if c.HErrorM != nil {
		d.rational(0x1F, "h_error_m", 1000, *c.HErrorM)
	}
	if len(d.entries) > 0 {
		d.raw(0, typeByte, 2, 3, 0, 0)
	}
	return d
}

// angle writes a reference and degrees, minutes and seconds.
func (d *directory) angle(refTag uint16, field string, v float64, plus, minus string) {
	ref := plus
	if v < 0 {
		ref = minus
	}
	if !(math.Abs(v) <= 180) && d.err == nil {
		d.err = defects.RefuseField(defects.Invalid, field, "out_of_range", fmt.Sprintf("%g is no angle on the earth", v))
		return
	}
	const unit = 1_000_000 // parts of a second of arc
	all := uint64(math.Round(math.Abs(v) * 3600 * unit))
	deg, min, sec := all/(3600*unit), all/(60*unit)%60, all%(60*unit)
	d.ascii(refTag, field, ref)
	var data []byte
	for _, part := range [][2]uint32{{uint32(deg), 1}, {uint32(min), 1}, {uint32(sec), unit}} {
		data = binary.LittleEndian.AppendUint32(data, part[0])
		data = binary.LittleEndian.AppendUint32(data, part[1])
	}
	d.entries = append(d.entries, entry{refTag + 1, typeRational, 3, data})
}
