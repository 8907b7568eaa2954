package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects/register"
	"storeyrod/defects/statistics"
	"storeyrod/web"
)

// sampleView is the form that asks for an audit sample and what was drawn. Its
// address holds all of it, so that the same address draws the same items.
type sampleView struct {
	frame
	Form        *web.Form
	Lots        []web.Option
	Divisions   []web.Option
	SchemeNames []web.Option
	Levels      []web.Option
	AQLs        []web.Option
	Inspections []web.Option
	Drawn       *register.DrawnSample
	Method      string
	LotFile     string
	Extended    []register.LotItem
}

// Href is the page of a drawn item, "" for a bare number.
func (v sampleView) Href(it register.LotItem) string { return lotHref(v.Path(), it) }

// Item finds what was drawn.
func (v sampleView) Item(it statistics.Item) register.LotItem { return v.Drawn.ByID[it.ID] }

// Percent prints a probability; only what is certain is 100 %.
func (sampleView) Percent(p float64) string {
	if p < 1 && p >= 0.9995 {
		return "over 99.9 %"
	}
	return strconv.FormatFloat(100*p, 'f', 1, 64) + " %"
}

// Extend is this page with a stratum listed whole.
func (v sampleView) Extend(stratum string) string {
	q := v.Form.Values
	list := query("extend", stratum)
	for name := range q {
		if name != "extend" {
			list[name] = q[name]
		}
	}
	return v.Path("sample") + "?" + list.Encode() + "#extend"
}

func (s *Server) showSample(c *gin.Context) error {
	f, err := s.onSite(c, "sample")
	if err != nil {
		return err
	}
	v := sampleView{frame: f, Form: queryForm(c, "f"), Method: drawMethod}
	v.options()
	status := http.StatusOK
	if typed(v.Form, "of") != "" && typed(v.Form, "seed") != "" {
		if err := s.drawOnPage(c, &v); err != nil {
			r, ok := s.refused(c, v.Form, err)
			if !ok {
				return err
			}
			v.Notice, status = r.notice, r.status
		}
	}
	v.Form.Set("of", string(register.LotElevations)).Set("level", "II").Set("aql", "2.5").Set("inspection", string(statistics.NormalInspection)).
		Set("scheme", string(statistics.SingleScheme)).Set("confidence", "0.95").Set("seed", s.reg.NewSeed())
	return s.render(c, status, "sample", v)
}

func (s *Server) drawOnPage(c *gin.Context, v *sampleView) error {
	plan, lot, err := typedSample(v.Form)
	if err != nil {
		return err
	}
	drawn, err := s.reg.DrawSample(c.Request.Context(), actorOf(c), v.Site.ID, lot.input(plan.spec()))
	if err != nil {
		return err
	}
	v.Drawn = &drawn
	v.LotFile = v.Path("sample", "lot") + "?" + query("of", lot.Of, "by", lot.By, "lot", typed(v.Form, "lot")).Encode()
	if name := typed(v.Form, "extend"); name != "" {
		v.Extended = drawn.Stratum(name)
	}
	return nil
}

// typedSample reads the form of a sample; risk picks stand one on a line.
func typedSample(f *web.Form) (SamplePlanIn, LotIn, error) {
	plan := SamplePlanIn{
		Scheme: typed(f, "scheme"), Level: typed(f, "level"), AQL: typed(f, "aql"), Inspection: typed(f, "inspection"), Seed: typed(f, "seed"),
		Risk: typedLines(f, "risk"),
	}
	lot := LotIn{Of: typed(f, "of"), By: typed(f, "by")}
	err := typedWholes(f, map[string]*int{"lot": &lot.Lot, "bad": &plan.Bad})
	if err != nil {
		return plan, lot, err
	}
	confidence, err := typedDecimal(f, "confidence")
	if confidence != nil {
		plan.Confidence = confidence.Float()
	}
	return plan, lot, err
}

func (v *sampleView) options() {
	v.Lots = []web.Option{
		{Value: string(register.LotElevations), Text: "elevations"},
		{Value: string(register.LotCells), Text: "bays × lifts of all elevations"},
		{Value: string(register.LotClosed), Text: "snags that are closed or conceded"},
		{Value: string(register.LotReadings), Text: "readings that stand"},
		{Value: string(register.LotPhotos), Text: "photos"},
		{Value: string(register.LotNumber), Text: "a number of items, counted elsewhere"},
	}
	v.Divisions = []web.Option{
		{Text: "not at all"},
		{Value: string(register.ByBuilding), Text: "by building"},
		{Value: string(register.ByStage), Text: "by stage"},
		{Value: string(register.ByGang), Text: "by gang"},
	}
	v.SchemeNames = []web.Option{
		{Value: string(statistics.SingleScheme), Text: "single plan of ISO 2859-1"},
		{Value: string(statistics.ZeroScheme), Text: "size of the lot's own letter, accept no bad one"},
		{Value: string(statistics.DiscoveryScheme), Text: "discovery: show one of so many bad ones"},
	}
	for _, level := range []string{"I", "II", "III"} {
		v.Levels = append(v.Levels, web.Option{Value: level, Text: level})
	}
	for _, aql := range statistics.AQLs() {
		v.AQLs = append(v.AQLs, web.Option{Value: aql, Text: aql + " %"})
	}
	for _, i := range []statistics.Inspection{statistics.NormalInspection, statistics.TightenedInspection, statistics.ReducedInspection} {
		v.Inspections = append(v.Inspections, web.Option{Value: string(i), Text: string(i)})
	}
}
