package imaging

import (
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"slices"
)

const (
	likenessEdge = 64 // samples across and down that the transform sees
	likenessBand = 8  // lowest frequencies kept, across and down
)

// Likeness is a 64-bit perceptual hash of a picture: one bit for each of the 64
// lowest frequencies of its brightness, set where that frequency is stronger
// than the median of them. Pictures that look alike differ in few bits; the
// bits say nothing of what is shown. Frequencies rather than neighbouring
// pixels are compared because brickwork repeats: hashes of averages or of
// differences find two walls the same.
//
// The method is the DCT hash of C. Zauner, Implementation and benchmarking of
// perceptual image hash functions, 2010, §3.2.1 (from memory).
func Likeness(img image.Image) uint64 {
	samples := shrunk(img)
	low := lowFrequencies(samples)
	sorted := low
	slices.Sort(sorted[:])
	median := (sorted[len(sorted)/2-1] + sorted[len(sorted)/2]) / 2
	var bits uint64
	for i, v := range low {
		if v > median {
			bits |= 1 << (63 - i)
		}
	}
	return bits
}

// LikenessOfCopy is the Likeness of a view copy that was made earlier.
func LikenessOfCopy(thumb io.Reader) (uint64, error) {
	img, err := jpeg.Decode(io.LimitReader(thumb, maxCopy))
	if err != nil {
		return 0, fmt.Errorf("read view copy: %w", err)
	}
	return Likeness(img), nil
}

// maxCopy is more bytes than any view copy has.
const maxCopy = 16 << 20

// shrunk is the mean brightness of equal fields of the picture.
func shrunk(img image.Image) (out [likenessEdge * likenessEdge]float64) {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if w == 0 || h == 0 {
		return out
	}
	y := brightness(img)
	for j := range likenessEdge {
		top, bottom := field(j, h)
		for i := range likenessEdge {
			left, right := field(i, w)
			sum := 0
			for row := top; row < bottom; row++ {
				for _, v := range y.Pix[row*y.Stride+left : row*y.Stride+right] {
					sum += int(v)
				}
			}
			out[j*likenessEdge+i] = float64(sum) / float64((right-left)*(bottom-top))
		}
	}
	return out
}

// field gives the samples of field i of a side; a side shorter than the number
// of fields repeats samples.
func field(i, side int) (from, to int) {
	from = i * side / likenessEdge
	return from, max(from+1, (i+1)*side/likenessEdge)
}

// brightness is the Y plane of a picture, made where it has none.
func brightness(img image.Image) *image.Gray {
	b := img.Bounds()
	switch m := img.(type) {
	case *image.YCbCr:
		return &image.Gray{Pix: m.Y[m.YOffset(b.Min.X, b.Min.Y):], Stride: m.YStride, Rect: b}
	case *image.Gray:
		return m
	}
	out := image.NewGray(b)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			out.Set(x, y, img.At(x, y))
		}
	}
	return out
}

// lowFrequencies is the corner of the two-dimensional DCT-II, row by row.
func lowFrequencies(samples [likenessEdge * likenessEdge]float64) (out [likenessBand * likenessBand]float64) {
	var waves [likenessBand][likenessEdge]float64
	for k := range waves {
		for i := range waves[k] {
			waves[k][i] = math.Cos(math.Pi * float64(k) * (float64(i) + 0.5) / likenessEdge)
		}
	}
	var rows [likenessEdge][likenessBand]float64
	for j := range rows {
		for k := range likenessBand {
			for i, w := range waves[k] {
				rows[j][k] += w * samples[j*likenessEdge+i]
			}
		}
	}
	for l := range likenessBand {
		for k := range likenessBand {
			for j, w := range waves[l] {
				out[l*likenessBand+k] += w * rows[j][k]
			}
		}
	}
	return out
}
