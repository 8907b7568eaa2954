package server

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/web"
)

const maxComposeFrom = 4 // schedules whose lines stand in one form

// composeView is the form that puts a project's own schedule together from the
// lines of others.
type composeView struct {
	frame
	Form    *web.Form
	Lines   []composeLine
	Ranks   []web.Option
	Options []web.Option
	Slots   []string
	From    []string // the schedules whose lines are shown
}

// composeLine is one line that can be taken over, with the names of the fields
// that change its figures.
type composeLine struct {
	limitLine
	N      string // "3", part of the names of its fields
	Ref    string // name@version#line
	Unit   string
	Fields []composeField
}

type composeField struct{ Name, Label string }

func (s *Server) composePage(c *gin.Context, form *web.Form) (composeView, error) {
	f, err := s.onSite(c, "limits")
	if err != nil {
		return composeView{}, err
	}
	_, all, err := s.reg.SchedulesOf(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return composeView{}, err
	}
	f.Trail = []navLink{{Title: "Limits", Href: f.Path("limits")}}
	v := composeView{frame: f, Form: form, Options: append([]web.Option{{Text: "none"}}, scheduleOptions(all)...)}
	for _, r := range []defects.Rank{defects.ProjectRank, defects.ContractRank, defects.ApprovalRank, defects.LawRank} {
		v.Ranks = append(v.Ranks, web.Option{Value: string(r), Text: r.Words()})
	}
	for i := range maxComposeFrom {
		slot := "from" + strconv.Itoa(i+1)
		v.Slots = append(v.Slots, slot)
		ref := typed(form, slot)
		for _, sc := range all {
			if ref != "" && defects.ScheduleRef(sc) == ref {
				v.From = append(v.From, ref)
				v.Lines = append(v.Lines, composeLines(sc, len(v.Lines), form)...)
			}
		}
	}
	return v, nil
}

// composeLines makes the fields of a schedule's lines; a form that was not sent
// yet holds the figures as they stand.
func composeLines(sc defects.Schedule, n int, form *web.Form) []composeLine {
	var out []composeLine
	for i, l := range limitLines(sc) {
		q, _ := defects.QuantityByName(l.Quantity)
		line := composeLine{limitLine: l, N: strconv.Itoa(n + i), Ref: defects.ScheduleRef(sc) + "#" + strconv.Itoa(i+1), Unit: q.Unit}
		if l.Title == "" {
			line.Title = sc.Title
		}
		for _, f := range l.Limit.Figures() {
			name := f.Name + "-" + line.N
			line.Fields = append(line.Fields, composeField{Name: name, Label: f.Label})
			if !form.Values.Has(name) {
				form.Set(name, f.Text)
			}
		}
		out = append(out, line)
	}
	return out
}

func (s *Server) showCompose(c *gin.Context) error {
	v, err := s.composePage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "compose", v)
}

func (s *Server) postCompose(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	v, err := s.composePage(c, form)
	if err != nil {
		return err
	}
	comp := defects.Composition{
		Name: typed(form, "name"), Title: typed(form, "title"), Rank: defects.Rank(typed(form, "rank")), Notes: typed(form, "notes"),
		Agreed: defects.Agreed{By: typed(form, "agreed_by"), On: typed(form, "agreed_on")},
	}
	for _, l := range v.Lines {
		if err != nil || typed(form, "use-"+l.N) == "" {
			continue
		}
		var choice defects.Choice
		choice, err = l.choice(form)
		comp.Lines = append(comp.Lines, choice)
	}
	if err == nil {
		var sched defects.Schedule
		if sched, err = s.reg.ComposeSchedule(c.Request.Context(), actorOf(c), c.Param("site"), comp); err == nil {
			return seeOther(c, sitePath(c.Param("site"), "limits", defects.ScheduleRef(sched))+"?done=added")
		}
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "compose", v)
}

// choice reads what was typed for one line.
func (l composeLine) choice(form *web.Form) (defects.Choice, error) {
	c := defects.Choice{From: l.Ref, Reason: typed(form, "reason-"+l.N)}
	for name, to := range map[string]**defects.Decimal{"lower": &c.Lower, "upper": &c.Upper, "figure": &c.Figure} {
		text := typed(form, name+"-"+l.N)
		if text == "" {
			continue
		}
		d, err := defects.ParseDecimal(text)
		if err != nil {
			return c, defects.RefuseField(defects.Invalid, name+"-"+l.N, "bad_number", strconv.Quote(text)+" is no number")
		}
		*to = &d
	}
	for _, text := range strings.Fields(typed(form, "steps-"+l.N)) {
		if text == defects.NoFigure {
			c.Steps = append(c.Steps, nil)
			continue
		}
		d, err := defects.ParseDecimal(text)
		if err != nil {
			return c, defects.RefuseField(defects.Invalid, "steps-"+l.N, "bad_number", strconv.Quote(text)+" is no number")
		}
		c.Steps = append(c.Steps, &d)
	}
	return c, nil
}
