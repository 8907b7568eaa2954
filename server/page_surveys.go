package server

import (
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addSurveyPages() {
	view, add := may(defects.ViewSite), may(defects.AddReading)
	s.page(http.MethodGet, "/sites/:site/surveys", view, s.showSurveys)
	s.page(http.MethodGet, "/sites/:site/surveys/new", add, s.showNewSurvey)
	s.page(http.MethodPost, "/sites/:site/surveys", add, s.postSurvey)
	s.page(http.MethodGet, "/sites/:site/surveys/:survey", view, s.showSurvey)
	s.page(http.MethodPost, "/sites/:site/surveys/:survey/withdraw", add, s.postSurveyReason("withdraw", "survey-withdrawn", s.reg.WithdrawSurvey))
	s.page(http.MethodPost, "/sites/:site/surveys/:survey/rejudge", may(defects.SetLimits), s.postSurveyReason("rejudge", "rejudged", s.reg.RejudgeSurvey))
}

// surveyLine is one survey of a list.
type surveyLine struct {
	defects.Survey
	Wall string
}

// Verdict is what the list's word shows.
func (l surveyLine) Verdict() defects.Verdict { return defects.Verdict{Outcome: l.Judged.Outcome} }

type surveysView struct {
	frame
	Items  []surveyLine
	Next   string
	Filter *web.Form
	Walls  []web.Option
	Stages []web.Option
}

func (s *Server) showSurveys(c *gin.Context) error {
	f, err := s.onSite(c, "surveys")
	if err != nil {
		return err
	}
	form := queryForm(c, "filter")
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	page, err := s.reg.ListSurveys(c.Request.Context(), actorOf(c), register.SurveyFilter{
		SiteID: f.Site.ID, ElevationID: typed(form, "elevation"), Stage: typed(form, "stage"),
	}, register.Page{After: form.Values.Get("after")})
	if err != nil {
		return err
	}
	v := surveysView{
		frame: f, Next: nextPage(c, page.Next), Filter: form, Walls: wallOptions(walls, "any elevation"), Stages: stageOptions("any stage"),
	}
	names := wallNames(walls)
	for _, one := range page.Items {
		v.Items = append(v.Items, surveyLine{one, names[one.ElevationID]})
	}
	return s.render(c, http.StatusOK, "surveys", v)
}

// surveyFormView is the form that enters a survey.
type surveyFormView struct {
	frame
	Form        *web.Form
	Walls       []web.Option
	Stages      []web.Option
	Instruments []web.Option
	People      []web.Option
}

func (s *Server) surveyFormPage(c *gin.Context, form *web.Form) (surveyFormView, error) {
	f, err := s.onSite(c, "surveys")
	if err != nil {
		return surveyFormView{}, err
	}
	m, err := s.measuring(c, f)
	if err != nil {
		return surveyFormView{}, err
	}
	f.Trail = []navLink{{Title: "Surveys", Href: f.Path("surveys")}}
	return surveyFormView{
		frame: f, Form: form, Walls: wallOptions(m.walls, "choose"), Stages: stageOptions("not stated"), Instruments: m.instruments, People: m.people,
	}, nil
}

// Lengths are the straightedges to choose from.
func (surveyFormView) Lengths() []web.Option {
	return []web.Option{{Value: "4", Text: "4 m"}, {Value: "2", Text: "2 m"}, {Value: "1", Text: "1 m"}}
}

func (s *Server) showNewSurvey(c *gin.Context) error {
	form := queryForm(c, "f")
	for name, text := range map[string]string{"x_m": "0", "z_m": "0", "straightedge_m": "4", "stage": "SV"} {
		if typed(form, name) == "" {
			form.Set(name, text)
		}
	}
	v, err := s.surveyFormPage(c, form)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "survey_new", v)
}

func (s *Server) postSurvey(c *gin.Context) error {
	form, err := readSurveyForm(c)
	if err != nil {
		return err
	}
	var added defects.Survey
	in, err := surveyInputOf(form, s.zoneOfSite(c))
	if err == nil {
		added, err = s.reg.AddSurvey(c.Request.Context(), actorOf(c), c.Param("site"), in)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "surveys", added.ID)+"?done=added")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.surveyFormPage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "survey_new", v)
}

// readSurveyForm reads the fields and the file of a grid, if one was chosen: it
// takes the place of what was pasted. No part is read beyond what a survey may have.
func readSurveyForm(c *gin.Context) (*web.Form, error) {
	if !strings.HasPrefix(c.ContentType(), "multipart/") {
		return readForm(c, "f")
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, 2*defects.MaxSurveyBytes+maxFormBytes)
	form, table := web.NewForm("f"), ""
	err := eachPart(c.Request, func(part *multipart.Part) error {
		name := part.FormName()
		if name != "file" && name != "offsets" {
			return addField(form, part)
		}
		text, err := io.ReadAll(io.LimitReader(part, defects.MaxSurveyBytes+1))
		if name == "offsets" {
			form.Set("offsets", string(text))
		} else {
			table = string(text)
		}
		if err != nil {
			return badForm(err)
		}
		return nil
	})
	if strings.TrimSpace(table) != "" {
		form.Set("offsets", table)
	}
	return form, err
}

func surveyInputOf(f *web.Form, zone *time.Location) (register.SurveyInput, error) {
	in := register.SurveyInput{
		ElevationID: typed(f, "elevation"), Stage: typed(f, "stage"), DX: typed(f, "dx_m"), DZ: typed(f, "dz_m"), X: typed(f, "x_m"), Z: typed(f, "z_m"),
		Offsets: f.Values.Get("offsets"), Straightedge: typed(f, "straightedge_m"), Expanded: typed(f, "expanded_uncertainty"),
		InstrumentID: typed(f, "instrument"), ByLogin: typed(f, "by"), Note: typed(f, "note"),
	}
	at, err := typedTime(f, "measured_at", zone)
	in.MeasuredAt = at
	return in, err
}

// typedTime reads a date and time field in a zone into RFC 3339; empty stays so.
func typedTime(f *web.Form, name string, zone *time.Location) (string, error) {
	at := typed(f, name)
	if at == "" {
		return "", nil
	}
	t, err := time.ParseInLocation(localTime, at, zone)
	if err != nil {
		return "", defects.RefuseField(defects.Invalid, name, "bad_time", "write date and time as in 2026-03-31T09:30")
	}
	return t.Format(time.RFC3339), nil
}
