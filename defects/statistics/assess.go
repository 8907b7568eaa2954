package statistics

import (
	"fmt"
	"math"

	"storeyrod/defects"
)

// coverLevel is the two-sided level of the factor taken from Student's t.
const coverLevel = 0.95

// Assessment tells how the uncertainty of a reading comes about, what its verdict
// risks, and what would settle it when that is in doubt.
type Assessment struct {
	Budget *Budget   // nil: nothing is known, or the value is exact
	Two    Coverage  // U with k = 2, which verdicts use
	T      *Coverage // U with k from Student's t at 95 %; nil with less than 1 degree of freedom
	Notes  []string  // sentences that the table needs to be understood
	// Moved: the verdict was given with another U than the sources give now, such
	// as before a certificate came. The decision stands on the verdict's own.
	Moved    bool
	Decision *Decision   // nil without a limit or an uncertainty
	Settle   *Settlement // nil when the verdict is in no doubt
}

// Decision is what one verdict risks (JCGM 106:2012, 8, from memory). The risks
// are about the measurement of this one reading, not about the work as a whole.
type Decision struct {
	Accepted bool    // pass or conditional pass
	Decided  bool    // there is an outcome at all
	Standard float64 // u that the verdict rests on
	Nu       float64
	PConform float64
	Consumer float64 // risk of accepting it: that it does not conform
	Producer float64 // risk of refusing it: that it does conform
	Guard    float64 // w in force
	Worst    float64 // largest consumer's risk of any reading that passes unconditionally, one limit in reach
}

// Repeatability is the type A source of the mean of observed values, 1 for a
// single one, with an instrument whose single repeats spread by s, found from n ≥
// 2 of them.
func Repeatability(name string, s float64, n, observed int) (Source, error) {
	switch {
	case n < 2:
		return Source{}, bad("n", CodeTooFew, "a spread needs at least 2 repeats, not %d", n)
	case !finite(s) || s < 0:
		return Source{}, bad("s", CodeBadValue, "a standard deviation must be a number of 0 or more")
	}
	root := math.Sqrt(float64(max(1, observed)))
	return Source{Name: name, TypeA: true, Value: s, Distribution: FromRepeats, Divisor: root, Sensitivity: 1, Standard: s / root, Nu: float64(n - 1)}, nil
}

// Assess works out the budget of a reading and the risks of its verdict. tool is
// what its instrument adds, nil when none is stated or it works in another unit.
func Assess(rd defects.Reading, tool *defects.Uncertainty) (Assessment, error) {
	var a Assessment
	sources, err := sourcesOf(rd, tool)
	if err != nil {
		return a, err
	}
	if budget, err := Combine(sources...); err == nil {
		a.Budget, a.Two = &budget, budget.ExpandTwo()
		if t, err := budget.ExpandT(coverLevel); err == nil {
			a.T = &t
		}
	}
	a.Notes = append(a.Notes, ofMean(rd, tool)...)
	if tool != nil && tool.Contained && rd.Expanded == nil {
		a.Notes = append(a.Notes, "the repeats spread by more than the steps of the display, so they show the resolution already and it is not counted twice")
	}
	if rd.Expanded == nil && tool != nil && tool.Stated != nil {
		a.Notes = append(a.Notes, "the uncertainty stated for the instrument is taken to hold its resolution")
	}
	return a, a.decide(rd)
}

// ofMean says what the mean of observations does to the uncertainty.
func ofMean(rd defects.Reading, tool *defects.Uncertainty) []string {
	n := len(rd.Observations)
	switch {
	case n == 0:
		return nil
	case rd.Expanded != nil:
		return []string{"the U entered with the reading is taken to be that of the mean"}
	case tool == nil || tool.Observed == 0:
		return []string{"the observations alone say nothing of the instrument, so without its resolution or certificate no U is worked out from them"}
	case tool.Own:
		return []string{fmt.Sprintf("the reading is the mean of %d observations, which divides their spread by √%d", n, n)}
	}
	return []string{fmt.Sprintf("the reading is the mean of %d observations, which divides the instrument's repeatability by √%d; "+
		"it was found from as many repeats or more, so it counts in place of their own spread", n, n)}
}

