package jpeg

import (
	"bytes"
	"fmt"
	"image"
	stdjpeg "image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// painted is the test picture as 4:2:0 or grey planes.
func painted(w, h int, grey bool) image.Image {
	if grey {
		m := image.NewGray(image.Rect(0, 0, w, h))
		paint(m.Pix, m.Stride, 0)
		return m
	}
	m := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	paint(m.Y, m.YStride, 0)
	paint(m.Cb, m.CStride, 1)
	paint(m.Cr, m.CStride, 2)
	return m
}

func paint(pix []byte, stride, c int) {
	for i := range pix {
		pix[i] = byte(scene(c, i%stride, i/stride))
	}
}

// noise is the mean square difference of two pictures over all their samples.
func noise(a, b image.Image) float64 {
	sum, n := 0.0, 0
	ca, cb := channels(a), channels(b)
	for i, rows := range ca {
		for y, row := range rows {
			for x, v := range row {
				d := float64(v) - float64(cb[i][y][x])
				sum, n = sum+d*d, n+1
			}
		}
	}
	return sum / float64(n)
}

// The levels are those of the exact transform, but for values that lie in the
// middle between two to a hundredth.
func TestLevelsAreThoseOfTheExactTransform(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(5, 6))
	var f [64]int
	var levels [64]int32
	for round := range 1000 {
		quality := 1 + r.IntN(100)
		steps := steps(stepsK[round%2], quality)
		recip := newReciprocals(&steps)
		var pix [64]byte
		var shiftedDown [64]float64
		for i := range pix {
			switch round % 3 {
			case 0:
				pix[i] = byte(r.IntN(256))
			case 1:
				pix[i] = byte(r.IntN(2) * 255)
			default:
				pix[i] = byte(scene(0, round+i%8, round/3+i/8))
			}
			shiftedDown[i] = float64(pix[i]) - 128
		}
		fdct(pix[:], 8, &f)
		used := recip.quantise(&f, &levels)
		want := forward(shiftedDown)
		for k, at := range zigzag {
			exact := want[at] / float64(steps[at])
			if math.Abs(exact-float64(levels[k])) > 0.51 || (levels[k] != 0) != (used>>k&1 == 1) {
				t.Fatalf("frequency %d at quality %d: level %d for %.3f", at, quality, levels[k], exact)
			}
		}
	}
}

func TestTheTablesAreThoseTheStandardEncoderWrites(t *testing.T) {
	t.Parallel()
	tables := func(b []byte) (all []byte) {
		for at := 2; b[at+1] != markerSOS; at += 2 + int(b[at+2])<<8 + int(b[at+3]) {
			n := int(b[at+2])<<8 + int(b[at+3])
			if b[at+1] == markerDQT || b[at+1] == markerDHT {
				all = append(all, b[at+4:at+2+n]...)
			}
		}
		return all
	}
	img := painted(40, 24, false)
	for quality := 1; quality <= 100; quality++ {
		ours, err := Encode(img, quality)
		require.NoError(t, err)
		var std bytes.Buffer
		require.NoError(t, stdjpeg.Encode(&std, img, &stdjpeg.Options{Quality: quality}))
		// It writes both classes of tables in one segment, in another order:
		// compared are the bytes there are.
		require.ElementsMatch(t, tables(std.Bytes()), tables(ours), quality)
	}
}

func TestWhatIsWrittenIsReadByAllDecoders(t *testing.T) {
	t.Parallel()
	for _, grey := range []bool{false, true} {
		for w := 1; w <= 34; w += 4 {
			for h := 1; h <= 34; h += 3 {
				img := painted(w, h, grey)
				b, err := Encode(img, 98)
				require.NoError(t, err)
				std := standard(t, b)
				require.LessOrEqual(t, apart(t, std, decodeAt(t, b, Full).Image), 1)
				// At 98 the steps are 5 at most, and a sample is off by few.
				require.Less(t, noise(img, std), 3.0, "%d × %d", w, h)
			}
		}
	}
}

