package jpeg

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
)

// small is a small file with restarts and three components.
func small() recipe {
	return recipe{width: 37, height: 21, sampling: [][2]int{{2, 2}, {1, 1}, {1, 1}}, coarse: 5, restart: 2}
}

func decodeErr(t testing.TB, b []byte) error {
	t.Helper()
	_, err := Decode(t.Context(), bytes.NewReader(b), Options{})
	return err
}

func TestEveryPrefixOfAFileIsAnError(t *testing.T) {
	t.Parallel()
	for _, change := range []func(*recipe){
		func(*recipe) {},
		func(r *recipe) { r.restart = 0 },
		func(r *recipe) { r.separate = true },
		func(r *recipe) { r.sampling = r.sampling[:1] },
		func(r *recipe) { r.fill, r.fillAfter = 2, 3 },
	} {
		r := small()
		change(&r)
		b := r.encode()
		require.NoError(t, decodeErr(t, b))
		for n := range b {
			for _, scale := range []int{1, 5, Full} {
				_, err := Decode(t.Context(), bytes.NewReader(b[:n]), Options{Scale: scale})
				require.ErrorIs(t, err, ErrCorrupt, "%v cut to %d of %d bytes", r, n, len(b))
			}
		}
	}
}

// TestAHoleInTheDataIsNoticed cuts out whole stretches between two restarts
// and single bytes: what is left must not pass for the picture.
func TestAHoleInTheDataIsNoticed(t *testing.T) {
	t.Parallel()
	b := small().encode()
	first := bytes.Index(b, []byte{0xFF, 0xD0})
	second := bytes.Index(b, []byte{0xFF, 0xD1})
	require.Less(t, first, second)
	require.ErrorIs(t, decodeErr(t, append(append([]byte{}, b[:first]...), b[second:]...)), ErrCorrupt)
	require.ErrorIs(t, decodeErr(t, append(append([]byte{}, b[:first]...), 0xFF, 0xD9)), ErrCorrupt)
	require.Error(t, decodeErr(t, append(append([]byte{}, b[:first]...), b[first+2:]...)))
}

// replaced puts other bytes in place of the first that match.
func replaced(t testing.TB, b, old, by []byte) []byte {
	t.Helper()
	require.True(t, bytes.Contains(b, old))
	return bytes.Replace(b, old, by, 1)
}

// inserted puts a segment behind SOI.
func inserted(b []byte, segment ...byte) []byte {
	return append(append(append([]byte{}, b[:2]...), segment...), b[2:]...)
}

func TestWhatOthersShouldDecodeIsUnsupported(t *testing.T) {
	t.Parallel()
	b := small().encode()
	sof := []byte{0xFF, 0xC0, 0, 17}
	adobe := []byte{0xFF, 0xEE, 0, 14, 'A', 'd', 'o', 'b', 'e', 0, 100, 0, 0, 0, 0, 0}
	for name, file := range map[string][]byte{
		"progressive":          replaced(t, b, sof, []byte{0xFF, 0xC2, 0, 17}),
		"lossless":             replaced(t, b, sof, []byte{0xFF, 0xC3, 0, 17}),
		"hierarchical":         inserted(b, 0xFF, 0xDE, 0, 17),
		"arithmetic":           replaced(t, b, sof, []byte{0xFF, 0xC9, 0, 17}),
		"arithmetic tables":    inserted(b, 0xFF, 0xCC, 0, 4, 0, 0),
		"12 bits":              replaced(t, b, append(sof, 8), append(sof, 12)),
		"no lines yet":         replaced(t, b, append(sof, 8, 0, 21), append(sof, 8, 0, 0)),
		"lines after scan":     replaced(t, b, []byte{0xFF, 0xD9}, []byte{0xFF, 0xDC, 0, 4, 0, 21, 0xFF, 0xD9}),
		"Adobe RGB":            inserted(b, adobe...),
		"CMYK":                 {0xFF, 0xD8, 0xFF, 0xC0, 0, 20, 8, 0, 1, 0, 1, 4, 1, 17, 0, 2, 17, 0, 3, 17, 0, 4, 17, 0},
		"named R, G, B":        {0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8, 0, 1, 0, 1, 3, 'R', 17, 0, 'G', 17, 0, 'B', 17, 0},
		"Cb finer than Cr":     {0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8, 0, 1, 0, 1, 3, 1, 0x22, 0, 2, 0x21, 0, 3, 0x11, 0},
		"Cb finer than Y":      {0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8, 0, 1, 0, 1, 3, 1, 0x11, 0, 2, 0x21, 0, 3, 0x21, 0},
		"three to two":         {0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8, 0, 1, 0, 1, 3, 1, 0x31, 0, 2, 0x21, 0, 3, 0x21, 0},
		"stray bytes":          inserted(b, 1, 2, 3),
		"bytes after the scan": replaced(t, b, []byte{0xFF, 0xD9}, []byte{1, 2, 0xFF, 0xD9}),
	} {
		require.ErrorIs(t, decodeErr(t, file), ErrUnsupported, name)
	}
}

