package server

import (
	"context"
	"net/url"
	"slices"
	"strconv"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// readListFilter reads the filter of a snag list from an address. Pages and the
// REST interface use the same names, so that a page's choice can be handed on.
func readListFilter(value func(name string) string) (register.ListFilter, error) {
	f := register.ListFilter{
		All: value("all") == "true", Severities: list[defects.Severity](value("severity")), Stage: value("stage"),
		Gang: value("gang"), Code: value("code"), DueReason: defects.DueReason(value("due_reason")),
		Milestone: value("milestone"), Overdue: value("overdue") == "true",
	}
	if state := value("state"); state == "all" {
		f.All = true
	} else {
		f.States = list[defects.State](state)
	}
	for _, s := range f.States {
		if !s.Known() {
			return f, defects.RefuseField(defects.Invalid, "state", "unknown_state", string(s)+" is not a state")
		}
	}
	for _, s := range f.Severities {
		if !s.Known() {
			return f, defects.RefuseField(defects.Invalid, "severity", "unknown_severity", string(s)+" is not a severity")
		}
	}
	if err := stageFilter(f.Stage); err != nil {
		return f, err
	}
	if f.DueReason != "" && !slices.Contains(dueReasons(), f.DueReason) {
		return f, defects.RefuseField(defects.Invalid, "due_reason", "unknown_due_reason", "must be cover-up, strike, completion or instruction")
	}
	for name, n := range map[string]*int{"bay": &f.Bay, "lift": &f.Lift} {
		text := value(name)
		if text == "" {
			continue
		}
		var err error
		if *n, err = strconv.Atoi(text); err != nil || *n < 1 {
			return f, defects.RefuseField(defects.Invalid, name, "bad_number", "must be a whole number from 1")
		}
	}
	return f, nil
}

func dueReasons() []defects.DueReason {
	return []defects.DueReason{defects.DueCoverUp, defects.DueStrike, defects.DueCompletion, defects.DueOwn}
}

// filterNames are the parameters of a list's address that narrow it.
func filterNames() []string {
	return []string{"state", "severity", "stage", "gang", "code", "bay", "lift", "due_reason", "milestone", "overdue"}
}

// listQuery is the same filter in the address of the list's other forms.
func listQuery(f *web.Form) string {
	q := url.Values{}
	for _, name := range filterNames() {
		if value := typed(f, name); value != "" {
			q.Set(name, value)
		}
	}
	if q.Get("state") != "" {
		q.Set("all", "true")
	}
	if q.Get("state") == "all" {
		q.Del("state")
	}
	return q.Encode()
}

// filterOptions are the choices of the list filters.
type filterOptions struct {
	States, Severities, Stages, Gangs, Due, Dates []web.Option
}

// filterOptions loads the choices: gangs and dates are those of the whole site,
// whatever is listed now.
func (s *Server) filterOptions(ctx context.Context, a register.Actor, siteID string) (filterOptions, error) {
	out := filterOptions{
		States: stateOptions(), Severities: severityOptions("any severity"), Stages: stageOptions("any stage"),
		Gangs: []web.Option{{Text: "any gang"}}, Due: dueOptions(), Dates: []web.Option{{Text: "any planned date"}},
	}
	gangs, err := s.reg.Gangs(ctx, a, siteID)
	if err != nil {
		return out, err
	}
	for _, g := range gangs {
		out.Gangs = append(out.Gangs, web.Option{Value: g, Text: g})
	}
	dates, err := s.reg.Milestones(ctx, a, siteID)
	if err != nil {
		return out, err
	}
	for _, m := range dates {
		out.Dates = append(out.Dates, web.Option{Value: m.ID, Text: web.Day(m.On) + " " + m.Words(reference.Stages())})
	}
	return out, nil
}

func stateOptions() []web.Option {
	out := []web.Option{{Text: "open"}, {Value: "all", Text: "all states"}}
	for _, st := range defects.States() {
		out = append(out, web.Option{Value: string(st), Text: string(st)})
	}
	return out
}

func severityOptions(none string) []web.Option {
	out := []web.Option{{Text: none}}
	for _, sev := range defects.Severities() {
		out = append(out, web.Option{Value: string(sev), Text: string(sev)})
	}
	return out
}

func stageOptions(none string) []web.Option {
	out := []web.Option{{Text: none}}
	for _, st := range reference.Stages() {
		out = append(out, web.Option{Value: st.Code, Text: st.Code + " " + st.Name})
	}
	return out
}

func dueOptions() []web.Option {
	return []web.Option{
		{Text: "anything"},
		{Value: string(defects.DueCoverUp), Text: "a cover-up"},
		{Value: string(defects.DueStrike), Text: "a scaffold strike"},
		{Value: string(defects.DueCompletion), Text: "practical completion"},
		{Value: string(defects.DueOwn), Text: "the day of the instruction"},
	}
}

// shown says the filter in force for a printed list, in the words of its
// choices: "critical, gang Rowan, before a scaffold strike".
func shown(f *web.Form, o filterOptions) []string {
	var out []string
	choice := func(name string, options []web.Option, before string) {
		value := typed(f, name)
		if i := slices.IndexFunc(options, func(o web.Option) bool { return value != "" && o.Value == value }); i >= 0 {
			out = append(out, before+options[i].Text)
		} else if value != "" {
			out = append(out, before+value)
		}
	}
	if typed(f, "state") == "" {
		out = append(out, "open")
	}
	choice("state", o.States, "")
	choice("severity", o.Severities, "")
	choice("stage", o.Stages, "stage ")
	if gang := typed(f, "gang"); gang != "" {
		out = append(out, web.Gang(gang))
	}
	choice("code", nil, "code ")
	choice("bay", nil, "bay ")
	choice("lift", nil, "lift ")
	choice("due_reason", o.Due, "before ")
	choice("milestone", o.Dates, "before ")
	if typed(f, "overdue") == "true" {
		out = append(out, "overdue")
	}
	return out
}
