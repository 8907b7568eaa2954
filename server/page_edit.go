package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

type editView struct {
	frame
	Elevation defects.Elevation
	Form      *web.Form
	Sides     []web.Option // of the footprint
}

func (s *Server) editPage(c *gin.Context) (editView, error) {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return editView{}, err
	}
	e, err := s.reg.Elevation(c.Request.Context(), actorOf(c), f.Site.ID, c.Param("elevation"))
	if err != nil {
		return editView{}, err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}, {Title: e.Building + ", " + e.Name, Href: f.Path("elevations", e.ID)}}
	return editView{frame: f, Elevation: e, Form: elevationForm(e)}, nil
}

// withSides adds the sides that the elevation may be on.
func (s *Server) withSides(c *gin.Context, v editView) (editView, error) {
	buildings, err := s.reg.Buildings(c.Request.Context(), actorOf(c), v.Site.ID)
	if err != nil {
		return v, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), v.Site.ID)
	for _, b := range buildings {
		if b.ID == v.Elevation.BuildingID {
			v.Sides = sideOptions(b, walls)
		}
	}
	return v, err
}

func (s *Server) showElevationEdit(c *gin.Context) error {
	v, err := s.editPage(c)
	if err != nil {
		return err
	}
	if v, err = s.withSides(c, v); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "elevation_edit", v)
}

func (s *Server) postElevationEdit(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	patch, err := elevationPatchOf(form)
	if err == nil {
		_, err = s.reg.UpdateElevation(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("elevation"), seenVersion(form), patch)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "elevations", c.Param("elevation"))+"?done=saved")
	}
	return s.editAgain(c, form, err, func(v *editView) { v.Form = form })
}

// postSide puts the elevation on another side of its building's footprint.
func (s *Server) postSide(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	court, edge, err := sideOf(form)
	if err == nil {
		var got register.Reshaped
		got, err = s.reg.AssignSide(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("elevation"), seenVersion(form), court, edge)
		if err == nil {
			return s.afterReshape(c, got)
		}
	}
	return s.editAgain(c, form, err, func(v *editView) { v.Form.Wrong, v.Form.Values["side"] = form.Wrong, form.Values["side"] })
}

// editAgain shows the page of an elevation again with what was refused; keep puts
// in what was typed.
func (s *Server) editAgain(c *gin.Context, form *web.Form, err error, keep func(*editView)) error {
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.editPage(c)
	if err != nil {
		return err
	}
	if v, err = s.withSides(c, v); err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Elevation.Version))
	keep(&v)
	v.Notice = r.notice
	s.tellWhoChanged(c, r, "elevation", v.Elevation.ID)
	return s.render(c, r.status, "elevation_edit", v)
}

type buildingView struct {
	frame
	Building defects.Building
	Form     *web.Form
}

func (s *Server) buildingPage(c *gin.Context) (buildingView, error) {
	f, err := s.onSite(c, "elevations")
	if err != nil {
		return buildingView{}, err
	}
	all, err := s.reg.Buildings(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return buildingView{}, err
	}
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	for _, b := range all {
		if b.ID == c.Param("building") {
			return buildingView{frame: f, Building: b, Form: buildingForm(b)}, nil
		}
	}
	return buildingView{}, defects.RefuseField(defects.NotFound, "building", "building_not_found", "the site has no such building")
}

func (s *Server) showBuilding(c *gin.Context) error {
	v, err := s.buildingPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "building", v)
}

func (s *Server) postBuilding(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	name, completed := typed(form, "name"), typed(form, "completed_on")
	patch := register.BuildingPatch{Name: &name, CompletedOn: &completed}
	months, err := typedWhole(form, "defects_months")
	patch.DefectsMonths = &months
	if err == nil {
		patch.Height, err = typedMetres(form, "height")
	}
	if err == nil {
		_, err = s.reg.UpdateBuilding(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("building"), seenVersion(form), patch)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"))+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.buildingPage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Building.Version))
	v.Form, v.Notice = form, r.notice
	s.tellWhoChanged(c, r, "building", v.Building.ID)
	return s.render(c, r.status, "building", v)
}
