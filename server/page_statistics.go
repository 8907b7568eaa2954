package server

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
	"storeyrod/report"
	"storeyrod/web"
)

// statisticsView is the page on the readings of one quantity.
type statisticsView struct {
	frame
	Filter     *web.Form
	Quantities []web.Option
	Walls      []web.Option
	Stages     []web.Option
	Gangs      []web.Option
	Sets       []web.Option
	Shares     shareOptions
	Spread     *spreadView // nil until a quantity is chosen
}

// shareOptions are the choices of the methods.
type shareOptions struct {
	Proportion, Confidence, Side, AQL, Good, GoodAccepted, Bad, BadAccepted []web.Option
}

func sharesOffered() shareOptions {
	percents := func(usual string, list ...string) []web.Option {
		var out []web.Option
		for _, s := range list {
			d := defects.MustDecimal(s)
			text := d.Mul(defects.DecimalOf(100)).Round(0).String() + " %"
			if s == usual {
				s = ""
			}
			out = append(out, web.Option{Value: s, Text: text})
		}
		return out
	}
	none := []web.Option{{Text: "not chosen"}}
	o := shareOptions{
		Proportion: percents("0.9", "0.8", "0.9", "0.95", "0.99"), Confidence: percents("0.95", "0.9", "0.95", "0.99"),
		Side: []web.Option{
			{Text: "as the limit has"},
			{Value: string(statistics.EitherSide), Text: "both sides"},
			{Value: string(statistics.HighSide), Text: "above only"},
			{Value: string(statistics.LowSide), Text: "below only"},
		},
		AQL:  []web.Option{{Text: "no published plan"}},
		Good: append(none, percents("", "0.01", "0.02", "0.05")...), GoodAccepted: append(none, percents("", "0.99", "0.95", "0.9")...),
		Bad: append(none, percents("", "0.05", "0.1", "0.15", "0.2")...), BadAccepted: append(none, percents("", "0.05", "0.1")...),
	}
	for _, aql := range statistics.PlanAQLs() {
		o.AQL = append(o.AQL, web.Option{Value: aql, Text: "AQL " + aql + " %"})
	}
	return o
}

// spreadView is the part of a page that shows the statistics of readings; the
// page of a set has it too.
type spreadView struct {
	register.Statistics
	Strip    template.HTML
	Limit    string
	Outcomes []outcomeCount
	Charts   []chartView
	path     func(parts ...string) string
	places   int
}

type outcomeCount struct {
	Outcome defects.Outcome
	N       int
}

// chartView is one control chart with its table.
type chartView struct {
	statistics.GangChart
	Drawing template.HTML
	Rows    template.HTML
}

// rowsOf writes the table's rows of a chart. There are hundreds of them, and the
// templates take as long for each as all the rest of the page.
func (v *spreadView) rowsOf(c statistics.GangChart, when func(time.Time) string) template.HTML {
	var b strings.Builder
	for i, p := range c.Points {
		moved, limits := "", "within"
		if !math.IsNaN(p.Spread) {
			moved = v.Fine(p.Spread)
		}
		if p.Outside {
			limits = "beyond the limits"
		}
		fmt.Fprintf(&b, `<tr><td class="n">%d</td><td>%s</td><td class="n"><a href="%s">%s</a></td><td class="n">%s</td><td>%s</td></tr>`,
			i+1, template.HTMLEscapeString(when(p.At)), template.HTMLEscapeString(v.ReadingHref(c.First[i])), v.Fig(p.Level), moved, limits)
	}
	return template.HTML(b.String())
}

// Name is the gang as a heading has it.
func (c chartView) Name() string {
	if c.Gang == "" {
		return "No gang stated"
	}
	return web.Gang(c.Gang)
}

// Individual reports a chart whose points are single readings.
func (c chartView) Individual() bool { return c.Run == 1 }

func newSpreadView(s register.Statistics, f frame) *spreadView {
	v := &spreadView{Statistics: s, path: f.Path}
	unit := s.Quantity.Unit
	limit := s.Analysis.Limit
	v.Limit = defects.LimitWords(defects.Verdict{Lower: limit.Lower, Upper: limit.Upper}, unit)
	drawn := report.Spread{Unit: web.Unit(unit), Lower: limit.Lower, Upper: limit.Upper}
	for _, fig := range s.Figures {
		if !fig.Withdrawn {
			drawn.Values = append(drawn.Values, fig.Value)
			v.places = max(v.places, min(fig.Value.Places(), 6))
		}
	}
	drawn.Places = v.places + 1
	if s.Summary != nil {
		drawn.Mean = s.Summary.Mean
	}
	if t := s.Interval; t != nil {
		drawn.Interval = &report.SpreadInterval{Lower: t.Lower, Upper: t.Upper, Words: v.Covers()}
	}
	if o := s.Outlier; o != nil && o.Class != statistics.NoOutlier {
		drawn.Flagged, drawn.FlagWord = &o.Value, string(o.Class)
	}
	v.Strip = template.HTML(report.StripPlotSVG(drawn))
	for _, o := range []defects.Outcome{defects.Pass, defects.ConditionalPass, defects.ConditionalFail, defects.Fail, defects.NoVerdict} {
		if n := s.Analysis.Outcomes[o]; n > 0 {
			v.Outcomes = append(v.Outcomes, outcomeCount{o, n})
		}
	}
	for _, c := range s.Analysis.Charts {
		v.Charts = append(v.Charts, chartView{GangChart: c, Rows: v.rowsOf(c, f.When), Drawing: template.HTML(report.ControlChartSVG(c.Chart, unit, v.places+1))})
	}
	return v
}

