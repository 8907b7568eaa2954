package server

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// copyView is the page that copies an elevation to others of its house type.
type copyView struct {
	editView
	Parts   []web.Option
	Targets []copyLine
	Others  int  // that are longer or shorter by more than may be asked for
	Strange bool // what would lie outside was refused; the page asks
}

// copyLine is an elevation that may be copied to, the likeliest first.
type copyLine struct {
	defects.Elevation
	Value string // id and version, as the form sends it
	Off   defects.MM
	Fits  bool // within the tolerance that is taken when none is typed
}

func (s *Server) copyPage(c *gin.Context, form *web.Form) (copyView, error) {
	e, err := s.editPage(c)
	if err != nil {
		return copyView{}, err
	}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), e.Site.ID)
	if err != nil {
		return copyView{}, err
	}
	v := copyView{editView: e, Parts: partOptions()}
	v.Form = form
	for _, w := range walls {
		if w.ID == e.Elevation.ID {
			continue
		}
		off := max(w.Length-e.Elevation.Length, e.Elevation.Length-w.Length)
		if off > defects.MaxCopyTolerance {
			v.Others++
			continue
		}
		v.Targets = append(v.Targets, copyLine{w, fmt.Sprintf("%s@%d", w.ID, w.Version), off, off <= defects.CopyTolerance})
	}
	slices.SortStableFunc(v.Targets, func(x, y copyLine) int {
		return cmp.Or(-cmp.Compare(truth(x.Fits), truth(y.Fits)), cmp.Compare(x.Off, y.Off))
	})
	return v, nil
}

func partOptions() []web.Option {
	text := map[string]string{"outline": "Height and base line, from which the coursing starts", "bays": "Bays", "lifts": "Lifts", "openings": "Openings"}
	return each(register.CopyParts(), func(p register.CopyPart) web.Option { return web.Option{Value: p.Word, Text: text[p.Word]} })
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (s *Server) showCopy(c *gin.Context) error {
	form := web.NewForm("c")
	for _, part := range register.CopyParts() {
		form.Values.Add("parts", part.Word)
	}
	form.Set("tolerance", defects.CopyTolerance.Metres().String())
	v, err := s.copyPage(c, form)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "copy", v)
}

func (s *Server) postCopy(c *gin.Context) error {
	form, err := readForm(c, "c")
	if err != nil {
		return err
	}
	what, err := copyOf(form)
	if err == nil {
		_, err = s.reg.CopyElevation(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("elevation"), what)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"))+"?done=copied")
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return err
	}
	v, err := s.copyPage(c, form)
	if err != nil {
		return err
	}
	v.Notice, v.Strange = r.notice, r.err.CodeOrKind() == "things_outside"
	return s.render(c, r.status, "copy", v)
}

// copyOf reads what is to be copied where to.
func copyOf(f *web.Form) (register.ElevationCopy, error) {
	c := register.ElevationCopy{Anyway: f.Has("anyway", "yes")}
	for _, value := range f.Values["to"] {
		id, version, _ := strings.Cut(value, "@")
		n, err := strconv.Atoi(version)
		if err != nil {
			return c, defects.RefuseField(defects.Invalid, "to", "bad_target", "load the page again")
		}
		c.To = append(c.To, register.CopyTarget{ID: id, Version: n})
	}
	tolerance, err := typedMetres(f, "tolerance")
	if err != nil {
		return c, err
	}
	c.Options, err = register.CopyOptionsOf(f.Values["parts"], f.Has("mirrored", "yes"), tolerance)
	return c, err
}
