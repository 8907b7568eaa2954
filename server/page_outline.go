package server

import (
	"html/template"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// addGeometryPages adds the pages on which walls are drawn and corrected.
func (s *Server) addGeometryPages() {
	edit := may(defects.EditSite)
	s.page(http.MethodGet, "/sites/:site/buildings/new", edit, s.showNewBuilding)
	s.page(http.MethodPost, "/sites/:site/buildings/new", edit, s.postNewBuilding)
	s.page(http.MethodGet, "/sites/:site/buildings/:building/outline", edit, s.showOutline)
	s.page(http.MethodPost, "/sites/:site/buildings/:building/outline", edit, s.postOutline)
	s.page(http.MethodGet, "/sites/:site/elevations/:elevation/openings", edit, s.showOpenings)
	s.page(http.MethodPost, "/sites/:site/elevations/:elevation/openings", edit, s.postOpenings)
	s.page(http.MethodPost, "/sites/:site/elevations/:elevation/side", edit, s.postSide)
	s.page(http.MethodGet, "/sites/:site/elevations/:elevation/copy", edit, s.showCopy)
	s.page(http.MethodPost, "/sites/:site/elevations/:elevation/copy", edit, s.postCopy)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/offer", may(defects.PlacePhoto), s.postOffer)
}

// newBuildingView is the form that draws a building, with what it would become.
type newBuildingView struct {
	frame
	Form    *web.Form
	Ways    []web.Option
	Units   []web.Option
	Drawing template.HTML
	Draft   *draftView
}

// draftView is what a drawn outline would become.
type draftView struct {
	register.Drafted
	Area float64 // m²
}

func unitOptions() []web.Option {
	return []web.Option{
		{Value: "metres", Text: "metres east and north of the point 0 0"},
		{Value: "degrees", Text: "degrees, longitude and then latitude (WGS84)"},
	}
}

// siteFrame is the frame of the site's outlines on earth; nil when it has none.
func siteFrame(buildings []defects.Building) *defects.Frame {
	rings := each(buildings, func(b defects.Building) []defects.LonLat { return b.Ring })
	lay, ok := defects.LocalityOf(rings)
	if !ok {
		return nil
	}
	return &lay.Frame
}

// presetOrigin fills in where 0 0 lies, so that what is drawn and what is stored
// are laid out alike though other buildings come meanwhile.
func presetOrigin(f *web.Form, frame *defects.Frame) {
	if frame == nil || f.Values.Has("lon") {
		return
	}
	at := frame.Origin()
	f.Set("lon", strconv.FormatFloat(at.Lon, 'f', 7, 64)).Set("lat", strconv.FormatFloat(at.Lat, 'f', 7, 64))
}

// newBuildingPage shows the form with the outline that could be read from it.
func (s *Server) newBuildingPage(c *gin.Context, form *web.Form) (newBuildingView, error) {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return newBuildingView{}, err
	}
	buildings, err := s.reg.Buildings(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return newBuildingView{}, err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	presetOrigin(form, siteFrame(buildings))
	d := report.Draft{}
	if d.Frame, err = originOf(form); err != nil || d.Frame == nil {
		d.Frame = siteFrame(buildings)
	}
	if o, err := outlineOf(form); err == nil {
		if d.Frame == nil && len(o.ringsWGS) > 0 && len(o.ringsWGS[0]) > 0 {
			frame := defects.NewFrame(defects.Middle(o.ringsWGS[0]))
			d.Frame = &frame
		}
		d.Rings = o.inMetres(d.Frame)
	}
	return newBuildingView{
		frame: f, Form: form, Ways: wayOptions(), Units: unitOptions(), Drawing: template.HTML(report.DraftSVG(buildings, d)),
	}, nil
}

func (s *Server) showNewBuilding(c *gin.Context) error {
	v, err := s.newBuildingPage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "building_new", v)
}

// postNewBuilding shows what would become of the outline, or makes the building.
func (s *Server) postNewBuilding(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	n, err := newBuildingOf(form)
	var draft *draftView
	switch {
	case err != nil:
	case typed(form, "do") == "preview":
		draft, err = s.draftOf(c, n)
	default:
		if err = s.addBuilding(c, n); err == nil {
			return seeOther(c, sitePath(c.Param("site"))+"?done=added")
		}
	}
	v, r, err := s.newBuildingAgain(c, form, err)
	if err != nil {
		return err
	}
	v.Draft = draft
	return s.render(c, r.status, "building_new", v)
}

// newBuildingAgain is the page with what was typed, and with what was refused of
// it, if anything.
func (s *Server) newBuildingAgain(c *gin.Context, form *web.Form, refusedBy error) (newBuildingView, *refusal, error) {
	r := &refusal{status: http.StatusOK}
	if refusedBy != nil {
		var ok bool
		if r, ok = s.refused(c, form, onOutlineForm(form, refusedBy)); !ok {
			return newBuildingView{}, nil, refusedBy
		}
	}
	v, err := s.newBuildingPage(c, form)
	v.Notice = r.notice
	return v, r, err
}

func (s *Server) draftOf(c *gin.Context, n register.NewBuilding) (*draftView, error) {
	d, err := s.reg.DraftBuilding(c.Request.Context(), actorOf(c), c.Param("site"), n)
	if err != nil {
		return nil, err
	}
	return &draftView{Drafted: d, Area: defects.FootprintArea(d.Building)}, nil
}
