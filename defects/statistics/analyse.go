package statistics

import (
	"slices"

	"storeyrod/defects"
)

// Wanted chooses what is said of readings besides their plain figures.
type Wanted struct {
	Proportion float64 // that the tolerance interval covers; 0 = 0.90
	Confidence float64 // of the interval and of the share outside; 0 = 0.95
	Side       Side    // of the interval; "" = the sides the limit has
	Plan       PlanChoice
	Run        int // readings in a run of the control chart; 0 = by their number
	// Set is the set that the readings are, if they are one: they may have been
	// judged as a set only, by its limit.
	Set *defects.Set
}

// The usual proportion and confidence (common practice, no source).
const (
	usualProportion = 0.90
	usualConfidence = 0.95
)

// Analysis is what is said of readings of one quantity. What could not be worked
// out is nil and named in Unsaid. Values that look like outliers are flagged and
// counted like all others.
type Analysis struct {
	N          int // readings that stand; all figures are theirs
	Withdrawn  int
	Outcomes   map[defects.Outcome]int
	Void       int // readings without a verdict because the calibration had expired
	Limit      defects.CommonLimit
	Summary    *Summary
	Outlier    *OutlierFlag
	OutlierID  string
	Normality  *NormalityHint
	Interval   *ToleranceInterval
	Side       Side
	Outside    *Outside
	Acceptance *Acceptance
	Charts     []GangChart
	Without    []string // gangs with too few readings for a chart
	Unsaid     []Unsaid
}

// Unsaid names what could not be said and why.
type Unsaid struct{ What, Why string }

// What an Unsaid can be about.
const (
	SaidOutlier    = "outlier"
	SaidNormality  = "normality"
	SaidInterval   = "tolerance interval"
	SaidOutside    = "share outside the limit"
	SaidAcceptance = "acceptance by variables"
)

// Outside is the share of readings outside the limit as counted, with its bound,
// and as a normal spread would have it.
type Outside struct {
	Found      int
	Share      float64
	AtMost     float64 // with the confidence no more than this share of a large lot
	Confidence float64
	Capability *float64 // C_pk; nil without spread
	Expected   *float64 // share beyond the limit of a normal spread
}

// Analyse works everything out for readings in the order they were taken. Bad
// choices are refused; what the readings cannot carry is named in Unsaid.
func Analyse(list []defects.Figure, w Wanted) (Analysis, error) {
	if w.Proportion == 0 {
		w.Proportion = usualProportion
	}
	if w.Confidence == 0 {
		w.Confidence = usualConfidence
	}
	if err := w.check(); err != nil {
		return Analysis{}, err
	}
	a := Analysis{Outcomes: map[defects.Outcome]int{}, Limit: defects.FindCommonLimit(list)}
	if w.Set != nil && a.Limit.Different == 0 {
		if l := w.Set.EachLimit(); l.Shared {
			a.Limit = l
		}
	}
	standing := list
	if withdrawn := func(f defects.Figure) bool { return f.Withdrawn }; slices.ContainsFunc(list, withdrawn) {
		standing = slices.DeleteFunc(slices.Clone(list), withdrawn)
	}
	a.Withdrawn = len(list) - len(standing)
	values := make([]defects.Decimal, 0, len(standing))
	for i := range standing {
		f := &standing[i]
		values = append(values, f.Value)
		if f.Verdict != nil {
			a.Outcomes[f.Verdict.Outcome]++
			if f.Verdict.Reason == defects.ReasonCalibrationExpired {
				a.Void++
			}
		}
	}
	a.N = len(standing)
	sum, err := Summarise(values)
	if err != nil {
		return a, nil // without a reading there is nothing to say, and no fault
	}
	a.Summary = &sum
	a.shape(standing, values)
	a.interval(sum, w)
	a.outside(values, sum, w)
	a.Acceptance = a.accept(sum, w.Plan)
	a.Charts, a.Without = gangCharts(standing, w.Run)
	return a, nil
}

func (w Wanted) check() error {
	if err := checkInterval(2, w.Proportion, w.Confidence); err != nil {
		return err
	}
	if w.Side != "" && w.Side != EitherSide && w.Side != HighSide && w.Side != LowSide {
		return bad("side", CodeBadValue, "the side is either, high or low")
	}
	if w.Run != 0 && (w.Run < 2 || w.Run > longestRun) {
		return bad("run", CodeBadValue, "a run of the control chart has 2 to %d readings", longestRun)
	}
	return w.Plan.check()
}

