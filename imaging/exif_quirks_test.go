package imaging

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"image"
	"image/jpeg"
	"math"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

// plainJPEG is a small picture without metadata.
func plainJPEG(t testing.TB, w, h int) []byte {
	t.Helper()
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, image.NewGray(image.Rect(0, 0, w, h)), nil))
	return buf.Bytes()
}

// rats writes numerators and denominators in turn.
func rats(v ...uint32) []byte {
	var b []byte
	for _, n := range v {
		b = binary.LittleEndian.AppendUint32(b, n)
	}
	return b
}

func ratEntry(tag uint16, v ...uint32) entry {
	return entry{tag, typeRational, uint32(len(v) / 2), rats(v...)}
}

func textEntry(tag uint16, s string) entry {
	return entry{tag, typeASCII, uint32(len(s) + 1), append([]byte(s), 0)}
}

// photoWith puts directories as given, right or wrong, into a small JPEG.
func photoWith(t testing.TB, first, exif, gps []entry) []byte {
	t.Helper()
	return photoWithBlock(t, blockOf(first, exif, gps))
}

func blockOf(first, exif, gps []entry) []byte {
	d0, d1, d2 := &directory{entries: first}, &directory{entries: exif}, &directory{entries: gps}
	d0.long(tagExifDir, 0)
	d0.long(tagGPSDir, 0)
	exifAt := 8 + d0.size()
	gpsAt := exifAt + d1.size()
	for i, e := range d0.entries {
		if e.tag == tagExifDir && e.kind == typeLong {
			d0.entries[i].data = rats(exifAt)
		}
		if e.tag == tagGPSDir && e.kind == typeLong {
			d0.entries[i].data = rats(gpsAt)
		}
	}
	out := append([]byte("II*\x00\x08\x00\x00\x00"), d0.bytes(8)...)
	out = append(out, d1.bytes(exifAt)...)
	return append(out, d2.bytes(gpsAt)...)
}

func photoWithBlock(t testing.TB, block []byte) []byte {
	t.Helper()
	b := plainJPEG(t, 16, 8)
	n := 2 + 6 + len(block)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, byte(n >> 8), byte(n)}, exifPrefix...)
	return append(append(out, block...), b[2:]...)
}

func read(t *testing.T, b []byte) (defects.Capture, []string) {
	t.Helper()
	c, notes, err := ReadCapture(bytes.NewReader(b), DefaultLimits())
	require.NoError(t, err)
	require.Equal(t, 16, c.Width)
	require.Equal(t, 8, c.Height)
	return c, notes
}

func ptr[T any](v T) *T { return &v }

// place gives well-formed GPS entries that a case may then spoil.
func place(latRef string, lat []uint32, lonRef string, lon []uint32) []entry {
	var list []entry
	if latRef != "" {
		list = append(list, textEntry(1, latRef))
	}
	list = append(list, ratEntry(2, lat...))
	if lonRef != "" {
		list = append(list, textEntry(3, lonRef))
	}
	return append(list, ratEntry(4, lon...))
}