func TestContradictionsAreCorrupt(t *testing.T) {
	t.Parallel()
	b := small().encode()
	sos := bytes.Index(b, []byte{0xFF, 0xDA})
	sof := bytes.Index(b, []byte{0xFF, 0xC0})
	frame := b[sof : sof+19]
	oversubscribed := append([]byte{0xFF, 0xC4, 0, 22, 0, 3}, make([]byte, 18)...)
	for name, file := range map[string][]byte{
		"nothing":               {},
		"not a JPEG":            []byte("GIF89a"),
		"end at once":           {0xFF, 0xD8, 0xFF, 0xD9},
		"no frame":              append(append([]byte{}, b[:sof]...), b[sof+19:]...),
		"two frames":            inserted(b, frame...),
		"picture in picture":    inserted(b, 0xFF, 0xD8),
		"no scan":               append(append([]byte{}, b[:sos]...), 0xFF, 0xD9),
		"no tables":             append(append([]byte{0xFF, 0xD8}, frame...), b[sos:]...),
		"short segment":         inserted(b, 0xFF, 0xE1, 0, 1),
		"quantisation table 4":  inserted(b, append([]byte{0xFF, 0xDB, 0, 67, 4}, make([]byte, 64)...)...),
		"quantisation of 24":    inserted(b, append([]byte{0xFF, 0xDB, 0, 67, 0x20}, make([]byte, 64)...)...),
		"short quantisation":    inserted(b, 0xFF, 0xDB, 0, 5, 0, 1, 1),
		"Huffman class 2":       inserted(b, append([]byte{0xFF, 0xC4, 0, 19, 0x20}, make([]byte, 16)...)...),
		"short Huffman":         inserted(b, 0xFF, 0xC4, 0, 5, 0, 1, 1),
		"too many codes":        inserted(b, oversubscribed...),
		"restart of one byte":   inserted(b, 0xFF, 0xDD, 0, 3, 1),
		"no width":              replaced(t, b, []byte{8, 0, 21, 0, 37, 3}, []byte{8, 0, 21, 0, 0, 3}),
		"sampling of five":      replaced(t, b, []byte{1, 0x22, 0}, []byte{1, 0x52, 0}),
		"two of one name":       replaced(t, b, []byte{2, 0x11, 1}, []byte{1, 0x11, 1}),
		"no such quantisation":  replaced(t, b, []byte{2, 0x11, 1}, []byte{2, 0x11, 7}),
		"no such component":     replaced(t, b, []byte{0xFF, 0xDA, 0, 12, 3, 1, 0}, []byte{0xFF, 0xDA, 0, 12, 3, 9, 0}),
		"one component twice":   replaced(t, b, []byte{0xFF, 0xDA, 0, 12, 3, 1, 0, 2}, []byte{0xFF, 0xDA, 0, 12, 3, 1, 0, 1}),
		"scan of four":          replaced(t, b, []byte{0xFF, 0xDA, 0, 12, 3}, []byte{0xFF, 0xDA, 0, 12, 4}),
		"too large for its MCU": replaced(t, replaced(t, b, []byte{2, 0x11, 1}, []byte{2, 0x22, 1}), []byte{3, 0x11, 1}, []byte{3, 0x22, 1}),
		"a component missing":   small().withOneScanLess(),
	} {
		require.ErrorIs(t, decodeErr(t, file), ErrCorrupt, name)
	}
}

// withOneScanLess leaves out the scan of Cr.
func (r recipe) withOneScanLess() []byte {
	r.separate = true
	b := r.encode()
	return append(b[:bytes.LastIndex(b, []byte{0xFF, 0xDA})], 0xFF, 0xD9)
}

