package server

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/reference"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// holdsView is the hold points of a site, drawn as a wall that is built
// upwards, with the form that asks for or answers one.
type holdsView struct {
	frame
	Points   []defects.HoldPoint
	Coursed  template.HTML
	Releases []releaseLine
	Form     *web.Form
	Names    []web.Option
	Walls    []web.Option
	Outcomes []web.Option
	Asked    bool
	Ready    register.Readiness
	Cautions []defects.Caution
}

// Hidden are the fields of the question that its answer carries along.
func (holdsView) Hidden() []string {
	return []string{"hold_point", "elevation", "bay_from", "bay_to", "lift_from", "lift_to"}
}

// AskedFor says what the answer is about: "Is H7 ready on Larch House North?"
func (v holdsView) AskedFor() string {
	wall := typed(v.Form, "elevation")
	for _, o := range v.Walls {
		if o.Value == wall {
			wall = strings.TrimSpace(o.Group + " " + o.Text)
		}
	}
	return "Is " + typed(v.Form, "hold_point") + " ready on " + wall + "?"
}

// brickSample is one line of the drawing's legend.
type brickSample struct {
	Name   string
	Sample template.HTML
}

// Bricks is the legend of the coursed wall.
func (holdsView) Bricks() []brickSample {
	var out []brickSample
	for _, state := range report.BrickStates() {
		out = append(out, brickSample{Name: string(state), Sample: template.HTML(report.BrickSVG(state))})
	}
	return out
}

type releaseLine struct {
	defects.Release
	Wall string
	Area string
}

// holdsPage loads the page; when the form names a point and an elevation it
// says whether the point may be released there.
func (s *Server) holdsPage(c *gin.Context, form *web.Form) (holdsView, error) {
	f, err := s.onSite(c, "hold-points")
	if err != nil {
		return holdsView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return holdsView{}, err
	}
	releases, err := s.reg.Releases(ctx, a, f.Site.ID)
	if err != nil {
		return holdsView{}, err
	}
	points := reference.HoldPoints()
	v := holdsView{
		frame: f, Points: points, Form: form, Names: pointOptions(points), Walls: wallOptions(walls, "choose"),
		Outcomes: releaseOptions(), Coursed: drawReleases(points, walls, releases),
	}
	names := wallNames(walls)
	for _, r := range releases {
		v.Releases = append(v.Releases, releaseLine{Release: r, Wall: names[r.ElevationID], Area: spanWords(r)})
	}
	if typed(form, "hold_point") == "" || typed(form, "elevation") == "" {
		return v, nil
	}
	in, err := releaseInputOf(form)
	if err != nil {
		return v, err
	}
	v.Cautions = holdCautions(in.HoldPoint)
	v.Ready, err = s.reg.ReadinessOf(ctx, a, f.Site.ID, in)
	v.Asked = err == nil
	return v, err
}

func (s *Server) showHoldPoints(c *gin.Context) error {
	form := queryForm(c, "f")
	v, err := s.holdsPage(c, form)
	if err == nil {
		return s.render(c, http.StatusOK, "holds", v)
	}
	r, ok := s.refused(c, form, err)
	if !ok || v.Site.ID == "" {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "holds", v)
}

func (s *Server) postRelease(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	in, err := releaseInputOf(form)
	if err == nil {
		_, err = s.reg.ReleaseHold(c.Request.Context(), actorOf(c), c.Param("site"), in)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "hold-points")+"?done=released")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.holdsPage(c, form)
	if _, mend := asRefusal(err); err != nil && (!mend || v.Site.ID == "") {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "holds", v)
}

func releaseInputOf(f *web.Form) (register.ReleaseInput, error) {
	in := register.ReleaseInput{
		HoldPoint: typed(f, "hold_point"), ElevationID: typed(f, "elevation"),
		Outcome: defects.ReleaseOutcome(typed(f, "outcome")), Text: typed(f, "text"),
	}
	if in.Outcome == "" {
		in.Outcome = defects.Released
	}
	return in, typedWholes(f, map[string]*int{"bay_from": &in.BayFrom, "bay_to": &in.BayTo, "lift_from": &in.LiftFrom, "lift_to": &in.LiftTo})
}

func pointOptions(points []defects.HoldPoint) []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, p := range points {
		out = append(out, web.Option{Value: p.Code, Text: p.Code + " " + p.Name})
	}
	return out
}

func releaseOptions() []web.Option {
	var out []web.Option
	for _, o := range []defects.ReleaseOutcome{defects.Released, defects.ReleasedConditions, defects.ReleaseRefused, defects.LapsedAfterNotice} {
		out = append(out, web.Option{Value: string(o), Text: string(o)})
	}
	return out
}

// holdCautions are the lines for the stages a point is about.
func holdCautions(code string) []defects.Caution {
	var out []defects.Caution
	for _, p := range reference.HoldPoints() {
		if p.Code != code {
			continue
		}
		for _, stage := range p.Stages {
			for _, caution := range reference.CautionsFor(stage) {
				if !slices.ContainsFunc(out, func(o defects.Caution) bool { return o.Topic == caution.Topic }) {
					out = append(out, caution)
				}
			}
		}
	}
	return out
}

// spanWords says the bays and lifts of an answer.
func spanWords(r defects.Release) string {
	return report.SpanWords(r.BayFrom, r.BayTo, r.LiftFrom, r.LiftTo)
}

// Stands is the page of what stands in a point's way: a snag, a reading, or an
// earlier point; empty when there is none.
func (v holdsView) Stands(d defects.Detail) string {
	number, isSnag := strings.CutPrefix(d.Field, "SN-")
	switch {
	case isSnag:
		return v.Path("snags", strings.TrimLeft(number, "0"))
	case strings.HasSuffix(d.Code, "_reading"):
		return v.Path("readings", d.Field)
	case d.Code == "earlier_point_refused":
		return v.Path("hold-points") + "?hold_point=" + url.QueryEscape(d.Field) + "&elevation=" + url.QueryEscape(typed(v.Form, "elevation"))
	}
	return ""
}

// drawReleases draws points as courses and elevations as bricks.
func drawReleases(points []defects.HoldPoint, walls []defects.Elevation, releases []defects.Release) template.HTML {
	var courses []report.Course
	for _, p := range points {
		course := report.Course{Name: p.Code, Title: p.Name}
		for _, e := range walls {
			course.Bricks = append(course.Bricks, report.Brick{Title: e.Building + ", " + e.Name, State: releaseState(p.Code, e, releases)})
		}
		courses = append(courses, course)
	}
	areas := make([]report.Area, len(walls))
	for i, e := range walls {
		areas[i] = report.Area{Building: e.Building, Name: e.Name}
	}
	return template.HTML(report.CoursedSVG(courses, areas))
}

// releaseState is the latest answer to a point on an elevation; an answer for a
// part of it shows as partly.
func releaseState(code string, e defects.Elevation, releases []defects.Release) report.BrickState {
	for _, r := range releases { // newest first
		if r.HoldPoint != code || r.ElevationID != e.ID {
			continue
		}
		switch {
		case r.Outcome == defects.ReleaseRefused:
			return report.BrickRefused
		case r.BayFrom > 1 || r.LiftFrom > 1 || (r.BayTo != 0 && r.BayTo < len(e.Bays)) || (r.LiftTo != 0 && r.LiftTo < len(e.Lifts)):
			return report.BrickPartly
		case r.Outcome == defects.LapsedAfterNotice:
			return report.BrickLapsed
		case r.Outcome == defects.ReleasedConditions:
			return report.BrickConditions
		}
		return report.BrickReleased
	}
	return report.BrickOpen
}
