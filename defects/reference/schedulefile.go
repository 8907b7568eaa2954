package reference

import (
	"encoding/json"
	"strings"

	"storeyrod/defects"
)

// number is a decimal in a file: a string, or a number literal taken digit by
// digit.
type number struct{ defects.Decimal }

// MarshalJSON writes a string, so that no reader takes it through a float.
func (n number) MarshalJSON() ([]byte, error) { return json.Marshal(n.String()) }

// UnmarshalJSON reads a string or a number literal.
func (n *number) UnmarshalJSON(b []byte) error {
	text := string(b)
	if strings.HasPrefix(text, `"`) {
		if err := json.Unmarshal(b, &text); err != nil {
			return err
		}
	}
	d, err := defects.ParseDecimal(text)
	if err != nil {
		return err
	}
	n.Decimal = d
	return nil
}

type scheduleFile struct {
	Name     string        `json:"name"`
	Version  int           `json:"version"`
	Title    string        `json:"title"`
	Edition  string        `json:"edition,omitempty"`
	Basis    defects.Basis `json:"basis"`
	Notes    string        `json:"notes,omitempty"`
	Rank     defects.Rank  `json:"rank,omitempty"`
	AgreedBy string        `json:"agreed_by,omitempty"`
	AgreedOn string        `json:"agreed_on,omitempty"`
	Limits   []limitFile   `json:"limits"`
}

type limitFile struct {
	Quantity    string            `json:"quantity"`
	Kind        defects.LimitKind `json:"kind"`
	Zone        defects.Zone      `json:"zone,omitempty"`
	Stage       string            `json:"stage,omitempty"`
	Courses     int               `json:"courses,omitempty"`
	Mode        string            `json:"mode,omitempty"`
	ExceptPlane string            `json:"except_plane,omitempty"`
	Lower       *number           `json:"lower,omitempty"`
	Upper       *number           `json:"upper,omitempty"`
	Steps       []stepFile        `json:"steps,omitempty"`
	BothWays    bool              `json:"both_ways,omitempty"`
	Whole       bool              `json:"whole,omitempty"`
	Figure      *number           `json:"figure,omitempty"`
	PerLength   *number           `json:"per_length_m,omitempty"`
	Beyond      *number           `json:"beyond,omitempty"`
	Percent     *number           `json:"percent,omitempty"`
	PerArea     *number           `json:"per_m2,omitempty"`
	MeanLower   *number           `json:"mean_lower,omitempty"`
	PullOut     *pullOutFile      `json:"pull_out,omitempty"`
	RisingBelow *number           `json:"rising_below,omitempty"`
	Warning     bool              `json:"warning,omitempty"`
	Title       string            `json:"title,omitempty"`
	Edition     string            `json:"edition,omitempty"`
	Clause      string            `json:"clause,omitempty"`
	Line        string            `json:"line,omitempty"`
	Basis       defects.Basis     `json:"basis,omitempty"`
	Note        string            `json:"note,omitempty"`
	From        string            `json:"from,omitempty"`
	Reason      string            `json:"reason,omitempty"`
}

type stepFile struct {
	UpTo   *number `json:"up_to_m"`
	Figure *number `json:"figure"`
}

type pullOutFile struct {
	Factor   number   `json:"factor"`
	Lowest   int      `json:"lowest"`
	Cap      *number  `json:"cap_kN,omitempty"`
	MinTests int      `json:"min_tests"`
	Gamma    number   `json:"gamma"`
	Required *number  `json:"required_kN,omitempty"`
	Steps    []number `json:"steps_kN,omitempty"`
}

func (f scheduleFile) schedule() defects.Schedule {
	s := defects.Schedule{
		Name: f.Name, Version: f.Version, Title: f.Title, Edition: f.Edition,
		Basis: f.Basis, Notes: f.Notes, Rank: f.Rank, Agreed: defects.Agreed{By: f.AgreedBy, On: f.AgreedOn},
	}
	for _, l := range f.Limits {
		s.Limits = append(s.Limits, l.limit())
	}
	return s
}

