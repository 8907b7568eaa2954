package server

import (
	"mime/multipart"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// draftFields are what an offer keeps while its reading is being taken.
func draftFields() []string {
	return []string{"made_good.kind", "made_good.text", "made_good.product", "made_good.batch", "made_good.by", "photos"}
}

// answersTo lists the readings that may answer a snag, newest first: made since
// its instruction, at its place, and standing. Each says where it was made and
// how it is judged.
func answersTo(f frame, sn defects.Snag, readings []defects.Reading) []web.Option {
	out := []web.Option{{Text: "choose"}}
	for _, rd := range readings {
		if rd.ID == sn.ReadingID || rd.Withdrawn != "" || rd.Quantity != sn.Quantity ||
			!rd.MeasuredAt.After(sn.InstructedAt) || !defects.SamePlace(sn.Place, rd.Place) {
			continue
		}
		out = append(out, web.Option{
			Value: rd.ID, Selected: rd.Verdict.Outcome == defects.Pass,
			Text: defects.ReadingWords(rd) + ", " + outcomeWords(rd.Verdict.Outcome) + ", " + spotWords(rd.Place) + ", " + f.When(rd.MeasuredAt),
		})
	}
	return out
}

// spotWords says where on its elevation a reading was made.
func spotWords(p defects.Place) string {
	text := ""
	add := func(part string) {
		if text != "" {
			text += ", "
		}
		text += part
	}
	if p.Bay > 0 {
		add("bay " + strconv.Itoa(p.Bay))
	}
	if p.Lift > 0 {
		add("lift " + strconv.Itoa(p.Lift))
	}
	if p.X != nil && p.Z != nil {
		add("x " + p.X.Metres().String() + " m, z " + p.Z.Metres().String() + " m")
	}
	if p.Opening != "" {
		add(p.Opening)
	}
	if text == "" {
		return "somewhere on the elevation"
	}
	return text
}

// presetOffer chooses the newest reading that passes.
func (v *snagPage) presetOffer() {
	i := slices.IndexFunc(v.Readings, func(o web.Option) bool { return o.Selected })
	for _, open := range v.Open {
		if open.Step == defects.StepOffer && i >= 0 {
			open.Form.Set("reading", v.Readings[i].Value)
		}
	}
}

// resume unfolds an offer that was left to measure, with what had been typed
// and with the new reading chosen.
func (v *snagPage) resume(q url.Values) {
	if q.Get("step") != string(defects.StepOffer) {
		return
	}
	for i, open := range v.Open {
		if open.Step != defects.StepOffer {
			continue
		}
		v.Open[i].Opened = true
		for _, name := range append(draftFields(), "reading") {
			if q.Has(name) {
				open.Form.Values[name] = q[name]
			}
		}
	}
}

// measureFirst goes to the reading form and takes along what was typed of an
// offer. Photos that came with it are kept.
func (s *Server) measureFirst(c *gin.Context, number int, form *web.Form, files []*multipart.FileHeader) error {
	in := register.StepRequest{Step: defects.StepOffer}
	if err := s.addStepFiles(c, number, form, files, &in); err != nil {
		return s.refuseStep(c, in.Step, form, err)
	}
	view, err := s.reg.Snag(c.Request.Context(), actorOf(c), c.Param("site"), number)
	if err != nil {
		return err
	}
	f, err := s.onSite(c, "")
	if err != nil {
		return err
	}
	draft := url.Values{"step": {string(defects.StepOffer)}}
	for _, name := range draftFields() {
		if typed(form, name) != "" {
			draft[name] = form.Values[name]
		}
	}
	return seeOther(c, measureAgain(f, view.Snag)+"&"+url.Values{"offer": {draft.Encode()}}.Encode())
}

// backToOffer is the snag's page with the offer as it was left and a new
// reading chosen.
func backToOffer(siteID string, form *web.Form, readingID string) string {
	draft, err := url.ParseQuery(form.Values.Get("offer"))
	if err != nil {
		draft = url.Values{}
	}
	draft.Set("done", "measured")
	draft.Set("step", string(defects.StepOffer))
	draft.Set("reading", readingID)
	return sitePath(siteID, "snags", typed(form, "snag")) + "?" + draft.Encode() + "#step-offer"
}

// tellChange says who changed a snag since it was seen, and when.
func (v *snagPage) tellChange() {
	if len(v.History) == 0 {
		return
	}
	last := v.History[len(v.History)-1]
	v.Notice.Parts = append(v.Notice.Parts, sentence(last.Title)+" by "+last.By.Name+", "+string(last.By.Role)+", on "+v.When(last.At)+".")
}