func TestCoordinatesAreReadWithTheirQuirks(t *testing.T) {
	t.Parallel()
	lat, lon := []uint32{53, 1, 28, 1, 4620, 100}, []uint32{2, 1, 14, 1, 423600, 10000}
	for name, tc := range map[string]struct {
		gps      []entry
		lat, lon *float64
		note     string
	}{
		"north and west":              {gps: place("N", lat, "W", lon), lat: ptr(53.4795), lon: ptr(-2.2451)},
		"south and east":              {gps: place("S", lat, "E", lon), lat: ptr(-53.4795), lon: ptr(2.2451)},
		"small letters":               {gps: place("s", lat, "w", lon), lat: ptr(-53.4795), lon: ptr(-2.2451)},
		"minutes with fractions":      {gps: place("N", []uint32{53, 1, 28770000, 1000000, 0, 1}, "W", lon), lat: ptr(53.4795), lon: ptr(-2.2451)},
		"seconds not given as 0/0":    {gps: place("N", []uint32{53, 1, 2877, 100, 0, 0}, "W", lon), lat: ptr(53.4795), lon: ptr(-2.2451)},
		"decimal degrees":             {gps: place("N", []uint32{534795, 10000, 0, 1, 0, 1}, "W", lon), lat: ptr(53.4795), lon: ptr(-2.2451)},
		"one rational only":           {gps: place("N", []uint32{534795, 10000}, "W", lon), lat: ptr(53.4795), lon: ptr(-2.2451)},
		"no hemisphere for longitude": {gps: place("N", lat, "", lon), note: NotePlaceNoRef},
		"no hemisphere at all":        {gps: place("", lat, "", lon), note: NotePlaceNoRef},
		"blank hemisphere":            {gps: place(" ", lat, "W", lon), note: NotePlaceNoRef},
		"zero denominator degrees":    {gps: place("N", []uint32{53, 0, 28, 1, 0, 1}, "W", lon), note: NotePlaceUnreadable},
		"all zero over zero":          {gps: place("N", []uint32{0, 0, 0, 0, 0, 0}, "W", lon), note: NotePlaceUnreadable},
		"zero denominator minutes":    {gps: place("N", []uint32{53, 1, 28, 0, 0, 1}, "W", lon), note: NotePlaceUnreadable},
		"beyond the pole":             {gps: place("N", []uint32{95, 1, 0, 1, 0, 1}, "W", lon), note: NotePlaceOutOfRange},
		"beyond the date line":        {gps: place("N", lat, "E", []uint32{4294967295, 1, 0, 1, 0, 1}), note: NotePlaceOutOfRange},
		"zero and zero": {
			gps: place("N", []uint32{0, 1, 0, 1, 0, 1}, "W", []uint32{0, 1, 0, 1, 0, 1}),
			lat: ptr(0.0), lon: ptr(0.0), note: NotePlaceZero,
		},
		"not a live fix": {
			gps: append(place("N", lat, "W", lon), textEntry(9, "V")),
			lat: ptr(53.4795), lon: ptr(-2.2451), note: NoteGPSVoid,
		},
		"latitude without longitude": {gps: place("N", lat, "W", lon)[:2]},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, notes := read(t, photoWith(t, nil, nil, tc.gps))
			if tc.note == "" {
				require.Empty(t, notes)
			} else {
				require.Equal(t, []string{tc.note}, notes)
			}
			require.Equal(t, tc.lat == nil, c.Lat == nil)
			if tc.lat != nil {
				require.InDelta(t, *tc.lat, *c.Lat, 1e-9)
				require.InDelta(t, *tc.lon, *c.Lon, 1e-9)
				require.False(t, *c.Lon == 0 && math.Signbit(*c.Lon), "minus zero")
			}
		})
	}
}

func TestGPSTagsOutsideTheGPSDirectoryAreNoPlace(t *testing.T) {
	t.Parallel()
	astray := place("N", []uint32{53, 1, 28, 1, 0, 1}, "W", []uint32{2, 1, 14, 1, 0, 1})
	c, _ := read(t, photoWith(t, astray, astray, nil))
	require.False(t, c.HasPlace())
}

