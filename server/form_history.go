package server

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/web"
)

// eventView is one line of a snag's history in words.
type eventView struct {
	Title  string
	At     time.Time
	By     defects.Person
	Device string
	Before defects.State
	After  defects.State
	Round  int
	Lines  []string
	Photos []string
}

func eventsOf(history []defects.SnagEvent) []eventView {
	out := make([]eventView, 0, len(history))
	for _, e := range history {
		v := eventView{
			Title: eventTitle(e), At: e.Input.At, By: e.Input.By, Device: e.Device, Before: e.Before, After: e.After,
			Round: e.Round, Lines: eventLines(e.Input),
		}
		for _, p := range e.Input.Photos {
			v.Photos = append(v.Photos, p.ID)
		}
		out = append(out, v)
	}
	return out
}

func eventTitle(e defects.SnagEvent) string {
	in := e.Input
	switch {
	case in.Step == defects.StepRaise:
		return "raised"
	case in.Step == defects.StepClose && e.After != defects.Closed:
		return "first signature"
	case in.Step == defects.StepConcede:
		return map[string]string{
			defects.PartAsk: "concession asked for", defects.PartGrant: "concession granted",
			defects.PartRefuse: "concession refused",
		}[in.Concession.Part]
	}
	return map[defects.Step]string{
		defects.StepInstruct: "instructed", defects.StepAcknowledge: "acknowledged", defects.StepOffer: "offered", defects.StepRefuse: "refused",
		defects.StepClose: "closed", defects.StepDispute: "disputed", defects.StepDecide: "decided", defects.StepDefer: "deferred",
		defects.StepWithdraw: "withdrawn", defects.NoteReadingWithdrawn: "reading withdrawn", defects.StepReopen: "reopened",
	}[in.Step]
}

// eventLines says what a step brought, one fact a line.
func eventLines(in defects.StepInput) []string {
	var lines []string
	add := func(label, value string) {
		if value != "" {
			lines = append(lines, strings.TrimPrefix(label+": "+value, ": "))
		}
	}
	add("", in.Text)
	add("due", web.Day(in.Due))
	add("until", in.Event)
	add("access", in.Access)
	if in.Step != defects.StepRaise {
		add("gang", in.Gang)
	}
	add("planned for", web.Day(in.PlannedOn))
	add("ground", string(in.Ground))
	if in.Step == defects.StepDecide {
		add("ruling", map[bool]string{true: "the defect stands", false: "the defect falls"}[in.Stands])
	}
	add("inspected", in.Inspection)
	if in.Step == defects.StepOffer && slices.ContainsFunc(in.Photos, defects.EvidencePhoto.ReceivedOnly) {
		add("", "time of the photo not proven: it tells none, and was received after the instruction")
	}
	add(in.MadeGood.Kind, in.MadeGood.Text)
	add("product", strings.TrimSuffix(in.MadeGood.Product+", batch "+in.MadeGood.Batch, ", batch "))
	add("made good by", in.MadeGood.ByName)
	if in.Reading != nil {
		add("reading", in.Reading.Text+", "+string(in.Reading.Outcome))
	}
	add("area", in.Concession.Area)
	add("conditions", in.Concession.Conditions)
	add("expires", web.Day(in.Concession.Expires))
	add("document", in.Concession.Document)
	return lines
}

// presetQuery encodes what a link presets, without empty fields.
func presetQuery(fields map[string]string) string {
	q := url.Values{}
	for name, value := range fields {
		if value != "" {
			q.Set(name, value)
		}
	}
	return q.Encode()
}