func sourcesOf(rd defects.Reading, tool *defects.Uncertainty) (list []Source, err error) {
	add := func(s Source, e error) {
		if e != nil && err == nil {
			err = e
		}
		list = append(list, s)
	}
	inf := math.Inf(1)
	if rd.Expanded != nil {
		add(Certificate("U entered with the reading", rd.Expanded.Float(), 2, inf))
		return list, err
	}
	if tool == nil {
		return nil, nil
	}
	if c := tool.Certificate; c != nil {
		add(Certificate("certificate "+c.Certificate, c.Expanded.Float(), c.Factor(), inf))
	}
	if tool.Stated != nil {
		add(Certificate("U stated for the instrument", tool.Stated.Float(), 2, inf))
	}
	if tool.Resolution != nil {
		add(Resolution("resolution "+tool.Resolution.String()+" "+rd.Unit, tool.Resolution.Float()))
	}
	if tool.Repeatability != nil {
		name := fmt.Sprintf("repeatability, found from %d repeats", tool.Repeats)
		if tool.Own {
			name = fmt.Sprintf("spread of the %d observations", tool.Observed)
		}
		add(Repeatability(name, tool.Repeatability.Float(), tool.Repeats, tool.Observed))
	}
	return list, err
}

// sameExpanded is how far two expanded uncertainties may lie apart that were
// rounded to six places.
const sameExpanded = 2e-6

// decide fills in what the verdict risks and what would settle it.
func (a *Assessment) decide(rd defects.Reading) error {
	v := rd.Verdict
	tolerance := intervalOf(v.Lower, v.Upper)
	if v.Reason == defects.ReasonPlaneExcepted || tolerance.Lower == nil && tolerance.Upper == nil {
		return nil
	}
	if v.Expanded == nil {
		return a.settleUnknown(rd, tolerance)
	}
	d := Decision{
		Accepted: v.Outcome == defects.Pass || v.Outcome == defects.ConditionalPass,
		Decided:  v.Outcome != "" && v.Outcome != defects.NoVerdict,
		Standard: v.Expanded.Float() / 2, Nu: math.Inf(1),
	}
	a.Moved = a.Budget == nil && d.Standard > 0 || a.Budget != nil && math.Abs(a.Two.Expanded-v.Expanded.Float()) > sameExpanded
	if a.Budget != nil && !a.Moved {
		d.Standard, d.Nu = a.Budget.Combined, a.Budget.NuEff
	}
	y := rd.Value.Float()
	d.PConform = Conformance(y, d.Standard, d.Nu, tolerance.Lower, tolerance.Upper)
	d.Consumer = SpecificRisk(y, d.Standard, d.Nu, tolerance, true)
	d.Producer = SpecificRisk(y, d.Standard, d.Nu, tolerance, false)
	if v.Guard != nil {
		d.Guard = v.Guard.Float()
	}
	d.Worst = WorstFalseAcceptance(d.Guard, d.Standard, d.Nu)
	a.Decision = &d
	return a.settle(rd, tolerance, d)
}

// settle keeps what would take the verdict out of doubt, if it is in any.
func (a *Assessment) settle(rd defects.Reading, tolerance Interval, d Decision) error {
	if d.Standard == 0 {
		return nil // an exact value is in no doubt
	}
	doubt := Doubt{Y: rd.Value.Float(), Tolerance: tolerance, R: 1, K: 2, N: 1, Rest: d.Standard, Unit: rd.Unit}
	if d.Guard > 0 {
		doubt.R = d.Guard / rd.Verdict.Expanded.Float()
	}
	if a.Budget != nil && !a.Moved {
		doubt.Rest = 0
		for _, s := range a.Budget.Sources {
			if s.TypeA {
				doubt.Repeat, doubt.N = s.Value, max(1, len(rd.Observations))
			} else {
				doubt.Rest = math.Hypot(doubt.Rest, s.Standard)
			}
		}
	}
	found, err := Settle(doubt)
	if err == nil && !found.Settled {
		a.Settle = &found
	}
	return err
}

// settleUnknown says which uncertainty would be enough for a reading that states
// none.
func (a *Assessment) settleUnknown(rd defects.Reading, tolerance Interval) error {
	found, err := Settle(Doubt{Y: rd.Value.Float(), Tolerance: tolerance, R: 1, K: 2, N: 1})
	if err != nil {
		return err
	}
	if found.Settled = false; found.Possible {
		found.Repeats = 0
		found.Text = "no uncertainty is known; an instrument with U of at most " + cutTwo(found.Expanded, rd.Unit) + " would settle it"
	}
	a.Settle = &found
	return nil
}

func intervalOf(lower, upper *defects.Decimal) Interval {
	var i Interval
	if lower != nil {
		f := lower.Float()
		i.Lower = &f
	}
	if upper != nil {
		f := upper.Float()
		i.Upper = &f
	}
	return i
}
