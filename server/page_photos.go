package server

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addPhotoPages() {
	view := may(defects.ViewSite)
	s.page(http.MethodGet, "/sites/:site/photos", view, s.showPhotos)
	s.page(http.MethodPost, "/sites/:site/photos", may(defects.PlacePhoto), s.postTogether)
	s.page(http.MethodGet, "/sites/:site/photos/:photo", view, s.showPhoto)
	s.page(http.MethodGet, "/sites/:site/photos/:photo/:variant", view, s.sendPhotoPage)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/place", may(defects.PlacePhoto), s.postPlace)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/overrule", may(defects.PlacePhoto), s.postOverrule)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/retry", may(defects.PlacePhoto), s.postRetry)
	s.page(http.MethodGet, "/sites/:site/take-in", may(defects.AddPhoto), s.showTakeIn)
	s.page(http.MethodPost, "/sites/:site/take-in/photos", may(defects.AddPhoto), s.postTakePhotos)
	s.page(http.MethodPost, "/sites/:site/take-in/readings", may(defects.AddReading), s.postTakeReadings)
	s.page(http.MethodPost, "/sites/:site/take-in/buildings", may(defects.EditSite), s.postTakeBuildings)
}

type photosView struct {
	frame
	Items  []defects.Photo
	Next   string
	Filter *web.Form
	Walls  []web.Option
	Stages []web.Option
	Names  map[string]string // elevation id to its words
	Copies int               // that are still being made

	Doubted []string // ids of photos whose wall is unlikely
}

func (s *Server) showPhotos(c *gin.Context) error {
	v, err := s.photosPage(c, queryForm(c, "filter"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "photos", v)
}

func (s *Server) photosPage(c *gin.Context, form *web.Form) (photosView, error) {
	f, err := s.onSite(c, "photos")
	if err != nil {
		return photosView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return photosView{}, err
	}
	filter := register.PhotoFilter{
		SiteID: f.Site.ID, ElevationID: typed(form, "elevation"), Stage: typed(form, "stage"),
		Gang: typed(form, "gang"), Unplaced: form.Has("unplaced", "yes"), Offered: form.Has("offered", "yes"),
	}
	page, err := s.reg.ListPhotos(c.Request.Context(), actorOf(c), filter, register.Page{Limit: 48, After: form.Values.Get("after")})
	if err != nil {
		return photosView{}, err
	}
	v := photosView{
		frame: f, Items: page.Items, Next: nextPage(c, page.Next), Filter: form, Walls: wallOptions(walls, "any elevation"),
		Stages: stageOptions("any stage"), Names: wallNames(walls),
	}
	for _, p := range page.Items {
		if p.Derived == "" {
			v.Copies++
		}
	}
	return v, nil
}

// postTogether places photos with their neighbours and shows what is left.
func (s *Server) postTogether(c *gin.Context) error {
	got, err := s.reg.PlaceTogether(c.Request.Context(), actorOf(c), c.Param("site"))
	if err != nil {
		return err
	}
	v, err := s.photosPage(c, queryForm(c, "filter"))
	if err != nil {
		return err
	}
	v.Doubted = got.Doubted
	v.Notice = &notice{Class: "good", Text: fmt.Sprintf("%d photos were looked at, each with those the same phone took before and after it; %d of them have a place now. "+
		"Those that are still open are below.", got.Looked, len(got.Placed))}
	return s.render(c, http.StatusOK, "photos", v)
}

func wallNames(walls []defects.Elevation) map[string]string {
	names := make(map[string]string, len(walls))
	for _, e := range walls {
		names[e.ID] = e.Building + ", " + e.Name
	}
	return names
}

// sendPhotoPage sends one form of a photo, or what stands in for it.
func (s *Server) sendPhotoPage(c *gin.Context) error {
	err := s.servePhoto(c, register.Variant(c.Param("variant")))
	if e, ok := asRefusal(err); ok && e.Code == "not_ready_yet" {
		return s.servePlaceholder(c)
	}
	return err
}

// servePlaceholder stands in for a view copy that is still being made; the
// script asks again.
func (s *Server) servePlaceholder(c *gin.Context) error {
	address, err := s.pages.Assets().URL("waiting.svg")
	if err != nil {
		return err
	}
	asset, _ := s.pages.Assets().Find(address)
	c.Header("Retry-After", "2")
	c.Data(http.StatusOK, asset.Type, asset.Content)
	return nil
}

func (s *Server) postPlace(c *gin.Context) error {
	form, err := readForm(c, "place")
	if err != nil {
		return err
	}
	patch, err := placePatchOf(form)
	if err == nil {
		_, err = s.reg.UpdatePhoto(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"), seenVersion(form), patch)
	}
	return s.photoChanged(c, form, err, "placed", form, func(*photoView) {})
}

// postRetry asks for another try at the view copies.
func (s *Server) postRetry(c *gin.Context) error {
	form, err := readForm(c, "retry")
	if err != nil {
		return err
	}
	_, err = s.reg.RetryCopies(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"))
	return s.photoChanged(c, form, err, "retried", nil, func(*photoView) {})
}

func (s *Server) postOverrule(c *gin.Context) error {
	form, err := readForm(c, "overrule")
	if err != nil {
		return err
	}
	reason := typed(form, "overrule")
	_, err = s.reg.UpdatePhoto(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"), seenVersion(form), register.PhotoPatch{Overrule: &reason})
	return s.photoChanged(c, form, err, "saved", nil, func(v *photoView) { v.Overrule = form })
}

// photoChanged answers a change of a photo: on to its page, or its page again
// with what was typed; place is the form that places it, when that was sent.
func (s *Server) photoChanged(c *gin.Context, form *web.Form, err error, done string, place *web.Form, keep func(*photoView)) error {
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "photos", c.Param("photo"))+"?done="+done)
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.photoPage(c, place)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Photo.Version))
	keep(&v)
	v.Notice = r.notice
	return s.render(c, r.status, "photo", v)
}
