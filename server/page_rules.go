package server

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addRulePages() {
	view := may(defects.ViewSite)
	s.page(http.MethodGet, "/sites/:site/instruments", view, s.showInstruments)
	s.page(http.MethodPost, "/sites/:site/instruments", may(defects.AddInstrument), s.postInstrument)
	s.page(http.MethodPost, "/sites/:site/instruments/:instrument/calibrations", may(defects.AddInstrument), s.postCalibration)
	s.page(http.MethodPost, "/sites/:site/instruments/:instrument/repeats", may(defects.AddInstrument), s.postRepeats)
	s.page(http.MethodGet, "/sites/:site/limits", view, s.showLimits)
	s.page(http.MethodPost, "/sites/:site/limits", may(defects.SetLimits), s.postLimits)
	s.page(http.MethodPost, "/sites/:site/limits/own", may(defects.SetLimits), s.postOwnSchedule)
	s.page(http.MethodGet, "/sites/:site/limits/compose", may(defects.SetLimits), s.showCompose)
	s.page(http.MethodPost, "/sites/:site/limits/compose", may(defects.SetLimits), s.postCompose)
	s.page(http.MethodGet, "/sites/:site/opinions", view, s.showOpinions)
	s.page(http.MethodGet, "/sites/:site/rejudge", may(defects.SetLimits), s.showRejudge)
	s.page(http.MethodPost, "/sites/:site/rejudge", may(defects.SetLimits), s.postRejudgeAll)
	s.page(http.MethodGet, "/sites/:site/limits/:schedule", view, s.showSchedule)
	s.page(http.MethodGet, "/sites/:site/dates", view, s.showDates)
	s.page(http.MethodPost, "/sites/:site/dates", may(defects.EditSite), s.postDate)
	s.page(http.MethodPost, "/sites/:site/dates/:date/remove", may(defects.EditSite), s.postDateRemove)
	s.page(http.MethodGet, "/sites/:site/hold-points", view, s.showHoldPoints)
	s.page(http.MethodPost, "/sites/:site/hold-points", may(defects.ReleaseHoldPoint), s.postRelease)
}

type instrumentsView struct {
	frame
	Tools []toolLine
	Form  *web.Form
}

// toolLine is one instrument with whether it is in calibration today, and the
// forms that add a certificate to it and state its repeats.
type toolLine struct {
	defects.Instrument
	Expired bool
	Form    *web.Form
	Repeat  *web.Form
}

func (s *Server) instrumentsPage(c *gin.Context) (instrumentsView, error) {
	f, err := s.onSite(c, "instruments")
	if err != nil {
		return instrumentsView{}, err
	}
	tools, err := s.reg.Instruments(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return instrumentsView{}, err
	}
	v := instrumentsView{frame: f, Form: web.NewForm("f").Set("unit", "mm")}
	for _, t := range tools {
		_, expired := defects.ExpandedOf(t, f.today)
		version := strconv.Itoa(t.Version)
		v.Tools = append(v.Tools, toolLine{
			Instrument: t, Expired: expired,
			Form: web.NewForm("c"+t.ID).Set("version", version), Repeat: web.NewForm("r"+t.ID).Set("version", version),
		})
	}
	return v, nil
}

func (s *Server) showInstruments(c *gin.Context) error {
	v, err := s.instrumentsPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "instruments", v)
}

// instrumentsChanged answers a write: on to the list, or the list again with
// what was typed.
func (s *Server) instrumentsChanged(c *gin.Context, form *web.Form, err error, keep func(*instrumentsView)) error {
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "instruments")+"?done=added")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.instrumentsPage(c)
	if err != nil {
		return err
	}
	keep(&v)
	v.Notice = r.notice
	return s.render(c, r.status, "instruments", v)
}

func (s *Server) postInstrument(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	n := register.NewInstrument{Name: typed(form, "name"), Kind: typed(form, "kind"), Serial: typed(form, "serial"), Unit: typed(form, "unit")}
	if n.Resolution, err = typedDecimal(form, "resolution"); err == nil {
		n.Expanded, err = typedDecimal(form, "expanded")
	}
	if err == nil {
		n.Repeats.Values, err = typedDecimals(form, "values")
	}
	if err == nil {
		_, err = s.reg.AddInstrument(c.Request.Context(), actorOf(c), c.Param("site"), n)
	}
	return s.instrumentsChanged(c, form, err, func(v *instrumentsView) { v.Form = form })
}