func TestATooLargePictureIsRefusedBeforeItsPlanesAreMade(t *testing.T) {
	t.Parallel()
	b := small().encode()
	huge := replaced(t, b, []byte{8, 0, 21, 0, 37, 3}, []byte{8, 0xFF, 0xFF, 0xFF, 0xFF, 3})
	require.ErrorIs(t, decodeErr(t, huge), ErrTooLarge)
	_, err := Decode(t.Context(), bytes.NewReader(b), Options{MaxPixels: 37*21 - 1})
	require.ErrorIs(t, err, ErrTooLarge)
	_, err = Decode(t.Context(), bytes.NewReader(b), Options{MaxPixels: 37 * 21})
	require.NoError(t, err)
}

func TestOneMemberOfMultiplePicturesIsEnough(t *testing.T) {
	t.Parallel()
	one, two := small().encode(), recipe{width: 8, height: 8, sampling: [][2]int{{1, 1}}}.encode()
	want := decodeAt(t, one, Full)
	require.Zero(t, apart(t, want.Image, decodeAt(t, append(append([]byte{}, one...), two...), Full).Image))
	// Readers that give one byte, or half of what is asked for, change nothing.
	for _, slow := range []func(io.Reader) io.Reader{iotest.OneByteReader, iotest.HalfReader, iotest.DataErrReader} {
		p, err := Decode(t.Context(), slow(bytes.NewReader(one)), Options{})
		require.NoError(t, err)
		require.Zero(t, apart(t, want.Image, p.Image))
	}
}

// cancelling ends its context after some bytes.
type cancelling struct {
	r      io.Reader
	after  int
	cancel context.CancelFunc
}

func (c *cancelling) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if c.after -= n; c.after <= 0 {
		c.cancel()
	}
	return n, err
}

func TestDecodingStopsWithItsContext(t *testing.T) {
	t.Parallel()
	b := recipe{width: 640, height: 480, sampling: small().sampling, coarse: 0}.encode()
	require.Greater(t, len(b), 4*window)
	ctx, cancel := context.WithCancel(t.Context())
	r := &cancelling{r: bytes.NewReader(b), after: 2 * window, cancel: cancel}
	_, err := Decode(ctx, r, Options{})
	require.ErrorIs(t, err, context.Canceled)
	require.Greater(t, -r.after, -window, "not read to the end")
}

func TestAFailingReaderIsNotACorruptFile(t *testing.T) {
	t.Parallel()
	broken := errors.New("disk failed")
	b := small().encode()
	for _, n := range []int{0, 1, 30, len(b) / 2, len(b) - 1} {
		_, err := Decode(t.Context(), io.MultiReader(bytes.NewReader(b[:n]), iotest.ErrReader(broken)), Options{})
		require.ErrorIs(t, err, broken)
		require.NotErrorIs(t, err, ErrCorrupt)
	}
	_, err := Decode(t.Context(), idle{}, Options{})
	require.ErrorIs(t, err, io.ErrNoProgress)
}

// idle never gives anything.
type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }

func TestScaleForIsTheSmallestThatIsLargeEnough(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ w, h, wantW, wantH, n int }{
		{4000, 3000, 2048, 1536, 5},
		{4096, 3072, 2048, 1536, 4},
		{8000, 6000, 2048, 1536, 3},
		{4000, 3000, 320, 240, 1},
		{4000, 3000, 4000, 3000, 8},
		{640, 480, 2048, 1536, 8},
		{4096, 1, 2048, 1, 4},
		{1, 1, 1, 1, 1},
		{3000, 4000, 1536, 2048, 5},
		{4000, 3000, 0, 0, 1},
	} {
		require.Equal(t, c.n, ScaleFor(c.w, c.h, c.wantW, c.wantH), c)
	}
}

func TestMemoryIsThatOfThePlanes(t *testing.T) {
	b := recipe{width: 2000, height: 1504, sampling: small().sampling, coarse: 30}.encode()
	for n, planes := range map[int]int{1: 250 * 188 * 3 / 2, 5: 1250 * 940 * 3 / 2, 8: 2000 * 1504 * 3 / 2} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		p, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: n})
		runtime.ReadMemStats(&after)
		require.NoError(t, err)
		require.NotNil(t, p)
		require.Less(t, int(after.TotalAlloc-before.TotalAlloc), planes*102/100+200_000, "at %d/8", n)
	}
}
