package server

import (
	"storeyrod/defects"
)

// SnagEvent is one line of a snag's history, with all that the step was made
// with, so that it can be audited from here.
type SnagEvent struct {
	Seq        int64           `json:"seq" doc:"position in the site's log"`
	Step       string          `json:"step"`
	By         Person          `json:"by"`
	At         string          `json:"at"`
	Device     string          `json:"device,omitempty"`
	Before     string          `json:"before,omitempty"`
	After      string          `json:"after"`
	Round      int             `json:"round"`
	Text       string          `json:"text,omitempty"`
	Due        string          `json:"due,omitempty"`
	Gang       string          `json:"gang,omitempty"`
	PlannedOn  string          `json:"planned_on,omitempty"`
	Ground     string          `json:"ground,omitempty"`
	Stands     *bool           `json:"stands,omitempty" doc:"of a decision: does the defect stand?"`
	Inspection string          `json:"inspection,omitempty"`
	MadeGood   *MadeGood       `json:"made_good,omitempty"`
	Photos     []EventPhoto    `json:"photos,omitempty"`
	Reading    *EventReading   `json:"reading,omitempty"`
	Concession *ConcessionPart `json:"concession,omitempty"`
	Severity   string          `json:"severity,omitempty"`
	Event      string          `json:"event,omitempty"`
	Access     string          `json:"access,omitempty"`
	Confirmed  bool            `json:"confirmed,omitempty"`
}

// EventPhoto is a photo as it stood when a step was made with it.
type EventPhoto struct {
	ID         string `json:"id"`
	TakenAt    string `json:"taken_at,omitempty"`
	TakenSure  bool   `json:"taken_sure"`
	ReceivedAt string `json:"received_at,omitempty"`
	Grade      string `json:"grade,omitempty"`
}

// EventReading is a reading as it stood when a step was made with it.
type EventReading struct {
	ID         string `json:"id"`
	Quantity   string `json:"quantity,omitempty"`
	MeasuredAt string `json:"measured_at,omitempty"`
	Outcome    string `json:"outcome,omitempty"`
	Value      Exact  `json:"value"`
	Text       string `json:"text,omitempty" doc:"reading against its limit"`
	ByID       string `json:"by_id,omitempty"`
}

// ConcessionPart is what one step added to a concession.
type ConcessionPart struct {
	Part       string `json:"part"`
	Area       string `json:"area,omitempty"`
	Deviation  *Exact `json:"deviation,omitempty"`
	Conditions string `json:"conditions,omitempty"`
	Expires    string `json:"expires,omitempty"`
	Document   string `json:"document,omitempty"`
	From       int    `json:"from,omitempty"`
}

func eventOf(e defects.SnagEvent) SnagEvent {
	in := e.Input
	out := SnagEvent{
		Seq: e.Seq, Step: string(in.Step), By: personOf(in.By), At: stamp(in.At), Device: e.Device,
		Before: string(e.Before), After: string(e.After), Round: e.Round, Text: in.Text, Due: in.Due, Gang: in.Gang,
		PlannedOn: in.PlannedOn, Ground: string(in.Ground), Inspection: in.Inspection, Severity: string(in.Severity),
		Event: in.Event, Access: in.Access, Confirmed: in.Confirmed, Photos: each(in.Photos, eventPhotoOf),
	}
	if in.Step == defects.StepDecide {
		out.Stands = &in.Stands
	}
	if in.MadeGood != (defects.MakingGood{}) {
		made := madeGoodOf(in.MadeGood)
		out.MadeGood = &made
	}
	if r := in.Reading; r != nil {
		out.Reading = &EventReading{
			ID: r.ID, Quantity: r.Quantity, MeasuredAt: stamp(r.MeasuredAt), Outcome: string(r.Outcome),
			Value: Exact(r.Value.String()), Text: r.Text, ByID: r.ByID,
		}
	}
	if c := in.Concession; c.Part != "" {
		out.Concession = &ConcessionPart{
			Part: c.Part, Area: c.Area, Deviation: exactOf(c.Deviation), Conditions: c.Conditions,
			Expires: c.Expires, Document: c.Document, From: c.From,
		}
	}
	return out
}

func eventPhotoOf(p defects.EvidencePhoto) EventPhoto {
	return EventPhoto{ID: p.ID, TakenAt: stamp(p.TakenAt), TakenSure: p.TakenSure, ReceivedAt: stamp(p.ReceivedAt), Grade: string(p.Grade)}
}
