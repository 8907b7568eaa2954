package server

import (
	"math"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

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

// newBuildingOf reads the form.
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
	o, err := outlineOf(f)
	if err != nil {
		return n, err
	}
	if len(o.ringsWGS) > 0 {
		n.Ring, n.Courts = o.ringsWGS[0], o.ringsWGS[1:]
	} else {
		n.Plan, n.PlanCourts = o.rings[0], o.rings[1:]
	}
	return n, nil
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
