package server

import (
	"cmp"
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
}

// settingsView is the form that changes a site's name, its time zone, and by what
// photos are put on walls.
type settingsView struct {
	frame
	Form     *web.Form
	Readings []web.Option
}

func (s *Server) settingsPage(c *gin.Context) (settingsView, error) {
	f, err := s.onSite(c, "elevations")
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	form := web.NewForm("f").Set("version", strconv.Itoa(f.view.Version)).Set("name", f.view.Name).Set("time_zone", f.view.TimeZone).
		Set("face_threshold", faceThreshold(f.view.Site)).Set("accuracy", readingName(f.view.Accuracy))
	v := settingsView{frame: f, Form: form}
	for _, r := range defects.AccuracyReadings() {
		v.Readings = append(v.Readings, web.Option{Value: readingName(r), Text: r.Words()})
	}
	return v, err
}

// faceThreshold is a site's threshold, or the one that stands in for it.
func faceThreshold(s defects.Site) string {
	if s.FaceThreshold != nil {
		return s.FaceThreshold.String()
	}
	return strconv.FormatFloat(defects.FaceThreshold, 'f', 2, 64)
}

// asPhones is the name of the default way to read accuracies.
const asPhones = "phone"

func readingName(r defects.AccuracyReading) string {
	return cmp.Or(string(r), asPhones)
}

// accuracyNamed is the reading of a name; an unknown one is left to the register.
func accuracyNamed(name string) defects.AccuracyReading {
	if name == asPhones {
		return defects.AccuracyPhone
	}
	return defects.AccuracyReading(cmp.Or(name, "?"))
}

// settingsOf reads the form. What it does not bring stays as it was.
func settingsOf(form *web.Form) (register.SitePatch, error) {
	name, zone := typed(form, "name"), typed(form, "time_zone")
	patch := register.SitePatch{Name: &name, TimeZone: &zone}
	if form.Values.Has("accuracy") {
		reading := accuracyNamed(typed(form, "accuracy"))
		patch.Accuracy = &reading
	}
	var err error
	patch.FaceThreshold, err = typedDecimal(form, "face_threshold")
	return patch, err
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
	patch, err := settingsOf(form)
	if err == nil {
		_, err = s.reg.UpdateSite(c.Request.Context(), actorOf(c), c.Param("site"), seenVersion(form), patch)
	}
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
