package imaging_test

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

// requireRefusal checks kind and code of a refusal.
func requireRefusal(t *testing.T, err error, kind defects.Kind, code string) {
	t.Helper()
	var refusal *defects.Error
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, code, refusal.CodeOrKind())
	require.Equal(t, kind, refusal.Kind)
}

func TestSniffGoesByContentAndNamesTheTypeRefused(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		head  string
		want  imaging.Type
		named string // type named in the refusal
	}{
		"jpeg":              {head: "\xff\xd8\xff\xe0\x00\x10JFIF", want: imaging.JPEG},
		"png":               {head: "\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR", want: imaging.PNG},
		"webp":              {head: "RIFF\x10\x00\x00\x00WEBPVP8 ", want: imaging.WebP},
		"heic":              {head: "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", want: imaging.HEIC},
		"heic under mif1":   {head: "\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic", want: imaging.HEIC},
		"heif":              {head: "\x00\x00\x00\x14ftypmif1\x00\x00\x00\x00mif1", want: imaging.HEIF},
		"avif":              {head: "\x00\x00\x00\x18ftypavif\x00\x00\x00\x00mif1avif", named: "avif"},
		"avif under mif1":   {head: "\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1avif", named: "avif"},
		"mp4":               {head: "\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isommp41", named: "mp4"},
		"mov":               {head: "\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00qt  ", named: "mov"},
		"pdf named as jpeg": {head: "%PDF-1.7\n%\xe2\xe3", named: "pdf"},
		"gif":               {head: "GIF89a\x01\x00\x01\x00", named: "gif"},
		"tiff":              {head: "II*\x00\x08\x00\x00\x00", named: "tiff"},
		"jpeg xl":           {head: "\xff\x0a\xfa\x1f", named: "jxl"},
		"jpeg xl, boxed":    {head: "\x00\x00\x00\x0cJXL \r\n\x87\n", named: "jxl"},
		"big tiff":          {head: "MM\x00+\x00\x08", named: "tiff"},
		"matroska":          {head: "\x1aE\xdf\xa3\x01", named: "matroska video"},
		"bmp":               {head: "BM\x36\x00\x00\x00\x00\x00", named: "bmp"},
		"zip":               {head: "PK\x03\x04\x14\x00", named: "zip"},
		"program":           {head: "\x7fELF\x02\x01\x01", named: "program"},
		"html":              {head: "<!DOCTYPE html><p>Fehler</p>", named: "html"},
		"svg":               {head: "<?xml version='1.0'?><svg xmlns='x'/>", named: "svg"},
		"json":              {head: `{"error":"x"}`, named: "json"},
		"text":              {head: "Grüße von der Wand, 12 mm", named: "text"},
		"wav":               {head: "RIFF\x10\x00\x00\x00WAVEfmt ", named: "wav"},
		"noise":             {head: "\x01\x02\x03\x04\x05\x06\x07", named: "unknown"},
		"two bytes of jpeg": {head: "\xff\xd8", named: "unknown"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := imaging.Sniff([]byte(tc.head))
			if tc.named == "" {
				require.NoError(t, err)
				require.Equal(t, tc.want, got)
				return
			}
			requireRefusal(t, err, defects.UnsupportedType, "unsupported_type")
			require.ErrorContains(t, err, "of type "+tc.named)
		})
	}
}

func TestSniffRefusesAnEmptyFile(t *testing.T) {
	t.Parallel()
	_, err := imaging.Sniff(nil)
	requireRefusal(t, err, defects.Invalid, "empty_file")
}

func sample(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(photosDir, name))
	require.NoError(t, err)
	return b
}

func header(t *testing.T, b []byte) (imaging.Header, error) {
	t.Helper()
	return imaging.CheckHeader(bytes.NewReader(b), imaging.DefaultLimits())
}

// pngClaiming is a PNG whose header states a size and which holds no pixels.
func pngClaiming(w, h uint32) []byte {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR")
	b = binary.BigEndian.AppendUint32(b, w)
	b = binary.BigEndian.AppendUint32(b, h)
	b = append(b, 8, 6, 0, 0, 0, 0, 0, 0, 0)
	return append(b, "\x00\x00\x00\x00IEND\xae\x42\x60\x82"...)
}