func TestHeightDirectionAndErrorAreReadWithTheirQuirks(t *testing.T) {
	t.Parallel()
	below := entry{5, typeByte, 1, []byte{1}}
	for name, tc := range map[string]struct {
		gps       []entry
		alt       *float64
		direction *float64
		by        string
		herror    *float64
		notes     []string
	}{
		"above sea without reference": {gps: []entry{ratEntry(6, 345, 10)}, alt: ptr(34.5)},
		"below sea":                   {gps: []entry{below, ratEntry(6, 345, 10)}, alt: ptr(-34.5)},
		"below sea as text":           {gps: []entry{textEntry(5, "1"), ratEntry(6, 345, 10)}, alt: ptr(-34.5)},
		"height over zero":            {gps: []entry{ratEntry(6, 0, 0)}},
		"true north":                  {gps: []entry{textEntry(0x10, "T"), ratEntry(0x11, 12345, 100)}, direction: ptr(123.45), by: "T"},
		"magnetic north":              {gps: []entry{textEntry(0x10, "M"), ratEntry(0x11, 0, 1)}, direction: ptr(0.0), by: "M"},
		"which north not said":        {gps: []entry{ratEntry(0x11, 90, 1)}, direction: ptr(90.0)},
		"full turn is north":          {gps: []entry{textEntry(0x10, "T"), ratEntry(0x11, 360, 1)}, direction: ptr(0.0), by: "T"},
		"more than a turn":            {gps: []entry{textEntry(0x10, "T"), ratEntry(0x11, 400, 1)}, notes: []string{NoteDirectionBad}},
		"direction over zero":         {gps: []entry{textEntry(0x10, "T"), ratEntry(0x11, 0, 0)}},
		"error in metres":             {gps: []entry{ratEntry(0x1F, 47, 10)}, herror: ptr(4.7)},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, notes := read(t, photoWith(t, nil, nil, tc.gps))
			require.Equal(t, tc.notes, notes)
			require.Equal(t, tc.alt, c.AltitudeM)
			require.Equal(t, tc.direction, c.Direction)
			require.Equal(t, tc.by, c.DirectionBy)
			require.Equal(t, tc.herror, c.HErrorM)
		})
	}
}

func TestATiltIsReadWithItsQuirks(t *testing.T) {
	t.Parallel()
	signed := func(num int32, den uint32) entry {
		return entry{tagElevation, typeSRational, 1, rats(uint32(num), den)}
	}
	for name, tc := range map[string]struct {
		exif []entry
		want *float64
	}{
		"up":                   {[]entry{signed(125, 10)}, ptr(12.5)},
		"down":                 {[]entry{signed(-305, 10)}, ptr(-30.5)},
		"level":                {[]entry{signed(0, 1)}, ptr(0.0)},
		"unknown":              {[]entry{signed(17, 0xFFFFFFFF)}, nil},
		"over zero":            {[]entry{signed(17, 0)}, nil},
		"more than half round": {[]entry{signed(180, 1)}, nil},
		"without a sign":       {[]entry{ratEntry(tagElevation, 12, 1)}, nil},
		"two numbers":          {[]entry{{tagElevation, typeSRational, 2, rats(1, 1, 2, 1)}}, nil},
		"not there":            {nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, notes := read(t, photoWith(t, nil, tc.exif, nil))
			require.Empty(t, notes)
			require.Equal(t, tc.want, c.TiltDeg)
		})
	}
}

