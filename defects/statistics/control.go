package statistics

import (
	"math"
	"time"

	"storeyrod/defects"
)

// C4 is the mean of s/σ for n ≥ 2 normal values: √(2/(n−1))·Γ(n/2)/Γ((n−1)/2).
func C4(n int) float64 {
	a, _ := math.Lgamma(float64(n) / 2)
	b, _ := math.Lgamma(float64(n-1) / 2)
	return math.Sqrt(2/float64(n-1)) * math.Exp(a-b)
}

// D2 is the mean range of n ≥ 2 standard normal values.
func D2(n int) float64 {
	m := float64(n)
	return panels(func(x float64) float64 {
		p := defects.NormalCDF(x)
		return 1 - math.Pow(p, m) - math.Pow(1-p, m)
	}, 64, -9, -3, 0, 3, 9)
}

// rangeSpread is the standard deviation of the range of two standard normal
// values, √(2 − 4/π).
func rangeSpread() float64 { return math.Sqrt(2 - 4/math.Pi) }

// Timed is a reading in the order of the work.
type Timed struct {
	At    time.Time
	Gang  string
	Value defects.Decimal
}

// ChartLimits are one control line with its limits.
type ChartLimits struct{ Centre, Lower, Upper float64 }

// Out reports a value beyond the limits.
func (l ChartLimits) Out(v float64) bool { return v < l.Lower || v > l.Upper }

// ChartPoint is one point of a chart and whether it lies beyond its limits.
type ChartPoint struct {
	At      time.Time
	Level   float64 // the value, or a group's mean
	Spread  float64 // moving range, or a group's s; NaN for the first value
	Outside bool
}

// Chart is a control chart of one gang. Limits describe what the work did, not
// what was specified: a point outside asks for a cause, it fails nothing.
type Chart struct {
	Gang        string
	Kind        string // "individuals" or "xbar-s"
	Level       ChartLimits
	Spread      ChartLimits
	Points      []ChartPoint
	Provisional bool // fewer than 20 points (common practice, no source)
}

const enoughPoints = 20

// Individuals makes a chart of individuals and moving ranges for each gang, in
// the order its first reading comes: centre ± 3·MR̄/d₂(2), range up to
// MR̄·(1 + 3·d₃/d₂) (Shewhart; ISO 7870-2, from memory). A gang with fewer than
// two readings has none and is named in without.
func Individuals(readings []Timed) (charts []Chart, without []string) {
	for _, g := range byGang(readings) {
		if len(g) < 2 {
			without = append(without, g[0].Gang)
			continue
		}
		charts = append(charts, individuals(g))
	}
	return charts, without
}

func byGang(readings []Timed) [][]Timed {
	var groups [][]Timed
	for _, places := range grouped(len(readings), func(i int) string { return readings[i].Gang }) {
		group := make([]Timed, len(places))
		for n, i := range places {
			group[n] = readings[i]
		}
		groups = append(groups, group)
	}
	return groups
}

// shortRun is the mean and the standard deviation of a few values. Their
// differences from the first, counted in the last place they were written with,
// are small whole numbers as a rule, so that sums of them are exact.
func shortRun(values []defects.Decimal) (mean, s float64) {
	first, places := values[0], 0
	for _, v := range values {
		places = max(places, v.Places())
	}
	unit := int64(math.Pow10(9 - places)) // billionths
	var sum, squares int64
	for _, v := range values {
		apart := v.Nano() - first.Nano()
		d := apart / unit
		if d > runReach || d < -runReach || apart%unit != 0 {
			m := momentsAbout(first.Nano(), values)
			return m.mean(), m.deviation()
		}
		sum, squares = sum+d, squares+d*d
	}
	n := int64(len(values))
	step := float64(unit) / nano
	s = math.Sqrt(float64(n*squares-sum*sum)/float64(n*(n-1))) * step
	return first.Float() + float64(sum)/float64(n)*step, s
}

