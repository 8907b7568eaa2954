package register

import (
	"bufio"
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
)

func ends(t *testing.T, data []byte) bool {
	t.Helper()
	whole, err := jpegEnds(bufio.NewReaderSize(bytes.NewReader(data), 64))
	require.NoError(t, err)
	return whole
}

func smallJPEG(t testing.TB) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 64, 48))
	for i := range img.Pix {
		img.Pix[i] = byte(i * i)
	}
	var buf bytes.Buffer
	require.NoError(t, jpeg.Encode(&buf, img, nil))
	return buf.Bytes()
}

func TestAnyCutOfAJPEGIsSeen(t *testing.T) {
	t.Parallel()
	whole := smallJPEG(t)
	for n := range whole {
		require.False(t, ends(t, whole[:n]), "cut to %d of %d bytes", n, len(whole))
	}
	require.True(t, ends(t, whole))
	film := append(bytes.Clone(whole), bytes.Repeat([]byte("film"), 1000)...)
	require.True(t, ends(t, film), "what follows the picture does not matter")
}

func TestTheEndOfAThumbnailIsNotThePictures(t *testing.T) {
	t.Parallel()
	whole := smallJPEG(t)
	n := len(whole) + 2
	app1 := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, byte(n >> 8), byte(n)}, whole...)
	data := append(app1, whole[2:]...)
	require.True(t, ends(t, data))
	require.False(t, ends(t, data[:len(data)-2]))
}

func TestAFailingFileIsNoCutPicture(t *testing.T) {
	t.Parallel()
	_, err := jpegEnds(bufio.NewReader(iotest.ErrReader(errors.New("disk"))))
	require.ErrorContains(t, err, "disk")
}

func FuzzJPEGEnds(f *testing.F) {
	whole := smallJPEG(f)
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte{0xFF, 0xD8, 0xFF, 0xE0, 0, 0, 0xFF, 0xFF, 0xD9})
	f.Fuzz(func(t *testing.T, data []byte) {
		if !ends(t, data) {
			return
		}
		require.GreaterOrEqual(t, len(data), 2)
		require.True(t, bytes.Contains(data, []byte{0xFF, 0xD9}))
		require.True(t, ends(t, append(bytes.Clone(data), data...)))
	})
}

func FuzzParseTimeCursor(f *testing.F) {
	f.Add("kz8x.0190-abc")
	f.Add(".")
	f.Add("zzzzzzzzzzzzzzzzzzzz.x")
	f.Fuzz(func(t *testing.T, text string) {
		at, id, err := ParseTimeCursor(text)
		if err != nil {
			return
		}
		again, same, err := ParseTimeCursor(timeCursor(at, id))
		require.NoError(t, err)
		require.Equal(t, id, same)
		require.True(t, at.Equal(again))
	})
}