func TestLibjpegTurboReadsWhatIsWritten(t *testing.T) {
	t.Parallel()
	program := djpeg(t)
	path := filepath.Join(t.TempDir(), "written.jpg")
	for _, size := range sizes() {
		for _, quality := range []int{1, 30, 85, 100} {
			for _, grey := range []bool{false, true} {
				b, err := Encode(painted(size[0], size[1], grey), quality)
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(path, b, 0o600))
				require.LessOrEqual(t, apart(t, theirs(t, program, path, Full), luma(decodeAt(t, b, Full).Image)), 1)
			}
		}
	}
}

// Same tables, same transform: as good as the standard encoder and no larger.
func TestQualityAndSizeAreThoseOfTheStandardEncoder(t *testing.T) {
	t.Parallel()
	for _, grey := range []bool{false, true} {
		for _, quality := range []int{10, 50, 80, 85, 95, 100} {
			img := painted(320, 240, grey)
			ours, err := Encode(img, quality)
			require.NoError(t, err)
			var std bytes.Buffer
			require.NoError(t, stdjpeg.Encode(&std, img, &stdjpeg.Options{Quality: quality}))
			mine, theirs := noise(img, standard(t, ours)), noise(img, standard(t, std.Bytes()))
			name := fmt.Sprintf("quality %d, grey %t", quality, grey)
			require.Less(t, 10*math.Log10(mine/theirs), 0.02, "%s: decibels lost", name)
			require.InEpsilon(t, std.Len(), len(ours), 0.02, name)
		}
	}
}

func TestOnlyPlanesAreWritten(t *testing.T) {
	t.Parallel()
	for name, img := range map[string]image.Image{
		"rgb":      image.NewRGBA(image.Rect(0, 0, 8, 8)),
		"4:4:4":    image.NewYCbCr(image.Rect(0, 0, 8, 8), image.YCbCrSubsampleRatio444),
		"nothing":  image.NewGray(image.Rect(0, 0, 0, 8)),
		"off zero": image.NewGray(image.Rect(1, 0, 8, 8)),
		"too wide": image.NewGray(image.Rect(0, 0, 70_000, 1)),
	} {
		_, err := Encode(img, 80)
		require.ErrorIs(t, err, ErrUnsupported, name)
	}
}

// FuzzRoundTrip writes any samples and holds what comes back to the error that
// quantisation can make.
func FuzzRoundTrip(f *testing.F) {
	f.Add([]byte("some samples, of no meaning \x00\xFF\x00\xFF"), uint16(17), uint8(90), false)
	f.Add(bytes.Repeat([]byte{0, 255}, 200), uint16(20), uint8(100), true)
	f.Add([]byte{255}, uint16(1), uint8(0), false)
	f.Fuzz(func(t *testing.T, pix []byte, width uint16, quality uint8, grey bool) {
		w := 1 + int(width%300)
		h := min(len(pix)/w, 300)
		if h == 0 {
			return
		}
		var img image.Image = &image.Gray{Pix: pix, Stride: w, Rect: image.Rect(0, 0, w, h)}
		if !grey {
			m := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
			copy(m.Y, pix)
			copy(m.Cb, pix)
			copy(m.Cr, pix[len(pix)/2:])
			img = m
		}
		b, err := Encode(img, int(quality))
		if err != nil {
			t.Fatal(err)
		}
		std := standard(t, b)
		if d := apart(t, std, decodeAt(t, b, Full).Image); d > 1 {
			t.Fatalf("%d levels apart", d)
		}
		// The transform keeps the sum of squares, so half the largest step is
		// the most that the error can be in the mean; rounding adds to it.
		// Blocks over the edge spread theirs, so only whole ones are held to it.
		if w%16 != 0 || h%16 != 0 {
			return
		}
		largest := 0
		for _, table := range stepsK {
			for _, s := range steps(table, min(max(int(quality), 1), 100)) {
				largest = max(largest, int(s))
			}
		}
		if n, most := math.Sqrt(noise(img, std)), float64(largest)/2+1; n > most {
			t.Fatalf("an error of %.2f, at most %.2f", n, most)
		}
	})
}
