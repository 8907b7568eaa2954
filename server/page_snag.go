package server

import (
	"html/template"
	"mime/multipart"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// snagPage is one snag with the steps open to the person who looks at it.
type snagPage struct {
	frame
	View     register.SnagView
	Snag     defects.Snag
	Drawing  template.HTML
	Line     template.HTML
	History  []eventView
	Open     []stepForm
	Others   []register.StepOffered
	Kept     []keptValue // what was typed for a step that is not open any more
	Photos   []defects.Photo
	Readings []web.Option
	Members  []web.Option
	Grounds  []web.Option
}

// keptValue is one typed field of a step that could not be taken.
type keptValue struct{ Name, Value string }

func snagNumber(c *gin.Context) (int, error) {
	n, err := strconv.Atoi(c.Param("number"))
	if err != nil || n < 1 {
		return 0, defects.RefuseField(defects.NotFound, "number", "snag_not_found", "no such snag on this site")
	}
	return n, nil
}

// snagPage loads everything around one snag.
func (s *Server) snagPage(c *gin.Context) (snagPage, error) {
	number, err := snagNumber(c)
	if err != nil {
		return snagPage{}, err
	}
	f, err := s.onSite(c, "snags")
	if err != nil {
		return snagPage{}, err
	}
	view, err := s.reg.Snag(c.Request.Context(), actorOf(c), f.Site.ID, number)
	if err != nil {
		return snagPage{}, err
	}
	e := view.Elevation
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}, {Title: e.Building + ", " + e.Name, Href: f.Path("elevations", e.ID)}}
	v := snagPage{frame: f, View: view, Snag: view.Snag, History: eventsOf(view.History), Grounds: groundOptions()}
	v.Drawing = template.HTML(report.ElevationSVG(report.Drawing{
		Elevation: e, Snags: []report.DrawnSnag{drawnSnag(frame{}, view.Snag)},
		Bay: view.Snag.Place.Bay, Lift: view.Snag.Place.Lift,
	}))
	if view.Reading != nil {
		v.Line = numberLine(*view.Reading)
	}
	v.Open, v.Others = stepForms(view, f.view.Gang)
	if err := s.loadEvidence(c, &v); err != nil {
		return v, err
	}
	v.presetOffer()
	return v, nil
}

// loadEvidence gets what the steps' forms choose from: photos and readings of
// the elevation that are new since the instruction, and the people.
func (s *Server) loadEvidence(c *gin.Context, v *snagPage) error {
	if len(v.Open) == 0 {
		return nil
	}
	ctx, a, sn := c.Request.Context(), actorOf(c), v.Snag
	photos, err := s.reg.ListPhotos(ctx, a, register.PhotoFilter{SiteID: v.Site.ID, ElevationID: sn.Place.ElevationID}, register.Page{Limit: 24})
	if err != nil {
		return err
	}
	v.Photos = slices.DeleteFunc(photos.Items, func(p defects.Photo) bool { return slices.Contains(sn.Photos, p.ID) })
	members, err := s.reg.Members(ctx, a, v.Site.ID)
	if err != nil {
		return err
	}
	v.Members = []web.Option{{Text: "not stated"}}
	for _, m := range members {
		v.Members = append(v.Members, web.Option{Value: m.AccountID, Text: m.Name + ", " + string(m.Role)})
	}
	if sn.Quantity == "" {
		return nil
	}
	readings, err := s.reg.ListReadings(ctx, a, register.ReadingFilter{
		SiteID: v.Site.ID, ElevationID: sn.Place.ElevationID,
		Quantity: sn.Quantity,
	}, register.Page{Limit: 50})
	v.Readings = answersTo(v.frame, sn, readings.Items)
	return err
}

func (s *Server) showSnag(c *gin.Context) error {
	v, err := s.snagPage(c)
	if err != nil {
		return err
	}
	v.resume(c.Request.URL.Query())
	return s.render(c, http.StatusOK, "snag", v)
}

// postStep takes one step, or shows the snag again with what was typed.
func (s *Server) postStep(c *gin.Context) error {
	number, err := snagNumber(c)
	if err != nil {
		return err
	}
	form, files, err := s.readUpload(c, "")
	if err != nil {
		return err
	}
	step := defects.Step(c.Param("step"))
	form.Prefix = stepPrefix(string(step), typed(form, "concession.part"))
	if step == defects.StepOffer && form.Has("then", "measure") {
		return s.measureFirst(c, number, form, files)
	}
	if err = s.takeStep(c, number, step, form, files); err == nil {
		return seeOther(c, sitePath(c.Param("site"), "snags", c.Param("number"))+"?done=stepped")
	}
	return s.refuseStep(c, step, form, err)
}

// refuseStep shows the snag again with what was typed for a step.
func (s *Server) refuseStep(c *gin.Context, step defects.Step, form *web.Form, err error) error {
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.snagPage(c)
	if err != nil {
		return err
	}
	v.keep(step, form)
	v.Notice = r.notice
	if r.err.Kind == defects.Stale {
		v.tellChange()
	}
	return s.render(c, r.status, "snag", v)
}

// takeStep takes the photos that come with a step in first: they stay whatever
// becomes of it.
func (s *Server) takeStep(c *gin.Context, number int, step defects.Step, form *web.Form, files []*multipart.FileHeader) error {
	in, err := stepRequestOf(step, form)
	if err != nil {
		return err
	}
	if err := s.addStepFiles(c, number, form, files, &in); err != nil {
		return err
	}
	_, err = s.reg.StepSnag(c.Request.Context(), actorOf(c), c.Param("site"), number, seenVersion(form), in)
	return err
}
