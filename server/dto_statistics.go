package server

import (
	"math"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
)

// Budget tells how the uncertainty of a reading comes about and what its verdict
// risks. Worked-out figures are numbers, not exact decimals; one that is infinite
// is absent.
type Budget struct {
	ReadingID  string          `json:"reading_id"`
	Unit       string          `json:"unit"`
	Instrument string          `json:"instrument,omitempty"`
	Sources    []BudgetSource  `json:"sources" doc:"empty when no uncertainty is known"`
	Combined   *float64        `json:"combined,omitempty" doc:"u_c"`
	NuEff      *float64        `json:"effective_degrees_of_freedom,omitempty" doc:"Welch–Satterthwaite; absent when infinite"`
	Expanded   *float64        `json:"expanded,omitempty" doc:"U = 2·u_c, which verdicts use"`
	Student    *BudgetCoverage `json:"student,omitempty" doc:"U with k from Student's t at 95 %"`
	Notes      []string        `json:"notes,omitempty"`
	Outcome    string          `json:"outcome"`
	Moved      bool            `json:"moved,omitempty" doc:"the verdict was given with another U than the sources give now"`
	Decision   *BudgetDecision `json:"decision,omitempty"`
	Settle     *BudgetSettle   `json:"settle,omitempty" doc:"what would settle a verdict that is in doubt"`
}

// BudgetSource is one line of the table.
type BudgetSource struct {
	Name         string   `json:"name"`
	Type         string   `json:"type" enum:"A,B"`
	Value        float64  `json:"value" doc:"s, half-width or expanded uncertainty, by the distribution"`
	Distribution string   `json:"distribution"`
	Divisor      float64  `json:"divisor"`
	Sensitivity  float64  `json:"sensitivity"`
	Standard     float64  `json:"standard" doc:"standard uncertainty in the unit of the reading"`
	Nu           *float64 `json:"degrees_of_freedom,omitempty" doc:"absent when infinite"`
	Share        float64  `json:"share" doc:"of the combined variance"`
}

// BudgetCoverage is an expanded uncertainty with its factor.
type BudgetCoverage struct {
	Level    float64 `json:"level"`
	Nu       float64 `json:"degrees_of_freedom"`
	K        float64 `json:"k"`
	Expanded float64 `json:"expanded"`
}

// BudgetDecision is what the verdict risks.
type BudgetDecision struct {
	Decided  bool     `json:"decided"`
	Accepted bool     `json:"accepted"`
	Standard float64  `json:"standard" doc:"u that the verdict rests on"`
	Nu       *float64 `json:"degrees_of_freedom,omitempty" doc:"absent when infinite"`
	PConform float64  `json:"p_conform"`
	Consumer float64  `json:"consumer_risk_if_accepted"`
	Producer float64  `json:"producer_risk_if_refused"`
	Guard    float64  `json:"guard_band"`
	Worst    float64  `json:"worst_false_acceptance" doc:"of a reading that lies on the guarded limit"`
}

// BudgetSettle is what would take a verdict out of doubt.
type BudgetSettle struct {
	Possible bool    `json:"possible" doc:"false when the value lies on the limit"`
	Expanded float64 `json:"expanded_at_most" doc:"U that would do"`
	Repeats  int     `json:"repeats,omitempty" doc:"repeats in all that would do; absent when repeating alone cannot"`
	Text     string  `json:"text"`
}

// bounded is a figure that is absent when it is infinite or none.
func bounded(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}

func budgetOf(b register.Budget) Budget {
	as := b.Assessment
	out := Budget{
		ReadingID: b.Reading.ID, Unit: b.Reading.Unit, Instrument: b.Reading.Instrument, Sources: []BudgetSource{},
		Notes: as.Notes, Outcome: string(b.Reading.Verdict.Outcome), Moved: as.Moved,
	}
	if as.Budget != nil {
		out.Combined, out.NuEff, out.Expanded = &as.Budget.Combined, bounded(as.Budget.NuEff), &as.Two.Expanded
		out.Sources = each(as.Budget.Sources, budgetSourceOf)
	}
	if t := as.T; t != nil {
		out.Student = &BudgetCoverage{Level: t.Level, Nu: t.Nu, K: t.K, Expanded: t.Expanded}
		if math.IsInf(t.Nu, 1) {
			out.Student = nil // the factor of a normal spread, which k = 2 stands for
		}
	}
	if d := as.Decision; d != nil {
		out.Decision = &BudgetDecision{
			Decided: d.Decided, Accepted: d.Accepted, Standard: d.Standard, Nu: bounded(d.Nu), PConform: d.PConform,
			Consumer: d.Consumer, Producer: d.Producer, Guard: d.Guard, Worst: d.Worst,
		}
	}
	if s := as.Settle; s != nil {
		out.Settle = &BudgetSettle{Possible: s.Possible, Expanded: s.Expanded, Repeats: s.Repeats, Text: s.Text}
	}
	return out
}

