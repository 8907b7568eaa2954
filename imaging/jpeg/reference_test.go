package jpeg

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// exact is the reduced inverse transform as idct.go defines it, in floating
// point and term by term: n × n samples, before rounding.
func exact(n int, coef [64]int32) []float64 {
	out := unclipped(n, coef)
	for i, v := range out {
		out[i] = min(max(v, 0), 255)
	}
	return out
}

// unclipped is exact without the limits of a sample.
func unclipped(n int, coef [64]int32) []float64 {
	var wave [8][8]float64 // C(u) cos((2x+1)uπ / 2n)
	for u := range n {
		for x := range n {
			wave[u][x] = math.Cos(float64(2*x+1) * float64(u) * math.Pi / float64(2*n))
		}
	}
	for x := range n {
		wave[0][x] = 1 / math.Sqrt2
	}
	out := make([]float64, n*n)
	for v := range n {
		for u := range n {
			f := float64(coef[8*v+u])
			for i := 0; f != 0 && i < n*n; i++ {
				out[i] += f * wave[u][i%n] * wave[v][i/n]
			}
		}
	}
	for i, sum := range out {
		out[i] = sum/4 + 128
	}
	return out
}

// worst is how far the transform of a block is from the exact one, in levels
// before the exact one is rounded.
func worst(n int, b *block) float64 {
	dst := make([]byte, n*n)
	inverseFor(n)(b, dst, n)
	most := 0.0
	for i, want := range exact(n, b.coef) {
		most = max(most, math.Abs(float64(dst[i])-want))
	}
	return most
}

// randomBlock has some coefficients, of honest size, at random places.
func randomBlock(r *rand.Rand, some int) *block {
	b := &block{}
	b.coef[0] = int32(r.IntN(2048) - 1024)
	for range some {
		at := zigzag[1+r.IntN(63)]
		b.coef[at] = int32(r.NormFloat64() * 300 / float64(1+some/4))
		b.used |= 1 << at
	}
	return b
}

func TestTheTransformsAreExactToTheRounding(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 2))
	for n := 1; n <= Full; n++ {
		most := 0.0
		for some := range 64 {
			for range 30 {
				most = max(most, worst(n, randomBlock(r, some)))
			}
		}
		t.Logf("%d/8: %.3f levels at most from the unrounded exact value", n, most)
		// Half a level is the rounding itself.
		require.LessOrEqual(t, most, 0.6, "n = %d", n)
	}
}

func TestEverySingleCoefficientIsTransformed(t *testing.T) {
	t.Parallel()
	for n := 1; n <= Full; n++ {
		for at := range 64 {
			for _, v := range []int32{-1023, -400, -9, 3, 77, 1000} {
				b := &block{}
				b.coef[at] = v
				b.used = 1 << at &^ 1
				require.LessOrEqual(t, worst(n, b), 0.52, "n = %d, coefficient %d = %d", n, at, v)
			}
		}
	}
}

func TestHostileCoefficientsDoNotOverflow(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(3, 4))
	for n := 1; n <= Full; n++ {
		for range 300 {
			b := &block{used: ^uint64(1)}
			for i := range b.coef {
				b.coef[i] = 1023 * 65535 * int32(1-2*r.IntN(2)) // the largest there can be
			}
			b.coef[0] = maxDC * 65535
			dst := make([]byte, n*n)
			inverseFor(n)(b, dst, n)
			for i, want := range exact(n, b.coef) {
				// All such samples are far beyond black or white, but for chance.
				if want == 0 || want == 255 {
					require.Equal(t, byte(want), dst[i], "n = %d", n)
				}
			}
		}
	}
}

func TestTheConstantsAreTheCosinesTheyAreNamedAfter(t *testing.T) {
	t.Parallel()
	require.Equal(t, 1<<fixBits, 16384)
	for _, c := range []struct{ have, k, m int }{
		{sqrt2, 0, 1},
		{cos1of6, 1, 6},
		{cos2of6, 2, 6},
		{cos1of8, 1, 8},
		{cos3of8, 3, 8},
		{cos1of10, 1, 10},
		{cos2of10, 2, 10},
		{cos3of10, 3, 10},
		{cos4of10, 4, 10},
		{cos5of12, 5, 12},
		{cos2of12, 2, 12},
		{cos4of12, 4, 12},
		{cos1of14, 1, 14},
		{cos2of14, 2, 14},
		{cos3of14, 3, 14},
		{cos4of14, 4, 14},
		{cos5of14, 5, 14},
		{cos6of14, 6, 14},
		{cos1of16, 1, 16},
		{cos3of16, 3, 16},
		{cos5of16, 5, 16},
		{cos7of16, 7, 16},
	} {
		want := math.Round(math.Sqrt2 * math.Cos(float64(c.k)*math.Pi/float64(c.m)) * (1 << fixBits))
		require.Equal(t, int(want), c.have, "√2 cos(%dπ/%d)", c.k, c.m)
	}
}

func TestZigzagVisitsEachPlaceOnceAlongTheDiagonals(t *testing.T) {
	t.Parallel()
	seen := uint64(0)
	diagonal := 0
	for _, at := range zigzag {
		seen |= 1 << at
		here := int(at/8 + at%8)
		require.True(t, here == diagonal || here == diagonal+1)
		diagonal = here
	}
	require.Equal(t, ^uint64(0), seen)
}

// watched decodes a file at a scale and shows each block with its component.
func watched(t testing.TB, b []byte, n int, see func(c *component, col, row int, b *block)) *decoder {
	t.Helper()
	d := newDecoder(bytes.NewReader(b), Options{Scale: n})
	d.watch = see
	require.NoError(t, d.file(t.Context()))
	return d
}

// requireExact compares the samples of each block with the exact transform.
func requireExact(t *testing.T, b []byte, n int, what any) {
	t.Helper()
	seen := 0
	d := watched(t, b, n, func(c *component, col, row int, b *block) {
		at := row*n*c.plane.stride + col*n
		for k, want := range exact(n, b.coef) {
			have := c.plane.pix[at+k/n*c.plane.stride+k%n]
			if math.Abs(math.Round(want)-float64(have)) > 1 {
				t.Fatalf("%v at %d/8, block %d, %d, sample %d: want %.2f, have %d", what, n, col, row, k, want, have)
			}
		}
		seen++
	})
	need := 0
	for _, c := range d.frame.comps {
		need += ceilDiv(c.width, 8) * ceilDiv(c.height, 8)
	}
	require.GreaterOrEqual(t, seen, need, "every sample has a block")
}

func TestEveryScaleIsWithinOneLevelOfTheExactTransform(t *testing.T) {
	t.Parallel()
	for name, sampling := range layouts() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, size := range sizes()[:11] {
				r := recipe{width: size[0], height: size[1], sampling: sampling, coarse: size[0] % 7, restart: size[1] % 3}
				for n := 1; n <= Full; n++ {
					requireExact(t, r.encode(), n, r)
				}
			}
		})
	}
}