func TestTimesAreReadWithTheirQuirks(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		taken, offset, subsec string
		local, stored, digits string
		utc                   string
		notes                 []string
	}{
		"with offset":          {taken: "2026:07:01 09:15:30", offset: "+01:00", local: "2026-07-01T09:15:30", stored: "+01:00", utc: "2026-07-01T08:15:30Z"},
		"west of Greenwich":    {taken: "2026:07:01 20:15:30", offset: "-09:30", local: "2026-07-01T20:15:30", stored: "-09:30", utc: "2026-07-02T05:45:30Z"},
		"without offset":       {taken: "2026:07:01 09:15:30", local: "2026-07-01T09:15:30"},
		"blank offset":         {taken: "2026:07:01 09:15:30", offset: "   :  ", local: "2026-07-01T09:15:30"},
		"offset of Z":          {taken: "2026:07:01 09:15:30", offset: "Z", local: "2026-07-01T09:15:30", stored: "+00:00", utc: "2026-07-01T09:15:30Z"},
		"offset without colon": {taken: "2026:07:01 09:15:30", offset: "+0100", local: "2026-07-01T09:15:30", stored: "+01:00", utc: "2026-07-01T08:15:30Z"},
		"offset of nonsense":   {taken: "2026:07:01 09:15:30", offset: "+99:99", local: "2026-07-01T09:15:30", notes: []string{NoteOffsetUnread}},
		"dashes":               {taken: "2026-07-01 09:15:30", local: "2026-07-01T09:15:30"},
		"fraction behind":      {taken: "2026:07:01 09:15:30.530", subsec: "530", local: "2026-07-01T09:15:30", digits: "530"},
		"leading zero digits":  {taken: "2026:07:01 09:15:30", subsec: "007", local: "2026-07-01T09:15:30", digits: "007"},
		"digits padded":        {taken: "2026:07:01 09:15:30", subsec: "12  ", local: "2026-07-01T09:15:30", digits: "12"},
		"digits of nonsense":   {taken: "2026:07:01 09:15:30", subsec: "x1", local: "2026-07-01T09:15:30"},
		"all zeros":            {taken: "0000:00:00 00:00:00", offset: "+01:00"},
		"blanks and colons":    {taken: "    :  :     :  :  "},
		"month 13":             {taken: "2026:13:01 09:15:30", notes: []string{NoteTimeUnreadable}},
		"31 February":          {taken: "2026:02:31 09:15:30", notes: []string{NoteTimeUnreadable}},
		"nonsense":             {taken: "yesterday", notes: []string{NoteTimeUnreadable}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			exif := []entry{textEntry(0x9003, tc.taken)}
			if tc.offset != "" {
				exif = append(exif, textEntry(0x9011, tc.offset))
			}
			if tc.subsec != "" {
				exif = append(exif, textEntry(tagSubSecOrig, tc.subsec))
			}
			c, notes := read(t, photoWith(t, nil, exif, nil))
			require.Equal(t, tc.notes, notes)
			require.Equal(t, []string{tc.local, tc.stored, tc.digits}, []string{c.TakenLocal, c.UTCOffset, c.SubSec})
			if tc.utc == "" {
				require.Nil(t, c.TakenUTC)
				return
			}
			require.Equal(t, tc.utc, c.TakenUTC.Format(time.RFC3339))
		})
	}
}

func TestGPSTimeIsReadWithItsQuirks(t *testing.T) {
	t.Parallel()
	nine := ratEntry(tagGPSTime, 8, 1, 15, 1, 285, 10)
	for name, tc := range map[string]struct {
		gps   []entry
		taken string
		want  string
		notes []string
	}{
		"date and time":       {gps: []entry{nine, textEntry(0x1D, "2026:07:01")}, want: "2026-07-01T08:15:28.5Z"},
		"date with dashes":    {gps: []entry{nine, textEntry(0x1D, "2026-07-01")}, want: "2026-07-01T08:15:28.5Z"},
		"hours over two":      {gps: []entry{ratEntry(tagGPSTime, 16, 2, 30, 2, 57, 2), textEntry(0x1D, "2026:07:01")}, want: "2026-07-01T08:15:28.5Z"},
		"time without a date": {gps: []entry{nine}},
		"date without a time": {gps: []entry{textEntry(0x1D, "2026:07:01")}},
		"date of zeros":       {gps: []entry{nine, textEntry(0x1D, "0000:00:00")}},
		"hour over zero":      {gps: []entry{ratEntry(tagGPSTime, 8, 0, 15, 1, 0, 1), textEntry(0x1D, "2026:07:01")}, notes: []string{NoteGPSTimeUnread}},
		"hour 90":             {gps: []entry{ratEntry(tagGPSTime, 90, 1, 15, 1, 0, 1), textEntry(0x1D, "2026:07:01")}, notes: []string{NoteGPSTimeUnread}},
		"week counter ran over": {
			gps: []entry{nine, textEntry(0x1D, "2006:11:15")}, taken: "2026:07:01 09:15:30",
			want: "2006-11-15T08:15:28.5Z", notes: []string{NoteGPSRollover},
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var exif []entry
			if tc.taken != "" {
				exif = []entry{textEntry(0x9003, tc.taken)}
			}
			c, notes := read(t, photoWith(t, nil, exif, tc.gps))
			require.Equal(t, tc.notes, notes)
			if tc.want == "" {
				require.Nil(t, c.GPSUTC)
				return
			}
			require.Equal(t, tc.want, c.GPSUTC.Format(time.RFC3339Nano))
		})
	}
}

