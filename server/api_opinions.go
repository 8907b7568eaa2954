package server

import (
	"context"
	"net/http"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// ComposedLine is one line of a project's own schedule.
type ComposedLine struct {
	From     string   `json:"from,omitempty" doc:"name@version#line of another schedule; absent for a new line"`
	Lower    *Exact   `json:"lower,omitempty" doc:"in place of the line's own"`
	Upper    *Exact   `json:"upper,omitempty"`
	Figure   *Exact   `json:"figure,omitempty"`
	Steps    []*Exact `json:"steps,omitempty" doc:"figures of the columns, null keeps one"`
	Reason   string   `json:"reason,omitempty" doc:"needed where a figure is changed"`
	Quantity string   `json:"quantity,omitempty" doc:"of a new line"`
	Source   string   `json:"source,omitempty" doc:"of a new line: clause or drawing"`
	Zone     string   `json:"zone,omitempty"`
	Stage    string   `json:"stage,omitempty"`
}

func (l ComposedLine) choice() (c defects.Choice, err error) {
	c = defects.Choice{
		From: l.From, Reason: l.Reason, Quantity: l.Quantity, Source: l.Source, Zone: defects.Zone(l.Zone), Stage: l.Stage,
	}
	for _, f := range []struct {
		name string
		text *Exact
		to   **defects.Decimal
	}{{"lower", l.Lower, &c.Lower}, {"upper", l.Upper, &c.Upper}, {"figure", l.Figure, &c.Figure}} {
		if *f.to, err = exactDecimal(f.name, f.text); err != nil {
			return c, err
		}
	}
	for _, s := range l.Steps {
		d, err := exactDecimal("steps", s)
		if err != nil {
			return c, err
		}
		c.Steps = append(c.Steps, d)
	}
	return c, nil
}

func exactDecimal(field string, e *Exact) (*defects.Decimal, error) {
	if e == nil || e.text() == "" {
		return nil, nil
	}
	d, err := defects.ParseDecimal(e.text())
	if err != nil {
		return nil, defects.RefuseField(defects.Invalid, field, "bad_number", err.Error())
	}
	return &d, nil
}

type composeIn struct {
	SiteIn
	Body struct {
		Name     string         `json:"name" doc:"lower-case words joined by hyphens; one in use gets the next version"`
		Title    string         `json:"title"`
		Rank     string         `json:"rank" enum:"law,contract,project,approval"`
		AgreedBy string         `json:"agreed_by"`
		AgreedOn string         `json:"agreed_on" doc:"day"`
		Notes    string         `json:"notes,omitempty"`
		Lines    []ComposedLine `json:"lines"`
	}
}

type scheduleOut struct{ Body Schedule }

// Opinion is one reading as several schedules judge it.
type Opinion struct {
	Reading  Reading   `json:"reading"`
	Verdicts []Verdict `json:"verdicts"`
	Differ   bool      `json:"differ" doc:"two schedules that gave a verdict gave different ones"`
}

func opinionOf(o register.Opinion) Opinion {
	return Opinion{Reading: readingOf(o.Reading), Verdicts: each(o.Verdicts, verdictOf), Differ: o.Differ()}
}

type opinionIn struct {
	ReadingIn
	Schedules []string `query:"schedule,explode" doc:"name or name@version, several; those in force when absent"`
}

type opinionOut struct{ Body Opinion }

type opinionsIn struct {
	SiteIn
	Elevation string   `query:"elevation" doc:"all when absent"`
	Schedules []string `query:"schedule,explode" doc:"name or name@version, several; those in force when absent"`
}

type opinionsOut struct {
	Body struct {
		Schedules []string         `json:"schedules"`
		Readings  int              `json:"readings"`
		Counts    []map[string]int `json:"counts" doc:"readings by outcome, for each schedule"`
		Differing int              `json:"differing"`
		Disagree  []Opinion        `json:"disagree" doc:"the newest two hundred"`
	}
}

type rejudgeIn struct {
	SiteIn
	Body struct {
		Elevation string   `json:"elevation,omitempty"`
		Stage     string   `json:"stage,omitempty"`
		Quantity  string   `json:"quantity,omitempty"`
		Schedules []string `json:"schedules,omitempty" doc:"those in force when absent"`
		Reason    string   `json:"reason,omitempty" doc:"needed unless it is a preview"`
		Preview   bool     `json:"preview,omitempty" doc:"count only, write nothing"`
	}
}

// Rejudgement is a decision to judge readings anew and what came of it.
type Rejudgement struct {
	ID          string         `json:"id,omitempty"`
	State       string         `json:"state" enum:"preview,running,done"`
	ElevationID string         `json:"elevation_id,omitempty"`
	Stage       string         `json:"stage,omitempty"`
	Quantity    string         `json:"quantity,omitempty"`
	Schedules   []string       `json:"schedules"`
	Rule        string         `json:"decision_rule"`
	Reason      string         `json:"reason,omitempty"`
	By          Person         `json:"by"`
	At          string         `json:"at"`
	Readings    int            `json:"readings"`
	Changed     int            `json:"changed" doc:"readings with another outcome than before"`
	Before      map[string]int `json:"before"`
	After       map[string]int `json:"after"`
	Sets        Moved          `json:"sets" doc:"that the readings belong to"`
	Surveys     Moved          `json:"surveys"`
	Snags       []int          `json:"snags,omitempty" doc:"snags that rest on readings whose outcome changed; they stay as they are"`
}

// Moved counts what was judged anew and what has another outcome since.
type Moved struct {
	Judged  int `json:"judged"`
	Changed int `json:"changed"`
}

func movedOf(lines []defects.TallyLine) Moved {
	return Moved{Judged: defects.TallyTotal(lines), Changed: defects.TallyChanged(lines)}
}

func rejudgementOf(j defects.Rejudgement) Rejudgement {
	before, after := j.Tally.Counts()
	out := Rejudgement{
		ID: j.ID, State: string(j.State), ElevationID: j.ElevationID, Stage: j.Stage, Quantity: j.Quantity,
		Schedules: j.Schedules, Rule: string(j.Rule), Reason: j.Reason, By: personOf(j.By), At: stamp(j.At),
		Readings: j.Tally.Total(), Changed: j.Tally.Changed(), Before: countsOf(before), After: countsOf(after), Snags: j.Tally.Snags,
		Sets: movedOf(j.Tally.Sets), Surveys: movedOf(j.Tally.Surveys),
	}
	if j.ID == "" {
		out.State = "preview"
	}
	return out
}

func countsOf(m map[defects.Outcome]int) map[string]int {
	out := make(map[string]int, len(m))
	for o, n := range m {
		out[string(o)] = n
	}
	return out
}

type rejudgementOut struct {
	Status int
	Body   Rejudgement
}

type rejudgementsOut struct {
	Body struct {
		Items []Rejudgement `json:"items"`
	}
}

func (a *api) opinions() {
	compose := post("/sites/{site}/schedules/compose", "Put a schedule of the project's own together from lines of others")
	compose.DefaultStatus = http.StatusCreated
	handle(a, compose, may(defects.SetLimits), a.composeSchedule)
	handle(a, get("/sites/{site}/readings/{reading}/opinions", "One reading under several schedules side by side"), may(defects.ViewSite),
		func(ctx context.Context, in *opinionIn) (*opinionOut, error) {
			o, err := a.s.reg.OpinionsOn(ctx, actorFrom(ctx), in.Site, in.ID, in.Schedules)
			return &opinionOut{Body: opinionOf(o)}, err
		})
	handle(a, get("/sites/{site}/readings/{reading}/verdicts", "The verdicts that a reading had before, each with who judged it anew and why"), may(defects.ViewSite), a.getVerdicts)
	handle(a, get("/sites/{site}/opinions", "The readings of a site or an elevation under several schedules, and where these disagree"), may(defects.ViewSite), a.getOpinions)
	handle(a, post("/sites/{site}/rejudgements", "Judge readings anew under named schedules, or count what that would change"), may(defects.SetLimits), a.postRejudgement)
	handle(a, get("/sites/{site}/rejudgements", "Decisions to judge anew, the newest first"), may(defects.ViewLog),
		func(ctx context.Context, in *SiteIn) (*rejudgementsOut, error) {
			list, err := a.s.reg.Rejudgements(ctx, actorFrom(ctx), in.Site)
			out := &rejudgementsOut{}
			out.Body.Items = each(list, rejudgementOf)
			return out, err
		})
}

// PastVerdict is a verdict that was replaced.
type PastVerdict struct {
	Until    string `json:"until"`
	By       Person `json:"by" doc:"who judged it anew"`
	Reason   string `json:"reason"`
	Outcome  string `json:"outcome"`
	Lower    string `json:"limit_lower,omitempty"`
	Upper    string `json:"limit_upper,omitempty"`
	Schedule string `json:"schedule,omitempty"`
	Title    string `json:"title,omitempty"`
	Edition  string `json:"edition,omitempty"`
	Clause   string `json:"clause,omitempty"`
	Basis    string `json:"basis,omitempty"`
	Now      string `json:"replaced_by" doc:"outcome after"`
}

func pastVerdictOf(p register.PastVerdict) PastVerdict {
	b := p.Before
	return PastVerdict{
		Until: stamp(p.At), By: Person{Name: p.By, Role: p.Role}, Reason: p.Reason, Outcome: string(b.Outcome), Lower: b.Lower, Upper: b.Upper,
		Schedule: b.Schedule, Title: b.Title, Edition: b.Edition, Clause: b.Clause, Basis: string(b.Basis), Now: string(p.After.Outcome),
	}
}

type verdictsOut struct {
	Body struct {
		Items []PastVerdict `json:"items"`
	}
}

func (a *api) getVerdicts(ctx context.Context, in *ReadingIn) (*verdictsOut, error) {
	list, err := a.s.reg.VerdictHistory(ctx, actorFrom(ctx), in.Site, in.ID)
	out := &verdictsOut{}
	out.Body.Items = each(list, pastVerdictOf)
	return out, err
}

func (a *api) composeSchedule(ctx context.Context, in *composeIn) (*scheduleOut, error) {
	b := in.Body
	c := defects.Composition{
		Name: b.Name, Title: b.Title, Rank: defects.Rank(b.Rank), Agreed: defects.Agreed{By: b.AgreedBy, On: b.AgreedOn}, Notes: b.Notes,
	}
	for _, l := range b.Lines {
		choice, err := l.choice()
		if err != nil {
			return nil, err
		}
		c.Lines = append(c.Lines, choice)
	}
	sched, err := a.s.reg.ComposeSchedule(ctx, actorFrom(ctx), in.Site, c)
	if err != nil {
		return nil, err
	}
	out, err := scheduleOf(sched)
	return &scheduleOut{Body: out}, err
}

func (a *api) getOpinions(ctx context.Context, in *opinionsIn) (*opinionsOut, error) {
	o, err := a.s.reg.OpinionsOver(ctx, actorFrom(ctx), in.Site, in.Elevation, in.Schedules)
	out := &opinionsOut{}
	out.Body.Schedules, out.Body.Readings, out.Body.Differing = o.Schedules, o.Readings, o.Differing
	out.Body.Counts, out.Body.Disagree = each(o.Counts, countsOf), each(o.Disagree, opinionOf)
	return out, err
}

func (a *api) postRejudgement(ctx context.Context, in *rejudgeIn) (*rejudgementOut, error) {
	b := in.Body
	order := register.RejudgeOrder{ElevationID: b.Elevation, Stage: b.Stage, Quantity: b.Quantity, Schedules: b.Schedules, Reason: b.Reason}
	do, status := a.s.reg.RejudgeAll, http.StatusCreated
	if b.Preview {
		do, status = a.s.reg.PreviewRejudge, http.StatusOK
	}
	j, err := do(ctx, actorFrom(ctx), in.Site, order)
	return &rejudgementOut{Status: status, Body: rejudgementOf(j)}, err
}
