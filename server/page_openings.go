package server

import (
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/report"
	"storeyrod/web"
)

// spareRows are the empty rows of the table of openings, for new ones.
const spareRows = 3

// maxOpeningRows bounds the rows that are read from a form; the register takes
// fewer openings than that.
const maxOpeningRows = 1000

// openingsView is the page that places the openings of an elevation.
type openingsView struct {
	editView
	Rows    []int
	Filled  int // rows that hold an opening
	Kinds   []web.Option
	Drawing template.HTML
}

func openingKinds() []web.Option {
	out := make([]web.Option, 0, 4)
	for _, kind := range []string{"window", "door", "vent", "other"} {
		out = append(out, web.Option{Value: kind, Text: kind})
	}
	return out
}

// openingsForm presets one row an opening.
func openingsForm(e defects.Elevation) *web.Form {
	f := web.NewForm("o").Set("version", strconv.Itoa(e.Version)).Set("rows", strconv.Itoa(len(e.Openings)+spareRows))
	for i, o := range e.Openings {
		row := func(name, value string) { f.Set(fmt.Sprintf("%s-%d", name, i), value) }
		row("name", o.Name)
		row("kind", o.Kind)
		row("x", o.X.Metres().String())
		row("z", o.Z.Metres().String())
		row("width", o.Width.Metres().String())
		row("height", o.Height.Metres().String())
	}
	return f
}

// rowsOf is how many rows a form of openings has.
func rowsOf(f *web.Form) int {
	n, err := strconv.Atoi(f.Values.Get("rows"))
	if err != nil {
		return 0
	}
	return min(max(n, 0), maxOpeningRows)
}

// openingRows reads the rows that are filled in and not to be taken away. at tells
// which row each opening is from.
func openingRows(f *web.Form) (list []defects.Opening, at []int, err error) {
	list = []defects.Opening{}
	for i := range rowsOf(f) {
		name := func(n string) string { return fmt.Sprintf("%s-%d", n, i) }
		empty := true
		for _, n := range []string{"name", "x", "z", "width", "height"} {
			empty = empty && typed(f, name(n)) == ""
		}
		if empty || f.Has(name("drop"), "yes") {
			continue
		}
		o := defects.Opening{Name: typed(f, name("name")), Kind: typed(f, name("kind"))}
		for n, to := range map[string]*defects.MM{"x": &o.X, "z": &o.Z, "width": &o.Width, "height": &o.Height} {
			mm, err := typedMetres(f, name(n))
			if err != nil {
				return nil, nil, err
			}
			if mm == nil {
				return nil, nil, defects.RefuseField(defects.Invalid, name(n), "size_missing", "give it in metres")
			}
			*to = *mm
		}
		list, at = append(list, o), append(at, i)
	}
	return list, at, nil
}

// onOpeningRow puts a refusal of "openings[2].width" at the row it was typed in.
func onOpeningRow(at []int, err error) error {
	e, ok := asRefusal(err)
	if !ok {
		return err
	}
	var i int
	if n, _ := fmt.Sscanf(e.Field, "openings[%d]", &i); n != 1 || i < 0 || i >= len(at) {
		return err
	}
	_, part, found := strings.Cut(e.Field, "].")
	if !found {
		part = "x" // two that overlap
	}
	placed := *e
	placed.Field = fmt.Sprintf("%s-%d", part, at[i])
	return &placed
}

func (s *Server) openingsPage(c *gin.Context) (openingsView, error) {
	v, err := s.editPage(c)
	if err != nil {
		return openingsView{}, err
	}
	return openingsView{editView: v, Kinds: openingKinds()}.with(openingsForm(v.Elevation)), nil
}

// with is the page with a form of openings.
func (v openingsView) with(f *web.Form) openingsView {
	v.Form, v.Rows, v.Filled = f, nil, 0
	for i := range rowsOf(f) {
		if v.Rows = append(v.Rows, i); typed(f, fmt.Sprintf("name-%d", i)) != "" {
			v.Filled = i + 1
		}
	}
	drawn := v.Elevation
	if list, _, err := openingRows(f); err == nil {
		drawn.Openings = list
	}
	v.Drawing = template.HTML(report.OpeningsSVG(drawn))
	return v
}

func (s *Server) showOpenings(c *gin.Context) error {
	v, err := s.openingsPage(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "openings", v)
}

// postOpenings saves all openings at once: one event, however much was dragged.
func (s *Server) postOpenings(c *gin.Context) error {
	form, err := readForm(c, "o")
	if err != nil {
		return err
	}
	list, at, err := openingRows(form)
	if err == nil {
		_, err = s.reg.UpdateElevation(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("elevation"), seenVersion(form), register.ElevationPatch{Openings: &list})
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"), "elevations", c.Param("elevation"))+"?done=saved")
	}
	r, ok := s.refused(c, form, onOpeningRow(at, err))
	if !ok {
		return err
	}
	v, err := s.openingsPage(c)
	if err != nil {
		return err
	}
	form.Values.Set("version", strconv.Itoa(v.Elevation.Version))
	v = v.with(form)
	v.Notice = r.notice
	s.tellWhoChanged(c, r, "elevation", v.Elevation.ID)
	return s.render(c, r.status, "openings", v)
}
