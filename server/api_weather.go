package server

import (
	"bytes"
	"context"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// NewWeather is one line of the weather log.
type NewWeather struct {
	At         string `json:"at,omitempty" doc:"RFC 3339, or the site's local time as in 2026-11-18 08:30; now when absent"`
	Air        Exact  `json:"air_c,omitempty"`
	Surface    Exact  `json:"surface_c,omitempty" doc:"of the wall"`
	Humidity   Exact  `json:"relative_humidity,omitempty" doc:"%"`
	Elevation  string `json:"elevation,omitempty" doc:"of the wall; absent = of the site"`
	Instrument string `json:"instrument,omitempty" doc:"id or name"`
	By         string `json:"by,omitempty" doc:"login of who took it; you when absent"`
	Note       string `json:"note,omitempty"`
	Confirmed  bool   `json:"confirmed,omitempty" doc:"yes, the implausible figure is as typed"`
}

func (n NewWeather) input() register.WeatherInput {
	return register.WeatherInput{
		At: n.At, Air: n.Air.text(), Surface: n.Surface.text(), Humidity: n.Humidity.text(), ElevationID: n.Elevation,
		InstrumentID: n.Instrument, ByLogin: n.By, Note: n.Note, Confirmed: n.Confirmed,
	}
}

// WeatherLine is a stored line of the weather log.
type WeatherLine struct {
	ID           string `json:"id"`
	At           string `json:"at"`
	Air          *Exact `json:"air_c,omitempty"`
	Surface      *Exact `json:"surface_c,omitempty"`
	Humidity     *Exact `json:"relative_humidity,omitempty"`
	ElevationID  string `json:"elevation_id,omitempty"`
	InstrumentID string `json:"instrument_id,omitempty"`
	Instrument   string `json:"instrument,omitempty"`
	By           Person `json:"by"`
	Note         string `json:"note,omitempty"`
	Confirmed    bool   `json:"confirmed,omitempty"`
	EnteredBy    Person `json:"entered_by"`
	EnteredAt    string `json:"entered_at"`
	Withdrawn    string `json:"withdrawn,omitempty" doc:"reason"`
	Version      int    `json:"version"`
}

func weatherLineOf(w defects.WeatherLine) WeatherLine {
	return WeatherLine{
		ID: w.ID, At: stamp(w.At), Air: exactOf(w.Air), Surface: exactOf(w.Surface), Humidity: exactOf(w.Humidity), ElevationID: w.ElevationID,
		InstrumentID: w.InstrumentID, Instrument: w.Instrument, By: Person{ID: w.ByID, Name: w.ByName}, Note: w.Note, Confirmed: w.Confirmed,
		EnteredBy: Person{ID: w.EnteredBy, Name: w.EnteredName}, EnteredAt: stamp(w.EnteredAt), Withdrawn: w.Withdrawn, Version: w.Version,
	}
}

// WeatherResult is what became of one line of a batch.
type WeatherResult struct {
	Row     int          `json:"row,omitempty"`
	Known   bool         `json:"known,omitempty" doc:"the line was stored before and nothing was written"`
	Line    *WeatherLine `json:"line,omitempty"`
	Problem *Problem     `json:"problem,omitempty" doc:"why it was not taken"`
}

// TakenWeather says what became of a batch.
type TakenWeather struct {
	Taken   int             `json:"taken"`
	Known   int             `json:"known"`
	Refused int             `json:"refused"`
	Results []WeatherResult `json:"results"`
}

type weatherIn struct {
	SiteIn
	Paging
	Elevation string `query:"elevation" doc:"its own lines and those of the site"`
}

type weatherOut struct {
	Link string `header:"Link"`
	Body struct {
		Items []WeatherLine `json:"items"`
	}
}

type weatherReasonIn struct {
	SiteIn
	ID string `path:"line"`
	Changed
	Body struct {
		Reason string `json:"reason"`
	}
}

type weatherLineOut struct {
	ETag string `header:"ETag"`
	Body WeatherLine
}

type shiftIn struct {
	SiteIn
	Day        string `query:"day" doc:"2026-11-18, in the site's zone"`
	Start      string `query:"start" doc:"08:00"`
	End        string `query:"end" doc:"16:30; before the start = on the next day"`
	Elevation  string `query:"elevation" doc:"its own lines and those of the site; all when absent"`
	Stage      string `query:"stage" doc:"of the work"`
	FrostHours int    `query:"frost_hours" doc:"after the end, without frost; as the product asks"`
}

// WeatherLook is the verdict on one moment of a shift.
type WeatherLook struct {
	Name     string           `json:"name" enum:"start,noon,end,between,after"`
	At       string           `json:"at"`
	LineID   string           `json:"line_id,omitempty" doc:"absent for a gap in the log"`
	Outcome  string           `json:"outcome" enum:"pass,conditional-pass,conditional-fail,fail,none"`
	Reason   string           `json:"reason,omitempty"`
	Text     string           `json:"text,omitempty"`
	Warning  string           `json:"warning,omitempty"`
	DewPoint *float64         `json:"dew_point_c,omitempty" doc:"Magnus form, WMO constants"`
	Margin   *float64         `json:"margin_k,omitempty" doc:"of the wall above it"`
	Findings []WeatherFinding `json:"findings,omitempty"`
}

// WeatherFinding is one figure with its verdict.
type WeatherFinding struct {
	Quantity string  `json:"quantity"`
	Value    *Exact  `json:"value,omitempty"`
	Verdict  Verdict `json:"verdict"`
}

// WeatherShift is the verdict on a stretch of work.
type WeatherShift struct {
	Start     string        `json:"start"`
	End       string        `json:"end"`
	Outcome   string        `json:"outcome" enum:"pass,conditional-pass,conditional-fail,fail,none"`
	Schedules []string      `json:"schedules" doc:"in force now, the governing one first"`
	Lines     int           `json:"lines" doc:"of the log that were looked at"`
	Looks     []WeatherLook `json:"looks"`
	Code      string        `json:"proposed_code,omitempty" doc:"of the first defect that a failure proposes"`
	Severity  string        `json:"proposed_severity,omitempty"`
	Proposed  []Proposed    `json:"proposed,omitempty" doc:"all of them"`
	Work      *ShiftWork    `json:"work,omitempty" doc:"done on the elevation meanwhile, as far as the record knows; absent without an elevation"`
}

// Proposed is a defect of the catalogue that the record proposes. A person
// decides.
type Proposed struct {
	Code     string `json:"code"`
	Name     string `json:"name"`
	Severity string `json:"severity"`
	Why      string `json:"why"`
}

// ShiftWork is what was measured and photographed during a shift.
type ShiftWork struct {
	BayFrom  int  `json:"bay_from,omitempty"`
	BayTo    int  `json:"bay_to,omitempty"`
	LiftFrom int  `json:"lift_from,omitempty"`
	LiftTo   int  `json:"lift_to,omitempty"`
	Readings int  `json:"readings"`
	Photos   int  `json:"photos"`
	Sheeted  bool `json:"sheeted" doc:"a photo of kind protection shows it"`
}

type shiftOut struct{ Body WeatherShift }

func (a *api) weather() {
	add := withBody(post("/sites/{site}/weather", "Add lines to the weather log: one object answers 201 or a problem; an array or a table with the columns "+
		strings.Join(register.WeatherColumns(), ", ")+" answers 200 with what became of each"), "application/json", "text/csv")
	add.RequestBody.Content["application/json"].Schema = &huma.Schema{
		OneOf: []*huma.Schema{schemaOf[NewWeather](a), {Type: huma.TypeArray, Items: schemaOf[NewWeather](a)}},
	}
	a.stream(withAnswer(add, "201", "application/json"), may(defects.AddReading), a.postWeather)
	handle(a, get("/sites/{site}/weather", "The weather log, the newest first"), may(defects.ViewSite), a.listWeather)
	handle(a, post("/sites/{site}/weather/{line}/withdraw", "Withdraw a line of the weather log; it stays on the record with the reason"),
		may(defects.WithdrawReading), a.withdrawWeather) // or whoever took it
	handle(a, get("/sites/{site}/weather/shift", "The weather of a stretch of work against the schedules in force; gaps in the log are named"),
		may(defects.ViewSite), a.getShift)
}

// postWeather takes one line, an array of them, or a table.
func (a *api) postWeather(c *gin.Context) error {
	kind, _, _ := mime.ParseMediaType(c.GetHeader("Content-Type"))
	switch kind {
	case "text/csv":
		rows, refused, err := register.ParseWeatherCSV(c.Request.Body, maxTableBytes)
		if err != nil {
			return err
		}
		return a.addWeather(c, rows, refused)
	case "application/json":
		body, err := readAtMost(c.Request.Body, maxTableBytes)
		if err != nil {
			return err
		}
		if trimmed := bytes.TrimLeft(body, " \t\r\n"); len(trimmed) > 0 && trimmed[0] == '[' {
			var many []NewWeather
			if err := strictJSON(body, &many); err != nil {
				return err
			}
			return a.addWeather(c, each(many, NewWeather.input), nil)
		}
		var one NewWeather
		if err := strictJSON(body, &one); err != nil {
			return err
		}
		return a.addOneWeather(c, one)
	}
	return defects.RefuseField(defects.UnsupportedType, "Content-Type", "unsupported_type", "send application/json or text/csv")
}

func (a *api) addOneWeather(c *gin.Context, one NewWeather) error {
	results, err := a.s.reg.AddWeather(c.Request.Context(), actorOf(c), c.Param("site"), []register.WeatherInput{one.input()})
	if err != nil {
		return err
	}
	if results[0].Err != nil {
		return results[0].Err
	}
	status := http.StatusCreated
	if results[0].Known {
		status = http.StatusOK
	}
	c.Header("ETag", etag(results[0].Line.Version))
	c.JSON(status, weatherLineOf(results[0].Line))
	return nil
}

func (a *api) addWeather(c *gin.Context, rows []register.WeatherInput, refused []register.Refusal) error {
	results, err := a.s.reg.AddWeather(c.Request.Context(), actorOf(c), c.Param("site"), rows)
	if err != nil {
		return err
	}
	out := TakenWeather{Refused: len(refused), Results: []WeatherResult{}}
	for _, r := range results {
		one := WeatherResult{Row: r.Row, Known: r.Known}
		switch {
		case r.Err != nil:
			one.Problem = problemOf(r.Err, "")
			out.Refused++
		default:
			line := weatherLineOf(r.Line)
			one.Line = &line
			if out.Taken++; r.Known {
				out.Taken, out.Known = out.Taken-1, out.Known+1
			}
		}
		out.Results = append(out.Results, one)
	}
	for _, r := range refused {
		p := problemOf(r.Err, "")
		p.Instance = r.Item
		row, _ := strconv.Atoi(strings.TrimPrefix(r.Item, "row ")) // "row 7"
		out.Results = append(out.Results, WeatherResult{Row: row, Problem: p})
	}
	c.JSON(http.StatusOK, out)
	return nil
}

func (a *api) listWeather(ctx context.Context, in *weatherIn) (*weatherOut, error) {
	if err := a.s.elevationFilter(ctx, actorFrom(ctx), in.Site, in.Elevation); err != nil {
		return nil, err
	}
	page, err := a.s.reg.ListWeather(ctx, actorFrom(ctx), register.WeatherFilter{SiteID: in.Site, ElevationID: in.Elevation}, in.page())
	if err != nil {
		return nil, err
	}
	out := &weatherOut{Link: nextLink("/sites/"+in.Site+"/weather", query("limit", in.limit(), "elevation", in.Elevation), page.Next)}
	out.Body.Items = each(page.Items, weatherLineOf)
	return out, nil
}

func (a *api) withdrawWeather(ctx context.Context, in *weatherReasonIn) (*weatherLineOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	w, err := a.s.reg.WithdrawWeather(ctx, actorFrom(ctx), in.Site, in.ID, version, in.Body.Reason)
	return &weatherLineOut{ETag: etag(w.Version), Body: weatherLineOf(w)}, err
}

func (a *api) getShift(ctx context.Context, in *shiftIn) (*shiftOut, error) {
	v, err := a.s.reg.JudgeShift(ctx, actorFrom(ctx), in.Site, register.ShiftQuery{
		Day: in.Day, Start: in.Start, End: in.End, ElevationID: in.Elevation, Stage: in.Stage, FrostHours: in.FrostHours,
	})
	if err != nil {
		return nil, err
	}
	out := WeatherShift{
		Start: stamp(v.Shift.Start), End: stamp(v.Shift.End), Outcome: string(v.Outcome), Schedules: each(v.Schedules, itself), Lines: v.Lines,
		Looks: each(v.Looks, weatherLookOf),
	}
	for _, p := range v.Proposed {
		out.Proposed = append(out.Proposed, Proposed{p.Code, p.Name, string(p.Severity), p.Why})
	}
	if len(out.Proposed) > 0 {
		out.Code, out.Severity = out.Proposed[0].Code, out.Proposed[0].Severity
	}
	if w := v.Work; w != nil {
		out.Work = &ShiftWork{w.Area.BayFrom, w.Area.BayTo, w.Area.LiftFrom, w.Area.LiftTo, w.Readings, w.Photos, w.Sheeted}
	}
	return &shiftOut{Body: out}, nil
}

func weatherLookOf(l defects.WeatherLook) WeatherLook {
	out := WeatherLook{
		Name: l.Name, At: stamp(l.At), LineID: l.Entry.ID, Outcome: string(l.Outcome), Reason: l.Reason, Text: l.Text, Warning: l.Warning,
		DewPoint: l.DewPoint, Margin: l.Margin,
	}
	for _, f := range l.Findings {
		one := WeatherFinding{Quantity: f.Input.Quantity, Verdict: verdictOf(f.Verdict)}
		if f.Taken {
			one.Value = exactOf(&f.Input.Value)
		}
		out.Findings = append(out.Findings, one)
	}
	return out
}
