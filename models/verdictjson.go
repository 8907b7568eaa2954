package models

import (
	"reflect"

	"storeyrod/defects"
)

// verdictJSON is a verdict without its outcome, which has a column of its own.
type verdictJSON struct {
	Reason     string       `json:"reason,omitempty"`
	ReasonText string       `json:"reason_text,omitempty"`
	Lower      *string      `json:"lower,omitempty"`
	Upper      *string      `json:"upper,omitempty"`
	Expanded   *string      `json:"expanded,omitempty"`
	Guard      *string      `json:"guard,omitempty"`
	PConform   *float64     `json:"p_conform,omitempty"`
	Rule       string       `json:"rule,omitempty"`
	Schedule   string       `json:"schedule,omitempty"`
	Title      string       `json:"title,omitempty"`
	Edition    string       `json:"edition,omitempty"`
	Clause     string       `json:"clause,omitempty"`
	Line       string       `json:"line,omitempty"`
	Basis      string       `json:"basis,omitempty"`
	Warning    string       `json:"warning,omitempty"`
	PassedOver []passedJSON `json:"passed_over,omitempty"`
}

type passedJSON struct {
	Schedule string  `json:"schedule"`
	Rank     string  `json:"rank"`
	Outcome  string  `json:"outcome"`
	Lower    *string `json:"lower,omitempty"`
	Upper    *string `json:"upper,omitempty"`
	Basis    string  `json:"basis,omitempty"`
}

func (c *columns) toVerdict(v defects.Verdict) string {
	j := verdictJSON{
		Reason: v.Reason, ReasonText: v.ReasonText, Lower: optDecimal(v.Lower), Upper: optDecimal(v.Upper),
		Expanded: optDecimal(v.Expanded), Guard: optDecimal(v.Guard), PConform: v.PConform, Rule: string(v.Rule),
		Schedule: v.Schedule, Title: v.Title, Edition: v.Edition, Clause: v.Clause, Line: v.Line, Basis: string(v.Basis),
		Warning: v.Warning,
	}
	for _, p := range v.PassedOver {
		j.PassedOver = append(j.PassedOver, passedJSON{
			Schedule: p.Schedule, Rank: string(p.Rank), Outcome: string(p.Outcome), Lower: optDecimal(p.Lower), Upper: optDecimal(p.Upper), Basis: string(p.Basis),
		})
	}
	return c.json(j, reflect.ValueOf(j).IsZero())
}

func (c *columns) verdict(outcome, text string) defects.Verdict {
	var j verdictJSON
	c.read(text, &j)
	v := defects.Verdict{
		Outcome: defects.Outcome(outcome), Reason: j.Reason, ReasonText: j.ReasonText, Lower: c.decimal(j.Lower),
		Upper: c.decimal(j.Upper), Expanded: c.decimal(j.Expanded), Guard: c.decimal(j.Guard), PConform: j.PConform,
		Rule: defects.Rule(j.Rule), Schedule: j.Schedule, Title: j.Title, Edition: j.Edition, Clause: j.Clause,
		Line: j.Line, Basis: defects.Basis(j.Basis),
		Warning: j.Warning,
	}
	for _, p := range j.PassedOver {
		v.PassedOver = append(v.PassedOver, defects.PassedOver{
			Schedule: p.Schedule, Rank: defects.Rank(p.Rank), Outcome: defects.Outcome(p.Outcome),
			Lower: c.decimal(p.Lower), Upper: c.decimal(p.Upper), Basis: defects.Basis(p.Basis),
		})
	}
	return v
}
