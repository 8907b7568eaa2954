package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// pullOutView is a pull-out set with its working, and the anchors by zone that
// follow from it for what is typed into the page's own address.
type pullOutView struct {
	setView
	Sheet   register.PullOutSheet
	Form    *web.Form
	Zones   []zoneFields
	Lines   []register.AnchorLine
	Caution string
}

// zoneFields names the two fields of a zone.
type zoneFields struct {
	Zone             defects.Zone
	Suction, Ordered string
	Agreed           *defects.Ordered // by the project's limits
}

// Title names the zone on the form.
func (z zoneFields) Title() string { return sentence(string(z.Zone) + " zone") }

// Lowest lists the loads that were averaged.
func (v pullOutView) Lowest() string { return defects.StepWords(v.Sheet.Now.PullOut.Lowest) }

// Steps lists the characteristic values that are allowed, "" for any.
func (v pullOutView) Steps() string { return defects.StepWords(v.Sheet.Now.PullOut.Rule.Steps) }

// Void reports that the set counts for nothing.
func (v pullOutView) Void() bool {
	reason := v.Sheet.Now.Verdict.Reason
	return reason == defects.ReasonCalibrationExpired || reason == defects.ReasonFailureMode
}

// Short reports that there are too few tests.
func (v pullOutView) Short() bool { return v.Sheet.Now.Verdict.Reason == defects.ReasonTooFew }

// Differs reports that the readings as they stand give another outcome than the
// one on record, which stays until somebody judges anew.
func (v pullOutView) Differs() bool {
	return !v.Sheet.Hidden && v.Sheet.Now.Verdict.Outcome != v.Set.Verdict.Outcome
}

// showPullOutSet shows the working. What the form states goes before what is
// noted for the set; r is why it was not noted, nil when nothing was refused.
func (s *Server) showPullOutSet(c *gin.Context, set setView, form *web.Form, r *refusal) error {
	ctx, a := c.Request.Context(), actorOf(c)
	sheet, err := s.reg.PullOutSheet(ctx, a, set.Site.ID, set.Set.ID)
	if err != nil {
		return err
	}
	v := pullOutView{setView: set, Sheet: sheet, Form: form, Caution: pullOutCaution}
	if sheet.HasDesign() && !stated(form) {
		presetZones(form, set.Set.Stated)
	}
	for _, zone := range zoneWords() {
		z := zoneFields{Zone: zone, Suction: "suction_" + string(zone), Ordered: "ordered_" + string(zone)}
		for _, o := range sheet.Ordered {
			if o.Zone == zone {
				z.Agreed = &o
			}
		}
		v.Zones = append(v.Zones, z)
	}
	status := http.StatusOK
	if r == nil && stated(form) {
		if v.Lines, r, err = s.anchorLines(c, sheet, v.Form); err != nil {
			return err
		}
	}
	if r != nil {
		v.Notice, status = r.notice, r.status
	}
	v.Form.Set("gamma_q", gammaQUsual)
	for _, z := range v.Zones {
		if z.Agreed != nil {
			v.Form.Set(z.Ordered, z.Agreed.PerM2.String())
		}
	}
	return s.render(c, status, "set_pullout", v)
}

// anchorLines works out the anchors, or says on the form why it cannot.
func (s *Server) anchorLines(c *gin.Context, sheet register.PullOutSheet, form *web.Form) ([]register.AnchorLine, *refusal, error) {
	actions, gammaQ, err := zoneActions(func(name string) string { return typed(form, name) })
	var lines []register.AnchorLine
	if err == nil {
		lines, err = sheet.Anchors(actions, gammaQ)
	}
	if err == nil {
		return lines, nil, nil
	}
	r, ok := s.refused(c, form, err)
	if !ok {
		return nil, nil, err
	}
	return nil, r, nil
}

// bondView is a set of pull-off tests with a form that works one out.
type bondView struct {
	setView
	Sheet register.BondSheet
	Form  *web.Form
}

// Enter is where a test that was worked out is entered, with all that is known
// of it filled in.
func (v bondView) Enter() string {
	t := v.Sheet.Trial
	return v.Path("readings", "new") + "?" + query("set", v.Set.ID, "quantity", "bond_strength", "value", t.Strength.Round(4).String(),
		"dolly", t.Test.Dolly, "failure_plane", t.Test.Plane, "elevation", v.Set.Place.ElevationID, "stage", v.Set.Stage).Encode()
}

func (s *Server) showBondSet(c *gin.Context, set setView) error {
	v := bondView{setView: set, Form: queryForm(c, "t")}
	ctx, a := c.Request.Context(), actorOf(c)
	trial, err := trialTest(typed(v.Form, "peak_N"), typed(v.Form, "dolly"), typed(v.Form, "failure_plane"))
	if err == nil {
		v.Sheet, err = s.reg.BondSheet(ctx, a, set.Site.ID, set.Set.ID, trial)
	}
	status := http.StatusOK
	if err != nil {
		r, ok := s.refused(c, v.Form, err)
		if !ok {
			return err
		}
		v.Notice, status = r.notice, r.status
		if v.Sheet, err = s.reg.BondSheet(ctx, a, set.Site.ID, set.Set.ID, nil); err != nil {
			return err
		}
	}
	return s.render(c, status, "set_bond", v)
}
