package cli

import (
	"context"
	"fmt"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// life is one snag of the demo: where it is, how it was found, and each turn it
// took since.
type life struct {
	wall     string
	x, z     defects.MM
	opening  string
	code     string
	severity defects.Severity
	extent   defects.Extent
	gang     string
	by       string
	day      int
	hour     float64
	text     string
	measured *register.ReadingInput // the reading it is raised from, without place and time
	photo    *scene
	turns    []turn
}

// turn is one step of a life.
type turn struct {
	who   string
	day   int
	hour  float64
	req   register.StepRequest
	photo *scene
	again string // value of the measurement repeated for an offer
}

// live plans a snag's whole life.
func (d *demo) live(l life) {
	var number, version int
	var reading string
	at := d.calendar.at(l.day, l.hour)
	var before *shot
	if l.photo != nil {
		before = d.shoot(*l.photo, l.wall, l.x, l.z, l.by, at.Add(-20*time.Minute))
	}
	if l.measured != nil {
		d.measure(l, *l.measured, l.by, at.Add(-8*time.Minute), &reading)
	}
	d.on(at, "raise "+l.code, func(ctx context.Context) error {
		in, err := d.raising(l, reading, before)
		if err != nil {
			return err
		}
		s, err := d.reg.RaiseSnag(ctx, d.people[l.by], d.site, in)
		number, version = s.Number, s.Version
		return err
	})
	for _, t := range l.turns {
		d.take(l, t, &number, &version)
	}
}

func (d *demo) raising(l life, reading string, before *shot) (register.RaiseInput, error) {
	w, err := d.wall(l.wall)
	if err != nil {
		return register.RaiseInput{}, err
	}
	in := register.RaiseInput{
		ElevationID: w.ID, X: &l.x, Z: &l.z, Opening: l.opening, Code: l.code, Severity: l.severity, Extent: l.extent,
		Text: l.text, Gang: l.gang, ReadingID: reading,
	}
	if before != nil {
		in.Photos = []string{before.id}
	}
	return in, nil
}

// measure plans a single reading at a snag's place.
func (d *demo) measure(l life, in register.ReadingInput, by string, at time.Time, id *string) {
	in.ElevationID, in.X, in.Z, in.Gang = l.wall, l.x.Metres().String(), l.z.Metres().String(), l.gang
	in.Opening = l.opening
	d.on(at, "reading of "+in.Quantity, func(ctx context.Context) error {
		res, err := d.reg.AddReading(ctx, d.people[by], d.site, in)
		if err != nil {
			return err
		}
		if res.Err != nil {
			return res.Err
		}
		*id = res.Reading.ID
		return nil
	})
}

// take plans one turn with the photo and the reading it needs.
func (d *demo) take(l life, t turn, number, version *int) {
	at := d.calendar.at(t.day, t.hour)
	var photo *shot
	if t.photo != nil {
		photo = d.shoot(*t.photo, l.wall, l.x, l.z, t.who, at.Add(-15*time.Minute))
	}
	var reading string
	if t.again != "" {
		in := *l.measured
		in.Value = t.again
		d.measure(l, in, t.who, at.Add(-6*time.Minute), &reading)
	}
	d.on(at, string(t.req.Step)+" "+l.code, func(ctx context.Context) error {
		req := t.req
		if photo != nil {
			req.Photos = []string{photo.id}
		}
		req.ReadingID = reading
		s, err := d.reg.StepSnag(ctx, d.people[t.who], d.site, *number, *version, req)
		if err != nil {
			return fmt.Errorf("%s: %w", defects.SnagRef(*number), err)
		}
		*version = s.Version
		return nil
	})
}

// The turns, as they are written in the lives.

func instructed(day int, hour float64, who, text string) turn {
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{Step: defects.StepInstruct, Text: text}}
}

func (d *demo) acknowledged(day int, hour float64, who string, planned int) turn {
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{Step: defects.StepAcknowledge, PlannedOn: d.calendar.date(planned)}}
}

func offered(day int, hour float64, who, text string, after scene) turn {
	after.kind = "after"
	return turn{who: who, day: day, hour: hour, photo: &after, req: register.StepRequest{
		Step: defects.StepOffer, MadeGood: defects.MakingGood{Kind: defects.Rework, Text: text, ByName: "an invented operative"},
	}}
}

// with adds the measurement repeated for an offer.
func (t turn) with(value string) turn {
	t.again = value
	return t
}

func refused(day int, hour float64, text string) turn {
	return turn{who: "clerk", day: day, hour: hour, req: register.StepRequest{Step: defects.StepRefuse, Text: text, Inspection: defects.OnSite}}
}

func closed(day int, hour float64, inspection string) turn {
	return turn{who: "clerk", day: day, hour: hour, req: register.StepRequest{
		Step: defects.StepClose, Inspection: inspection, Text: "looked at again and found in order",
	}}
}

func countersigned(day int, hour float64, text string) turn {
	return turn{who: "designer", day: day, hour: hour, req: register.StepRequest{Step: defects.StepClose, Text: text}}
}

func disputed(day int, hour float64, who string, ground defects.DisputeGround, text string) turn {
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{Step: defects.StepDispute, Ground: ground, Text: text}}
}

func decided(day int, hour float64, stands bool, text string) turn {
	return turn{who: "designer", day: day, hour: hour, req: register.StepRequest{Step: defects.StepDecide, Stands: &stands, Text: text}}
}

func withdrawn(day int, hour float64, who, text string) turn {
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{Step: defects.StepWithdraw, Text: text}}
}

func reopened(day int, hour float64, text string, what scene) turn {
	return turn{who: "clerk", day: day, hour: hour, photo: &what, req: register.StepRequest{Step: defects.StepReopen, Text: text}}
}

func asked(day int, hour float64, who, area, deviation, text string) turn {
	ask := defects.ConcessionInput{Part: defects.PartAsk, Area: area}
	if deviation != "" {
		value := defects.MustDecimal(deviation)
		ask.Deviation = &value
	}
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{Step: defects.StepConcede, Text: text, Concession: ask}}
}

func granted(day int, hour float64, who, conditions string) turn {
	return turn{who: who, day: day, hour: hour, req: register.StepRequest{
		Step: defects.StepConcede, Concession: defects.ConcessionInput{Part: defects.PartGrant, Conditions: conditions},
	}}
}
