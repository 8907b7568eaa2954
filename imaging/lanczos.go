package imaging

import "math"

// kernel says for each result sample along one direction which source samples
// make it, and with which weights: those of result i are
// weight[i*taps : (i+1)*taps], and belong to the samples from first[i] on.
// taps is a multiple of four, filled up with weights of zero: up to three of
// them belong to samples behind the last.
type kernel struct {
	taps   int
	first  []int
	weight []int16
}

// lanczos is the windowed sinc function with three lobes.
func lanczos(x float64) float64 {
	x = math.Abs(x)
	if x == 0 {
		return 1
	}
	if x >= 3 {
		return 0
	}
	p := math.Pi * x
	third := math.Sin(p / 3)
	return 3 * (3 - 4*third*third) * third * third / (p * p) // sin 3a = (3 − 4 sin²a) sin a
}

// newKernel resamples n samples to m, where fraction is the share of the source
// extent that the result extent covers (1 = all).
func newKernel(n, m int, fraction float64) kernel {
	ratio := float64(n) * fraction / float64(m)
	width := max(ratio, 1)
	k := kernel{first: make([]int, m)}
	weights := make([][]int, m)
	longest := 0
	for i := range weights {
		centre := (float64(i)+0.5)*ratio - 0.5
		k.first[i], weights[i] = weigh(centre, width, n)
		longest = max(longest, len(weights[i]))
	}
	// All get the same number of taps, so that the loops over them are simple.
	k.taps = (longest + 3) &^ 3
	k.weight = make([]int16, m*k.taps)
	for i, list := range weights {
		at := min(k.first[i], n-longest)
		for j, w := range list {
			k.weight[i*k.taps+k.first[i]-at+j] = int16(w)
		}
		k.first[i] = at
	}
	return k
}

// weigh gives the weights of one result sample among n source samples, as whole
// numbers that sum to exactly one, so that a flat area stays as it is. What
// rounding takes from a weight is added to the next: their sum, and with it the
// response to all that changes slowly, is then hardly touched.
func weigh(centre, width float64, n int) (first int, weights []int) {
	first = max(int(math.Ceil(centre-3*width)), 0)
	last := min(int(math.Floor(centre+3*width)), n-1)
	if first > last {
		return min(max(int(math.Round(centre)), 0), n-1), []int{one}
	}
	raw := make([]float64, last-first+1)
	sum := 0.0
	for j := range raw {
		raw[j] = lanczos((float64(first+j) - centre) / width)
		sum += raw[j]
	}
	exact, given := 0.0, 0
	for _, v := range raw {
		exact += v / sum * one
		w := int(math.Round(exact)) - given
		given += w
		weights = append(weights, w)
	}
	for len(weights) > 1 && weights[0] == 0 {
		first, weights = first+1, weights[1:]
	}
	for len(weights) > 1 && weights[len(weights)-1] == 0 {
		weights = weights[:len(weights)-1]
	}
	return first, weights
}
