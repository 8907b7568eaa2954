package models

import (
	"time"

	"storeyrod/defects"
)

type snagRow struct {
	ID             string `gorm:"primaryKey"`
	SiteID         string
	Number         int
	Code           string
	Title          string
	Stage          string
	Severity       string
	Extent         string
	Covered        bool
	Place          placeRow `gorm:"embedded"`
	PlaceWords     string
	Requirement    string
	Text           string
	ReadingID      *string
	ReadingText    string
	Quantity       string
	Competent      string
	Gang           string
	State          string
	IsOpen         bool
	Round          int
	RaisedByID     string
	RaisedByName   string
	RaisedByRole   string
	RaisedAt       int64
	InstructedAt   *int64
	OwnDue         string
	PlannedOn      string
	DeferUntil     string
	OfferedBy      string
	MadeGood       string
	OfferPhotos    string
	OfferReadingID *string
	FirstSigned    string
	ClosedAt       *int64
	DisputeBy      string
	Ground         string
	Concession     string
	Photos         string
	WalkRank       int64
	Version        int
}

func (snagRow) TableName() string { return "snags" }

// snagColumns are the columns in the order of into.
const snagColumns = `id, site_id, number, code, title, stage, severity, extent, covered, elevation_id, x_mm, z_mm, bay,
	lift, opening, zone, place_words, requirement, text, reading_id, reading_text, quantity, competent, gang, state,
	is_open, round, raised_by_id, raised_by_name, raised_by_role, raised_at, instructed_at, own_due, planned_on,
	defer_until, offered_by, made_good, offer_photos, offer_reading_id, first_signed, closed_at, dispute_by, ground,
	concession, photos, walk_rank, version`

// into gives where each of snagColumns is scanned to.
func (r *snagRow) into() []any {
	p := &r.Place
	return []any{
		&r.ID, &r.SiteID, &r.Number, &r.Code, &r.Title, &r.Stage, &r.Severity, &r.Extent, &r.Covered,
		&p.ElevationID, &p.XMm, &p.ZMm, &p.Bay, &p.Lift, &p.Opening, &p.Zone, &r.PlaceWords, &r.Requirement, &r.Text,
		&r.ReadingID, &r.ReadingText, &r.Quantity, &r.Competent, &r.Gang, &r.State, &r.IsOpen, &r.Round, &r.RaisedByID,
		&r.RaisedByName, &r.RaisedByRole, &r.RaisedAt, &r.InstructedAt, &r.OwnDue, &r.PlannedOn, &r.DeferUntil,
		&r.OfferedBy, &r.MadeGood, &r.OfferPhotos, &r.OfferReadingID, &r.FirstSigned, &r.ClosedAt, &r.DisputeBy,
		&r.Ground, &r.Concession, &r.Photos, &r.WalkRank, &r.Version,
	}
}

// keptOfSnag are the columns no update touches.
func keptOfSnag() []string {
	return []string{"site_id", "number", "raised_by_id", "raised_by_name", "raised_by_role", "raised_at"}
}

func toSnagRow(s defects.Snag, version int) (snagRow, error) {
	var c columns
	r := snagRow{
		ID: s.ID, SiteID: s.SiteID, Number: s.Number, Code: s.Code, Title: s.Title, Stage: s.Stage,
		Severity: string(s.Severity), Extent: string(s.Extent), Covered: s.Covered, Place: toPlaceRow(s.Place),
		PlaceWords: s.PlaceWords, Requirement: s.Requirement, Text: s.Text, ReadingID: optText(s.ReadingID),
		ReadingText: s.ReadingText, Quantity: s.Quantity, Competent: s.Competent, Gang: s.Gang, State: string(s.State),
		IsOpen: s.State.Open(), Round: s.Round, RaisedByID: s.RaisedBy.ID, RaisedByName: s.RaisedBy.Name,
		RaisedByRole: string(s.RaisedBy.Role), RaisedAt: micros(s.RaisedAt), InstructedAt: optMicros(s.InstructedAt),
		OwnDue: s.OwnDue, PlannedOn: s.PlannedOn, DeferUntil: s.DeferUntil, OfferedBy: c.toPerson(s.OfferedBy),
		MadeGood:    c.json(toMadeGoodJSON(s.MadeGood), s.MadeGood == (defects.MakingGood{})),
		OfferPhotos: c.json(s.OfferPhotos, len(s.OfferPhotos) == 0), OfferReadingID: optText(s.OfferReading),
		FirstSigned: c.toPerson(s.FirstSigned), ClosedAt: optMicros(s.ClosedAt), DisputeBy: c.toPerson(s.DisputeBy),
		Ground: string(s.Ground), Concession: c.toConcession(s.Concession),
		Photos: c.json(s.Photos, len(s.Photos) == 0), WalkRank: s.WalkRank, Version: version,
	}
	if r.Extent == "" {
		r.Extent = string(defects.Single)
	}
	return r, c.err
}

