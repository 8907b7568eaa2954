package server

import (
	"context"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// stepSummaries say what each step is for.
var stepSummaries = map[defects.Step]string{
	defects.StepInstruct:    "Order the making good, by when",
	defects.StepAcknowledge: "Accept the instruction: gang and planned date",
	defects.StepOffer:       "Say it is ready to look at again, with an after-photo and a new reading",
	defects.StepRefuse:      "Do not accept it; a new round starts",
	defects.StepClose:       "Accept it as finished; a critical one needs two people",
	defects.StepDispute:     "Do not agree that it is a defect, or yours",
	defects.StepDecide:      "Decide a dispute",
	defects.StepDefer:       "Agree a later date or event",
	defects.StepConcede:     "Ask for, grant or refuse a concession",
	defects.StepWithdraw:    "Take it back with a reason; it stays in the register",
	defects.StepReopen:      "Bring a closed one back to life within the defects period",
}

// Step is everything a step may be taken with; each takes what it needs.
type Step struct {
	Text       string         `json:"text,omitempty" doc:"instruction, reason, ruling, what was seen"`
	Due        string         `json:"due,omitempty" doc:"date: instruct, defer"`
	Gang       string         `json:"gang,omitempty"`
	PlannedOn  string         `json:"planned_on,omitempty" doc:"date: acknowledge"`
	Ground     string         `json:"ground,omitempty" doc:"dispute: not ours, within tolerance, measured wrongly, design, damage by others"`
	Stands     *bool          `json:"stands,omitempty" doc:"decide: does the defect stand?"`
	Inspection string         `json:"inspection,omitempty" doc:"close, refuse: on-site or from-photo"`
	MadeGood   *MadeGood      `json:"made_good,omitempty" doc:"offer"`
	Photos     []string       `json:"photos,omitempty" doc:"photo ids"`
	ReadingID  string         `json:"reading_id,omitempty" doc:"offer: the new reading of a measured defect"`
	Concession *ConcessionAsk `json:"concession,omitempty"`
	Event      string         `json:"event,omitempty" doc:"defer: the event waited for, when not a date"`
	Access     string         `json:"access,omitempty" doc:"defer past the strike: how the place is reached"`
	Confirmed  bool           `json:"confirmed,omitempty" doc:"instruct: cost and time are confirmed by the manager"`
}

// MadeGood is what was done to put it right.
type MadeGood struct {
	Kind    string `json:"kind" doc:"rework conforms; repair needs a concession to close"`
	Text    string `json:"text"`
	Product string `json:"product,omitempty"`
	Batch   string `json:"batch,omitempty"`
	ByID    string `json:"by_id,omitempty"`
	ByName  string `json:"by_name,omitempty"`
	Started string `json:"started,omitempty" doc:"RFC 3339"`
}

// ConcessionAsk is the part of a concession that one step adds.
type ConcessionAsk struct {
	Part       string `json:"part" doc:"ask, grant or refuse"`
	Area       string `json:"area,omitempty"`
	Deviation  Exact  `json:"deviation,omitempty"`
	Conditions string `json:"conditions,omitempty"`
	Expires    string `json:"expires,omitempty"`
	Document   string `json:"document,omitempty"`
	From       int    `json:"from,omitempty"`
}

type stepIn struct {
	SnagIn
	Changed
	Body Step
}

func (a *api) step(ctx context.Context, step defects.Step, in *stepIn) (*snagOut, error) {
	version, err := ifMatch(in.IfMatch)
	if err != nil {
		return nil, err
	}
	req, err := in.Body.request(step)
	if err != nil {
		return nil, err
	}
	s, err := a.s.reg.StepSnag(ctx, actorFrom(ctx), in.Site, in.Number, version, req)
	if err != nil {
		return nil, err
	}
	return &snagOut{ETag: etag(s.Version), Body: snagOf(s)}, nil
}

func (b Step) request(step defects.Step) (register.StepRequest, error) {
	req := register.StepRequest{
		Step: step, Text: b.Text, Due: b.Due, Gang: b.Gang, PlannedOn: b.PlannedOn,
		Ground: defects.DisputeGround(b.Ground), Stands: b.Stands, Inspection: b.Inspection, Photos: b.Photos,
		ReadingID: b.ReadingID, Event: b.Event, Access: b.Access, Confirmed: b.Confirmed,
	}
	if m := b.MadeGood; m != nil {
		req.MadeGood = defects.MakingGood{Kind: m.Kind, Text: m.Text, Product: m.Product, Batch: m.Batch, ByID: m.ByID, ByName: m.ByName}
		if m.Started != "" {
			t, err := time.Parse(time.RFC3339, m.Started)
			if err != nil {
				return req, defects.RefuseField(defects.Invalid, "made_good.started", "bad_time", "write the time as RFC 3339")
			}
			req.MadeGood.Started = t
		}
	}
	if c := b.Concession; c != nil {
		req.Concession = defects.ConcessionInput{
			Part: c.Part, Area: c.Area, Conditions: c.Conditions, Expires: c.Expires,
			Document: c.Document, From: c.From,
		}
		d, err := c.Deviation.decimal("concession.deviation")
		if err != nil {
			return req, err
		}
		req.Concession.Deviation = d
	}
	return req, nil
}
