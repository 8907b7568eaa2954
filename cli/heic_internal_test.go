package cli

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
	"storeyrod/imaging"
)

const heicSample = "../testdata/photos/gen2brain/test8.heic"

func deriveSampleHEIC(t *testing.T, open imaging.OpenHEVC) error {
	t.Helper()
	f, err := os.Open(heicSample)
	require.NoError(t, err)
	defer f.Close()
	_, err = imaging.Derive(t.Context(), f, defects.Capture{}, imaging.DeriveOptions{HEVC: open})
	return err
}

func TestADecoderOutOfTimeEndsAloneAndTheNextOneWorks(t *testing.T) {
	t.Parallel()
	open := heicDecoder()
	poor, err := open(t.Context(), -heicSeconds*heicPixelsASecond) // no time beyond the second begun
	require.NoError(t, err)
	file, err := os.ReadFile(heicSample)
	require.NoError(t, err)
	for range 200 { // a third of a second each
		if _, err = poor.Picture(t.Context(), file); err != nil {
			break
		}
	}
	var refusal *defects.Error
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, "decoding_too_costly", refusal.Code)
	require.NoError(t, poor.Close())
	require.NoError(t, deriveSampleHEIC(t, open))
}

func TestADecoderIsWaitedForAndGivenBack(t *testing.T) {
	t.Parallel()
	open := heicDecoder()
	first, err := open(t.Context(), 1)
	require.NoError(t, err)
	ctx, stop := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer stop()
	_, err = open(ctx, 1)
	require.ErrorIs(t, err, context.DeadlineExceeded, "one at a time")
	require.NoError(t, first.Close())
	second, err := open(t.Context(), 1)
	require.NoError(t, err)
	require.NoError(t, second.Close())
}
