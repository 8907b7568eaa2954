package server

import (
	"html/template"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addReadingPages() {
	view, add := may(defects.ViewSite), may(defects.AddReading)
	s.page(http.MethodGet, "/sites/:site/readings", view, s.showReadings)
	s.page(http.MethodGet, "/sites/:site/readings/new", add, s.showNewReading)
	s.page(http.MethodPost, "/sites/:site/readings", add, s.postReading)
	s.page(http.MethodGet, "/sites/:site/readings/:reading", view, s.showReading)
	s.page(http.MethodPost, "/sites/:site/readings/:reading/withdraw", add, s.postWithdraw)
	s.page(http.MethodPost, "/sites/:site/readings/:reading/rejudge", may(defects.SetLimits), s.postRejudge)
	s.page(http.MethodGet, "/sites/:site/statistics", view, s.showStatistics)
	s.page(http.MethodGet, "/sites/:site/sets", view, s.showSets)
	s.page(http.MethodPost, "/sites/:site/sets", add, s.postSet)
	s.page(http.MethodGet, "/sites/:site/sets/:set", view, s.showSet)
}

// readingLine is one reading of a list with its number line.
type readingLine struct {
	defects.Reading
	Wall string
	Line template.HTML
}

// SnagRef names the snag that answers the reading.
func (l readingLine) SnagRef() string { return defects.SnagRef(l.SnagNumber) }

type readingsView struct {
	frame
	Items      []readingLine
	Next       string
	Filter     *web.Form
	Walls      []web.Option
	Stages     []web.Option
	Quantities []web.Option
	Outcomes   []web.Option
}

func (s *Server) showReadings(c *gin.Context) error {
	f, err := s.onSite(c, "readings")
	if err != nil {
		return err
	}
	form := queryForm(c, "filter")
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	filter := register.ReadingFilter{
		SiteID: f.Site.ID, ElevationID: typed(form, "elevation"), Quantity: typed(form, "quantity"),
		Stage: typed(form, "stage"), Gang: typed(form, "gang"), Outcome: defects.Outcome(typed(form, "outcome")),
		Unanswered: form.Has("unanswered", "yes"),
	}
	page, err := s.reg.ListReadings(c.Request.Context(), actorOf(c), filter, register.Page{After: form.Values.Get("after")})
	if err != nil {
		return err
	}
	v := readingsView{
		frame: f, Next: nextPage(c, page.Next), Filter: form, Walls: wallOptions(walls, "any elevation"),
		Stages: stageOptions("any stage"), Quantities: quantityOptions("any quantity"), Outcomes: outcomeOptions(),
	}
	v.Items = readingLines(page.Items, wallNames(walls))
	return s.render(c, http.StatusOK, "readings", v)
}

func readingLines(items []defects.Reading, names map[string]string) []readingLine {
	out := make([]readingLine, 0, len(items))
	for _, rd := range items {
		out = append(out, readingLine{Reading: rd, Wall: names[rd.Place.ElevationID], Line: numberLine(rd)})
	}
	return out
}

// readingForm is the form that enters one reading.
type readingFormView struct {
	frame
	Form        *web.Form
	Quantities  []web.Option
	Meanings    []defects.Quantity
	Walls       []web.Option
	Stages      []web.Option
	Zones       []web.Option
	Instruments []web.Option
	Sets        []web.Option
	People      []web.Option
	Wall        defects.Elevation
	Drawing     template.HTML
	Question    string // the value can hardly be meant as typed
	Suggestion  string
	Photos      []defects.Photo
}

func (s *Server) readingFormPage(c *gin.Context, form *web.Form) (readingFormView, error) {
	f, err := s.onSite(c, "readings")
	if err != nil {
		return readingFormView{}, err
	}
	m, err := s.measuring(c, f)
	if err != nil {
		return readingFormView{}, err
	}
	sets, err := s.reg.Sets(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return readingFormView{}, err
	}
	f.Trail = []navLink{{Title: "Readings", Href: f.Path("readings")}}
	v := readingFormView{
		frame: f, Form: form, Quantities: quantityOptions("choose"), Meanings: defects.Quantities(),
		Walls: wallOptions(m.walls, "on no elevation"), Stages: stageOptions("not stated"), Zones: zoneOptions(),
		Instruments: m.instruments, Sets: setOptions(sets), People: m.people,
	}
	for _, e := range m.walls {
		if e.ID == typed(form, "elevation") {
			v.Wall = e
			return v, s.loadReadingWall(c, &v)
		}
	}
	return v, nil
}

// loadReadingWall adds the drawing of the chosen wall and its latest photos.
func (s *Server) loadReadingWall(c *gin.Context, v *readingFormView) error {
	photos, err := s.reg.ListPhotos(c.Request.Context(), actorOf(c), register.PhotoFilter{SiteID: v.Site.ID, ElevationID: v.Wall.ID}, register.Page{Limit: 12})
	if err != nil {
		return err
	}
	bay, _ := strconv.Atoi(v.Form.Values.Get("bay"))
	lift, _ := strconv.Atoi(v.Form.Values.Get("lift"))
	v.Photos = photos.Items
	v.Drawing = drawElevation(v.frame, defects.SnagList{Elevation: v.Wall}, bay, lift)
	return nil
}

func (s *Server) showNewReading(c *gin.Context) error {
	v, err := s.readingFormPage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "reading_new", v)
}

func (s *Server) postReading(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	in, err := readingInputOf(form, s.zoneOfSite(c))
	var result register.ReadingResult
	if err == nil {
		result, err = s.reg.AddReading(c.Request.Context(), actorOf(c), c.Param("site"), in)
	}
	if err == nil && typed(form, "snag") != "" {
		return seeOther(c, backToOffer(c.Param("site"), form, result.Reading.ID))
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "readings", result.Reading.ID)+"?done=added")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.readingFormPage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	v.ask(r.err)
	return s.render(c, r.status, "reading_new", v)
}

// ask turns a doubt about the value into a question on the page.
func (v *readingFormView) ask(e *defects.Error) {
	if e.Kind != defects.Question {
		return
	}
	v.Question, v.Notice = e.Text, &notice{Class: "ask", Text: e.Text}
	for _, d := range e.Details {
		if d.Code == "suggestion" {
			v.Suggestion = d.Text
		}
	}
}
