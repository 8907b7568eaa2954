package server

import (
	"mime/multipart"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"storeyrod/defects"
	"storeyrod/defects/register"
	"storeyrod/web"
)

// stepForm is the form of one step that the person may take now.
type stepForm struct {
	Step   defects.Step
	Part   string
	Title  string
	Needs  []string
	Form   *web.Form
	Opened bool // shown unfolded: it was refused just now
}

// stepPrefix keeps the ids of the steps' fields apart on the page.
func stepPrefix(step, part string) string {
	return strings.TrimSuffix(step+"-"+part, "-")
}

// stepForms makes a form for each step the person may take, one for each part
// of a concession, and gives the steps he may not take with the reasons. Who
// acknowledges does so for his own gang, when he has one.
func stepForms(view register.SnagView, gang string) (open []stepForm, others []register.StepOffered) {
	for _, offered := range view.Steps {
		if !offered.May {
			others = append(others, offered)
			continue
		}
		parts := []string{""}
		if offered.Step == defects.StepConcede {
			parts = offered.Parts
		}
		for _, part := range parts {
			form := web.NewForm(stepPrefix(string(offered.Step), part)).Set("version", strconv.Itoa(view.Snag.Version)).
				Set("concession.part", part)
			if offered.Step == defects.StepAcknowledge {
				form.Set("gang", gang)
			}
			form.Set("gang", view.Snag.Gang)
			second := slices.Contains(offered.Parts, defects.PartSecond)
			open = append(open, stepForm{Step: offered.Step, Part: part, Title: stepTitle(offered.Step, part, second), Needs: offered.Needs, Form: form})
		}
	}
	return open, others
}

func stepTitle(step defects.Step, part string, second bool) string {
	switch {
	case second:
		return "Give the second signature"
	case step == defects.StepConcede && part == defects.PartAsk:
		return "Ask for a concession"
	case step == defects.StepConcede && part == defects.PartGrant:
		return "Grant the concession"
	case step == defects.StepConcede:
		return "Refuse the concession"
	}
	return map[defects.Step]string{
		defects.StepInstruct: "Instruct to make good", defects.StepAcknowledge: "Acknowledge and plan", defects.StepOffer: "Offer as made good",
		defects.StepRefuse: "Refuse the offer", defects.StepClose: "Close", defects.StepDispute: "Dispute",
		defects.StepDecide: "Decide the dispute", defects.StepDefer: "Defer", defects.StepWithdraw: "Withdraw",
		defects.StepReopen: "Reopen",
	}[step]
}

// keep puts a refused form back on the page, with the version that holds now.
// When the step is not open any more, what was typed is shown as text.
func (v *snagPage) keep(step defects.Step, form *web.Form) {
	for i, open := range v.Open {
		if open.Step == step && open.Part == typed(form, "concession.part") {
			form.Values.Set("version", strconv.Itoa(v.Snag.Version))
			v.Open[i].Form, v.Open[i].Opened = form, true
			return
		}
	}
	for name, values := range form.Values {
		value := strings.Join(values, ", ")
		switch name {
		case "version", "photos", "reading", "made_good.by", "concession.part": // not typed, but chosen by an id
			continue
		}
		if value != "" {
			v.Kept = append(v.Kept, keptValue{Name: formLabel(form.Prefix, "", name), Value: web.Day(value)})
		}
	}
	slices.SortFunc(v.Kept, func(a, b keptValue) int { return strings.Compare(a.Name, b.Name) })
}

// stepRequestOf reads the form of a step; the register reads only the fields
// the step needs.
func stepRequestOf(step defects.Step, f *web.Form) (register.StepRequest, error) {
	in := register.StepRequest{
		Step: step, Text: typed(f, "text"), Due: typed(f, "due"), Gang: typed(f, "gang"), PlannedOn: typed(f, "planned_on"),
		Ground: defects.DisputeGround(typed(f, "ground")), Inspection: typed(f, "inspection"), ReadingID: typed(f, "reading"),
		Event: typed(f, "event"), Access: typed(f, "access"), Confirmed: f.Has("confirmed", "yes"),
		MadeGood: defects.MakingGood{
			Kind: typed(f, "made_good.kind"), Text: typed(f, "made_good.text"),
			Product: typed(f, "made_good.product"), Batch: typed(f, "made_good.batch"), ByID: typed(f, "made_good.by"),
		},
		Concession: defects.ConcessionInput{
			Part: typed(f, "concession.part"), Area: typed(f, "concession.area"),
			Conditions: typed(f, "concession.conditions"), Expires: typed(f, "concession.expires"), Document: typed(f, "concession.document"),
		},
	}
	if ruling := typed(f, "stands"); ruling != "" {
		stands := ruling == "stands"
		in.Stands = &stands
	}
	var err error
	if in.Concession.Deviation, err = typedDecimal(f, "concession.deviation"); err != nil {
		return in, err
	}
	if in.Concession.From, err = typedWhole(f, "concession.from"); err != nil {
		return in, err
	}
	if started := typed(f, "made_good.started"); started != "" {
		if in.MadeGood.Started, err = time.Parse(time.RFC3339, started); err != nil {
			return in, defects.RefuseField(defects.Invalid, "made_good.started", "bad_time", "write date, time and offset as in 2026-03-31T09:30:00+01:00")
		}
	}
	return in, nil
}

// addStepFiles takes the photos of a step in, at the place of the snag.
func (s *Server) addStepFiles(c *gin.Context, number int, form *web.Form, files []*multipart.FileHeader, in *register.StepRequest) error {
	photo := register.PhotoInput{Kind: "detail"}
	if in.Step == defects.StepOffer {
		photo.Kind = "after"
	}
	if len(files) > 0 {
		view, err := s.reg.Snag(c.Request.Context(), actorOf(c), c.Param("site"), number)
		if err != nil {
			return err
		}
		photo.Place, photo.Stage = view.Snag.Place, view.Snag.Stage
	}
	var err error
	in.Photos, err = s.takeFiles(c, form, files, photo)
	return err
}

// measureAgain is the address of the reading form, preset to measure a snag's
// quantity again at its place.
func measureAgain(f frame, sn defects.Snag) string {
	q := map[string]string{
		"quantity": sn.Quantity, "elevation": sn.Place.ElevationID, "opening": sn.Place.Opening,
		"zone": string(sn.Place.Zone), "stage": sn.Stage, "gang": sn.Gang, "snag": strconv.Itoa(sn.Number),
	}
	if sn.Place.X != nil && sn.Place.Z != nil {
		q["x_m"], q["z_m"] = sn.Place.X.Metres().String(), sn.Place.Z.Metres().String()
	}
	if sn.Place.Bay > 0 {
		q["bay"] = strconv.Itoa(sn.Place.Bay)
	}
	if sn.Place.Lift > 0 {
		q["lift"] = strconv.Itoa(sn.Place.Lift)
	}
	return f.Path("readings", "new") + "?" + presetQuery(q)
}