func TestOrientationOutOfRangeCountsAsUpright(t *testing.T) {
	t.Parallel()
	for v, want := range map[uint16]int{0: 1, 1: 1, 6: 6, 8: 8, 9: 1, 65535: 1} {
		c, notes := read(t, photoWith(t, []entry{{0x0112, typeShort, 1, binary.LittleEndian.AppendUint16(nil, v)}}, nil, nil))
		require.Equal(t, want, c.Orientation)
		require.Equal(t, want != int(v), len(notes) == 1)
	}
}

// vector is one entry of testdata/exif-vectors.json, which names its sources.
type vector struct {
	ID       string          `json:"id"`
	Inputs   json.RawMessage `json:"inputs"`
	Expected float64         `json:"expected"`
	Source   string          `json:"source"`
}

func vectors(t *testing.T) []vector {
	t.Helper()
	b, err := os.ReadFile("testdata/exif-vectors.json")
	require.NoError(t, err)
	var list []vector
	require.NoError(t, json.Unmarshal(b, &list))
	require.Len(t, list, 6)
	return list
}

func TestPublishedVectorsHold(t *testing.T) {
	t.Parallel()
	for _, v := range vectors(t) {
		t.Run(v.ID, func(t *testing.T) {
			t.Parallel()
			require.NotEmpty(t, v.Source)
			if v.ID[:4] == "exif" {
				checkAngle(t, v)
				return
			}
			checkClock(t, v)
		})
	}
}

func checkAngle(t *testing.T, v vector) {
	t.Helper()
	var in struct {
		Rationals [3][2]uint32 `json:"rationals"`
		Ref       string       `json:"ref"`
	}
	require.NoError(t, json.Unmarshal(v.Inputs, &in))
	var flat []uint32
	for _, r := range in.Rationals {
		flat = append(flat, r[0], r[1])
	}
	zero := []uint32{0, 1, 0, 1, 0, 1}
	if in.Ref == "N" || in.Ref == "S" {
		c, _ := read(t, photoWith(t, nil, nil, place(in.Ref, flat, "E", zero)))
		require.InDelta(t, v.Expected, *c.Lat, 1e-10)
		return
	}
	c, _ := read(t, photoWith(t, nil, nil, place("N", zero, in.Ref, flat)))
	require.InDelta(t, v.Expected, *c.Lon, 1e-10)
}

func checkClock(t *testing.T, v vector) {
	t.Helper()
	var in struct{ DateTimeOriginal, OffsetTimeOriginal, GPSDateStamp, GPSTimeStamp string }
	require.NoError(t, json.Unmarshal(v.Inputs, &in))
	clock, err := time.Parse("15:04:05", in.GPSTimeStamp)
	require.NoError(t, err)
	c, notes := read(t, photoWith(t, nil,
		[]entry{textEntry(0x9003, in.DateTimeOriginal), textEntry(0x9011, in.OffsetTimeOriginal)},
		[]entry{
			ratEntry(tagGPSTime, uint32(clock.Hour()), 1, uint32(clock.Minute()), 1, uint32(clock.Second()), 1),
			textEntry(0x1D, in.GPSDateStamp),
		}))
	require.Empty(t, notes)
	require.InDelta(t, v.Expected, c.TakenUTC.Sub(*c.GPSUTC).Seconds(), 0)
}
