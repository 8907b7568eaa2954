package server

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// surveyView is one survey with all that follows from it.
type surveyView struct {
	frame
	Item     register.SurveyView
	Wall     string
	Figures  defects.SurveyFigures
	Drawing  template.HTML
	Parts    []surveyPart
	Gaps     []surveyGapLine
	Findings []surveyFindingLine
	Dub      *web.Form
	Targets  []web.Option
	Offsets  surveyTable
	Packing  surveyTable
	Raise    string // address of the form that raises a snag from it
	Withdraw *web.Form
	Rejudge  *web.Form
}

// Verdict is what the heading's word shows.
func (v surveyView) Verdict() defects.Verdict { return defects.Verdict{Outcome: v.Item.Judged.Outcome} }

// surveyPart is the governing finding of flatness or plumb.
type surveyPart struct {
	Name, Figure, Where, Limit string
	defects.Verdict
	Line template.HTML
}

type surveyGapLine struct{ Length, Depth, Base, Where string }

type surveyFindingLine struct {
	Quantity, Figure, Base, Where, Limit string
	defects.Verdict
}

// surveyTable is a grid of figures as it stands on the wall, the top row first.
type surveyTable struct {
	Xs   []string
	Rows []surveyTableRow
}

type surveyTableRow struct {
	Z     string
	Cells []string
}

func (s *Server) surveyPage(c *gin.Context) (surveyView, error) {
	f, err := s.onSite(c, "surveys")
	if err != nil {
		return surveyView{}, err
	}
	f.Trail = []navLink{{Title: "Surveys", Href: f.Path("surveys")}}
	v := surveyView{frame: f, Dub: queryForm(c, "dub"), Withdraw: web.NewForm("withdraw"), Rejudge: web.NewForm("rejudge")}
	if v.Item, err = s.reg.Survey(c.Request.Context(), actorOf(c), f.Site.ID, c.Param("survey")); err != nil {
		return v, err
	}
	g, err := v.Item.Grid()
	if err != nil {
		return v, err
	}
	target, cut, err := dubbingAsked(typed(v.Dub, "target"), typed(v.Dub, "cut_back_mm"))
	if err == nil {
		v.Figures, err = g.Figures(target, cut)
	}
	if r, ok := s.refused(c, v.Dub, err); ok { // show the survey all the same
		v.Notice = r.notice
		target = defects.DubTargets()[0]
		v.Figures, err = g.Figures(target, 0)
	}
	if err != nil {
		return v, err
	}
	v.Dub.Set("target", string(target))
	v.Targets = []web.Option{{Value: string(defects.DubPlumb), Text: "plumb"}, {Value: string(defects.DubBestFit), Text: "best-fit plane"}}
	v.Wall = v.Item.Elevation.Building + ", " + v.Item.Elevation.Name
	return v, v.fill(g)
}

// fill puts figures, findings and the drawing into words.
func (v *surveyView) fill(g defects.Grid) error {
	svy, verdict := v.Item.Survey, v.Item.Verdict
	svg, err := contoursOf(v.Item, g)
	if err != nil {
		return err
	}
	v.Drawing = template.HTML(svg)
	v.Parts = []surveyPart{
		partOf("Flatness", "under a straightedge of up to "+metres(svy.Longest), svy, svy.Judged.Flatness),
		partOf("Plumb", "over the height of a column", svy, svy.Judged.Plumb),
	}
	for i, gap := range v.Figures.Gaps {
		line := surveyGapLine{Length: strconv.FormatFloat(defects.Straightedges()[i], 'f', -1, 64) + " m", Depth: "none"}
		if gap.Depth > 0 {
			line.Depth, line.Base = tenth(gap.Depth)+"\u00a0mm", fmt.Sprintf("%.2f\u00a0m", gap.Base)
			line.Where = v.where(gap.At) + ", between " + pointWords(svy, gap.From) + " and " + pointWords(svy, gap.To)
		}
		v.Gaps = append(v.Gaps, line)
	}
	for _, f := range append(verdict.Flatness[:len(verdict.Flatness):len(verdict.Flatness)], verdict.Plumb...) {
		v.Findings = append(v.Findings, v.findingLine(f))
	}
	v.Offsets = figuresTable(svy, g, g.Offsets, -1)
	if v.Figures.Dubbing != nil {
		v.Packing = figuresTable(svy, g, v.Figures.Dubbing.Thickness, 0)
	}
	v.Raise = v.raiseFrom()
	return nil
}

// contoursOf draws a survey with its lines of equal offset and what governs.
func contoursOf(item register.SurveyView, g defects.Grid) (string, error) {
	contours, err := g.Contours(g.ContourLevels()...)
	if err != nil {
		return "", err
	}
	d := report.SurveyDrawing{Elevation: item.Elevation, Survey: item.Survey, Grid: g, Contours: contours}
	if worst := defects.Governing(item.Verdict.Flatness); worst != nil {
		d.Gap = worst.Gap
	}
	if worst := defects.Governing(item.Verdict.Plumb); worst != nil {
		d.Plumb, d.PlumbBy = worst.Ends, tenth(worst.Input.Value.Float())+" mm"
	}
	return report.SurveySVG(d), nil
}