func (s *Server) postCalibration(c *gin.Context) error {
	id := c.Param("instrument")
	form, err := readForm(c, "c"+id)
	if err != nil {
		return err
	}
	cal := defects.Calibration{Certificate: typed(form, "certificate"), On: typed(form, "on"), Due: typed(form, "due")}
	if cal.Expanded, err = typedDecimal(form, "expanded"); err == nil {
		cal.K, err = typedDecimal(form, "k")
	}
	if err == nil {
		_, err = s.reg.AddCalibration(c.Request.Context(), actorOf(c), c.Param("site"), id, seenVersion(form), cal)
	}
	return s.instrumentsChanged(c, form, err, func(v *instrumentsView) {
		if i := slices.IndexFunc(v.Tools, func(t toolLine) bool { return t.ID == id }); i >= 0 {
			form.Values.Set("version", strconv.Itoa(v.Tools[i].Version))
			v.Tools[i].Form = form
		}
	})
}

func (s *Server) postRepeats(c *gin.Context) error {
	id := c.Param("instrument")
	form, err := readForm(c, "r"+id)
	if err != nil {
		return err
	}
	var p register.Repeats
	if p.Values, err = typedDecimals(form, "values"); err == nil {
		_, err = s.reg.StateRepeats(c.Request.Context(), actorOf(c), c.Param("site"), id, seenVersion(form), p)
	}
	return s.instrumentsChanged(c, form, err, func(v *instrumentsView) {
		if i := slices.IndexFunc(v.Tools, func(t toolLine) bool { return t.ID == id }); i >= 0 {
			form.Values.Set("version", strconv.Itoa(v.Tools[i].Version))
			v.Tools[i].Repeat = form
		}
	})
}

type datesView struct {
	frame
	Dates  []dateLine
	Form   *web.Form
	Kinds  []web.Option
	Stages []web.Option
	Walls  []web.Option
}

// dateLine is one planned date with what is still open there.
type dateLine struct {
	register.PlannedDate
	Words string // what happens
	Wall  string
	Past  bool
}

func (s *Server) datesPage(c *gin.Context, form *web.Form) (datesView, error) {
	f, err := s.onSite(c, "dates")
	if err != nil {
		return datesView{}, err
	}
	list, err := s.reg.PlannedDates(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return datesView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return datesView{}, err
	}
	names := wallNames(walls)
	v := datesView{frame: f, Form: form, Stages: stageOptions("none"), Walls: wallOptions(walls, "the whole site"), Kinds: []web.Option{
		{Value: string(defects.CoverUp), Text: "cover-up: a stage starts and hides the one before"},
		{Value: string(defects.Strike), Text: "scaffold strike"},
		{Value: string(defects.Completion), Text: "practical completion"},
	}}
	for _, m := range list {
		v.Dates = append(v.Dates, dateLine{PlannedDate: m, Words: m.What(reference.Stages()), Wall: names[m.ElevationID], Past: m.On < f.today})
		if m.ID == typed(form, "id") && form.Values.Get("version") == "" {
			presetDate(form, m.Milestone)
		}
	}
	return v, nil
}

// presetDate fills the form with a date that is to be changed.
func presetDate(f *web.Form, m defects.Milestone) {
	f.Set("kind", string(m.Kind)).Set("stage", m.Stage).Set("elevation", m.ElevationID).Set("on", m.On).Set("version", strconv.Itoa(m.Version))
	for name, n := range map[string]int{"bay_from": m.BayFrom, "bay_to": m.BayTo, "lift_from": m.LiftFrom, "lift_to": m.LiftTo} {
		if n > 0 {
			f.Set(name, strconv.Itoa(n))
		}
	}
}

func (s *Server) showDates(c *gin.Context) error {
	v, err := s.datesPage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "dates", v)
}

func (s *Server) postDate(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	m := defects.Milestone{
		ID: typed(form, "id"), SiteID: c.Param("site"), Kind: defects.MilestoneKind(typed(form, "kind")),
		Stage: typed(form, "stage"), ElevationID: typed(form, "elevation"), On: typed(form, "on"), Version: seenVersion(form),
	}
	err = typedWholes(form, map[string]*int{"bay_from": &m.BayFrom, "bay_to": &m.BayTo, "lift_from": &m.LiftFrom, "lift_to": &m.LiftTo})
	if err == nil {
		_, err = s.reg.SetMilestone(c.Request.Context(), actorOf(c), m)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "dates")+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.datesPage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	if i := slices.IndexFunc(v.Dates, func(d dateLine) bool { return d.ID == m.ID }); i >= 0 {
		form.Values.Set("version", strconv.Itoa(v.Dates[i].Version))
		s.tellWhoChanged(c, r, "milestone", m.ID)
	}
	return s.render(c, r.status, "dates", v)
}

func (s *Server) postDateRemove(c *gin.Context) error {
	if err := s.reg.DeleteMilestone(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("date")); err != nil {
		return err
	}
	return seeOther(c, sitePath(c.Param("site"), "dates")+"?done=removed")
}