// jpegClaiming is a JPEG whose frame header states a size.
func jpegClaiming(marker byte, w, h uint16) []byte {
	b := []byte{0xFF, 0xD8, 0xFF, marker, 0, 17, 8}
	b = binary.BigEndian.AppendUint16(b, h)
	b = binary.BigEndian.AppendUint16(b, w)
	b = append(b, 3, 1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1)
	return append(b, 0xFF, 0xDA, 0, 12, 3, 1, 0, 2, 0x11, 3, 0x11, 0, 63, 0, 0xFF, 0xD9)
}

// webpClaiming is an extended WebP stating a canvas.
func webpClaiming(w, h int) []byte {
	b := []byte("RIFF\x16\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x00\x00\x00\x00")
	return append(b, byte(w-1), byte((w-1)>>8), byte((w-1)>>16), byte(h-1), byte((h-1)>>8), byte((h-1)>>16))
}

func isoBox(kind string, body ...[]byte) []byte {
	all := bytes.Join(body, nil)
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(all))), kind...), all...)
}

// heicClaiming is a HEIC with a small primary item and a tile of the given size.
func heicClaiming(w, h uint32) []byte {
	ispe := func(w, h uint32) []byte {
		b := binary.BigEndian.AppendUint32(make([]byte, 4), w)
		return isoBox("ispe", binary.BigEndian.AppendUint32(b, h))
	}
	ipco := isoBox("ipco", ispe(640, 480), ispe(w, h))
	ipma := isoBox("ipma", []byte{0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 1, 1})
	meta := isoBox("meta", make([]byte, 4), isoBox("pitm", []byte{0, 0, 0, 0, 0, 1}), isoBox("iprp", ipco, ipma))
	return append(isoBox("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), meta...)
}

func TestDimensionBombsAreRefusedBeforeDecoding(t *testing.T) {
	t.Parallel()
	for name, b := range map[string][]byte{
		"jpeg of 60000 by 60000":         jpegClaiming(0xC0, 60000, 60000),
		"progressive jpeg of 40 MP":      jpegClaiming(0xC2, 8000, 5000),
		"jpeg of 65535 by 1":             jpegClaiming(0xC0, 65535, 1),
		"png of 30000 by 30000":          pngClaiming(30000, 30000),
		"png of 50 MP":                   pngClaiming(10000, 5000),
		"png of 2^31-1":                  pngClaiming(1<<31-1, 1<<31-1),
		"webp of 16384 by 16384":         webpClaiming(16384, 16384),
		"webp of 2^24 by 2^24":           webpClaiming(1<<24, 1<<24),
		"heic with a tile of 4000000000": heicClaiming(4_000_000_000, 4_000_000_000),
		"heic with a tile of 20000":      heicClaiming(20000, 20000),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := header(t, b)
			requireRefusal(t, err, defects.TooLarge, "too_many_pixels")
			_, _, err = imaging.ReadCapture(bytes.NewReader(b), imaging.DefaultLimits())
			requireRefusal(t, err, defects.TooLarge, "too_many_pixels")
			_, err = imaging.Derive(t.Context(), bytes.NewReader(b), defects.Capture{}, imaging.DeriveOptions{})
			requireRefusal(t, err, defects.TooLarge, "too_many_pixels")
		})
	}
}

func TestSizesWithinTheLimitsPass(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		file []byte
		want imaging.Header
	}{
		"jpeg": {jpegClaiming(0xC0, 9248, 6920), imaging.Header{Type: imaging.JPEG, Width: 9248, Height: 6920, Decodable: true, Components: 3}},
		"progressive": {
			jpegClaiming(0xC2, 4000, 3000),
			imaging.Header{Type: imaging.JPEG, Width: 4000, Height: 3000, Progressive: true, Decodable: true, Components: 3},
		},
		"arithmetic": {jpegClaiming(0xC9, 40, 30), imaging.Header{Type: imaging.JPEG, Width: 40, Height: 30, Components: 3}},
		"png":        {pngClaiming(40, 30), imaging.Header{Type: imaging.PNG, Width: 40, Height: 30, Lossless: true, Decodable: true, PixelBytes: 4}},
		"webp":       {webpClaiming(4000, 3000), imaging.Header{Type: imaging.WebP, Width: 4000, Height: 3000, Decodable: true}},
		"heic":       {heicClaiming(512, 512), imaging.Header{Type: imaging.HEIC, Width: 640, Height: 480}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got, err := header(t, tc.file)
			require.NoError(t, err)
			tc.want.Size = int64(len(tc.file))
			require.Equal(t, tc.want, got)
		})
	}
}

