package statistics

import "storeyrod/defects"

// Scheme is how the size of an audit sample comes about.
type Scheme string

// The schemes.
const (
	SingleScheme    Scheme = "single"    // the single plan of ISO 2859-1
	ZeroScheme      Scheme = "zero"      // the size of the lot's own letter, accepting no bad item
	DiscoveryScheme Scheme = "discovery" // as many as show one of so many bad with a confidence, accepting none
)

// Schemes lists them; SingleScheme is the usual one.
func Schemes() []Scheme { return []Scheme{SingleScheme, ZeroScheme, DiscoveryScheme} }

// SampleSpec asks for an audit sample. What a scheme does not use is not read.
type SampleSpec struct {
	Lot        []Item
	Scheme     Scheme // "" = SingleScheme
	Level      string // "I", "II", "III"
	AQL        string // per cent, one of AQLs
	Inspection Inspection
	Bad        int     // discovery: bad items of which one is to be shown
	Confidence float64 // discovery: 0.95
	Seed       string
	Risk       []string // ids picked by a person
}

// Sample is a plan, the items drawn by it, and what they can miss.
type Sample struct {
	Plan   Plan
	Drawn  Drawn
	Detect []DetectedAt
}

// DetectedAt is the probability that a sample shows at least one of so many bad
// items of its lot.
type DetectedAt struct {
	Defective int
	P         float64
}

// TakeSample settles the plan, draws, and works out what the draw can miss: the
// one way by which the command line, the pages and REST draw.
func TakeSample(s SampleSpec) (Sample, error) {
	plan, err := s.plan()
	if err != nil {
		return Sample{}, err
	}
	drawn, err := Draw(s.Seed, s.Lot, plan.N, s.Risk...)
	if err != nil {
		return Sample{}, err
	}
	detect, err := Detections(len(s.Lot), plan.N)
	return Sample{Plan: plan, Drawn: drawn, Detect: detect}, err
}

func (s SampleSpec) plan() (Plan, error) {
	lot := len(s.Lot)
	switch s.Scheme {
	case "", SingleScheme:
		return SinglePlan(lot, s.Level, s.AQL, s.Inspection)
	case ZeroScheme:
		return ZeroPlan(lot, s.Level)
	case DiscoveryScheme:
		n, _, err := Discovery(lot, s.Bad, s.Confidence)
		return Plan{N: n, Re: 1}.within(lot), err
	}
	return Plan{}, defects.RefuseField(defects.Invalid, "scheme", "unknown_scheme", "the schemes are single, zero and discovery")
}

// Detections are for one to ten bad items and on in steps, until nothing is missed.
func Detections(lot, n int) ([]DetectedAt, error) {
	list := []DetectedAt{}
	for bad := 1; bad <= lot; {
		p, err := Detection(lot, n, bad)
		if err != nil {
			return nil, err
		}
		list = append(list, DetectedAt{bad, p})
		step := 1
		if bad >= 10 {
			step = bad / 2
		}
		if bad += step; bad > 10 && p > 0.9999 {
			break
		}
	}
	return list, nil
}