// runReach keeps the sums of the longest run, 1000 values, within 64 bits.
const runReach = 1_000_000

// grouped parts the places of a list of n by a key, the groups in the order
// their first one comes.
func grouped(n int, key func(i int) string) [][]int {
	known := map[string]int{}
	of, sizes := make([]int, n), []int{}
	for i := range n {
		k := key(i)
		g, ok := known[k]
		if !ok {
			g = len(sizes)
			known[k], sizes = g, append(sizes, 0)
		}
		of[i] = g
		sizes[g]++
	}
	groups := make([][]int, len(sizes))
	for g, size := range sizes {
		groups[g] = make([]int, 0, size)
	}
	for i, g := range of {
		groups[g] = append(groups[g], i)
	}
	return groups
}

func individuals(list []Timed) Chart {
	c := Chart{Gang: list[0].Gang, Kind: "individuals", Provisional: len(list) < enoughPoints}
	var level, moving float64
	for i, r := range list {
		p := ChartPoint{At: r.At, Level: r.Value.Float(), Spread: math.NaN()}
		if i > 0 {
			p.Spread = math.Abs(r.Value.Sub(list[i-1].Value).Float())
			moving += p.Spread
		}
		level += p.Level
		c.Points = append(c.Points, p)
	}
	level /= float64(len(list))
	moving /= float64(len(list) - 1)
	d2 := D2(2)
	sigma := moving / d2
	c.Level = ChartLimits{Centre: level, Lower: level - 3*sigma, Upper: level + 3*sigma}
	c.Spread = ChartLimits{Centre: moving, Upper: moving + 3*rangeSpread()*sigma}
	for i := range c.Points {
		p := &c.Points[i]
		p.Outside = c.Level.Out(p.Level) || c.Spread.Out(p.Spread)
	}
	return c
}

// MeanAndSpread makes an X̄–s chart for each gang from runs of size successive
// readings: X̄ ± 3·s̄/(c₄√n), s̄·(1 ± 3√(1−c₄²)/c₄) and never below 0 (Shewhart;
// ISO 7870-2, from memory). A last run that is not full is left out; a gang with
// fewer than two full runs has no chart and is named in without.
func MeanAndSpread(readings []Timed, size int) (charts []Chart, without []string, err error) {
	if size < 2 {
		return nil, nil, bad("size", CodeTooFew, "a run needs at least 2 readings")
	}
	for _, g := range byGang(readings) {
		if len(g)/size < 2 {
			without = append(without, g[0].Gang)
			continue
		}
		charts = append(charts, meanAndSpread(g, size))
	}
	return charts, without, nil
}

func meanAndSpread(list []Timed, size int) Chart {
	c := Chart{Gang: list[0].Gang, Kind: "xbar-s"}
	var level, s float64
	values := make([]defects.Decimal, size)
	for i := 0; i+size <= len(list); i += size {
		for j := range values {
			values[j] = list[i+j].Value
		}
		mean, spread := shortRun(values)
		p := ChartPoint{At: list[i].At, Level: mean, Spread: spread}
		c.Points = append(c.Points, p)
		level, s = level+p.Level, s+p.Spread
	}
	runs := float64(len(c.Points))
	level, s = level/runs, s/runs
	c4 := C4(size)
	reach := 3 * s / (c4 * math.Sqrt(float64(size)))
	width := 3 * math.Sqrt(1-c4*c4) / c4
	c.Level = ChartLimits{Centre: level, Lower: level - reach, Upper: level + reach}
	c.Spread = ChartLimits{Centre: s, Lower: max(0, s*(1-width)), Upper: s * (1 + width)}
	for i := range c.Points {
		p := &c.Points[i]
		p.Outside = c.Level.Out(p.Level) || c.Spread.Out(p.Spread)
	}
	c.Provisional = len(c.Points) < enoughPoints
	return c
}
