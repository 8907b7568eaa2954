package imaging

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// containers wraps an Exif block as each kind of file carries it, with the
// extra forms that programs write; every picture is 16 × 8.
func containers(t *testing.T) map[string]func(block []byte) []byte {
	t.Helper()
	prefixed := func(b []byte) []byte { return append([]byte(exifPrefix), b...) }
	return map[string]func([]byte) []byte{
		"jpeg":                 func(b []byte) []byte { return photoWithBlock(t, b) },
		"png":                  func(b []byte) []byte { return pngWithExif(b, false) },
		"png with a prefix":    func(b []byte) []byte { return pngWithExif(prefixed(b), false) },
		"png, behind pixels":   func(b []byte) []byte { return pngWithExif(b, true) },
		"webp":                 webpWithExif,
		"webp with a prefix":   func(b []byte) []byte { return webpWithExif(prefixed(b)) },
		"heic":                 func(b []byte) []byte { return heicWithExif(append(u32(0), b...), false) },
		"heic with a prefix":   func(b []byte) []byte { return heicWithExif(append(u32(6), prefixed(b)...), false) },
		"heic, among the data": func(b []byte) []byte { return heicWithExif(append(u32(0), b...), true) },
	}
}

func pngWithExif(block []byte, last bool) []byte {
	chunk := func(kind string, body []byte) []byte {
		all := append([]byte(kind), body...)
		return binary.BigEndian.AppendUint32(append(u32(len(body)), all...), crc32.ChecksumIEEE(all))
	}
	parts := [][]byte{[]byte(pngSignature), chunk("IHDR", append(u32(16, 8), 8, 0, 0, 0, 0)), chunk("eXIf", block), chunk("IDAT", []byte("x")), chunk("IEND", nil)}
	if last {
		parts[2], parts[3] = parts[3], parts[2]
	}
	return bytes.Join(parts, nil)
}

func webpWithExif(block []byte) []byte {
	le := binary.LittleEndian.AppendUint32
	body := append([]byte("WEBPVP8X\x0a\x00\x00\x00\x08\x00\x00\x00\x0f\x00\x00\x07\x00\x00EXIF"), le(nil, uint32(len(block)))...)
	body = append(append(body, block...), make([]byte, len(block)%2)...)
	return append(le([]byte("RIFF"), uint32(len(body))), body...)
}

func heicWithExif(item []byte, inline bool) []byte {
	infe := func(id byte, kind string) []byte {
		return boxOf("infe", []byte{2, 0, 0, 0, 0, id, 0, 0}, []byte(kind), []byte{0})
	}
	method, data := byte(0), boxOf("mdat", item)
	if inline {
		method, data = 1, nil
	}
	meta := func(at int) []byte {
		boxes := [][]byte{
			make([]byte, 4),
			boxOf("pitm", []byte{0, 0, 0, 0, 0, 1}),
			boxOf("iinf", []byte{0, 0, 0, 0, 0, 2}, infe(1, "hvc1"), infe(2, "Exif")),
			boxOf("iprp", boxOf("ipco", boxOf("ispe", u32(0, 16, 8))), boxOf("ipma", u32(0, 1), []byte{0, 1, 1, 1})),
			boxOf("iloc", []byte{1, 0, 0, 0, 0x44, 0, 0, 1, 0, 2, 0, method, 0, 0, 0, 1}, u32(at, len(item))),
		}
		if inline {
			boxes = append(boxes, boxOf("idat", item))
		}
		return boxOf("meta", boxes...)
	}
	head := boxOf("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	at := 0
	if !inline {
		at = len(head) + len(meta(0)) + 8
	}
	return bytes.Join([][]byte{head, meta(at), data}, nil)
}

// everyField fills each field, with the quirks that phones and programs write:
// south, west, below the sea, minutes with fractions, an offset.
func everyField() []byte {
	gps := place("S", []uint32{33, 1, 513540, 10000, 0, 1}, "W", []uint32{70, 1, 38, 1, 4999, 100})
	gps = append(gps,
		entry{5, typeByte, 1, []byte{1}}, ratEntry(6, 305, 10), ratEntry(tagGPSTime, 12, 1, 0, 1, 59, 1),
		textEntry(0x10, "M"), ratEntry(0x11, 123456, 1000), textEntry(0x1D, "2026:07:01"), ratEntry(0x1F, 35, 10))
	orientation := entry{0x0112, typeShort, 1, []byte{6, 0}}
	return blockOf(
		[]entry{textEntry(0x010F, "Maker"), textEntry(0x0110, "Model 7 "), orientation, textEntry(0x0131, "1.2.3")},
		[]entry{
			textEntry(0x9003, "2026:07:01 08:00:58"), textEntry(0x9011, "-04:00"), textEntry(tagSubSecOrig, "050"),
			ratEntry(0x920A, 5700, 1000),
			{0xA405, typeShort, 1, []byte{26, 0}},
			textEntry(0xA434, "wide"),
		}, gps)
}

func TestEveryContainerTellsEveryField(t *testing.T) {
	t.Parallel()
	for name, wrap := range containers(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, notes := read(t, wrap(everyField()))
			require.Empty(t, notes)
			require.Equal(t, []string{"Maker", "Model 7", "1.2.3", "wide"}, []string{c.Make, c.Model, c.Software, c.Lens})
			require.Equal(t, 6, c.Orientation)
			require.Equal(t, []string{"2026-07-01T08:00:58", "-04:00", "050", "M"}, []string{c.TakenLocal, c.UTCOffset, c.SubSec, c.DirectionBy})
			require.Equal(t, "2026-07-01T12:00:58Z", c.TakenUTC.Format(time.RFC3339))
			require.Equal(t, "2026-07-01T12:00:59Z", c.GPSUTC.Format(time.RFC3339))
			require.InDelta(t, -(33 + 51.354/60), *c.Lat, 1e-12)
			require.InDelta(t, -(70 + 38.0/60 + 49.99/3600), *c.Lon, 1e-12)
			require.Equal(t, []float64{-30.5, 123.456, 3.5, 5.7, 26}, []float64{*c.AltitudeM, *c.Direction, *c.HErrorM, *c.FocalMM, *c.Focal35MM})
		})
	}
}

