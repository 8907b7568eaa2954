package evidence

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"math"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// counted counts the bytes taken from a reader.
type counted struct {
	io.Reader
	n int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n += int64(n)
	return n, err
}

func TestHashCopyReadsAtMostOneByteBeyondTheLimit(t *testing.T) {
	t.Parallel()
	const chunk = 128 << 10
	for _, max := range []int64{0, 1, 5, chunk - 2, chunk - 1, chunk, chunk + 1, 2*chunk - 1, 2 * chunk, 3*chunk + 7} {
		data := bytes.Repeat([]byte("x"), int(max))
		var out bytes.Buffer
		ref, size, err := HashCopy(t.Context(), &out, bytes.NewReader(data), max)
		require.NoError(t, err)
		require.Equal(t, max, size)
		require.Equal(t, RefOf(data), ref)
		require.True(t, bytes.Equal(data, out.Bytes()))

		source := &counted{Reader: bytes.NewReader(bytes.Repeat([]byte("x"), int(max)+chunk))}
		_, _, err = HashCopy(t.Context(), io.Discard, source, max)
		require.ErrorIs(t, err, ErrTooLarge)
		require.Equal(t, max+1, source.n)
	}
}

func TestHashCopyTakesTheLargestLimit(t *testing.T) {
	t.Parallel()
	_, size, err := HashCopy(t.Context(), io.Discard, bytes.NewReader(make([]byte, 10)), math.MaxInt64)
	require.NoError(t, err)
	require.EqualValues(t, 10, size)
}

func TestParseRef(t *testing.T) {
	t.Parallel()
	good := string(RefOf([]byte("starter track")))
	ref, err := ParseRef(good)
	require.NoError(t, err)
	require.Equal(t, good, string(ref))
	for _, bad := range []string{"", good[1:], good + "a", "A" + good[1:], "/" + good[1:]} {
		_, err := ParseRef(bad)
		require.ErrorIs(t, err, ErrBadName)
		require.False(t, Ref(bad).Valid())
	}
}

// calls is a spool that writes down what is asked of it, and whose first Keep
// fails.
type calls struct {
	seen  []string
	there bool // after Keep
}

func (c *calls) Open() (io.ReadSeekCloser, error) { return nil, fs.ErrInvalid }
func (c *calls) Drop()                            { c.seen = append(c.seen, "drop") }

func (c *calls) Has(Ref) (bool, error) {
	c.seen = append(c.seen, "has")
	return c.there, nil
}

func (c *calls) Keep(context.Context, Ref, int64) (bool, error) {
	c.seen = append(c.seen, "keep")
	if len(c.seen) == 1 {
		return false, fs.ErrInvalid
	}
	return true, nil
}

func TestStagedAsksItsSpoolOnceForEachThing(t *testing.T) {
	t.Parallel()
	c := &calls{}
	s := NewStaged(RefOf(nil), 0, c)
	_, err := s.Keep(t.Context())
	require.ErrorIs(t, err, fs.ErrInvalid)
	for range 2 { // a failed Keep may be tried again, a done one is not repeated
		r, err := s.Keep(t.Context())
		require.NoError(t, err)
		require.Equal(t, Receipt{Ref: RefOf(nil), Existed: true}, r)
	}
	require.NoError(t, s.Confirm(t.Context()))
	c.there = true
	require.NoError(t, s.Confirm(t.Context()))
	s.Discard()
	s.Discard()
	require.Equal(t, []string{"keep", "keep", "has", "keep", "has", "drop"}, c.seen, "kept again where it was gone")
	require.ErrorIs(t, s.Confirm(t.Context()), ErrSettled)

	c = &calls{}
	s = NewStaged(RefOf(nil), 0, c)
	s.Discard()
	s.Discard()
	_, err = s.Keep(t.Context())
	require.ErrorIs(t, err, ErrSettled)
	require.Equal(t, []string{"drop"}, c.seen)
}

func TestFaultsOfTheFileSystemAreToldApart(t *testing.T) {
	t.Parallel()
	require.NoError(t, classify("open", nil))
	for cause, want := range map[syscall.Errno]Fault{
		syscall.ENOSPC: ErrFull,
		syscall.EDQUOT: ErrFull,
		syscall.EACCES: ErrDenied,
		syscall.EPERM:  ErrDenied,
		syscall.EROFS:  ErrDenied,
		syscall.ENOENT: ErrNotFound,
		syscall.EIO:    "",
	} {
		err := classify("open", fmt.Errorf("inner: %w", &fs.PathError{Op: "open", Path: "p", Err: cause}))
		require.ErrorIs(t, err, cause)
		for _, f := range []Fault{ErrFull, ErrDenied, ErrNotFound} {
			if f == want {
				require.ErrorIs(t, err, f)
			} else {
				require.NotErrorIs(t, err, f)
			}
		}
	}
}
