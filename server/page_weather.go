package server

import (
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addWeatherPages() {
	view, add := may(defects.ViewSite), may(defects.AddReading)
	s.page(http.MethodGet, "/sites/:site/weather", view, s.showWeather)
	s.page(http.MethodPost, "/sites/:site/weather", add, s.postWeather)
	s.page(http.MethodPost, "/sites/:site/weather/table", add, s.postWeatherTable)
	s.page(http.MethodPost, "/sites/:site/weather/withdraw", add, s.postWeatherWithdraw)
	s.page(http.MethodGet, "/sites/:site/weather/shift", view, s.showShift)
}

// weatherDay is the lines of one day, the newest first.
type weatherDay struct {
	Day   string // "2006-01-02"
	Shift string // address of the day's verdict
	Lines []weatherLine
}

type weatherLine struct {
	defects.WeatherLine
	Clock, Wall string
}

type weatherView struct {
	frame
	Form        *web.Form
	Days        []weatherDay
	Next        string
	Filter      *web.Form
	Walls       []web.Option
	Anywhere    []web.Option
	Instruments []web.Option
	People      []web.Option
	Question    string
	Columns     []string
	Results     []takenLine
	Withdraw    *web.Form
	Standing    []web.Option // the lines shown that are the person's to withdraw
}

func (s *Server) weatherPage(c *gin.Context, form *web.Form) (weatherView, error) {
	f, err := s.onSite(c, "weather")
	if err != nil {
		return weatherView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	v := weatherView{frame: f, Form: form, Filter: queryForm(c, "filter"), Columns: register.WeatherColumns(), Withdraw: web.NewForm("withdraw")}
	m, err := s.measuring(c, f)
	if err != nil {
		return v, err
	}
	v.Walls, v.Anywhere = wallOptions(m.walls, "the site as a whole"), wallOptions(m.walls, "any place")
	v.Instruments, v.People = m.instruments, m.people
	page, err := s.reg.ListWeather(ctx, a, register.WeatherFilter{SiteID: f.Site.ID, ElevationID: typed(v.Filter, "elevation")},
		register.Page{After: v.Filter.Values.Get("after")})
	if err != nil {
		return v, err
	}
	v.Next = nextPage(c, page.Next)
	v.Days = v.days(page.Items, wallNames(m.walls))
	return v, nil
}

// days groups lines by the site's own days.
func (v *weatherView) days(lines []defects.WeatherLine, names map[string]string) []weatherDay {
	var out []weatherDay
	for _, w := range lines {
		at := w.At.In(v.zone)
		day := at.Format(time.DateOnly)
		if len(out) == 0 || out[len(out)-1].Day != day {
			shift := v.Path("weather", "shift") + "?" + presetQuery(map[string]string{"day": day, "elevation": typed(v.Filter, "elevation")})
			out = append(out, weatherDay{Day: day, Shift: shift})
		}
		line := weatherLine{WeatherLine: w, Clock: at.Format("15:04"), Wall: names[w.ElevationID]}
		own := w.ByID == v.Actor.AccountID || w.EnteredBy == v.Actor.AccountID
		if w.Withdrawn == "" && (v.May(string(defects.WithdrawReading)) || (own && v.May(string(defects.AddReading)))) {
			v.Standing = append(v.Standing, web.Option{
				Value: w.ID + "@" + strconv.Itoa(w.Version), Text: at.Format("2 Jan 2006, 15:04") + ": " + figuresOf(w),
			})
		}
		last := &out[len(out)-1]
		last.Lines = append(last.Lines, line)
	}
	return out
}

func (s *Server) showWeather(c *gin.Context) error {
	v, err := s.weatherPage(c, web.NewForm("f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "weather", v)
}

// postWeather adds one line.
func (s *Server) postWeather(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	at, err := typedTime(form, "at", s.zoneOfSite(c))
	if err == nil {
		var results []register.WeatherResult
		results, err = s.reg.AddWeather(c.Request.Context(), actorOf(c), c.Param("site"), []register.WeatherInput{{
			At: at, Air: typed(form, "air_c"), Surface: typed(form, "surface_c"), Humidity: typed(form, "relative_humidity"),
			ElevationID: typed(form, "elevation"), InstrumentID: typed(form, "instrument"), ByLogin: typed(form, "by"), Note: typed(form, "note"),
			Confirmed: form.Has("confirmed", "yes"),
		}})
		if err == nil && results[0].Err == nil {
			return seeOther(c, sitePath(c.Param("site"), "weather")+"?done=noted")
		}
		if err == nil {
			err = results[0].Err
		}
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.weatherPage(c, form)
	if err != nil {
		return err
	}
	if v.Notice = r.notice; r.err.Kind == defects.Question {
		v.Question, v.Notice = r.err.Text, &notice{Class: "ask", Text: r.err.Text}
	}
	return s.render(c, r.status, "weather", v)
}

// postWeatherTable adds the lines of a file.
func (s *Server) postWeatherTable(c *gin.Context) error {
	var rows []register.WeatherInput
	var bad []register.Refusal
	_, err := s.tableOf(c, func(r io.Reader) (err error) {
		rows, bad, err = register.ParseWeatherCSV(r, maxTableBytes)
		return err
	})
	form, status := web.NewForm("table"), http.StatusOK
	var results []register.WeatherResult
	if err == nil {
		results, err = s.reg.AddWeather(c.Request.Context(), actorOf(c), c.Param("site"), rows)
	}
	var said *notice
	if r, ok := s.refused(c, form, err); ok {
		said, status, err = r.notice, r.status, nil
	}
	if err != nil {
		return err
	}
	v, err := s.weatherPage(c, web.NewForm("f"))
	if err != nil {
		return err
	}
	v.Notice = said
	for _, r := range bad {
		v.Results = append(v.Results, takenLine{Item: r.Item, Answer: "refused", Text: refusalText(r.Err, v.zone)})
	}
	for _, r := range results {
		v.Results = append(v.Results, weatherTaken(r, v.zone))
	}
	return s.render(c, status, "weather", v)
}

// Counts says what became of a table's lines.
func (v weatherView) Counts() map[string]int {
	n := map[string]int{}
	for _, r := range v.Results {
		n[r.Answer]++
	}
	return n
}

// Refused are the lines of a table that were not taken.
func (v weatherView) Refused() (out []takenLine) {
	for _, r := range v.Results {
		if r.Answer == "refused" {
			out = append(out, r)
		}
	}
	return out
}

func weatherTaken(r register.WeatherResult, zone *time.Location) takenLine {
	line := takenLine{Item: "row " + strconv.Itoa(r.Row), Answer: "taken"}
	switch {
	case r.Err != nil:
		line.Answer, line.Text = "refused", refusalText(r.Err, zone)
	case r.Known:
		line.Answer = "known"
	}
	return line
}

// figuresOf says a line's figures in a few words.
func figuresOf(w defects.WeatherLine) string {
	var parts []string
	for _, f := range []struct {
		name string
		d    *defects.Decimal
		unit string
	}{{"air", w.Air, "°C"}, {"wall", w.Surface, "°C"}, {"humidity", w.Humidity, "%"}} {
		if f.d != nil {
			parts = append(parts, f.name+" "+minus(f.d.String())+" "+f.unit)
		}
	}
	return strings.Join(parts, ", ")
}

func (s *Server) postWeatherWithdraw(c *gin.Context) error {
	form, err := readForm(c, "withdraw")
	if err != nil {
		return err
	}
	id, seen, _ := strings.Cut(typed(form, "line"), "@")
	version, err := strconv.Atoi(seen)
	if err != nil {
		err = defects.RefuseField(defects.Invalid, "line", "line_missing", "choose the line that is wrong")
	} else {
		_, err = s.reg.WithdrawWeather(c.Request.Context(), actorOf(c), c.Param("site"), id, version, typed(form, "reason"))
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "weather")+"?done=line-withdrawn")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.weatherPage(c, web.NewForm("f"))
	if err != nil {
		return err
	}
	v.Withdraw, v.Notice = form, r.notice
	return s.render(c, r.status, "weather", v)
}
