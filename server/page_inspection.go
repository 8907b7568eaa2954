package server

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/report"
	"storeyrod/web"
)

// inspectionView is what is still to be photographed and released, as a list to
// take along.
type inspectionView struct {
	frame
	Items    []inspectionLine
	Filter   *web.Form
	Walls    []web.Option
	Stages   []web.Option
	Grades   []web.Option
	Query    string // of the filter, for the plan's other form
	Photos   int    // bays and lifts without one
	Kinds    int    // stages whose photos go by item, without any
	Releases int
	Overhead bool
	Height   []defects.Caution // for who goes up
	General  []defects.Caution
}

// inspectionLine is one stage of one elevation.
type inspectionLine struct {
	defects.PlanEntry
	Open     bool
	Wall     string
	ToShoot  []report.PlanLine
	ToHold   []report.PlanLine
	NShoot   int
	NHold    int
	Cautions []defects.Caution // of the stage itself
	TakeIn   string            // form that takes photos of it in, "" for who may not
	Cover    string            // its coverage, drawn
	Hold     string            // its hold point, asked about
}

// unfoldedStages is how many stages of a plan are open at first.
const unfoldedStages = 6

func (s *Server) showInspectionPlan(c *gin.Context) error {
	f, err := s.onSite(c, "plan")
	if err != nil {
		return err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	form := queryForm(c, "filter")
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	plan, err := s.reg.InspectionPlan(ctx, a, f.Site.ID, planAsk(typed(form, "elevation"), typed(form, "stage"), typed(form, "worst")))
	if err != nil {
		return err
	}
	v := inspectionView{
		frame: f, Filter: form, Walls: wallOptions(walls, "every elevation"), Stages: stageOptions("what is under way or will be hidden"), Grades: gradeOptions(),
		Query: planQuery(form),
	}
	for i, p := range plan {
		line := v.line(p)
		line.Open = i < unfoldedStages
		if p.NoPhoto() {
			v.Kinds++
		}
		v.Items = append(v.Items, line)
		v.Photos, v.Releases = v.Photos+line.NShoot, v.Releases+line.NHold
		v.Overhead = v.Overhead || p.Overhead
	}
	v.Height, v.General = heightFirst(reference.CautionsFor(""))
	return s.render(c, http.StatusOK, "inspection", v)
}

// planAsk fills in what was not chosen: grade B.
func planAsk(elevation, stage, worst string) defects.PlanAsk {
	ask := defects.PlanAsk{ElevationID: elevation, Stage: stage, Worst: defects.GradeB}
	if worst == "A" || worst == "C" {
		ask.Worst = defects.Grade(worst)
	}
	return ask
}

// planQuery is the page's choice in the address of the plan's other forms.
func planQuery(f *web.Form) string {
	return query("elevation", typed(f, "elevation"), "stage", typed(f, "stage"), "worst_grade", typed(f, "worst")).Encode()
}

func gradeOptions() []web.Option {
	return []web.Option{{Value: "B", Text: "A or B"}, {Value: "A", Text: "A alone"}, {Value: "C", Text: "A, B or C"}}
}

// heightFirst parts the cautions that hold everywhere.
func heightFirst(all []defects.Caution) (height, rest []defects.Caution) {
	for _, c := range all {
		if c.Topic == "Height" {
			height = append(height, c)
		} else {
			rest = append(rest, c)
		}
	}
	return height, rest
}

func (v inspectionView) line(p defects.PlanEntry) inspectionLine {
	l := inspectionLine{
		PlanEntry: p, Wall: p.Elevation.Building + ", " + p.Elevation.Name,
		ToShoot:  report.PlanLines(p.Cells, func(c defects.PlanCell) bool { return c.Photo }),
		ToHold:   report.PlanLines(p.Cells, func(c defects.PlanCell) bool { return c.Release }),
		Cautions: slices.DeleteFunc(reference.CautionsFor(p.Stage.Code), func(c defects.Caution) bool { return len(c.Stages) == 0 }),
		Cover:    v.Path("elevations", p.Elevation.ID, "coverage") + "?stage=" + p.Stage.Code,
	}
	l.NShoot, l.NHold = p.Asks()
	if v.May("add photos") {
		l.TakeIn = v.Path("take-in") + "?" + url.Values{"elevation": {p.Elevation.ID}, "stage": {p.Stage.Code}}.Encode()
	}
	if l.NHold > 0 {
		l.Hold = v.Path("hold-points") + "?" + url.Values{"hold_point": {p.Stage.HoldPoint}, "elevation": {p.Elevation.ID}}.Encode()
	}
	return l
}

// ShortWhy says why the photos of a lift's cells do not count: "bay 3: grade C".
func (inspectionView) ShortWhy(l report.PlanLine) []string {
	var out []string
	for _, c := range l.Cells {
		for _, s := range c.Short {
			out = append(out, "bay "+strconv.Itoa(c.Bay)+": "+s.Why)
		}
	}
	return out
}

// RefusedBays are the bays of a lift whose hold point was refused.
func (inspectionView) RefusedBays(l report.PlanLine) string {
	lines := report.PlanLines(l.Cells, func(c defects.PlanCell) bool { return c.Refused })
	if len(lines) == 0 {
		return ""
	}
	return lines[0].Bays
}