func TestAPNGIsLimitedByWhatItsPixelsCost(t *testing.T) {
	t.Parallel()
	const side = 4400 // 19 megapixels, within the limit of pixels
	for name, c := range map[string]struct {
		depth, colour, interlace byte
		taken                    bool
	}{
		"8 bits, four channels":      {8, 6, 0, true},
		"16 bits, grey":              {16, 0, 0, true},
		"16 bits, four channels":     {16, 6, 0, false},
		"8 bits, colour, interlaced": {8, 2, 1, false},
		"16 bits, grey, interlaced":  {16, 0, 1, true},
		"16 bits colour, interlaced": {16, 2, 1, false},
	} {
		file := pngClaiming(side, side)
		file[24], file[25], file[28] = c.depth, c.colour, c.interlace
		_, err := header(t, file)
		if c.taken {
			require.NoError(t, err, name)
			continue
		}
		requireRefusal(t, err, defects.TooLarge, "too_many_pixels")
	}
}

func TestAPNGIsHeldToItsCheckSums(t *testing.T) {
	t.Parallel()
	whole := sample(t, "bep/sunrise.png")
	require.NoError(t, imaging.CheckPNG(bytes.NewReader(whole)))
	for _, at := range []int{20, len(whole) / 2, len(whole) - 2} {
		bad := bytes.Clone(whole)
		bad[at] ^= 0x40
		requireRefusal(t, imaging.CheckPNG(bytes.NewReader(bad)), defects.Invalid, "damaged_file")
		requireRefusal(t, imaging.CheckPNG(bytes.NewReader(whole[:at])), defects.Invalid, "damaged_file")
	}
}

func TestAFileOverTheByteLimitIsRefused(t *testing.T) {
	t.Parallel()
	lim := imaging.DefaultLimits()
	lim.MaxBytes = 1000
	_, err := imaging.CheckHeader(bytes.NewReader(sample(t, "bep/mushroom.jpg")), lim)
	requireRefusal(t, err, defects.TooLarge, "too_many_bytes")
}

func TestAHeaderCutOffAnywhereIsDamaged(t *testing.T) {
	t.Parallel()
	for _, name := range []string{
		"bep/mushroom.jpg", "bep/sunrise.png", "bep/sunrise.webp", "bep/iphone-head.heic",
		"ximage/yellow_rose.lossy.webp", "metadata-extractor/issue-590.png",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			whole := sample(t, name)
			_, err := header(t, whole)
			require.NoError(t, err)
			for _, n := range []int{13, 20, 29, 50, 150} {
				_, err := header(t, whole[:n])
				requireRefusal(t, err, defects.Invalid, "damaged_file")
			}
		})
	}
}

func TestHeadersOfCutOffSamplesAreDamaged(t *testing.T) {
	t.Parallel()
	cut, err := filepath.Glob(filepath.Join(photosDir, "goexif", "2*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, cut)
	for _, path := range cut {
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		_, err = header(t, b)
		requireRefusal(t, err, defects.Invalid, "damaged_file")
	}
}

// countingReader counts what is read through it.
type countingReader struct {
	*bytes.Reader
	n int
}

func (c *countingReader) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n += n
	return n, err
}

func TestCheckingAHeaderReadsLittleOfALargeFile(t *testing.T) {
	t.Parallel()
	b := wall(t, 4000, 3000, fullCapture())
	require.Greater(t, len(b), 1_000_000)
	r := &countingReader{Reader: bytes.NewReader(b)}
	_, err := imaging.CheckHeader(r, imaging.DefaultLimits())
	require.NoError(t, err)
	require.Less(t, r.n, 16_000)
}

func TestAPlaceListWithoutBytesCostsNoTime(t *testing.T) {
	t.Parallel()
	// 80 lists of 4000 items, each claiming 65535 extents of no length: walked
	// naively, 21 thousand million steps.
	list := append([]byte{0, 0, 0, 0, 0, 0}, 0x0F, 0xA0)
	for range 4000 {
		list = append(list, 0, 1, 0, 0, 0xFF, 0xFF)
	}
	var lists []byte
	for range 80 {
		lists = append(lists, isoBox("iloc", list)...)
	}
	meta := isoBox("meta", make([]byte, 4), lists)
	b := append(isoBox("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), meta...)
	start := time.Now()
	_, err := header(t, b)
	requireRefusal(t, err, defects.Invalid, "damaged_file")
	require.Less(t, time.Since(start), 2*time.Second)
}
