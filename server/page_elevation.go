package server

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// elevationView is the drawing of one face with its snag list.
type elevationView struct {
	frame
	Elevation defects.Elevation
	List      defects.SnagList
	Drawing   template.HTML
	Filter    *web.Form
	Query     string // of the filter, for the list's other forms
	Bay, Lift int
	States    []defects.State
	Grades    []defects.Severity
	Options   filterOptions
	Recent    []defects.Reading
}

// filterOptions are the choices of the list filters.
type filterOptions struct {
	States, Severities, Stages, Gangs, Due []web.Option
}

func (s *Server) showElevation(c *gin.Context) error {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return err
	}
	ctx, a, id := c.Request.Context(), actorOf(c), c.Param("elevation")
	form := queryForm(c, "filter")
	list, err := s.reg.SnagList(ctx, a, f.Site.ID, id, listFilterOf(form))
	if err != nil {
		return err
	}
	readings, err := s.reg.ListReadings(ctx, a, register.ReadingFilter{SiteID: f.Site.ID, ElevationID: id}, largePage())
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	v := elevationView{
		frame: f, Elevation: list.Elevation, List: list, Filter: form, Query: listQuery(form),
		States: defects.States(), Grades: defects.Severities(), Recent: readings.Items[:min(len(readings.Items), 6)],
	}
	v.Bay, _ = strconv.Atoi(form.Values.Get("bay"))
	v.Lift, _ = strconv.Atoi(form.Values.Get("lift"))
	v.Options = s.filterOptions(list)
	v.Drawing = drawElevation(f, list, readings.Items, v.Bay, v.Lift)
	return s.render(c, http.StatusOK, "elevation", v)
}

// listFilterOf reads a filter; a word it does not know narrows to nothing the
// register knows and is left out.
func listFilterOf(f *web.Form) register.ListFilter {
	out := register.ListFilter{Stage: typed(f, "stage"), Gang: typed(f, "gang"), DueReason: defects.DueReason(typed(f, "due"))}
	switch state := typed(f, "state"); {
	case state == "all":
		out.All = true
	case defects.State(state).Known():
		out.States, out.All = []defects.State{defects.State(state)}, true
	}
	if severity := defects.Severity(typed(f, "severity")); severity.Known() {
		out.Severities = []defects.Severity{severity}
	}
	return out
}

// listQuery is the same filter in the address of the list's other forms, in the
// words of the REST interface.
func listQuery(f *web.Form) string {
	q := url.Values{}
	for name, as := range map[string]string{"state": "state", "severity": "severity", "stage": "stage", "gang": "gang", "due": "due_reason"} {
		if value := typed(f, name); value != "" {
			q.Set(as, value)
		}
	}
	if q.Get("state") == "all" {
		q.Del("state")
	}
	if typed(f, "state") != "" {
		q.Set("all", "true")
	}
	return q.Encode()
}

func (s *Server) filterOptions(list defects.SnagList) filterOptions {
	gangs := []web.Option{{Text: "any gang"}}
	seen := map[string]bool{}
	for _, item := range list.Items {
		if g := item.Snag.Gang; g != "" && !seen[g] {
			seen[g] = true
			gangs = append(gangs, web.Option{Value: g, Text: g})
		}
	}
	return filterOptions{
		States: stateOptions(), Severities: severityOptions("any severity"), Stages: stageOptions("any stage"),
		Gangs: gangs, Due: dueOptions(),
	}
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
		{Text: "any date"},
		{Value: string(defects.DueCoverUp), Text: "next cover-up"},
		{Value: string(defects.DueStrike), Text: "scaffold strike"},
		{Value: string(defects.DueOwn), Text: "instruction"},
		{Value: string(defects.DueCompletion), Text: "practical completion"},
	}
}

// drawElevation draws a face with its list and its readings.
func drawElevation(f frame, list defects.SnagList, readings []defects.Reading, bay, lift int) template.HTML {
	d := report.Drawing{Elevation: list.Elevation, Bay: bay, Lift: lift}
	for _, item := range list.Items {
		d.Snags = append(d.Snags, drawnSnag(f, item.Snag))
	}
	for _, rd := range readings {
		if rd.Withdrawn == "" {
			d.Ticks = append(d.Ticks, report.DrawnTick{
				Place: rd.Place, Outcome: rd.Verdict.Outcome,
				Title: web.Words(rd.Quantity) + " " + defects.ReadingWords(rd),
			})
		}
	}
	return template.HTML(report.ElevationSVG(d))
}

func drawnSnag(f frame, sn defects.Snag) report.DrawnSnag {
	return report.DrawnSnag{
		Number: sn.Number, Place: sn.Place, Severity: sn.Severity, State: sn.State, Title: sn.Title,
		Href: f.Path("snags", strconv.Itoa(sn.Number)),
	}
}
