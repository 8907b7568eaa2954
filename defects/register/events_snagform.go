package register

import (
	"strconv"
	"time"

	"storeyrod/defects"
)

// stepOf writes a step's input for the log.
func stepOf(in defects.StepInput) stepData {
	f := in.Facts
	d := stepData{
		Text: in.Text, Due: in.Due, Gang: in.Gang, PlannedOn: in.PlannedOn, Ground: string(in.Ground), Stands: in.Stands,
		Inspection: in.Inspection, Event: in.Event, Access: in.Access, Confirmed: in.Confirmed, Severity: string(in.Severity),
		Facts: stepFactsData{
			Day: f.Day, PeriodEnds: f.PeriodEnds, CoveredOn: f.CoveredOn, CoveredBy: f.CoveredBy, StrikeOn: f.StrikeOn,
			Measured: decimalText(f.Measured), Short: f.Short, Unit: f.Unit,
		},
		Concession: concessionOf(in.Concession),
		Raise:      raiseOf(in.Raise),
	}
	if g := in.MadeGood; g != (defects.MakingGood{}) {
		d.MadeGood = &madeGoodData{g.Kind, g.Text, g.Product, g.Batch, g.ByID, g.ByName, stamp(g.Started)}
	}
	for _, p := range in.Photos {
		d.Photos = append(d.Photos, stepPhotoData{
			p.ID, stamp(p.TakenAt), p.TakenSure, stamp(p.ReceivedAt), p.ElevationID, string(p.Grade), p.UsedBy,
		})
	}
	if r := in.Reading; r != nil {
		d.Reading = &stepReadingData{
			r.ID, r.Quantity, stamp(r.MeasuredAt), placeOf(r.Place), string(r.Outcome), r.Value.String(), r.ByID, r.Text, r.Withdrawn,
		}
	}
	return d
}

func concessionOf(c defects.ConcessionInput) *concedeData {
	if c == (defects.ConcessionInput{}) {
		return nil
	}
	d := &concedeData{
		Part: c.Part, Area: c.Area, Deviation: decimalText(c.Deviation), Conditions: c.Conditions, Expires: c.Expires,
		Document: c.Document, From: c.From, FromCode: c.FromCode,
	}
	if c.From != 0 {
		place := placeOf(c.FromPlace)
		d.FromPlace = &place
	}
	if t := c.FromTerms; t != nil {
		d.FromTerms = &termsData{
			personOf(t.AskedBy), stamp(t.AskedAt), t.Reason, t.Area, decimalText(t.Deviation), t.Unit, t.Conditions, t.Expires,
			t.Document, personOf(t.Technical), stamp(t.GrantedAt), personOf(t.Value), stamp(t.ValueAt), t.From,
		}
	}
	return d
}

func personOf(p defects.Person) personData { return personData{p.ID, p.Name, string(p.Role)} }

func (d personData) person() defects.Person {
	return defects.Person{ID: d.ID, Name: d.Name, Role: defects.Role(d.Role)}
}

func raiseOf(f *defects.RaiseFacts) *raiseData {
	if f == nil {
		return nil
	}
	return &raiseData{
		ID: f.ID, Site: f.SiteID, Number: f.Number, Code: f.Code, Title: f.Title, Stage: f.Stage, Severity: string(f.Severity),
		Quantities: f.Quantities, Competent: f.Competent, Place: placeOf(f.Place), PlaceWords: f.PlaceWords,
		WalkRank: strconv.FormatInt(f.WalkRank, 10), Extent: string(f.Extent), Covered: f.Covered, Requirement: f.Requirement,
		Gang: f.Gang, NoReadingReason: f.NoReadingReason,
	}
}

// reader reads texts of the log back and keeps the first fault.
type reader struct{ err error }

func (r *reader) time(s string) time.Time {
	t, err := parseStamp(s)
	r.keep(err)
	return t
}

func (r *reader) decimal(s string) *defects.Decimal {
	if s == "" {
		return nil
	}
	d, err := defects.ParseDecimal(s)
	r.keep(err)
	return &d
}

func (r *reader) whole(s string) int64 {
	if s == "" {
		return 0
	}
	n, err := strconv.ParseInt(s, 10, 64)
	r.keep(err)
	return n
}

func (r *reader) keep(err error) {
	if r.err == nil {
		r.err = err
	}
}

