package register

import (
	"testing"

	"github.com/stretchr/testify/require"

	"storeyrod/defects"
)

func TestSnagCursorsComeBackAsMade(t *testing.T) {
	t.Parallel()
	s := defects.Snag{Number: 112, WalkRank: 1<<63 - 1, Place: defects.Place{ElevationID: "0198.w-x"}}
	got, err := ParseSnagCursor(ByWalk, CursorOfSnag(ByWalk, s))
	require.NoError(t, err)
	require.Equal(t, SnagCursor{ElevationID: "0198.w-x", Rank: 1<<63 - 1, Number: 112}, got)
	got, err = ParseSnagCursor(ByNumber, CursorOfSnag(ByNumber, s))
	require.NoError(t, err)
	require.Equal(t, SnagCursor{Number: 112}, got)
}

func FuzzParseSnagCursor(f *testing.F) {
	for _, seed := range []string{"", "n.34", "w.1y2p0ij32e8e7.34.e", "w...", "n.-1", "w.1.2", "n.zzzzzzzzzzzzzzzzz"} {
		f.Add(seed, true)
		f.Add(seed, false)
	}
	f.Fuzz(func(t *testing.T, after string, walk bool) {
		order := ByNumber
		if walk {
			order = ByWalk
		}
		c, err := ParseSnagCursor(order, after)
		if err != nil {
			require.ErrorIs(t, err, defects.Invalid)
			return
		}
		again, err := ParseSnagCursor(order, CursorOfSnag(order, defects.Snag{
			Number: c.Number, WalkRank: c.Rank, Place: defects.Place{ElevationID: c.ElevationID},
		}))
		require.NoError(t, err)
		require.Equal(t, c, again)
	})
}
