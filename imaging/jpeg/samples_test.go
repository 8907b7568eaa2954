package jpeg

import (
	"bytes"
	"errors"
	stdjpeg "image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

const samplesDir = "../../testdata/photos"

// samples gives all JPEG sample photos by name.
func samples(t testing.TB) map[string][]byte {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(samplesDir, "*", "*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	all := map[string][]byte{}
	for _, path := range paths {
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		all[filepath.Base(filepath.Dir(path))+"/"+filepath.Base(path)] = b
	}
	return all
}

// left are the samples this package leaves to other decoders, and why.
func left() map[string]string {
	return map[string]string{
		"bep/mushroom.jpg":                "progressive",
		"bep/undef-usercomment.jpg":       "progressive",
		"bep/metadata_demo_exif_only.jpg": "two bytes too many before a marker",
	}
}

func TestEverySampleIsDecodedAsByTheStandardDecoder(t *testing.T) {
	t.Parallel()
	taken := 0
	for name, b := range samples(t) {
		want, wantErr := stdjpeg.Decode(bytes.NewReader(b))
		p, err := Decode(t.Context(), bytes.NewReader(b), Options{})
		if why := left()[name]; why != "" {
			require.ErrorIs(t, err, ErrUnsupported, "%s: %s", name, why)
			continue
		}
		require.Equal(t, wantErr == nil, err == nil, "%s: %v, %v", name, wantErr, err)
		if err == nil {
			require.LessOrEqual(t, apart(t, want, p.Image), 1, name)
			taken++
		}
	}
	t.Logf("%d samples taken", taken)
	require.Greater(t, taken, 40)
}

func TestEverySampleIsExactAtEveryScale(t *testing.T) {
	t.Parallel()
	for name, b := range samples(t) {
		if _, err := Decode(t.Context(), bytes.NewReader(b), Options{Scale: 1}); err != nil {
			require.True(t, errors.Is(err, ErrUnsupported) || errors.Is(err, ErrCorrupt), "%s: %v", name, err)
			continue
		}
		for n := 1; n <= Full; n++ {
			requireExact(t, b, n, name)
		}
	}
}