// input reads a step back, all but who, when and which step.
func (d stepData) input() (defects.StepInput, error) {
	var r reader
	f := d.Facts
	in := defects.StepInput{
		Text: d.Text, Due: d.Due, Gang: d.Gang, PlannedOn: d.PlannedOn, Ground: defects.DisputeGround(d.Ground), Stands: d.Stands,
		Inspection: d.Inspection, Event: d.Event, Access: d.Access, Confirmed: d.Confirmed, Severity: defects.Severity(d.Severity),
		Facts: defects.StepFacts{
			Day: f.Day, PeriodEnds: f.PeriodEnds, CoveredOn: f.CoveredOn, CoveredBy: f.CoveredBy, StrikeOn: f.StrikeOn,
			Measured: r.decimal(f.Measured), Short: f.Short, Unit: f.Unit,
		},
	}
	if g := d.MadeGood; g != nil {
		in.MadeGood = defects.MakingGood{
			Kind: g.Kind, Text: g.Text, Product: g.Product, Batch: g.Batch, ByID: g.By, ByName: g.ByName, Started: r.time(g.Started),
		}
	}
	for _, p := range d.Photos {
		in.Photos = append(in.Photos, defects.EvidencePhoto{
			ID: p.ID, TakenAt: r.time(p.TakenAt), TakenSure: p.TakenSure, ReceivedAt: r.time(p.ReceivedAt),
			ElevationID: p.Elevation, Grade: defects.Grade(p.Grade), UsedBy: p.UsedBy,
		})
	}
	if rd := d.Reading; rd != nil {
		in.Reading = &defects.EvidenceReading{
			ID: rd.ID, Quantity: rd.Quantity, MeasuredAt: r.time(rd.MeasuredAt), Place: rd.Place.place(),
			Outcome: defects.Outcome(rd.Outcome), ByID: rd.By, Text: rd.Text, Withdrawn: rd.Withdrawn,
		}
		if v := r.decimal(rd.Value); v != nil {
			in.Reading.Value = *v
		}
	}
	if d.Concession != nil {
		in.Concession = d.Concession.input(&r)
	}
	if d.Raise != nil {
		in.Raise = d.Raise.facts(&r)
	}
	return in, r.err
}

func (d *concedeData) input(r *reader) defects.ConcessionInput {
	c := defects.ConcessionInput{
		Part: d.Part, Area: d.Area, Deviation: r.decimal(d.Deviation), Conditions: d.Conditions, Expires: d.Expires,
		Document: d.Document, From: d.From, FromCode: d.FromCode,
	}
	if d.FromPlace != nil {
		c.FromPlace = d.FromPlace.place()
	}
	if t := d.FromTerms; t != nil {
		c.FromTerms = &defects.Concession{
			AskedBy: t.AskedBy.person(), AskedAt: r.time(t.AskedAt), Reason: t.Reason, Area: t.Area,
			Deviation: r.decimal(t.Deviation), Unit: t.Unit, Conditions: t.Conditions, Expires: t.Expires, Document: t.Document,
			Technical: t.Technical.person(), GrantedAt: r.time(t.GrantedAt), Value: t.Value.person(), ValueAt: r.time(t.ValueAt),
			From: t.From,
		}
	}
	return c
}

func (d *raiseData) facts(r *reader) *defects.RaiseFacts {
	return &defects.RaiseFacts{
		ID: d.ID, SiteID: d.Site, Number: d.Number, Code: d.Code, Title: d.Title, Stage: d.Stage,
		Severity: defects.Severity(d.Severity), Quantities: d.Quantities, Competent: d.Competent, Place: d.Place.place(),
		PlaceWords: d.PlaceWords, WalkRank: r.whole(d.WalkRank), Extent: defects.Extent(d.Extent), Covered: d.Covered,
		Requirement: d.Requirement, Gang: d.Gang, NoReadingReason: d.NoReadingReason,
	}
}

// place reads a place back from the log.
func (d placeData) place() defects.Place {
	return defects.Place{
		ElevationID: d.Elevation, X: (*defects.MM)(d.X), Z: (*defects.MM)(d.Z), Bay: d.Bay, Lift: d.Lift,
		Opening: d.Opening, Zone: defects.Zone(d.Zone),
	}
}
