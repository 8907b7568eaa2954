package server

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

func (s *Server) addFixingPages() {
	view := may(defects.ViewSite)
	s.page(http.MethodGet, "/sites/:site/proof-tests", view, s.showProofTests)
	s.page(http.MethodGet, "/sites/:site/fixings", view, s.showFixings)
	s.page(http.MethodGet, "/sites/:site/sample", may(defects.DrawSample), s.showSample)
	s.page(http.MethodGet, "/sites/:site/sample/lot", may(defects.DrawSample), s.lotFile)
}

// proofView is the areas for proof tests of a site, or the one of a set, with
// what is due in each for the numbers that the address states.
type proofView struct {
	frame
	Form    *web.Form
	Areas   []proofLine
	Caution string
}

// proofLine is one area with the names of its two fields.
type proofLine struct {
	register.ProofSheet
	Wall    string
	Anchors string
	Action  string
}

// proofLines reads what the form states of each area and works out what is due.
func (s *Server) proofLines(c *gin.Context, f frame, form *web.Form, only string) (lines []proofLine, r *refusal, err error) {
	ctx, a := c.Request.Context(), actorOf(c)
	sheets, err := s.reg.ProofSheets(ctx, a, f.Site.ID, nil)
	if err != nil {
		return nil, nil, err
	}
	walls, err := s.reg.Elevations(ctx, a, f.Site.ID)
	if err != nil {
		return nil, nil, err
	}
	names := wallNames(walls)
	var asked []register.ProofAsk
	for _, sheet := range sheets {
		if only != "" && sheet.Set.ID != only {
			continue
		}
		line := proofLine{ProofSheet: sheet, Wall: names[sheet.Set.Place.ElevationID], Anchors: "anchors-" + sheet.Set.ID, Action: "action-" + sheet.Set.ID}
		lines = append(lines, line)
		presetArea(form, line)
		if typed(form, line.Anchors) == "" {
			continue
		}
		ask := register.ProofAsk{SetID: sheet.Set.ID}
		if ask.Anchors, err = typedWhole(form, line.Anchors); err == nil {
			ask.Action, err = typedDecimal(form, line.Action)
		}
		if err != nil {
			refused, ok := s.refused(c, form, err)
			if !ok {
				return nil, nil, err
			}
			r = refused
			continue
		}
		asked = append(asked, ask)
	}
	if sheets, err = s.reg.ProofSheets(ctx, a, f.Site.ID, asked); err != nil {
		return nil, nil, err
	}
	for _, sheet := range sheets {
		for i := range lines {
			if lines[i].Set.ID != sheet.Set.ID {
				continue
			}
			lines[i].ProofSheet = sheet
			if sheet.Err != nil {
				r, _ = s.refused(c, form, atFieldOf(sheet.Err, lines[i].Anchors))
			}
		}
	}
	return lines, r, nil
}

// atFieldOf puts a refusal at another field than its own.
func atFieldOf(e *defects.Error, field string) error {
	moved := *e
	moved.Field = field
	return &moved
}

func (s *Server) showProofTests(c *gin.Context) error {
	f, err := s.onSite(c, "sets")
	if err != nil {
		return err
	}
	f.Trail = []navLink{{Title: "Test sets", Href: f.Path("sets")}}
	return s.renderProof(c, f, queryForm(c, "p"), nil, "proof_tests", "", func(v proofView) any { return v })
}

// proofSetView is one area as the page of its set.
type proofSetView struct {
	setView
	Proof proofView
}

func (s *Server) showProofSet(c *gin.Context, set setView, form *web.Form, r *refusal) error {
	return s.renderProof(c, set.frame, form, r, "set_proof", set.Set.ID, func(v proofView) any {
		set.Notice = v.Notice
		return proofSetView{setView: set, Proof: v}
	})
}

// renderProof shows areas by what the form states of them; r is why that was not
// noted, nil when nothing was refused.
func (s *Server) renderProof(c *gin.Context, f frame, form *web.Form, r *refusal, name, only string, view func(proofView) any) error {
	v := proofView{frame: f, Form: form, Caution: proofCaution}
	areas, wrong, err := s.proofLines(c, f, v.Form, only)
	if err != nil {
		return err
	}
	if v.Areas = areas; r == nil {
		r = wrong
	}
	status := http.StatusOK
	if r != nil {
		v.Notice, status = r.notice, r.status
	}
	return s.render(c, status, name, view(v))
}