// Fig prints a figure worked out from the readings: with one place more than
// they were written with.
func (v *spreadView) Fig(f float64) string { return strconv.FormatFloat(f, 'f', v.places+1, 64) }

// Fine prints a spread: with two places more.
func (v *spreadView) Fine(f float64) string { return strconv.FormatFloat(f, 'f', v.places+2, 64) }

// Percent prints a share in per cent.
func (v *spreadView) Percent(f float64) string { return percent(f) }

// percent prints a share with one place, a very small one with what it needs.
func percent(f float64) string {
	switch {
	case f > 0 && f < 0.00001:
		return "less than 0.001 %"
	case f > 0 && f < 0.001:
		return strconv.FormatFloat(f*100, 'f', 3, 64) + " %"
	}
	return strconv.FormatFloat(f*100, 'f', 1, 64) + " %"
}

// Covers says what the tolerance interval covers.
func (v *spreadView) Covers() string {
	return v.Chosen(v.Interval.Proportion) + " of them, with " + v.Chosen(v.Interval.Confidence) + " confidence"
}

// Chosen prints a share that somebody chose, with the places it needs.
func (v *spreadView) Chosen(f float64) string {
	return strconv.FormatFloat(math.Round(f*1e6)/1e4, 'f', -1, 64) + " %"
}

// Q prints a quality statistic; "" for a limit that there is none of.
func (v *spreadView) Q(f float64) string {
	if math.IsNaN(f) {
		return ""
	}
	return strconv.FormatFloat(f, 'f', 3, 64)
}

// Lies says where the tolerance interval lies.
func (v *spreadView) Lies() string {
	t, unit := v.Interval, " "+web.Unit(v.Quantity.Unit)
	switch v.Side {
	case statistics.HighSide:
		return "lie below " + v.Fig(t.Upper) + unit
	case statistics.LowSide:
		return "lie above " + v.Fig(t.Lower) + unit
	}
	return "lie between " + v.Fig(t.Lower) + " and " + v.Fig(t.Upper) + unit
}

// Flagged reports a value that may be an outlier.
func (v *spreadView) Flagged() bool {
	return v.Outlier != nil && v.Outlier.Class != statistics.NoOutlier
}

// ReadingHref is the address of a reading.
func (v *spreadView) ReadingHref(id string) string { return v.path("readings", id) }

// Chosen reports that a method was chosen, so that its choices stand open.
func (v statisticsView) Chosen() bool {
	return slices.ContainsFunc([]string{
		"proportion", "confidence", "side", "run", "aql", "producer_share", "producer_accept", "consumer_share", "consumer_accept",
	}, func(name string) bool { return typed(v.Filter, name) != "" })
}

// Readings is the address of the list that holds the same readings, as far as it
// can be narrowed so.
func (v statisticsView) Readings() string { return sameReadings(v.Path("readings"), v.Filter) }

// Statistics is the address of the statistics of the readings in a list.
func (v readingsView) Statistics() string { return sameReadings(v.Path("statistics"), v.Filter) }

func sameReadings(address string, f *web.Form) string {
	q := url.Values{}
	for _, name := range []string{"quantity", "elevation", "stage", "gang"} {
		if value := typed(f, name); value != "" {
			q.Set(name, value)
		}
	}
	if len(q) == 0 {
		return address
	}
	return address + "?" + q.Encode()
}

func (s *Server) showStatistics(c *gin.Context) error {
	v, err := s.statisticsPage(c)
	if err != nil {
		return err
	}
	status := http.StatusOK
	if typed(v.Filter, "quantity") != "" {
		if err = s.loadSpread(c, &v); err != nil {
			r, ok := s.refused(c, v.Filter, err)
			if !ok {
				return err
			}
			v.Notice, status = r.notice, r.status
		}
	}
	return s.render(c, status, "statistics", v)
}

// statisticsPage is the page with its choices, before any reading is looked at.
func (s *Server) statisticsPage(c *gin.Context) (statisticsView, error) {
	f, err := s.onSite(c, "readings")
	if err != nil {
		return statisticsView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return statisticsView{}, err
	}
	sets, err := s.reg.Sets(ctx, a, f.Site.ID)
	if err != nil {
		return statisticsView{}, err
	}
	f.Trail = []navLink{{Title: "Readings", Href: f.Path("readings")}}
	v := statisticsView{
		frame: f, Filter: queryForm(c, "filter"), Quantities: quantityOptions("choose"), Walls: wallOptions(walls, "any elevation"),
		Stages: stageOptions("any stage"), Sets: setOptions(sets), Shares: sharesOffered(), Gangs: []web.Option{{Text: "any gang"}},
	}
	v.Sets[0].Text = "any set or none"
	return v, nil
}

func (s *Server) loadSpread(c *gin.Context, v *statisticsView) error {
	f, w, err := readStatistics(func(name string) string { return typed(v.Filter, name) }, v.zone)
	if err != nil {
		return err
	}
	f.SiteID = v.Site.ID
	found, err := s.reg.ReadingStatistics(c.Request.Context(), actorOf(c), f, w)
	if err != nil {
		return err
	}
	v.Spread = newSpreadView(found, v.frame)
	v.Gangs = append(v.Gangs, gangOptions(found.Figures, f.Gang)...)
	return nil
}

// gangOptions are the gangs of the readings found, and the one chosen.
func gangOptions(list []defects.Figure, chosen string) []web.Option {
	seen := map[string]bool{chosen: true}
	for _, f := range list {
		seen[f.Gang] = true
	}
	delete(seen, "")
	var out []web.Option
	for g := range seen {
		out = append(out, web.Option{Value: g, Text: g})
	}
	slices.SortFunc(out, func(a, b web.Option) int { return strings.Compare(a.Text, b.Text) })
	return out
}
