package server

import (
	"html/template"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addSnagPages() {
	view := may(defects.ViewSite)
	s.page(http.MethodGet, "/sites/:site/snags", view, s.showSnags)
	s.page(http.MethodGet, "/sites/:site/snags/new", may(defects.RaiseSnag), s.showRaise)
	s.page(http.MethodPost, "/sites/:site/snags", may(defects.RaiseSnag), s.postRaise)
	s.page(http.MethodGet, "/sites/:site/snags/:number", view, s.showSnag)
	s.page(http.MethodPost, "/sites/:site/snags/:number/:step", view, s.postStep)
}

type snagsView struct {
	frame
	Items   []defects.SnagItem
	Next    string
	Filter  *web.Form
	Shown   []string
	MyGang  string
	Options filterOptions
	Walls   []web.Option
}

func (s *Server) showSnags(c *gin.Context) error {
	f, err := s.onSite(c, "snags")
	if err != nil {
		return err
	}
	ctx, a, form := c.Request.Context(), actorOf(c), queryForm(c, "filter")
	filter, err := readListFilter(form.Values.Get)
	if err != nil {
		return err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return err
	}
	page, err := s.reg.ListItems(ctx, a, f.Site.ID, typed(form, "elevation"), filter, register.Page{After: form.Values.Get("after")})
	if err != nil {
		return err
	}
	v := snagsView{
		frame: f, Items: page.Items, Next: nextPage(c, page.Next), Filter: form, MyGang: f.view.Gang,
		Walls: wallOptions(walls, "any elevation"),
	}
	if v.Options, err = s.filterOptions(ctx, a, f.Site.ID); err != nil {
		return err
	}
	v.Shown = shown(form, v.Options)
	return s.render(c, http.StatusOK, "snags", v)
}

// nextPage is the address of the page after this one, "" on the last.
func nextPage(c *gin.Context, after string) string {
	if after == "" {
		return ""
	}
	return withQuery(c, "after", after)
}

// wallOptions names each elevation with its building, since a closed select
// shows no group.
func wallOptions(walls []defects.Elevation, none string) []web.Option {
	out := []web.Option{{Text: none}}
	for _, e := range walls {
		out = append(out, web.Option{Value: e.ID, Text: e.Building + ", " + e.Name})
	}
	return out
}

// raiseView is the form that raises a snag.
type raiseView struct {
	frame
	Form       *web.Form
	Walls      []web.Option
	Codes      []web.Option
	Severities []web.Option
	Extents    []web.Option
	Zones      []web.Option
	Openings   []web.Option
	Wall       defects.Elevation
	Drawing    template.HTML
	Reading    *defects.Reading
	Verdict    template.HTML
	Photos     []defects.Photo
	Cautions   []defects.Caution
}

// raisePage loads what the form needs around what is typed in it.
func (s *Server) raisePage(c *gin.Context, form *web.Form) (raiseView, error) {
	f, err := s.onSite(c, "snags")
	if err != nil {
		return raiseView{}, err
	}
	f.Trail = []navLink{{Title: "Snags", Href: f.Path("snags")}}
	v := raiseView{
		frame: f, Form: form, Codes: codeOptions(), Severities: severityOptions("as the catalogue says"),
		Extents: extentOptions(), Zones: zoneOptions(),
	}
	ctx, a := c.Request.Context(), actorOf(c)
	if id := typed(form, "reading"); id != "" {
		rd, err := s.reg.Reading(ctx, a, f.Site.ID, id)
		if err != nil {
			return v, err
		}
		presetFromReading(form, rd)
		v.Reading, v.Verdict = &rd, numberLine(rd)
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return v, err
	}
	v.Walls = wallOptions(walls, "choose")
	for _, e := range walls {
		if e.ID == typed(form, "elevation") {
			v.Wall = e
			return v, s.loadRaiseWall(c, &v)
		}
	}
	return v, nil
}

// loadRaiseWall adds the drawing of the chosen wall and its photos.
func (s *Server) loadRaiseWall(c *gin.Context, v *raiseView) error {
	ctx, a := c.Request.Context(), actorOf(c)
	list, err := s.reg.SnagList(ctx, a, v.Site.ID, v.Wall.ID, register.ListFilter{})
	if err != nil {
		return err
	}
	photos, err := s.reg.ListPhotos(ctx, a, register.PhotoFilter{SiteID: v.Site.ID, ElevationID: v.Wall.ID}, register.Page{Limit: 24})
	if err != nil {
		return err
	}
	bay, _ := strconv.Atoi(v.Form.Values.Get("bay"))
	lift, _ := strconv.Atoi(v.Form.Values.Get("lift"))
	v.Photos, v.Openings = photos.Items, openingOptions(v.Wall)
	chosen := v.Form.Values["photos"]
	for _, id := range chosen[:min(len(chosen), 24)] { // one that was chosen before is offered, however old
		if slices.ContainsFunc(v.Photos, func(p defects.Photo) bool { return p.ID == id }) {
			continue
		}
		if p, err := s.reg.Photo(ctx, a, v.Site.ID, id); err == nil {
			v.Photos = append([]defects.Photo{p}, v.Photos...)
		}
	}
	v.Drawing = drawElevation(v.frame, list, bay, lift)
	return nil
}

func (s *Server) showRaise(c *gin.Context) error {
	v, err := s.raisePage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "raise", v)
}

// postRaise takes new photos in first, so that they are kept whatever becomes
// of the form, and then raises the snag with them.
func (s *Server) postRaise(c *gin.Context) error {
	form, files, err := s.readUpload(c, "f")
	if err != nil {
		return err
	}
	in, err := raiseInputOf(form)
	if err == nil {
		place := defects.Place{ElevationID: in.ElevationID, X: in.X, Z: in.Z, Bay: in.Bay, Lift: in.Lift, Opening: in.Opening}
		in.Photos, err = s.takeFiles(c, form, files, register.PhotoInput{Place: place, Kind: "detail"})
	}
	var sn defects.Snag
	if err == nil {
		sn, err = s.reg.RaiseSnag(c.Request.Context(), actorOf(c), c.Param("site"), in)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "snags", strconv.Itoa(sn.Number))+"?done=raised")
	}
	r, ok := s.refused(c, form, onRaiseForm(form, err))
	if !ok {
		return err
	}
	v, err := s.raisePage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "raise", v)
}
