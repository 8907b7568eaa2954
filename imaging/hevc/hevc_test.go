package hevc

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"io"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/tetratelabs/wazero"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("../../testdata/photos/gen2brain/" + name)
	require.NoError(t, err)
	return b
}

// compiled is the one sandbox of these tests, which therefore take turns.
var compiled = sync.OnceValues(func() (*Sandbox, error) { return NewSandbox(context.Background()) })

func sandbox(t testing.TB) *Sandbox {
	t.Helper()
	box, err := compiled()
	require.NoError(t, err)
	return box
}

func TestTheModuleIsTheOneItsReadmeNames(t *testing.T) {
	t.Parallel()
	readme, err := os.ReadFile("wasm/README.md")
	require.NoError(t, err)
	sum := sha256.Sum256(module)
	require.Contains(t, string(readme), hex.EncodeToString(sum[:]))
}

func TestAFaultLeavesNothingBehind(t *testing.T) {
	box, good := sandbox(t), sample(t, "test8.heic")
	want, err := box.Picture(t.Context(), good)
	require.NoError(t, err)
	for at := 700; at < len(good); at += 3001 {
		bad := bytes.Clone(good)
		for i := at; i < min(at+40, len(bad)); i++ {
			bad[i] ^= 0x5A
		}
		if _, err := box.Picture(t.Context(), bad); err != nil {
			require.ErrorIs(t, err, ErrPicture)
		}
	}
	have, err := box.Picture(t.Context(), good)
	require.NoError(t, err)
	require.Equal(t, want, have)
}

func TestMemoryIsGivenBackBetweenPictures(t *testing.T) {
	box, b := sandbox(t), sample(t, "test.heic")
	for range 12 { // each leaves 2.7 MB behind
		_, err := box.Picture(t.Context(), b)
		require.NoError(t, err)
		if box.instance != nil {
			require.LessOrEqual(t, int(box.instance.mod.Memory().Size()>>16), renewPages)
		}
	}
}

// dialogue runs Serve on one end of two pipes and gives the other.
func dialogue(t *testing.T) *Client {
	t.Helper()
	askR, askW := io.Pipe()
	tellR, tellW := io.Pipe()
	box := sandbox(t)
	done := make(chan error, 1)
	go func() {
		done <- Serve(t.Context(), box, askR, tellW)
		_ = tellW.Close()
	}()
	t.Cleanup(func() {
		require.NoError(t, askW.Close())
		require.NoError(t, <-done)
	})
	return NewClient(tellR, askW)
}

func TestPicturesComeThroughTheStreamsUnchanged(t *testing.T) {
	client, box := dialogue(t), sandbox(t)
	for _, name := range []string{"test8.heic", "gray.heic", "test12.heic"} {
		want, err := box.Picture(t.Context(), sample(t, name))
		require.NoError(t, err)
		have, err := client.Picture(t.Context(), sample(t, name))
		require.NoError(t, err)
		require.Equal(t, want, have, name)
		require.Equal(t, image.Pt(512, 512), have.Bounds().Size())
		_, err = client.Picture(t.Context(), []byte("no picture"))
		require.ErrorIs(t, err, ErrPicture)
	}
}

func TestAnAnswerOfNonsenseIsAnError(t *testing.T) {
	t.Parallel()
	for name, said := range map[string][]byte{
		"nothing": nil, "half": {1, 0, 0, 0}, "no size": append([]byte{1}, make([]byte, 19)...),
		"too large": {1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0},
		"cut off":   {1, 0, 0, 0, 8, 0, 0, 0, 8, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 9, 9},
	} {
		_, err := NewClient(bytes.NewReader(said), io.Discard).Picture(t.Context(), []byte("x"))
		require.Error(t, err, name)
	}
}

func TestARequestOfNonsenseEndsTheService(t *testing.T) {
	t.Parallel()
	for _, asked := range [][]byte{{1, 2}, {0xFF, 0xFF, 0xFF, 0xFF}, {9, 0, 0, 0, 'x'}} {
		require.Error(t, Serve(t.Context(), nil, bytes.NewReader(asked), io.Discard))
	}
}

// FuzzPicture runs the module in the slow way that can be stopped, as nothing
// promises that a broken picture ever comes to an end.
func FuzzPicture(f *testing.F) {
	box, err := newSandbox(context.Background(), wazero.NewRuntimeConfig().WithCloseOnContextDone(true))
	require.NoError(f, err)
	for _, name := range []string{"test8.heic", "gray.heic"} {
		f.Add(sample(f, name))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		ctx, stop := context.WithTimeout(t.Context(), 3*time.Second)
		defer stop()
		img, err := box.Picture(ctx, b)
		if err == nil && img.Bounds().Dx()*img.Bounds().Dy() > MaxPixels {
			t.Fatal("larger than allowed")
		}
	})
}
