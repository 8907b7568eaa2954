package server

import (
	"errors"
	"mime"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/evidence"
	"storeyrod/web"
)

func (s *Server) addPhotoPages() {
	view := may(defects.ViewSite)
	s.page(http.MethodGet, "/sites/:site/photos", view, s.showPhotos)
	s.page(http.MethodGet, "/sites/:site/photos/:photo", view, s.showPhoto)
	s.page(http.MethodGet, "/sites/:site/photos/:photo/:variant", view, s.sendPhotoPage)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/place", may(defects.PlacePhoto), s.postPlace)
	s.page(http.MethodPost, "/sites/:site/photos/:photo/overrule", may(defects.PlacePhoto), s.postOverrule)
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
}

func (s *Server) showPhotos(c *gin.Context) error {
	f, err := s.onSite(c, "photos")
	if err != nil {
		return err
	}
	form := queryForm(c, "filter")
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	filter := register.PhotoFilter{
		SiteID: f.Site.ID, ElevationID: typed(form, "elevation"), Stage: typed(form, "stage"),
		Gang: typed(form, "gang"), Unplaced: form.Has("unplaced", "yes"),
	}
	page, err := s.reg.ListPhotos(c.Request.Context(), actorOf(c), filter, register.Page{Limit: 48, After: form.Values.Get("after")})
	if err != nil {
		return err
	}
	v := photosView{
		frame: f, Items: page.Items, Next: nextPage(c, page.Next), Filter: form, Walls: wallOptions(walls, "any elevation"),
		Stages: stageOptions("any stage"), Names: wallNames(walls),
	}
	return s.render(c, http.StatusOK, "photos", v)
}

func wallNames(walls []defects.Elevation) map[string]string {
	names := make(map[string]string, len(walls))
	for _, e := range walls {
		names[e.ID] = e.Building + ", " + e.Name
	}
	return names
}

// photoView is one photo: what it says of itself and where it belongs.
type photoView struct {
	frame
	Photo    defects.Photo
	Taken    string
	Sure     bool
	Wall     string
	Place    *web.Form
	Overrule *web.Form
	Walls    []web.Option
	Stages   []web.Option
	History  []evidence.Entry
}

func (s *Server) photoPage(c *gin.Context) (photoView, error) {
	f, err := s.onSite(c, "photos")
	if err != nil {
		return photoView{}, err
	}
	ctx, a := c.Request.Context(), actorOf(c)
	p, err := s.reg.Photo(ctx, a, f.Site.ID, c.Param("photo"))
	if err != nil {
		return photoView{}, err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return photoView{}, err
	}
	f.Trail = []navLink{{Title: "Photos", Href: f.Path("photos")}}
	v := photoView{
		frame: f, Photo: p, Walls: wallOptions(walls, "on no elevation"), Stages: stageOptions("not stated"),
		Wall: wallNames(walls)[p.Place.ElevationID], Place: placeForm(p), Overrule: web.NewForm("overrule"),
	}
	v.Overrule.Set("version", strconv.Itoa(p.Version)).Set("overrule", p.Overruled)
	if at, sure := p.TakenAt(f.zone); !at.IsZero() {
		v.Taken, v.Sure = f.When(at), sure
	}
	if !f.view.Role.May(defects.ViewLog) {
		return v, nil
	}
	v.History, err = s.reg.EntriesOf(ctx, a, f.Site.ID, "photo", p.ID)
	return v, err
}

func (s *Server) showPhoto(c *gin.Context) error {
	v, err := s.photoPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "photo", v)
}

// sendPhotoPage sends one form of a photo. The bytes never change, so the browser
// may keep view copies for a day; originals it asks for each time.
func (s *Server) sendPhotoPage(c *gin.Context) (err error) {
	variant := register.Variant(c.Param("variant"))
	opened, err := s.reg.OpenPhoto(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"), variant)
	if e, ok := asRefusal(err); ok && e.Code == "not_ready_yet" {
		return s.servePlaceholder(c)
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, opened.Body.Close()) }()
	h := c.Writer.Header()
	h.Set("Cache-Control", "private, max-age=86400")
	if variant == register.Original {
		h.Set("Cache-Control", "private, no-cache")
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": originalName(opened.Photo, opened.Type)}))
	}
	h.Set("Content-Type", opened.Type)
	h.Set("ETag", `"`+opened.Photo.SHA256[:32]+"-"+string(variant)+`"`)
	http.ServeContent(c.Writer, c.Request, "", time.Time{}, opened.Body)
	return nil
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
	return s.photoChanged(c, form, err, "placed", func(v *photoView) { v.Place = form })
}

func (s *Server) postOverrule(c *gin.Context) error {
	form, err := readForm(c, "overrule")
	if err != nil {
		return err
	}
	reason := typed(form, "overrule")
	_, err = s.reg.UpdatePhoto(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("photo"), seenVersion(form), register.PhotoPatch{Overrule: &reason})
	return s.photoChanged(c, form, err, "saved", func(v *photoView) { v.Overrule = form })
}

// photoChanged answers a change of a photo: on to its page, or its page again
// with what was typed.
func (s *Server) photoChanged(c *gin.Context, form *web.Form, err error, done string, keep func(*photoView)) error {
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "photos", c.Param("photo"))+"?done="+done)
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.photoPage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Photo.Version))
	keep(&v)
	v.Notice = r.notice
	return s.render(c, r.status, "photo", v)
}
