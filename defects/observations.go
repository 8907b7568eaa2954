package defects

import "math"

// Observations of one reading: how many values its mean may be taken from.
const (
	MinObservations = 2
	MaxObservations = 50
)

// meanPlaces is how many places a mean has at most, and how many more than the
// values it is the mean of.
const (
	meanPlaces     = 6
	morePlacesMean = 2
)

// MeanOf is the mean of values, written with two places more than they were, six
// at most, and rounded there half away from zero. No values give 0.
func MeanOf(values []Decimal) Decimal {
	if len(values) == 0 {
		return Decimal{}
	}
	places, sum := 0, 0.0
	for _, v := range values {
		places = max(places, v.Places())
		sum += float64(v.Nano() - values[0].Nano()) // small, so that nothing is lost
	}
	mean := values[0].Add(Decimal{nano: int64(math.Round(sum / float64(len(values))))})
	return mean.Round(min(places+morePlacesMean, meanPlaces))
}

// deviationOf is the standard deviation s of at least two values about their
// mean, to the ninth place (GUM, JCGM 100:2008, 4.2.2).
func deviationOf(values []Decimal) Decimal {
	first, n := values[0].Nano(), float64(len(values))
	var sum, squares float64
	for _, v := range values {
		d := float64(v.Nano() - first)
		sum, squares = sum+d, squares+d*d
	}
	variance := max(0, squares-sum*sum/n) / (n - 1)
	return Decimal{nano: int64(math.Round(math.Sqrt(variance))), places: maxPlaces}
}

// OfMean is the uncertainty of the mean of observations taken one after the
// other with the instrument: repeating lessens s to s/√n and nothing else (GUM
// 4.2.3). An s that was found from as many repeats or more is the better one, as
// it rests on more of them (GUM 4.2.4, from memory); else the observations' own
// s counts, and it holds the resolution when it is more than two steps of the
// display (common practice, no source). Fewer than two observations leave
// everything as it is.
func (u Uncertainty) OfMean(observations []Decimal) Uncertainty {
	if len(observations) < MinObservations {
		return u
	}
	u.Observed = len(observations)
	if u.Repeatability != nil && u.Repeats >= u.Observed {
		return u
	}
	s := deviationOf(observations)
	u.Repeatability, u.Repeats, u.Own = &s, u.Observed, true
	u.Resolution, u.Contained = u.step, false
	if u.step != nil && u.step.Add(*u.step).Less(s) {
		u.Resolution, u.Contained = nil, true
	}
	return u
}