func budgetSourceOf(s statistics.Source) BudgetSource {
	kind := "B"
	if s.TypeA {
		kind = "A"
	}
	return BudgetSource{
		Name: s.Name, Type: kind, Value: s.Value, Distribution: string(s.Distribution), Divisor: s.Divisor,
		Sensitivity: s.Sensitivity, Standard: s.Standard, Nu: bounded(s.Nu), Share: s.Share,
	}
}

// Statistics is what is said of the readings of one quantity. What could not be
// worked out is absent and named in unsaid.
type Statistics struct {
	Quantity   string              `json:"quantity"`
	Unit       string              `json:"unit"`
	N          int                 `json:"n" doc:"readings that stand"`
	Withdrawn  int                 `json:"withdrawn"`
	Outcomes   map[string]int      `json:"outcomes" doc:"readings by verdict"`
	Void       int                 `json:"void" doc:"readings without a verdict because the calibration of their instrument had expired"`
	Limit      StatisticsLimit     `json:"limit"`
	Mean       *float64            `json:"mean,omitempty"`
	S          *float64            `json:"s,omitempty" doc:"sample standard deviation (n − 1)"`
	Min        *Exact              `json:"min,omitempty"`
	Max        *Exact              `json:"max,omitempty"`
	Median     *float64            `json:"median,omitempty"`
	Outlier    *StatisticsOutlier  `json:"outlier,omitempty" doc:"Grubbs' test on the value farthest out; it is counted all the same"`
	Normality  *StatisticsHint     `json:"normality,omitempty"`
	Interval   *StatisticsInterval `json:"tolerance_interval,omitempty"`
	Outside    *StatisticsOutside  `json:"outside,omitempty"`
	Acceptance *StatisticsPlan     `json:"acceptance,omitempty" doc:"by variables, s-method, Form k; only with a plan chosen"`
	Charts     []StatisticsChart   `json:"charts" doc:"control charts, one a gang"`
	Without    []string            `json:"gangs_without_chart,omitempty"`
	Unsaid     []StatisticsUnsaid  `json:"unsaid,omitempty"`
}

// StatisticsLimit is the limit that all the readings were judged by.
type StatisticsLimit struct {
	Shared  bool      `json:"shared"`
	Why     string    `json:"why,omitempty" doc:"why there is none for all"`
	Lower   *Exact    `json:"lower,omitempty"`
	Upper   *Exact    `json:"upper,omitempty"`
	Sources []Verdict `json:"sources" doc:"the sources of the limits met, without the outcome of a reading"`
}

// StatisticsOutlier flags the value that lies farthest out.
type StatisticsOutlier struct {
	Class     string  `json:"class" enum:"none,straggler,outlier"`
	ReadingID string  `json:"reading_id"`
	Value     Exact   `json:"value"`
	G         float64 `json:"g"`
	Critical5 float64 `json:"critical_5_percent"`
	Critical1 float64 `json:"critical_1_percent"`
}

// StatisticsHint compares the spread with a normal one.
type StatisticsHint struct {
	Adjusted float64 `json:"anderson_darling" doc:"adjusted for the number of readings"`
	P        float64 `json:"p"`
	Text     string  `json:"text"`
}

// StatisticsInterval covers a proportion of what the readings came from.
type StatisticsInterval struct {
	Proportion float64  `json:"proportion"`
	Confidence float64  `json:"confidence"`
	Side       string   `json:"side" enum:"either,high,low"`
	K          float64  `json:"k"`
	Lower      *float64 `json:"lower,omitempty"`
	Upper      *float64 `json:"upper,omitempty"`
}

// StatisticsOutside is the share outside the limit.
type StatisticsOutside struct {
	Found      int      `json:"found"`
	Share      float64  `json:"share"`
	AtMost     float64  `json:"share_at_most" doc:"with the confidence no larger share of a large lot (Clopper–Pearson)"`
	Confidence float64  `json:"confidence"`
	Capability *float64 `json:"cpk,omitempty"`
	Expected   *float64 `json:"expected_share_if_normal,omitempty"`
}

// StatisticsPlan is a decision by variables.
type StatisticsPlan struct {
	N        int      `json:"n"`
	K        float64  `json:"k"`
	Source   string   `json:"source"`
	QLower   *float64 `json:"q_lower,omitempty"`
	QUpper   *float64 `json:"q_upper,omitempty"`
	Accepted bool     `json:"accepted"`
}

