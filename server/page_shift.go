package server

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// A shift is the working day when nobody says another (common practice, no
// source).
const (
	defaultShiftStart = "08:00"
	defaultShiftEnd   = "16:30"
)

// shiftView is the verdict on the weather of one stretch of work.
type shiftView struct {
	frame
	Form   *web.Form
	Walls  []web.Option
	Stages []web.Option
	Asked  bool
	Shift  register.ShiftView
	Looks  []shiftLook
}

// Raise is the address of the form that raises what a failure proposes.
func (v shiftView) Raise(p register.ProposedDefect) string {
	q := map[string]string{"code": p.Code, "stage": p.Stage, "elevation": typed(v.Form, "elevation"), "text": v.failWords()}
	if len(p.Quantities) > 0 {
		q["no_reading_reason"] = "the weather log of the day stands for it"
	}
	if w := v.Shift.Work; w != nil {
		if q["bay"] = onlyNumber(w.Area.BayFrom, w.Area.BayTo); q["bay"] != "" {
			q["lift"] = onlyNumber(w.Area.LiftFrom, w.Area.LiftTo)
		}
	}
	return v.Path("snags", "new") + "?" + presetQuery(q)
}

// onlyNumber is the number of a range of one, "" of any other.
func onlyNumber(from, to int) string {
	if from == 0 || from != to {
		return ""
	}
	return strconv.Itoa(from)
}

// Verdict is what the heading's word shows.
func (v shiftView) Verdict() defects.Verdict { return defects.Verdict{Outcome: v.Shift.Outcome} }

// shiftLook is one moment in words.
type shiftLook struct {
	defects.WeatherLook
	Clock, Air, Wall, Humidity, Dew, Margin string
	Gap                                     bool
	Limits                                  []shiftLimit
}

// Verdict is what the line's word shows.
func (l shiftLook) Verdict() defects.Verdict { return defects.Verdict{Outcome: l.Outcome} }

// shiftLimit is one finding of a look with its limit.
type shiftLimit struct {
	Quantity, Limit, Source string
	defects.Verdict
}

func (s *Server) showShift(c *gin.Context) error {
	f, err := s.onSite(c, "weather")
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: "Weather", Href: f.Path("weather")}}
	v := shiftView{frame: f, Form: queryForm(c, "f")}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	v.Walls, v.Stages = wallOptions(walls, "all lines of the log"), stageOptions("not stated")
	for name, text := range map[string]string{"day": f.today, "start": defaultShiftStart, "end": defaultShiftEnd} {
		if typed(v.Form, name) == "" {
			v.Form.Set(name, text)
		}
	}
	if _, asked := v.Form.Values["stage"]; !asked {
		v.Form.Set("stage", "BM")
	}
	status, err := http.StatusOK, s.judgeShift(c, &v)
	if r, ok := s.refused(c, v.Form, err); ok {
		v.Notice, status, err = r.notice, r.status, nil
	}
	if err != nil {
		return err
	}
	return s.render(c, status, "shift", v)
}

func (s *Server) judgeShift(c *gin.Context, v *shiftView) error {
	hours, err := typedWhole(v.Form, "frost_hours")
	if err != nil {
		return err
	}
	q := register.ShiftQuery{
		Day: typed(v.Form, "day"), Start: typed(v.Form, "start"), End: typed(v.Form, "end"), ElevationID: typed(v.Form, "elevation"),
		Stage: typed(v.Form, "stage"), FrostHours: hours,
	}
	if v.Shift, err = s.reg.JudgeShift(c.Request.Context(), actorOf(c), v.Site.ID, q); err != nil {
		return err
	}
	v.Asked = true
	for _, l := range v.Shift.Looks {
		v.Looks = append(v.Looks, v.lookOf(l))
	}
	slices.SortStableFunc(v.Looks, func(a, b shiftLook) int { return a.At.Compare(b.At) })
	return nil
}

// failWords says what failed, for the text of a snag.
func (v shiftView) failWords() string {
	text := "Weather of " + web.Day(typed(v.Form, "day")) + ", " + typed(v.Form, "start") + " to " + typed(v.Form, "end")
	for _, l := range v.Looks {
		if l.Outcome == defects.Fail {
			text += "; " + l.Clock + " " + l.Text
		}
	}
	if w := v.Shift.Work; w != nil && w.Area.Words() != "" {
		text += "; done meanwhile: " + w.Area.Words()
	}
	return text
}

func (v *shiftView) lookOf(l defects.WeatherLook) shiftLook {
	at := l.At.In(v.zone)
	out := shiftLook{WeatherLook: l, Clock: at.Format("15:04"), Gap: l.Reason == defects.ReasonWeatherGap}
	if at.Format(time.DateOnly) != typed(v.Form, "day") {
		out.Clock = at.Format("2 Jan, 15:04")
	}
	for _, f := range []struct {
		d    *defects.Decimal
		unit string
		to   *string
	}{{l.Entry.Air, "°C", &out.Air}, {l.Entry.Surface, "°C", &out.Wall}, {l.Entry.Humidity, "%", &out.Humidity}} {
		if f.d != nil {
			*f.to = minus(f.d.String()) + "\u00a0" + f.unit
		}
	}
	if l.DewPoint != nil {
		out.Dew = tenth(*l.DewPoint) + "\u00a0°C"
	}
	if l.Margin != nil {
		out.Margin = tenth(*l.Margin) + "\u00a0K"
	}
	for _, f := range l.Findings {
		out.Limits = append(out.Limits, shiftLimit{
			web.Words(f.Input.Quantity), defects.LimitWords(f.Verdict, unitOf(f.Input.Quantity)), sourceWords(f.Verdict), f.Verdict,
		})
	}
	return out
}

// sourceWords is where a limit comes from, "" when the basis says all of it.
func sourceWords(v defects.Verdict) string {
	if v.Basis == defects.CommonPractice && strings.HasPrefix(v.Title, "common practice") {
		return ""
	}
	text := v.Title
	for _, part := range []string{v.Edition, v.Clause, v.Line} {
		if part != "" {
			text += ", " + part
		}
	}
	return text + "; "
}

func unitOf(quantity string) string {
	q, _ := defects.QuantityByName(quantity)
	return strings.Replace(q.Unit, "degC", "°C", 1)
}
