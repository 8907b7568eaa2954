package imaging

import (
	"bytes"
	"encoding/binary"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// poisons are Exif blocks made to hurt a reader.
func poisons() map[string][]byte {
	le := binary.LittleEndian
	dir := func(entries ...entry) []byte {
		return append([]byte("II*\x00\x08\x00\x00\x00"), (&directory{entries: entries}).bytes(8)...)
	}
	// A value that says it has 4 GB.
	huge := dir(entry{0x010F, typeASCII, 5, []byte("ABCDE")})
	le.PutUint32(huge[8+2+4:], 0xFFFFFFF0)
	// A directory that says it has 65535 entries.
	endless := dir(textEntry(0x010F, "Maker"))
	le.PutUint16(endless[8:], 0xFFFF)
	// Sub-directories by the thousand, all pointing at one long directory.
	var many []byte
	for range 1000 {
		many = le.AppendUint32(many, 40)
	}
	nest := append([]byte("II*\x00\x08\x00\x00\x00"), (&directory{entries: []entry{{0x014A, typeLong, 1000, many}}}).bytes(8)...)
	for len(nest) < 60_000 {
		nest = append(nest, 0x10, 0x27, 2, 0, 0, 0, 2, 0, 0, 0, 0, 0)
	}
	le.PutUint16(nest[40:], 0xFFFF)
	return map[string][]byte{
		"nothing":                      {},
		"only a byte order":            []byte("II"),
		"no TIFF header":               []byte("XX*\x00\x08\x00\x00\x00\x00\x00"),
		"directory in the header":      []byte("II*\x00\x00\x00\x00\x00\x00\x00\x00\x00"),
		"directory beyond the end":     []byte("II*\x00\xFF\xFF\xFF\xFF\x00\x00"),
		"directory pointing at itself": dir(entry{tagExifDir, typeLong, 1, le.AppendUint32(nil, 8)}, entry{tagGPSDir, typeLong, 1, le.AppendUint32(nil, 8)}),
		"a value of 4 GB":              huge,
		"65535 entries":                endless,
		"a thousand directories":       nest,
		"unknown value type":           dir(entry{0x010F, 99, 1, []byte{1, 2, 3, 4}}),
		"pattern value too short":      dir(entry{tagExifDir, typeLong, 1, le.AppendUint32(nil, 8)}, entry{0xA302, typeUndefined, 1, []byte{1}}),
		"orientation as text":          dir(textEntry(0x0112, "upside down")),
		"make as number":               dir(entry{0x010F, typeLong, 1, []byte{1, 2, 3, 4}}),
		"make in broken letters":       dir(entry{0x010F, typeASCII, 6, []byte("\xff\xfe\x80abc")}),
		"noise":                        []byte("II*\x00\x08\x00\x00\x00" + strings.Repeat("\xA7\x13\x5C\x00\x02", 9000)),
	}
}

// Not parallel: it measures what is allocated.
func TestPoisonedExifNeverStopsAPhotoFromBeingTaken(t *testing.T) {
	for name, block := range poisons() {
		t.Run(name, func(t *testing.T) {
			b := photoWithBlock(t, block)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			start := time.Now()
			c, _ := read(t, b)
			took := time.Since(start)
			runtime.ReadMemStats(&after)
			require.Less(t, took, 2*time.Second)
			require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(20<<20))
			require.Equal(t, "jpeg", c.Type)
			require.False(t, c.HasPlace())
		})
	}
}

func TestAMadeUpTagDoesNotHideTheOthersBeforeIt(t *testing.T) {
	t.Parallel()
	c, notes := read(t, photoWith(t, []entry{textEntry(0x010F, "Maker"), {0x0200, 99, 1, []byte{1, 2, 3, 4}}}, nil, nil))
	require.Equal(t, "Maker", c.Make)
	require.Equal(t, []string{NoteExifDamaged}, notes)
}

func TestExifOverTheLimitIsLeftUnreadAndSaidSo(t *testing.T) {
	t.Parallel()
	lim := DefaultLimits()
	lim.MaxMetadata = 64
	c, notes, err := ReadCapture(bytes.NewReader(photoWith(t, []entry{textEntry(0x010F, strings.Repeat("m", 90))}, nil, nil)), lim)
	require.NoError(t, err)
	require.Equal(t, []string{NoteExifTooLarge}, notes)
	require.Empty(t, c.Make)
}

func TestAPhotoWithoutExifSaysTypeAndSizeOnly(t *testing.T) {
	t.Parallel()
	c, notes := read(t, plainJPEG(t, 16, 8))
	require.Empty(t, notes)
	require.Equal(t, "jpeg", c.Type)
	require.Equal(t, 1, c.Orientation)
	require.Empty(t, c.TakenLocal)
	require.False(t, c.HasPlace())
}

func TestWebPWithAPrefixedExifChunkIsRead(t *testing.T) {
	t.Parallel()
	block := append([]byte(exifPrefix), blockOf([]entry{textEntry(0x010F, "Maker")}, nil, nil)...)
	body := append([]byte("WEBPVP8X\x0a\x00\x00\x00\x08\x00\x00\x00\x0f\x00\x00\x07\x00\x00EXIF"), binary.LittleEndian.AppendUint32(nil, uint32(len(block)))...)
	body = append(body, block...)
	b := append(append([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, uint32(len(body)))...), body...)
	c, notes := read(t, b)
	require.Empty(t, notes)
	require.Equal(t, "Maker", c.Make)
	require.Equal(t, "webp", c.Type)
}