// StatisticsChart is the control chart of one gang.
type StatisticsChart struct {
	Gang        string            `json:"gang"`
	Kind        string            `json:"kind" enum:"individuals,xbar-s"`
	Readings    int               `json:"readings"`
	Run         int               `json:"run" doc:"readings behind a point"`
	Provisional bool              `json:"provisional" doc:"fewer than 20 points"`
	Level       StatisticsLines   `json:"level"`
	Spread      StatisticsLines   `json:"spread"`
	Points      []StatisticsPoint `json:"points"`
}

// StatisticsLines are a centre line and its control limits.
type StatisticsLines struct {
	Centre float64 `json:"centre"`
	Lower  float64 `json:"lower"`
	Upper  float64 `json:"upper"`
}

// StatisticsPoint is one point of a control chart.
type StatisticsPoint struct {
	ReadingID string   `json:"reading_id" doc:"the first reading behind it"`
	At        string   `json:"at"`
	Level     float64  `json:"level" doc:"the value, or the mean of a run"`
	Spread    *float64 `json:"spread,omitempty" doc:"moving range, or s of a run"`
	Outside   bool     `json:"outside"`
}

// StatisticsUnsaid names what could not be worked out.
type StatisticsUnsaid struct {
	What string `json:"what"`
	Why  string `json:"why"`
}

func statisticsOf(s register.Statistics) Statistics {
	a := s.Analysis
	out := Statistics{
		Quantity: s.Quantity.Name, Unit: s.Quantity.Unit, N: a.N, Withdrawn: a.Withdrawn, Outcomes: map[string]int{}, Void: a.Void,
		Limit:  StatisticsLimit{Shared: a.Limit.Shared, Why: a.Limit.WhyNone(), Lower: exactOf(a.Limit.Lower), Upper: exactOf(a.Limit.Upper), Sources: each(a.Limit.Sources, sourceOf)},
		Charts: each(a.Charts, chartOf), Without: a.Without,
		Unsaid: each(a.Unsaid, func(u statistics.Unsaid) StatisticsUnsaid { return StatisticsUnsaid(u) }),
	}
	for o, n := range a.Outcomes {
		out.Outcomes[string(o)] = n
	}
	if sum := a.Summary; sum != nil {
		out.Mean, out.S, out.Median = &sum.Mean, &sum.S, &sum.Median
		out.Min, out.Max = exactOf(&sum.Min), exactOf(&sum.Max)
	}
	out.methods(a)
	return out
}

// sourceOf is a verdict as the source of its limit, without the one reading's.
func sourceOf(v defects.Verdict) Verdict {
	return verdictOf(defects.Verdict{
		Lower: v.Lower, Upper: v.Upper, Rule: v.Rule, Schedule: v.Schedule, Title: v.Title, Edition: v.Edition,
		Clause: v.Clause, Line: v.Line, Basis: v.Basis,
	})
}

func (out *Statistics) methods(a statistics.Analysis) {
	if o := a.Outlier; o != nil {
		out.Outlier = &StatisticsOutlier{
			Class: string(o.Class), ReadingID: a.OutlierID, Value: Exact(o.Value.String()), G: o.G, Critical5: o.Critical5, Critical1: o.Critical1,
		}
	}
	if h := a.Normality; h != nil {
		out.Normality = &StatisticsHint{Adjusted: h.Adjusted, P: h.P, Text: h.Text}
	}
	if t := a.Interval; t != nil {
		out.Interval = &StatisticsInterval{
			Proportion: t.Proportion, Confidence: t.Confidence, Side: string(a.Side), K: t.K, Lower: bounded(t.Lower), Upper: bounded(t.Upper),
		}
	}
	if o := a.Outside; o != nil {
		out.Outside = &StatisticsOutside{
			Found: o.Found, Share: o.Share, AtMost: o.AtMost, Confidence: o.Confidence, Capability: o.Capability, Expected: o.Expected,
		}
	}
	if p := a.Acceptance; p != nil {
		out.Acceptance = &StatisticsPlan{
			N: p.Plan.N, K: p.Plan.K, Source: p.Source, QLower: bounded(p.Result.QLower), QUpper: bounded(p.Result.QUpper), Accepted: p.Result.Accepted,
		}
	}
}

func chartOf(c statistics.GangChart) StatisticsChart {
	out := StatisticsChart{
		Gang: c.Gang, Kind: c.Kind, Readings: c.Readings, Run: c.Run, Provisional: c.Provisional,
		Level: StatisticsLines(c.Level), Spread: StatisticsLines(c.Spread), Points: make([]StatisticsPoint, len(c.Points)),
	}
	for i, p := range c.Points {
		out.Points[i] = StatisticsPoint{ReadingID: c.First[i], At: stamp(p.At), Level: p.Level, Spread: bounded(p.Spread), Outside: p.Outside}
	}
	return out
}
