package server

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/web"
)

// stated reports that a form says something of a zone.
func stated(form *web.Form) bool {
	for _, zone := range zoneWords() {
		if typed(form, "suction_"+string(zone)) != "" {
			return true
		}
	}
	return false
}

// presetZones fills in what is noted for a set.
func presetZones(form *web.Form, st defects.Statement) {
	if len(st.Zones) == 0 {
		return
	}
	form.Set("source", st.Source).Set("gamma_q", st.GammaQ.String())
	for _, z := range st.Zones {
		form.Set("suction_"+string(z.Zone), z.Suction.String())
		if z.Ordered.Sign() > 0 {
			form.Set("ordered_"+string(z.Zone), z.Ordered.String())
		}
	}
}

// presetArea fills in what is noted for an area of proof tests.
func presetArea(form *web.Form, line proofLine) {
	st := line.Set.Stated
	if st.Anchors == 0 || typed(form, line.Anchors) != "" {
		return
	}
	form.Set("source", st.Source).Set(line.Anchors, strconv.Itoa(st.Anchors))
	if st.Action != nil {
		form.Set(line.Action, st.Action.String())
	}
}

// postStatement notes what the designer states for a set.
func (s *Server) postStatement(c *gin.Context) error {
	form, err := readForm(c, "s")
	if err != nil {
		return err
	}
	v, err := s.setPage(c)
	if err != nil {
		return err
	}
	st, err := typedStatement(form, v.Set)
	if err == nil {
		_, err = s.reg.StateForSet(c.Request.Context(), actorOf(c), v.Site.ID, v.Set.ID, seenVersion(form), st)
	}
	if err == nil {
		return seeOther(c, v.Path("sets", v.Set.ID)+"?done=stated")
	}
	r, ok := s.refused(c, form, atArea(err, v.Set))
	if !ok {
		return err
	}
	if v.Set.Quantity == "proof_load" {
		return s.showProofSet(c, v, form, r)
	}
	return s.showPullOutSet(c, v, form, r)
}

// typedStatement reads the form of a set's page.
func typedStatement(form *web.Form, set defects.Set) (st defects.Statement, err error) {
	st.Source = typed(form, "source")
	if set.Quantity == "proof_load" {
		if st.Anchors, err = typedWhole(form, "anchors-"+set.ID); err == nil {
			st.Action, err = typedDecimal(form, "action-"+set.ID)
		}
		return st, err
	}
	var gammaQ defects.Decimal
	st.Zones, gammaQ, err = zoneActions(func(name string) string { return typed(form, name) })
	st.GammaQ = &gammaQ
	return st, err
}

// atArea puts a refusal at the form's own name of the field, which holds the set.
func atArea(err error, set defects.Set) error {
	e, ok := err.(*defects.Error)
	if !ok || set.Quantity != "proof_load" || e.Field != "anchors" && e.Field != "action" {
		return err
	}
	return atFieldOf(e, e.Field+"-"+set.ID)
}

func (s *Server) addStatementPage() {
	s.page(http.MethodPost, "/sites/:site/sets/:set/statement", may(defects.AddReading), s.postStatement)
}
