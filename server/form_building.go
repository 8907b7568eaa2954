package server

import (
	"fmt"
	"math"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// newBuildingView is the form that types a building in metres.
type newBuildingView struct {
	frame
	Form *web.Form
	Ways []web.Option
}

func (s *Server) newBuildingPage(c *gin.Context, form *web.Form) (newBuildingView, error) {
	f, err := s.onSite(c, "elevations")
	f.Trail = []navLink{{Title: f.Site.Name, Href: f.Path()}}
	return newBuildingView{frame: f, Form: form, Ways: wayOptions()}, err
}

func (s *Server) showNewBuilding(c *gin.Context) error {
	v, err := s.newBuildingPage(c, queryForm(c, "f"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, "building_new", v)
}

func (s *Server) postNewBuilding(c *gin.Context) error {
	form, err := readForm(c, "f")
	if err != nil {
		return err
	}
	n, err := newBuildingOf(form)
	if err == nil {
		err = s.addBuilding(c, n)
	}
	if err == nil {
		return seeOther(c, sitePath(c.Param("site"))+"?done=added")
	}
	r, ok := s.refused(c, form, onBuildingForm(form, err))
	if !ok {
		return err
	}
	v, err := s.newBuildingPage(c, form)
	if err != nil {
		return err
	}
	v.Notice = r.notice
	return s.render(c, r.status, "building_new", v)
}

// addBuilding adds one building: a batch of one, whose refusal is the form's.
func (s *Server) addBuilding(c *gin.Context, n register.NewBuilding) error {
	taken, err := s.reg.AddBuildings(c.Request.Context(), actorOf(c), c.Param("site"), []register.NewBuilding{n})
	switch {
	case err != nil:
		return err
	case len(taken.Known) > 0:
		return defects.RefuseField(defects.Conflict, "name", "name_taken", "the site has a building of this name already")
	case len(taken.Refused) > 0:
		return taken.Refused[0].Err
	}
	return nil
}

// newBuildingOf reads the form: corners when any are typed, else a rectangle.
func newBuildingOf(f *web.Form) (register.NewBuilding, error) {
	n := register.NewBuilding{Name: typed(f, "name")}
	if n.Name == "" {
		return n, defects.RefuseField(defects.Invalid, "name", "name_missing", "give the building a name")
	}
	height, err := neededMetres(f, "height")
	if err != nil {
		return n, err
	}
	n.Height = height
	if typed(f, "corners") != "" {
		n.Plan, err = cornersOf(f.Values.Get("corners"))
		return n, err
	}
	length, err := neededMetres(f, "length")
	if err != nil {
		return n, err
	}
	depth, err := neededMetres(f, "depth")
	if err != nil {
		return n, err
	}
	for i, way := range wayOptions() {
		if i > 0 && way.Value == typed(f, "faces") {
			n.Plan = rectangle(float64(length)/1000, float64(depth)/1000, float64(i-1)*45)
			return n, nil
		}
	}
	return n, defects.RefuseField(defects.Invalid, "faces", "direction_missing", "say which way the long side faces")
}

func neededMetres(f *web.Form, name string) (defects.MM, error) {
	mm, err := typedMetres(f, name)
	if err != nil {
		return 0, err
	}
	if mm == nil || *mm <= 0 {
		return 0, defects.RefuseField(defects.Invalid, name, "bad_size", "give it in metres, above 0")
	}
	return *mm, nil
}

// cornersOf reads one corner a line: metres east and metres north of any point,
// with a semicolon or spaces between.
func cornersOf(text string) ([]defects.XY, error) {
	var plan []defects.XY
	for line := range strings.SplitSeq(text, "\n") {
		if strings.TrimSpace(line) == "" {
			continue
		}
		words := strings.Fields(strings.ReplaceAll(line, ";", " "))
		field := fmt.Sprintf("corners[%d]", len(plan))
		if len(words) != 2 {
			return nil, defects.RefuseField(defects.Invalid, field, "bad_row", "write metres east and metres north, such as 12.5 0")
		}
		var at [2]float64
		for i, word := range words {
			d, err := defects.ParseDecimal(word)
			if err != nil {
				return nil, atField(err, field)
			}
			at[i] = d.Float()
		}
		plan = append(plan, defects.XY{X: at[0], Y: at[1]})
	}
	return plan, nil
}

// rectangle is the outline of a building in metres east and north, whose long
// side faces a bearing in degrees.
func rectangle(length, depth, bearing float64) []defects.XY {
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	out, along := defects.XY{X: sin, Y: cos}, defects.XY{X: cos, Y: -sin}
	at := func(l, d float64) defects.XY {
		return defects.XY{X: along.X*l - out.X*d, Y: along.Y*l - out.Y*d}
	}
	return []defects.XY{at(0, 0), at(length, 0), at(length, depth), at(0, depth)}
}

// wayOptions are the eight directions, clockwise from north, after the empty
// choice.
func wayOptions() []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, way := range []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"} {
		out = append(out, web.Option{Value: way, Text: way})
	}
	return out
}

// onBuildingForm puts a refusal of the outline at the field it was typed in.
func onBuildingForm(f *web.Form, err error) error {
	e, ok := asRefusal(err)
	if !ok {
		return err
	}
	for _, name := range []string{"plan", "ring"} {
		rest, found := strings.CutPrefix(e.Field, name)
		if !found {
			continue
		}
		placed := *e
		placed.Field = "corners" + rest
		if typed(f, "corners") == "" {
			placed.Field = "length"
		}
		return &placed
	}
	return err
}
