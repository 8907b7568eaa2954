package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// fixingsView is the fixing counts of one elevation against the ordered pattern.
type fixingsView struct {
	frame
	Form     *web.Form
	Walls    []web.Option
	Asked    bool
	Sheet    register.FixingSheet
	Wall     string
	Cautions []defects.Caution
}

// Titled is the defect that a short board shows, in the catalogue's words.
func (fixingsView) Titled(code string) string { return kindTitle(code) }

// Raise is where the snag of a short board is raised.
func (v fixingsView) Raise(l register.FixingLine) string {
	reading := ""
	if l.Reading != nil {
		reading = l.Reading.ID
	}
	return v.Path("snags", "new") + "?" + query("reading", reading, "code", l.Code, "zone", string(l.Verdict.Zone),
		"elevation", v.Sheet.Elevation.ID, "x", l.Left.Metres().String()).Encode()
}

func (s *Server) showFixings(c *gin.Context) error {
	f, err := s.onSite(c, "sets")
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: "Test sets", Href: f.Path("sets")}}
	walls, err := s.reg.Elevations(c.Request.Context(), actorOf(c), f.Site.ID)
	if err != nil {
		return err
	}
	v := fixingsView{frame: f, Form: queryForm(c, "f"), Walls: wallOptions(walls, "choose"), Cautions: structureCautions()}
	v.Form.Set("edge_width_m", usualEdgeWidth).Set("board_width_m", usualBoardWidth).Set("board_height_m", usualBoardHeight)
	status := http.StatusOK
	if wall := typed(v.Form, "elevation"); wall != "" {
		v.Wall = wallNames(walls)[wall]
		v.Sheet, err = s.fixingSheet(c, f, v.Form, wall)
		v.Asked = err == nil
	}
	if err != nil {
		r, ok := s.refused(c, v.Form, err)
		if !ok {
			return err
		}
		v.Notice, status = r.notice, r.status
	}
	if v.Asked {
		v.Form.Set("edge", v.Sheet.Edge.String()).Set("field", v.Sheet.Field.String())
	}
	return s.render(c, status, "fixings", v)
}

// fixingSheet reads the form, with the one board that may be typed into it.
func (s *Server) fixingSheet(c *gin.Context, f frame, form *web.Form, wall string) (register.FixingSheet, error) {
	ask, err := fixingAsk(wall, func(name string) string { return typed(form, name) })
	if err != nil {
		return register.FixingSheet{}, err
	}
	if typed(form, "counted") != "" {
		board := defects.BoardCount{Width: ask.Width, Height: ask.Height}
		if board.Counted, err = typedWhole(form, "counted"); err != nil {
			return register.FixingSheet{}, err
		}
		left, err := typedMetres(form, "left_m")
		if err != nil {
			return register.FixingSheet{}, err
		}
		if left == nil {
			return register.FixingSheet{}, defects.RefuseField(defects.Invalid, "left_m", "left_missing", "say where along the wall the board begins")
		}
		board.Left = *left
		ask.Boards = append(ask.Boards, board)
	}
	return s.reg.FixingSheet(c.Request.Context(), actorOf(c), f.Site.ID, ask)
}

// PerM2 prints a density as counted.
func (fixingsView) PerM2(d float64) string { return strconv.FormatFloat(d, 'f', 1, 64) }