func TestEveryContainerForgivesWhatIsWrong(t *testing.T) {
	t.Parallel()
	zero := []uint32{0, 0, 0, 0, 0, 0}
	for name, wrap := range containers(t) {
		for fault, tc := range map[string]struct {
			block []byte
			notes []string
		}{
			"no references":    {blockOf(nil, nil, place("", []uint32{53, 1, 0, 1, 0, 1}, "", []uint32{2, 1, 0, 1, 0, 1})), []string{NotePlaceNoRef}},
			"zero over zero":   {blockOf(nil, nil, place("N", zero, "W", zero)), []string{NotePlaceUnreadable}},
			"date of zeros":    {blockOf(nil, []entry{textEntry(0x9003, "0000:00:00 00:00:00")}, nil), nil},
			"no TIFF header":   {[]byte("nothing of the kind"), []string{NoteExifDamaged}},
			"cut off":          {everyField()[:60], []string{NoteExifDamaged}},
			"nothing at all":   {[]byte("II"), []string{NoteExifDamaged}},
			"a directory loop": {append([]byte("II*\x00\x08\x00\x00\x00\x01\x00\x69\x87\x04\x00\x01\x00\x00\x00\x08\x00\x00\x00"), 0, 0, 0, 0), []string{NoteExifDamaged}},
		} {
			c, notes := read(t, wrap(tc.block))
			if tc.notes != nil && tc.notes[0] == NoteExifDamaged {
				require.Subset(t, []string{NoteExifDamaged}, notes, "%s: %s", name, fault)
			} else {
				require.Equal(t, tc.notes, notes, "%s: %s", name, fault)
			}
			require.False(t, c.HasPlace(), "%s: %s", name, fault)
			require.Nil(t, c.TakenUTC)
		}
	}
}

// The week counter of GPS turns over every 1024 weeks: a receiver that missed a
// turn, or two, is off by 7168 days. Nothing is corrected: the note says so, and
// the time taken is the camera's own.
func TestARolledOverGPSDateIsNotedAndKept(t *testing.T) {
	t.Parallel()
	clock := ratEntry(tagGPSTime, 12, 1, 0, 1, 0, 1)
	for taken, dates := range map[string]map[string]bool{
		"2026:07:01 12:00:00": {"2006:11:15": true, "1987:04:01": true, "2026:07:01": false, "2026:06:24": false, "2006:11:01": false},
		"2038:11:21 12:00:00": {"2019:04:07": true, "1999:08:22": true, "2038:11:20": false},
		"1999:08:22 12:00:00": {"1999:08:22": false, "1980:01:06": true},
	} {
		for date, rolled := range dates {
			c, notes := read(t, photoWith(t, nil, []entry{textEntry(0x9003, taken)}, []entry{clock, textEntry(0x1D, date)}))
			require.Equal(t, rolled, len(notes) == 1 && notes[0] == NoteGPSRollover, "%s on %s", date, taken)
			require.NotNil(t, c.GPSUTC)
		}
	}
}
