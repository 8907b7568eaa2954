package imaging

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// resampled runs a plane of w × h samples through a scaler, a number of rows at a time.
func resampled(pix []byte, w, h, cols, rows, portion int, fx, fy float64) []byte {
	out := make([]byte, cols*rows)
	s := newScaler(w, h, newKernel(w, cols, fx), newKernel(h, rows, fy), turned(out, cols, cols, rows, 1))
	for y := 0; y < h; y += portion {
		s.take(pix[y*w:], w, min(portion, h-y))
	}
	return out
}

// exactly is the same in floating point: each weight is the windowed sinc, and
// only the result is rounded.
func exactly(pix []byte, w, h, cols, rows int, fx, fy float64) []byte {
	weights := func(n, m int, fraction float64) [][]float64 {
		all := make([][]float64, m)
		ratio := float64(n) * fraction / float64(m)
		for i := range all {
			sum := 0.0
			all[i] = make([]float64, n)
			for j := range all[i] {
				x := (float64(j) + 0.5 - (float64(i)+0.5)*ratio) / max(ratio, 1)
				if x == 0 {
					all[i][j] = 1
				} else if math.Abs(x) < 3 {
					all[i][j] = math.Sin(math.Pi*x) / (math.Pi * x) * math.Sin(math.Pi*x/3) / (math.Pi * x / 3)
				}
				sum += all[i][j]
			}
			for j := range all[i] {
				all[i][j] /= sum
			}
		}
		return all
	}
	across, down := weights(w, cols, fx), weights(h, rows, fy)
	out := make([]byte, cols*rows)
	for i := range out {
		sum := 0.0
		for y, v := range down[i/cols] {
			for x, u := range across[i%cols] {
				if u != 0 && v != 0 {
					sum += u * v * float64(pix[y*w+x])
				}
			}
		}
		out[i] = byte(math.Round(min(max(sum, 0), 255)))
	}
	return out
}

func grain(w, h int, seed uint64) []byte {
	r := rand.New(rand.NewPCG(seed, 1))
	pix := make([]byte, w*h)
	for i := range pix {
		pix[i] = byte(128 + 60*math.Sin(float64(i%w)/7)*math.Cos(float64(i/w)/5) + 12*r.NormFloat64())
	}
	return pix
}

func shapes() [][4]int {
	return [][4]int{
		{100, 70, 33, 21},
		{64, 50, 52, 41},
		{5, 5, 1, 1},
		{7, 3, 6, 2},
		{1, 1, 1, 1},
		{300, 2, 299, 1},
		{9, 31, 9, 31},
		{33, 40, 66, 7},
		{200, 9, 17, 9},
	}
}

func TestResamplingIsLanczosToARoundingOfTheWeights(t *testing.T) {
	t.Parallel()
	for _, n := range shapes() {
		for _, fraction := range []float64{1, 0.97} {
			pix := grain(n[0], n[1], 3)
			want := exactly(pix, n[0], n[1], n[2], n[3], fraction, 1)
			got := resampled(pix, n[0], n[1], n[2], n[3], 16, fraction, 1)
			sum := 0.0
			for i := range want {
				d := float64(want[i]) - float64(got[i])
				require.LessOrEqual(t, math.Abs(d), 4.0, "%v sample %d", n, i)
				sum += d * d
			}
			require.Less(t, math.Sqrt(sum/float64(len(want))), 1.0, n)
		}
	}
}

func TestFlatPlanesStayFlatWhenResampled(t *testing.T) {
	t.Parallel()
	for _, n := range shapes() {
		for _, v := range []byte{0, 1, 137, 254, 255} {
			got := resampled(bytes.Repeat([]byte{v}, n[0]*n[1]), n[0], n[1], n[2], n[3], 8, 1, 1)
			require.Equal(t, bytes.Repeat([]byte{v}, n[2]*n[3]), got)
		}
	}
}

func TestItDoesNotMatterInWhichPortionsRowsCome(t *testing.T) {
	t.Parallel()
	for _, n := range shapes() {
		pix := grain(n[0], n[1], 4)
		want := resampled(pix, n[0], n[1], n[2], n[3], n[1], 1, 1)
		for _, portion := range []int{1, 2, 5, 10} {
			require.Equal(t, want, resampled(pix, n[0], n[1], n[2], n[3], portion, 1, 1))
		}
	}
}

