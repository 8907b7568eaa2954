package server

import (
	"io"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// limitsView is the tolerance schedules of a site and the rule they are used by.
type limitsView struct {
	frame
	InForce []defects.Schedule
	All     []defects.Schedule
	Form    *web.Form
	Own     *web.Form
	Options []web.Option
	Rules   []web.Option
	Slots   []string // names of the selects, the governing one first
}

func (s *Server) limitsPage(c *gin.Context) (limitsView, error) {
	f, err := s.onSite(c, "limits")
	if err != nil {
		return limitsView{}, err
	}
	inForce, all, err := s.reg.SchedulesOf(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return limitsView{}, err
	}
	v := limitsView{frame: f, InForce: inForce, All: all, Form: web.NewForm("f"), Own: web.NewForm("own"), Rules: ruleOptions()}
	v.Options = append([]web.Option{{Text: "none"}}, scheduleOptions(all)...)
	v.Form.Set("version", strconv.Itoa(f.view.Version)).Set("rule", string(f.view.Rule)).Set("guard", f.view.Guard.String())
	for i := range len(inForce) + 2 {
		slot := "schedule" + strconv.Itoa(i+1)
		v.Slots = append(v.Slots, slot)
		if i < len(inForce) {
			v.Form.Set(slot, defects.ScheduleRef(inForce[i]))
		}
	}
	return v, nil
}

func scheduleOptions(list []defects.Schedule) []web.Option {
	out := make([]web.Option, 0, len(list))
	for _, sc := range list {
		label := sc.Name
		if sc.Edition != "" {
			label += ", " + sc.Edition
		}
		if sc.Basis == defects.Memory {
			label += " (unverified)"
		}
		out = append(out, web.Option{Value: defects.ScheduleRef(sc), Text: label})
	}
	return out
}

func (s *Server) showLimits(c *gin.Context) error {
	v, err := s.limitsPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "limits", v)
}

func (s *Server) postLimits(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	rule, chosen := defects.Rule(typed(form, "rule")), []string{}
	for i := 1; form.Values.Has("schedule" + strconv.Itoa(i)); i++ {
		if ref := typed(form, "schedule"+strconv.Itoa(i)); ref != "" {
			chosen = append(chosen, ref)
		}
	}
	patch := register.SitePatch{Rule: &rule, Schedules: &chosen}
	if patch.Guard, err = typedDecimal(form, "guard"); err == nil {
		_, err = s.reg.UpdateSite(c.Request.Context(), actorOf(c), c.Param("site"), seenVersion(form), patch)
	}
	return s.limitsChanged(c, form, err, func(v *limitsView) {
		form.Values.Set("version", strconv.Itoa(v.view.Version))
		v.Form = form
	})
}

func (s *Server) limitsChanged(c *gin.Context, form *web.Form, err error, keep func(*limitsView)) error {
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "limits")+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.limitsPage(c)
	if err != nil {
		return err
	}
	keep(&v)
	v.Notice = r.notice
	return s.render(c, r.status, "limits", v)
}

func (s *Server) postOwnSchedule(c *gin.Context) error {
	form, err := s.tableOf(c, func(r io.Reader) error {
		_, err := s.reg.AddSchedule(c.Request.Context(), actorOf(c), c.Param("site"), r)
		return err
	})
	form.Prefix = "own"
	return s.limitsChanged(c, form, err, func(v *limitsView) { v.Own = form })
}

type scheduleView struct {
	frame
	Schedule defects.Schedule
	Limits   []limitLine
}

// Rank says where the schedule stands in the order of precedence.
func (v scheduleView) Rank() string { return defects.RankOf(v.Schedule).Words() }

// Ref is its name@version.
func (v scheduleView) Ref() string { return defects.ScheduleRef(v.Schedule) }

// limitLine is one limit in words.
type limitLine struct {
	defects.Limit
	Figure string
	When   string
	Basis  string
}

func (s *Server) showSchedule(c *gin.Context) error {
	f, err := s.onSite(c, "limits")
	if err != nil {
		return err
	}
	_, all, err := s.reg.SchedulesOf(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: "Limits", Href: f.Path("limits")}}
	for _, sc := range all {
		if defects.ScheduleRef(sc) == c.Param("schedule") {
			return s.render(c, http.StatusOK, "schedule", scheduleView{frame: f, Schedule: sc, Limits: limitLines(sc)})
		}
	}
	return defects.Refuse(defects.NotFound, "schedule_not_found", "the site has no such schedule")
}

func limitLines(sc defects.Schedule) []limitLine {
	out := make([]limitLine, 0, len(sc.Limits))
	for _, l := range sc.Limits {
		q, _ := defects.QuantityByName(l.Quantity)
		line := limitLine{Limit: l, Figure: l.FigureWords(q.Unit), When: l.WhenWords(), Basis: string(l.Basis)}
		if l.Basis == "" {
			line.Basis = string(sc.Basis)
		}
		out = append(out, line)
	}
	return out
}