// unsaid notes why something cannot be said.
func (a *Analysis) unsaid(what string, err error) {
	why := err.Error()
	if e, ok := err.(*defects.Error); ok {
		why = e.Text // without the name of the argument
	}
	a.Unsaid = append(a.Unsaid, Unsaid{what, why})
}

// shape looks for an outlier and at the shape of the spread.
func (a *Analysis) shape(standing []defects.Figure, values []defects.Decimal) {
	if flag, err := Grubbs(values, EitherSide); err == nil {
		a.Outlier, a.OutlierID = &flag, standing[flag.Index].ID
	} else {
		a.unsaid(SaidOutlier, err)
	}
	if hint, err := Normality(values); err == nil {
		a.Normality = &hint
	} else {
		a.unsaid(SaidNormality, err)
	}
}

func (a *Analysis) interval(sum Summary, w Wanted) {
	if a.Side = w.Side; a.Side == "" {
		a.Side = sideOf(a.Limit)
	}
	if sum.N >= 2 && sum.S == 0 {
		a.unsaid(SaidInterval, bad("values", CodeNoSpread, "all values are equal, so a tolerance interval says nothing"))
		return
	}
	t, err := Tolerance(sum, w.Proportion, w.Confidence, a.Side)
	if err != nil {
		a.unsaid(SaidInterval, err)
		return
	}
	a.Interval = &t
}

// sideOf is the side on which work can lie out of a limit.
func sideOf(l defects.CommonLimit) Side {
	switch {
	case l.Lower == nil && l.Upper != nil:
		return HighSide
	case l.Lower != nil && l.Upper == nil:
		return LowSide
	}
	return EitherSide
}

func (a *Analysis) outside(values []defects.Decimal, sum Summary, w Wanted) {
	if !a.Limit.Shared {
		a.unsaid(SaidOutside, bad("limits", CodeBadValue, "%s", a.Limit.WhyNone()))
		return
	}
	o := Outside{Confidence: w.Confidence}
	for _, v := range values {
		if a.Limit.Lower != nil && v.Less(*a.Limit.Lower) || a.Limit.Upper != nil && a.Limit.Upper.Less(v) {
			o.Found++
		}
	}
	o.Share = float64(o.Found) / float64(sum.N)
	var err error
	if o.AtMost, err = UpperShare(sum.N, o.Found, w.Confidence); err != nil {
		a.unsaid(SaidOutside, err)
		return
	}
	if cpk, beyond, err := Capability(sum.Mean, sum.S, intervalOf(a.Limit.Lower, a.Limit.Upper)); err == nil {
		o.Capability, o.Expected = &cpk, &beyond
	}
	a.Outside = &o
}

// GangChart is a control chart with the readings its points stand for.
type GangChart struct {
	Chart
	Readings int
	Run      int      // readings behind a point; 1 for a chart of individuals
	First    []string // id of the first reading of each point
}

const (
	mostPoints  = 100 // of one chart; a longer series is drawn by runs
	longestRun  = 1000
	runsOfGangs = 5 // the shortest run that is chosen by itself
)

// gangCharts makes a chart for each gang, in the order their first reading came.
func gangCharts(list []defects.Figure, run int) (charts []GangChart, without []string) {
	for _, gang := range grouped(len(list), func(i int) string { return list[i].Gang }) {
		size := runFor(len(gang), run)
		if len(gang)/size < 2 {
			without = append(without, list[gang[0]].Gang)
			continue
		}
		timed := make([]Timed, len(gang))
		for n, i := range gang {
			timed[n] = Timed{At: list[i].At, Gang: list[i].Gang, Value: list[i].Value}
		}
		chart := GangChart{Readings: len(gang), Run: size}
		if size == 1 {
			chart.Chart = individuals(timed)
		} else {
			chart.Chart = meanAndSpread(timed, size)
		}
		for n := range chart.Points {
			chart.First = append(chart.First, list[gang[n*size]].ID)
		}
		charts = append(charts, chart)
	}
	return charts, without
}

// runFor is how many readings stand behind a point of a chart.
func runFor(n, asked int) int {
	if asked > 0 || n <= mostPoints {
		return max(asked, 1)
	}
	for _, size := range []int{runsOfGangs, 10, 20, 25, 50, 100, 200, 500} {
		if n/size <= mostPoints {
			return size
		}
	}
	return longestRun
}

// Beyond lists the points beyond their limits.
func (c GangChart) Beyond() []int {
	var out []int
	for i, p := range c.Points {
		if p.Outside {
			out = append(out, i)
		}
	}
	return slices.Clip(out)
}