func (r snagRow) snag() (defects.Snag, error) {
	var c columns
	s := defects.Snag{
		ID: r.ID, SiteID: r.SiteID, Number: r.Number, Code: r.Code, Title: r.Title, Stage: r.Stage,
		Severity: defects.Severity(r.Severity), Extent: defects.Extent(r.Extent), Covered: r.Covered, Place: r.Place.place(),
		PlaceWords: r.PlaceWords, Requirement: r.Requirement, Text: r.Text, ReadingID: textOf(r.ReadingID),
		ReadingText: r.ReadingText, Quantity: r.Quantity, Competent: r.Competent, Gang: r.Gang,
		State: defects.State(r.State), Round: r.Round,
		RaisedBy: defects.Person{ID: r.RaisedByID, Name: r.RaisedByName, Role: defects.Role(r.RaisedByRole)},
		RaisedAt: instant(r.RaisedAt), InstructedAt: optInstant(r.InstructedAt), OwnDue: r.OwnDue,
		PlannedOn: r.PlannedOn, DeferUntil: r.DeferUntil, OfferedBy: c.person(r.OfferedBy),
		MadeGood: c.madeGood(r.MadeGood), OfferReading: textOf(r.OfferReadingID), FirstSigned: c.person(r.FirstSigned),
		ClosedAt: optInstant(r.ClosedAt), DisputeBy: c.person(r.DisputeBy), Ground: defects.DisputeGround(r.Ground),
		Concession: c.concession(r.Concession), WalkRank: r.WalkRank, Version: r.Version,
	}
	s.OfferPhotos, s.Photos = c.texts(r.OfferPhotos), c.texts(r.Photos)
	return s, c.err
}

type personJSON struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Role string `json:"role"`
}

func toPersonJSON(p defects.Person) personJSON { return personJSON{p.ID, p.Name, string(p.Role)} }

func (p personJSON) person() defects.Person {
	return defects.Person{ID: p.ID, Name: p.Name, Role: defects.Role(p.Role)}
}

func (c *columns) toPerson(p defects.Person) string {
	return c.json(toPersonJSON(p), p == defects.Person{})
}

func (c *columns) person(text string) defects.Person {
	if text == "" {
		return defects.Person{}
	}
	var p personJSON
	c.read(text, &p)
	return p.person()
}

type madeGoodJSON struct {
	Kind    string     `json:"kind"`
	Text    string     `json:"text"`
	Product string     `json:"product,omitempty"`
	Batch   string     `json:"batch,omitempty"`
	ByID    string     `json:"by_id,omitempty"`
	ByName  string     `json:"by_name,omitempty"`
	Started *time.Time `json:"started,omitempty"`
}

func toMadeGoodJSON(m defects.MakingGood) madeGoodJSON {
	return madeGoodJSON{m.Kind, m.Text, m.Product, m.Batch, m.ByID, m.ByName, optTime(m.Started)}
}

func (c *columns) madeGood(text string) defects.MakingGood {
	if text == "" {
		return defects.MakingGood{}
	}
	var m madeGoodJSON
	c.read(text, &m)
	return defects.MakingGood{
		Kind: m.Kind, Text: m.Text, Product: m.Product, Batch: m.Batch, ByID: m.ByID, ByName: m.ByName,
		Started: timeOf(m.Started),
	}
}

// optTime and timeOf keep the zero time out of JSON.
func optTime(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return inUTC(&t)
}

func timeOf(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.UTC()
}

type concessionJSON struct {
	AskedBy    personJSON  `json:"asked_by"`
	AskedAt    *time.Time  `json:"asked_at,omitempty"`
	Reason     string      `json:"reason"`
	Area       string      `json:"area"`
	Deviation  *string     `json:"deviation,omitempty"`
	Unit       string      `json:"unit,omitempty"`
	Conditions string      `json:"conditions,omitempty"`
	Expires    string      `json:"expires,omitempty"`
	Document   string      `json:"document,omitempty"`
	Technical  *personJSON `json:"technical,omitempty"`
	GrantedAt  *time.Time  `json:"granted_at,omitempty"`
	Value      *personJSON `json:"value,omitempty"`
	ValueAt    *time.Time  `json:"value_at,omitempty"`
	From       int         `json:"from,omitempty"`
}

func (c *columns) toConcession(k *defects.Concession) string {
	if k == nil {
		return ""
	}
	return c.json(concessionJSON{
		AskedBy: toPersonJSON(k.AskedBy), AskedAt: optTime(k.AskedAt), Reason: k.Reason, Area: k.Area,
		Deviation: optDecimal(k.Deviation), Unit: k.Unit, Conditions: k.Conditions, Expires: k.Expires,
		Document: k.Document, Technical: optPerson(k.Technical), GrantedAt: optTime(k.GrantedAt),
		Value: optPerson(k.Value), ValueAt: optTime(k.ValueAt), From: k.From,
	}, false)
}

func (c *columns) concession(text string) *defects.Concession {
	if text == "" {
		return nil
	}
	var k concessionJSON
	c.read(text, &k)
	return &defects.Concession{
		AskedBy: k.AskedBy.person(), AskedAt: timeOf(k.AskedAt), Reason: k.Reason, Area: k.Area,
		Deviation: c.decimal(k.Deviation), Unit: k.Unit, Conditions: k.Conditions, Expires: k.Expires,
		Document: k.Document, Technical: personOf(k.Technical), GrantedAt: timeOf(k.GrantedAt),
		Value: personOf(k.Value), ValueAt: timeOf(k.ValueAt), From: k.From,
	}
}

func optPerson(p defects.Person) *personJSON {
	if p == (defects.Person{}) {
		return nil
	}
	j := toPersonJSON(p)
	return &j
}

func personOf(p *personJSON) defects.Person {
	if p == nil {
		return defects.Person{}
	}
	return p.person()
}
