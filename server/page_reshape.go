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

// outlineView is the page that moves and turns a building's outline or corrects
// its corners.
type outlineView struct {
	buildingView
	Move      *web.Form
	Corners   *web.Form
	Drawing   template.HTML
	Previewed bool // the drawing shows a move that is not saved
}

// outlinePage shows a building's outline; draft, if not nil, is drawn over it.
func (s *Server) outlinePage(c *gin.Context, move, corners *web.Form, draft *defects.Building) (outlineView, error) {
	b, err := s.buildingPage(c)
	if err != nil {
		return outlineView{}, err
	}
	all, err := s.reg.Buildings(c.Request.Context(), actorOf(c), b.Site.ID)
	if err != nil {
		return outlineView{}, err
	}
	b.Trail = append(b.Trail, navLink{Title: b.Building.Name, Href: b.Path("buildings", b.Building.ID)})
	v := outlineView{buildingView: b, Move: move, Corners: corners}
	for _, f := range []*web.Form{move, corners} {
		f.Values.Set("version", strconv.Itoa(b.Building.Version))
	}
	d := report.Draft{Frame: siteFrame(all)}
	if len(b.Building.Ring) > 0 {
		presetOrigin(corners, d.Frame)
		if frame, err := originOf(corners); err == nil && frame != nil {
			d.Frame = frame
		}
	}
	now := ringsFor(b.Building, d.Frame)
	corners.Set("corners", cornersText(now))
	d.Rings = now
	if draft != nil {
		d.Was, d.Rings = now, ringsFor(*draft, d.Frame)
		v.Previewed = true
	} else if o, err := outlineOf(corners); err == nil && len(corners.Wrong) == 0 {
		d.Rings = o.inMetres(d.Frame)
	}
	v.Drawing = template.HTML(report.DraftSVG(withoutBuilding(all, b.Building.ID), d))
	return v, nil
}

func withoutBuilding(all []defects.Building, id string) []defects.Building {
	var out []defects.Building
	for _, b := range all {
		if b.ID != id {
			out = append(out, b)
		}
	}
	return out
}

// ringsFor gives a building's rings in a frame, or in its own metres.
func ringsFor(b defects.Building, f *defects.Frame) [][]defects.XY {
	if f == nil || len(b.Ring) == 0 {
		return defects.Rings(b)
	}
	return defects.RingsIn(b, *f)
}

func (s *Server) showOutline(c *gin.Context) error {
	v, err := s.outlinePage(c, web.NewForm("m"), web.NewForm("f"), nil)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "outline", v)
}

// postOutline draws a move, or saves a move or the corners.
func (s *Server) postOutline(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	move, corners := web.NewForm("m"), form
	if do := typed(form, "do"); do == "preview-move" || do == "move" {
		form.Prefix = "m"
		move, corners = form, web.NewForm("f")
	}
	shape, err := reshapeOf(form)
	var draft *defects.Building
	switch {
	case err != nil:
	case typed(form, "do") == "preview-move":
		draft, err = s.movedDraft(c, *shape.Move)
	default:
		var got register.Reshaped
		got, err = s.reg.ReshapeBuilding(c.Request.Context(), actorOf(c), c.Param("site"), c.Param("building"), seenVersion(form), shape)
		if err == nil {
			return s.afterReshape(c, got)
		}
	}
	r := &refusal{status: http.StatusOK}
	if err != nil {
		var ok bool
		if r, ok = s.refused(c, form, onOutlineForm(form, err)); !ok {
			return err
		}
	}
	v, err := s.outlinePage(c, move, corners, draft)
	if err != nil {
		return err
	}
	if v.Notice = r.notice; r.err != nil {
		s.tellWhoChanged(c, r, "building", v.Building.ID)
	}
	return s.render(c, r.status, "outline", v)
}

// afterReshape leads to the photos that are offered anew, if there are any.
func (s *Server) afterReshape(c *gin.Context, got register.Reshaped) error {
	if got.Offered > 0 {
		return seeOther(c, sitePath(c.Param("site"), "photos")+"?offered=yes&done=reshaped")
	}
	return seeOther(c, sitePath(c.Param("site"))+"?done=saved")
}

// movedDraft is the building as a move would leave it.
func (s *Server) movedDraft(c *gin.Context, m defects.Move) (*defects.Building, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	v, err := s.buildingPage(c)
	if err != nil {
		return nil, err
	}
	moved := defects.Moved(v.Building, m)
	return &moved, nil
}

// reshapeOf reads a move or corners from their form.
func reshapeOf(f *web.Form) (register.Reshape, error) {
	if f.Prefix == "m" {
		var m defects.Move
		for name, to := range map[string]*defects.MM{"east_m": &m.East, "north_m": &m.North} {
			mm, err := typedMetres(f, name)
			if err != nil {
				return register.Reshape{}, err
			}
			if mm != nil {
				*to = *mm
			}
		}
		turn, err := typedDecimal(f, "turn_deg")
		if turn != nil {
			m.TurnDeg = *turn
		}
		return register.Reshape{Move: &m}, err
	}
	if typed(f, "corners") == "" {
		return register.Reshape{}, defects.RefuseField(defects.Invalid, "corners", "too_few_points", "an outline needs at least three corners")
	}
	o, err := outlineOf(f)
	if err != nil {
		return register.Reshape{}, err
	}
	if len(o.ringsWGS) > 0 {
		return register.Reshape{Ring: o.ringsWGS[0], Courts: o.ringsWGS[1:]}, nil
	}
	return register.Reshape{Plan: o.rings[0], PlanCourts: o.rings[1:]}, nil
}