// Whatever the samples, no sum may leave its lane: lanes.go says why.
func TestWeightsStayWithinTheirLanes(t *testing.T) {
	t.Parallel()
	for _, fraction := range []float64{1, 0.999, 0.9, 0.6, 0.51} {
		for n := 1; n <= 60; n++ {
			for m := 1; m <= 2*n; m += 1 + n/20 {
				k := newKernel(n, m, fraction)
				for i := range m {
					sum, below := 0, 0
					for _, w := range k.weight[i*k.taps : (i+1)*k.taps] {
						sum += int(w)
						below += min(int(w), 0)
					}
					if sum != one || -below*255 > (lift-1)*one || (sum-below)*255 > (511-lift)*one {
						t.Fatalf("%d to %d, sample %d: weights sum to %d, the negative ones to %d", n, m, i, sum, below)
					}
				}
			}
		}
	}
}

func TestSumsAreSettledInEveryLane(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(7, 8))
	for range 10_000 {
		sum, want := uint64(0), uint64(0)
		for lane := range 4 {
			v := r.IntN(510*one) - lift*one
			sum += uint64(v) << (16 * lane)
			want |= uint64(min(max((v+one/2)>>oneBits, 0), 255)) << (16 * lane)
		}
		require.Equal(t, want, settle(sum+start))
	}
}

func TestTurnedCopiesAreTheUprightOneTurned(t *testing.T) {
	t.Parallel()
	for _, size := range [][2]int{{61, 43}, {8, 8}, {1, 9}, {30, 7}} {
		w, h := size[0], size[1]
		m := &image.Gray{Pix: grain(w, h, 9), Stride: w, Rect: image.Rect(0, 0, w, h)}
		plain := reduce(m, 29, 1).(*image.Gray)
		dw, dh := plain.Rect.Dx(), plain.Rect.Dy()
		for orientation, from := range map[int]func(x, y int) (int, int){
			0: func(x, y int) (int, int) { return x, y },
			2: func(x, y int) (int, int) { return dw - 1 - x, y },
			3: func(x, y int) (int, int) { return dw - 1 - x, dh - 1 - y },
			4: func(x, y int) (int, int) { return x, dh - 1 - y },
			5: func(x, y int) (int, int) { return y, x },
			6: func(x, y int) (int, int) { return y, dh - 1 - x },
			7: func(x, y int) (int, int) { return dw - 1 - y, dh - 1 - x },
			8: func(x, y int) (int, int) { return dw - 1 - y, x },
		} {
			got := reduce(m, 29, orientation).(*image.Gray)
			for y := range got.Rect.Dy() {
				for x := range got.Rect.Dx() {
					require.Equal(t, plain.GrayAt(from(x, y)), got.GrayAt(x, y), "orientation %d", orientation)
				}
			}
		}
	}
}

func TestHalvingTakesTheMeanOfFour(t *testing.T) {
	t.Parallel()
	for _, size := range [][2]int{{40, 6}, {41, 7}, {1, 1}, {7, 2}, {17, 1}} {
		t.Run(fmt.Sprint(size), func(t *testing.T) {
			t.Parallel()
			w, h := size[0], size[1]
			m := &image.Gray{Pix: grain(w, h, 2), Stride: w, Rect: image.Rect(0, 0, w, h)}
			got := halve(m).(*image.Gray)
			require.Equal(t, image.Pt((w+1)/2, (h+1)/2), got.Rect.Size())
			at := func(x, y int) int { return int(m.GrayAt(min(x, w-1), min(y, h-1)).Y) }
			for y := range got.Rect.Dy() {
				for x := range got.Rect.Dx() {
					sum := at(2*x, 2*y) + at(2*x+1, 2*y) + at(2*x, 2*y+1) + at(2*x+1, 2*y+1)
					require.Equal(t, (sum+2)/4, int(got.GrayAt(x, y).Y))
				}
			}
		})
	}
}