// raiseFrom is the form that raises a snag from flatness or else plumb, "" when
// neither failed.
func (v *surveyView) raiseFrom() string {
	svy := v.Item.Survey
	for i, w := range []defects.SurveyWorst{svy.Judged.Flatness, svy.Judged.Plumb} {
		if w.Verdict.Outcome != defects.Fail || svy.Withdrawn != "" {
			continue
		}
		quantity := [2]string{"flatness", "plumb"}[i]
		at := svy.Place(w.At)
		return v.Path("snags", "new") + "?" + presetQuery(map[string]string{
			"elevation": svy.ElevationID, "stage": svy.Stage, "code": defects.KindForFailure(quantity, svy.Stage),
			"x": at.X.Metres().String(), "z": at.Z.Metres().String(),
			"text": fmt.Sprintf("Survey of %s: %s %s mm, %s", v.When(svy.MeasuredAt), quantity, w.Value.Round(1), defects.LimitWords(w.Verdict, "mm")),
		})
	}
	return ""
}

func partOf(name, how string, s defects.Survey, w defects.SurveyWorst) surveyPart {
	p := surveyPart{Name: name, Figure: "not to be judged from these points", Verdict: w.Verdict, Limit: defects.LimitWords(w.Verdict, "mm")}
	if w.Value != nil {
		p.Figure = w.Value.Round(1).String() + " mm over " + w.Base.Round(2).String() + " m, " + how
		p.Where = pointWords(s, w.At)
		p.Line = template.HTML(report.NumberLineSVG(w.Value.Round(1), "mm", w.Verdict))
	}
	return p
}

func (v *surveyView) findingLine(f defects.SurveyFinding) surveyFindingLine {
	line := surveyFindingLine{
		Quantity: f.Input.Quantity, Figure: f.Input.Value.Round(1).String() + " mm", Base: f.Input.BaseLength.Round(2).String() + " m",
		Verdict: f.Verdict, Limit: defects.LimitWords(f.Verdict, "mm"),
	}
	if f.Gap != nil {
		line.Where = v.where(f.Gap.At)
	} else {
		line.Where = "column at x " + f2(v.Item.Place(f.Ends[0]).X)
	}
	return line
}

// where tells a point with its bay and lift.
func (v *surveyView) where(p defects.GridPoint) string {
	at := v.Item.Place(p)
	words := pointWords(v.Item.Survey, p)
	if bay := v.Item.Elevation.BayAt(*at.X); bay > 0 {
		words += ", bay " + strconv.Itoa(bay)
	}
	if lift := v.Item.Elevation.LiftAt(*at.Z); lift > 0 {
		words += ", lift " + strconv.Itoa(lift)
	}
	return words
}

func pointWords(s defects.Survey, p defects.GridPoint) string {
	at := s.Place(p)
	return "x " + f2(at.X) + ", z " + f2(at.Z)
}

func f2(mm *defects.MM) string { return metres(*mm) }

// Short is a length in metres with two places.
func (surveyView) Short(mm defects.MM) string { return metres(mm) }

func metres(mm defects.MM) string { return mm.Metres().Round(2).String() + " m" }
func tenth(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'f', 1, 64), "-", "−", 1)
}
func minus(text string) string { return strings.Replace(text, "-", "−", 1) }

// figuresTable sets figures out as they stand on the wall; places below 0 are as short
// as can be.
func figuresTable(s defects.Survey, g defects.Grid, figures []float64, places int) surveyTable {
	var t surveyTable
	for c := range g.Columns {
		t.Xs = append(t.Xs, s.Place(defects.GridPoint{Column: c}).X.Metres().Round(2).String())
	}
	for r := g.Rows - 1; r >= 0; r-- {
		row := surveyTableRow{Z: s.Place(defects.GridPoint{Row: r}).Z.Metres().Round(2).String()}
		for c := range g.Columns {
			cell := "–"
			if v := notNaN(figures[r*g.Columns+c]); v != nil {
				cell = minus(strconv.FormatFloat(*v, 'f', places, 64))
			}
			row.Cells = append(row.Cells, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (s *Server) showSurvey(c *gin.Context) error {
	v, err := s.surveyPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "survey", v)
}

// postSurveyReason is a write on a survey that needs only a reason.
func (s *Server) postSurveyReason(prefix, done string, do func(context.Context, register.Actor, string, string, int, string) (defects.Survey, error)) func(*gin.Context) error {
	return func(c *gin.Context) error {
		form, err := readForm(c, prefix)
		if err != nil {
			return err
		}
		_, err = do(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("survey"), seenVersion(form), typed(form, "reason"))
		if err == nil {
			return seeOther(c, sitePath(c.Param("site"), "surveys", c.Param("survey"))+"?done="+done)
		}
		r, ok := s.refused(c, form, err)
		if !ok {
			return err
		}
		v, err := s.surveyPage(c)
		if err != nil {
			return err
		}
		s.tellWhoChanged(c, r, "survey", v.Item.ID)
		form.Values.Set("version", strconv.Itoa(v.Item.Version))
		if v.Notice = r.notice; prefix == "withdraw" {
			v.Withdraw = form
		} else {
			v.Rejudge = form
		}
		return s.render(c, r.status, "survey", v)
	}
}
