package defects

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDecimalsKeepTheWayTheyWereWritten(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"9.50": "9.50", "9.5": "9.5", "+12": "12", "-0.1": "-0.1", "  7.3 ": "7.3", "0": "0", "-0": "0",
		"0.000000001": "0.000000001", "9000000000": "9000000000", "007": "7", "-12.50": "-12.50",
	} {
		d, err := ParseDecimal(in)
		require.NoError(t, err, in)
		require.Equal(t, want, d.String(), in)
	}
}

func TestWhatIsNoPlainDecimalIsRefused(t *testing.T) {
	t.Parallel()
	for _, in := range []string{
		"", " ", "-", "+", ".", ".5", "5.", "1e400", "1E5", "NaN", "Inf", "-Inf", "1,5", "1 000", "1.2.3", "--1",
		"0x10", "１２", "9000000001", "9.0000000001", strings.Repeat("9", 400), "1\x002",
	} {
		_, err := ParseDecimal(in)
		var refused *Error
		require.True(t, errors.As(err, &refused), "%q was taken", in)
		require.Equal(t, "bad_number", refused.Code)
		require.ErrorIs(t, err, Invalid)
	}
}

func TestDecimalsCompareByValue(t *testing.T) {
	t.Parallel()
	require.Zero(t, MustDecimal("9.50").Cmp(MustDecimal("9.5")))
	require.True(t, MustDecimal("9.4999").Less(MustDecimal("9.5")))
	require.Equal(t, 1, MustDecimal("-1").Cmp(MustDecimal("-1.000000001")))
	require.Equal(t, -1, MustDecimal("-3").Sign())
}

func TestDecimalArithmeticIsExact(t *testing.T) {
	t.Parallel()
	d := MustDecimal
	require.Equal(t, "0.3", d("0.1").Add(d("0.2")).String())
	require.Equal(t, "-2.50", d("1.00").Sub(d("3.5")).String())
	require.Equal(t, "0.415", d("0.83").Mul(d("0.5")).String())
	require.Equal(t, "-6", d("2").Mul(d("-3")).String())
	require.Equal(t, "0.000000001", d("0.00001").Mul(d("0.00005")).String(), "rounds half away from zero")
	require.Equal(t, "4", d("-4").Abs().String())
}

func TestDecimalArithmeticStopsAtItsBoundsInsteadOfWrapping(t *testing.T) {
	t.Parallel()
	big := MustDecimal("9000000000")
	require.Equal(t, 1, big.Add(big).Sign())
	require.Equal(t, -1, big.Neg().Sub(big).Sign())
	require.Equal(t, 1, big.Mul(big).Sign())
	require.True(t, big.Less(big.Add(big)))
	require.Equal(t, int64(math.MaxInt64), mulDivFloor(math.MaxInt64, math.MaxInt64, 1))
}

func TestRoundingIsForPrintingOnly(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		in     string
		places int
		want   string
	}{
		{"0.5196", 2, "0.52"},
		{"7.5", 0, "8"},
		{"2.5", 0, "3"},
		{"-2.5", 0, "-3"},
		{"2.4999", 0, "2"},
		{"10", 2, "10.00"},
		{"0.084", 12, "0.084000000"},
	} {
		require.Equal(t, c.want, MustDecimal(c.in).Round(c.places).String(), c.in)
	}
	require.Equal(t, -1, MustDecimal("0.5196").Cmp(MustDecimal("0.52")))
}

func TestComputedNumbersOutsideTheRangeAreNoDecimals(t *testing.T) {
	t.Parallel()
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		_, ok := DecimalFromFloat(f, 3)
		require.False(t, ok, "%v", f)
	}
	d, ok := DecimalFromFloat(-0.0005, 3)
	require.True(t, ok)
	require.Equal(t, "-0.001", d.String())
}

func FuzzParseDecimal(f *testing.F) {
	for _, s := range []string{"0", "-12.50", "1e400", "9000000000.000000001", "+0.000000000", "9,5", "", "-.1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDecimal(s)
		if err != nil {
			require.ErrorIs(t, err, Invalid)
			require.Less(t, len(err.Error()), 300)
			return
		}
		again, err := ParseDecimal(d.String())
		require.NoError(t, err)
		require.Equal(t, d, again, "%q prints as %q", s, d)
	})
}

func FuzzMulDivAgainstBigIntegers(f *testing.F) {
	f.Add(int64(8_000_000_000), int64(2_400_000_000), int64(5_000_000_000))
	f.Add(int64(math.MaxInt64), int64(math.MaxInt64), int64(math.MaxInt64))
	f.Add(int64(math.MaxInt64), int64(2), int64(3))
	f.Add(int64(9e18), int64(1e18), int64(math.MaxInt64-1))
	f.Add(int64(0), int64(5), int64(1))
	f.Fuzz(func(t *testing.T, a, b, c int64) {
		if a < 0 || b < 0 || c <= 0 {
			return // outside its domain
		}
		q, r := new(big.Int).DivMod(new(big.Int).Mul(big.NewInt(a), big.NewInt(b)), big.NewInt(c), new(big.Int))
		gotQ, gotR := mulDiv(a, b, c)
		if !q.IsInt64() {
			require.Equal(t, int64(math.MaxInt64), gotQ)
			return
		}
		require.Equal(t, q.Int64(), gotQ)
		require.Equal(t, r.Int64(), gotR)
	})
}
