package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// addSettingPages adds the forms by which a site is set up.
func (s *Server) addSettingPages() {
	edit := may(defects.EditSite)
	s.page(http.MethodGet, "/sites/:site/settings", edit, s.showSettings)
	s.page(http.MethodPost, "/sites/:site/settings", edit, s.postSettings)
	s.page(http.MethodGet, "/sites/:site/buildings/new", edit, s.showNewBuilding)
	s.page(http.MethodPost, "/sites/:site/buildings/new", edit, s.postNewBuilding)
}

// settingsView is the form that changes a site's name and time zone.
type settingsView struct {
	frame
	Form *web.Form
}

func (s *Server) settingsPage(c *gin.Context) (settingsView, error) {
	f, err := s.onSite(c, "elevations")
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	form := web.NewForm("f").Set("version", strconv.Itoa(f.view.Version)).Set("name", f.view.Name).Set("time_zone", f.view.TimeZone)
	return settingsView{frame: f, Form: form}, err
}

func (s *Server) showSettings(c *gin.Context) error {
	v, err := s.settingsPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "settings", v)
}

func (s *Server) postSettings(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	name, zone := typed(form, "name"), typed(form, "time_zone")
	_, err = s.reg.UpdateSite(c.Request.Context(), actorOf(c), c.Param("site"), seenVersion(form), register.SitePatch{Name: &name, TimeZone: &zone})
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"))+"?done=saved")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.settingsPage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.view.Version))
	v.Form, v.Notice = form, r.notice
	s.tellWhoChanged(c, r, "site", v.Site.ID)
	return s.render(c, r.status, "settings", v)
}