func (f limitFile) limit() defects.Limit {
	l := defects.Limit{
		Quantity: f.Quantity, Kind: f.Kind,
		Zone: f.Zone, Stage: f.Stage, Courses: f.Courses, Mode: f.Mode, ExceptPlane: f.ExceptPlane,
		Lower: f.Lower.decimal(), Upper: f.Upper.decimal(), BothWays: f.BothWays, Whole: f.Whole,
		Figure: f.Figure.decimal(), PerLength: f.PerLength.decimal(), Beyond: f.Beyond.decimal(),
		Percent: f.Percent.decimal(), PerArea: f.PerArea.decimal(), MeanLower: f.MeanLower.decimal(),
		Title: f.Title, Edition: f.Edition, Clause: f.Clause, Line: f.Line, Basis: f.Basis, Note: f.Note,
		RisingBelow: f.RisingBelow.decimal(), Warning: f.Warning, From: f.From, Reason: f.Reason,
	}
	for _, s := range f.Steps {
		l.Steps = append(l.Steps, defects.LimitStep{UpTo: s.UpTo.decimal(), Figure: s.Figure.decimal()})
	}
	if p := f.PullOut; p != nil {
		l.PullOut = &defects.PullOutRule{
			Factor: p.Factor.Decimal, Lowest: p.Lowest, Cap: p.Cap.decimal(),
			MinTests: p.MinTests, Gamma: p.Gamma.Decimal, Required: p.Required.decimal(),
		}
		for _, step := range p.Steps {
			l.PullOut.Steps = append(l.PullOut.Steps, step.Decimal)
		}
	}
	return l
}

func fileOf(s defects.Schedule) scheduleFile {
	f := scheduleFile{
		Name: s.Name, Version: s.Version, Title: s.Title, Edition: s.Edition,
		Basis: s.Basis, Notes: s.Notes, Rank: s.Rank, AgreedBy: s.Agreed.By, AgreedOn: s.Agreed.On, Limits: []limitFile{},
	}
	for _, l := range s.Limits {
		f.Limits = append(f.Limits, limitFileOf(l))
	}
	return f
}

func limitFileOf(l defects.Limit) limitFile {
	f := limitFile{
		Quantity: l.Quantity, Kind: l.Kind,
		Zone: l.Zone, Stage: l.Stage, Courses: l.Courses, Mode: l.Mode, ExceptPlane: l.ExceptPlane,
		Lower: numberOf(l.Lower), Upper: numberOf(l.Upper), BothWays: l.BothWays, Whole: l.Whole,
		Figure: numberOf(l.Figure), PerLength: numberOf(l.PerLength), Beyond: numberOf(l.Beyond),
		Percent: numberOf(l.Percent), PerArea: numberOf(l.PerArea), MeanLower: numberOf(l.MeanLower),
		Title: l.Title, Edition: l.Edition, Clause: l.Clause, Line: l.Line, Basis: l.Basis, Note: l.Note,
		RisingBelow: numberOf(l.RisingBelow), Warning: l.Warning, From: l.From, Reason: l.Reason,
	}
	for _, s := range l.Steps {
		f.Steps = append(f.Steps, stepFile{UpTo: numberOf(s.UpTo), Figure: numberOf(s.Figure)})
	}
	if p := l.PullOut; p != nil {
		f.PullOut = &pullOutFile{
			Factor: number{p.Factor}, Lowest: p.Lowest, Cap: numberOf(p.Cap),
			MinTests: p.MinTests, Gamma: number{p.Gamma}, Required: numberOf(p.Required),
		}
		for _, step := range p.Steps {
			f.PullOut.Steps = append(f.PullOut.Steps, number{step})
		}
	}
	return f
}

func (n *number) decimal() *defects.Decimal {
	if n == nil {
		return nil
	}
	return &n.Decimal
}

func numberOf(d *defects.Decimal) *number {
	if d == nil {
		return nil
	}
	return &number{*d}
}
