package imaging

import "math"

// plane is one channel of a picture.
type plane struct {
	pix    []byte
	stride int
	w, h   int
}

// unity is the scale of the weights: 14 bits leave room for the sum of any
// number of taps in 32 bits.
const unity = 1 << 14

// taps are the weights of the source samples that make one result sample.
type taps struct {
	first  int
	weight []int32
}

// lanczos is the windowed sinc kernel with three lobes.
func lanczos(x float64) float64 {
	x = math.Abs(x)
	if x == 0 {
		return 1
	}
	if x >= 3 {
		return 0
	}
	p := math.Pi * x
	return 3 * math.Sin(p) * math.Sin(p/3) / (p * p)
}

// kernel gives the taps for resampling n samples to m, where fraction is the
// share of the source extent that the result extent covers (1 = all).
func kernel(n, m int, fraction float64) []taps {
	ratio := float64(n) * fraction / float64(m)
	width := max(ratio, 1)
	list := make([]taps, m)
	for i := range list {
		centre := (float64(i)+0.5)*ratio - 0.5
		first := max(int(math.Ceil(centre-3*width)), 0)
		last := min(int(math.Floor(centre+3*width)), n-1)
		if first > last {
			first = min(max(int(math.Round(centre)), 0), n-1)
			last = first
		}
		list[i] = weigh(first, last, centre, width)
	}
	return list
}

// weigh makes integer weights that sum to exactly one, so that a flat area
// stays as it is.
func weigh(first, last int, centre, width float64) taps {
	raw := make([]float64, last-first+1)
	sum := 0.0
	for j := range raw {
		raw[j] = lanczos((float64(first+j) - centre) / width)
		sum += raw[j]
	}
	t := taps{first: first, weight: make([]int32, len(raw))}
	if sum == 0 {
		raw[0], sum = 1, 1
	}
	rest, biggest := int32(unity), 0
	for j, v := range raw {
		t.weight[j] = int32(math.Round(v / sum * unity))
		rest -= t.weight[j]
		if t.weight[j] > t.weight[biggest] {
			biggest = j
		}
	}
	t.weight[biggest] += rest
	return t
}

// resample scales src into dst with Lanczos, first along rows, then along
// columns; fx and fy are the fractions of kernel.
func resample(src, dst plane, fx, fy float64) {
	middle := plane{pix: make([]byte, dst.w*src.h), stride: dst.w, w: dst.w, h: src.h}
	across := kernel(src.w, dst.w, fx)
	for y := range src.h {
		row := src.pix[y*src.stride : y*src.stride+src.w]
		out := middle.pix[y*middle.stride : y*middle.stride+middle.w]
		for x, t := range across {
			sum := int32(unity / 2)
			part := row[t.first : t.first+len(t.weight)]
			for j, w := range t.weight {
				sum += w * int32(part[j])
			}
			out[x] = clamp(sum >> 14)
		}
	}
	sums := make([]int32, dst.w)
	for y, t := range kernel(src.h, dst.h, fy) {
		for x := range sums {
			sums[x] = unity / 2
		}
		for j, w := range t.weight {
			row := middle.pix[(t.first+j)*middle.stride:][:middle.w]
			for x, v := range row {
				sums[x] += w * int32(v)
			}
		}
		out := dst.pix[y*dst.stride : y*dst.stride+dst.w]
		for x, s := range sums {
			out[x] = clamp(s >> 14)
		}
	}
}

func clamp(v int32) byte {
	if v < 0 {
		return 0
	}
	if v > 255 {
		return 255
	}
	return byte(v)
}
