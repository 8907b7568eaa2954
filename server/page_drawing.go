package server

import (
	"context"
	"fmt"
	"html/template"
	"math"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// shadeView is the survey by which a drawing is shaded, with its legend and what
// it comes to.
type shadeView struct {
	Survey   defects.Survey
	Shading  report.Shading
	From     string // what the offsets are measured from
	Bands    []shadeBand
	Front    string // the point furthest in front and behind
	Behind   string
	NotTaken int
}

// shadeBand is one line of the legend.
type shadeBand struct {
	report.ShadeBand
	Sample template.HTML
}

// fromPlane is the choice that shades by the best-fit plane instead of the plane
// the survey was measured from.
const fromPlane = "plane"

// shading loads the surveys that can be chosen and the one that is; a survey
// of another elevation is not found here.
func (s *Server) shading(ctx context.Context, a register.Actor, v *elevationView) (*shadeView, error) {
	list, err := s.reg.ListSurveys(ctx, a, register.SurveyFilter{SiteID: v.Site.ID, ElevationID: v.Elevation.ID}, largePage())
	if err != nil {
		return nil, err
	}
	v.Surveys = []web.Option{{Text: "none"}}
	for _, one := range list.Items {
		if one.Withdrawn == "" {
			v.Surveys = append(v.Surveys, web.Option{Value: one.ID, Text: v.When(one.MeasuredAt) + ", " + one.Stage + ", " + one.ByName})
		}
	}
	v.Against = []web.Option{{Value: "", Text: "plane it was measured from"}, {Value: fromPlane, Text: "best-fit plane"}}
	id := typed(v.Filter, "survey")
	if id == "" {
		return nil, nil
	}
	item, err := s.reg.Survey(ctx, a, v.Site.ID, id)
	if err != nil {
		return nil, err
	}
	if item.ElevationID != v.Elevation.ID {
		return nil, defects.RefuseField(defects.NotFound, "survey", "survey_not_found", "the elevation has no such survey")
	}
	return shadeOf(item.Survey, typed(v.Filter, "against"))
}

// shadeOf works out the bands of a survey, against the plane it was measured from
// or its best-fit plane.
func shadeOf(survey defects.Survey, against string) (*shadeView, error) {
	g, err := survey.Grid()
	if err != nil {
		return nil, err
	}
	h := &shadeView{Survey: survey, From: "the plane it was measured from", NotTaken: len(g.Offsets) - g.Known()}
	if against == fromPlane {
		plane, err := g.Fit()
		if err != nil {
			return nil, err
		}
		g, h.From = g.About(plane), "its best-fit plane"
	}
	h.Shading = report.Shading{Survey: survey, Grid: g}
	for _, band := range h.Shading.Bands() {
		h.Bands = append(h.Bands, shadeBand{band, template.HTML(band.Sample)})
	}
	front, behind := 0, 0
	for i, v := range g.Offsets {
		if math.IsNaN(g.Offsets[front]) || v > g.Offsets[front] {
			front = i
		}
		if math.IsNaN(g.Offsets[behind]) || v < g.Offsets[behind] {
			behind = i
		}
	}
	h.Front, h.Behind = offsetWords(survey, g, front), offsetWords(survey, g, behind)
	return h, nil
}

func offsetWords(s defects.Survey, g defects.Grid, i int) string {
	return fmt.Sprintf("%s mm at %s", tenth(g.Offsets[i]), pointWords(s, defects.GridPoint{Column: i % g.Columns, Row: i / g.Columns}))
}

// draw draws the face with its list, its readings that stand, and the shading.
func (v *elevationView) draw(readings []defects.Reading) {
	for _, rd := range readings {
		if rd.Withdrawn == "" {
			v.Drawn = append(v.Drawn, rd)
		}
	}
	d := elevationDrawing(v.frame, v.List, v.Filter, v.Drawn, v.Bay, v.Lift)
	if v.Shade != nil {
		d.Shading = &v.Shade.Shading
	}
	v.Drawing = template.HTML(report.ElevationSVG(d))
}

// elevationDrawing is a face with its list, under its filter if there is one,
// and readings.
func elevationDrawing(f frame, list defects.SnagList, filter *web.Form, readings []defects.Reading, bay, lift int) report.Drawing {
	d := report.Drawing{Elevation: list.Elevation, Bay: bay, Lift: lift, AreaHref: areaHref(f, list.Elevation.ID, filter)}
	for _, item := range list.Items {
		d.Snags = append(d.Snags, drawnSnag(f, item.Snag))
	}
	for _, rd := range readings {
		d.Ticks = append(d.Ticks, report.DrawnTick{
			Place: rd.Place, Outcome: rd.Verdict.Outcome,
			Title: web.Words(rd.Quantity) + " " + defects.ReadingWords(rd),
		})
	}
	return d
}

// drawElevation draws a face with its list.
func drawElevation(f frame, list defects.SnagList, bay, lift int) template.HTML {
	return template.HTML(report.ElevationSVG(elevationDrawing(f, list, nil, nil, bay, lift)))
}

// PlaceOf says where a reading is on the wall.
func (v elevationView) PlaceOf(rd defects.Reading) string {
	return defects.PlaceWords("", v.Elevation, rd.Place)
}
