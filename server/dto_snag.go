package server

import (
	"storeyrod/defects"
	"storeyrod/defects/register"
)

// Snag is one recorded defect to be made good.
type Snag struct {
	Number      int         `json:"number"`
	Ref         string      `json:"ref"`
	Code        string      `json:"code"`
	Title       string      `json:"title"`
	Stage       string      `json:"stage,omitempty"`
	Severity    string      `json:"severity" enum:"critical,major,minor"`
	Extent      string      `json:"extent,omitempty" doc:"single, several or pattern"`
	Covered     bool        `json:"covered,omitempty"`
	Place       Place       `json:"place"`
	PlaceWords  string      `json:"place_words,omitempty"`
	Requirement string      `json:"requirement,omitempty"`
	Text        string      `json:"text,omitempty"`
	ReadingID   string      `json:"reading_id,omitempty"`
	Reading     string      `json:"reading,omitempty" doc:"reading against its limit"`
	Quantity    string      `json:"quantity,omitempty" doc:"closing needs a reading of it"`
	Competent   string      `json:"competent,omitempty" doc:"who must sign a critical one: fire, gas, electric or structure"`
	Gang        string      `json:"gang,omitempty"`
	State       string      `json:"state"`
	Round       int         `json:"round"`
	RaisedBy    Person      `json:"raised_by"`
	RaisedAt    string      `json:"raised_at"`
	OwnDue      string      `json:"own_due,omitempty"`
	PlannedOn   string      `json:"planned_on,omitempty"`
	DeferUntil  string      `json:"defer_until,omitempty"`
	Offer       *Offer      `json:"offer,omitempty" doc:"what the making good was last offered with"`
	Dispute     *Dispute    `json:"dispute,omitempty"`
	FirstSigned *Person     `json:"first_signed,omitempty" doc:"a critical one that waits for its second signature"`
	ClosedAt    string      `json:"closed_at,omitempty"`
	Concession  *Concession `json:"concession,omitempty"`
	Photos      []string    `json:"photos"`
	Version     int         `json:"version"`
}

// Offer is the evidence that a snag was put right with, of its current round.
type Offer struct {
	By       Person   `json:"by"`
	MadeGood MadeGood `json:"made_good"`
	Photos   []string `json:"photos"`
	Reading  string   `json:"reading_id,omitempty"`
}

// Dispute is who does not agree, and why.
type Dispute struct {
	By     Person `json:"by"`
	Ground string `json:"ground"`
}

func offerOf(s defects.Snag) *Offer {
	if s.OfferedBy.ID == "" && s.MadeGood == (defects.MakingGood{}) && len(s.OfferPhotos) == 0 && s.OfferReading == "" {
		return nil
	}
	return &Offer{
		By: personOf(s.OfferedBy), MadeGood: madeGoodOf(s.MadeGood), Photos: each(s.OfferPhotos, itself), Reading: s.OfferReading,
	}
}

func disputeOf(s defects.Snag) *Dispute {
	if s.Ground == "" {
		return nil
	}
	return &Dispute{By: personOf(s.DisputeBy), Ground: string(s.Ground)}
}

func madeGoodOf(m defects.MakingGood) MadeGood {
	return MadeGood{
		Kind: m.Kind, Text: m.Text, Product: m.Product, Batch: m.Batch, ByID: m.ByID, ByName: m.ByName, Started: stamp(m.Started),
	}
}

// Concession is permission to keep work that does not conform, within its area
// and its value only.
type Concession struct {
	AskedBy    Person `json:"asked_by"`
	Reason     string `json:"reason"`
	Area       string `json:"area"`
	Deviation  *Exact `json:"deviation,omitempty"`
	Unit       string `json:"unit,omitempty"`
	Conditions string `json:"conditions,omitempty"`
	Expires    string `json:"expires,omitempty"`
	Document   string `json:"document,omitempty"`
	Technical  Person `json:"technical_grant"`
	GrantedAt  string `json:"technical_at,omitempty"`
	Value      Person `json:"value_grant"`
	ValueAt    string `json:"value_at,omitempty"`
	From       int    `json:"from,omitempty" doc:"number of the snag whose concession this repeats"`
	Granted    bool   `json:"granted"`
}

func snagOf(s defects.Snag) Snag {
	out := Snag{
		Number: s.Number, Ref: s.Ref(), Code: s.Code, Title: s.Title, Stage: s.Stage, Severity: string(s.Severity),
		Extent: string(s.Extent), Covered: s.Covered, Place: placeOf(s.Place), PlaceWords: s.PlaceWords,
		Requirement: s.Requirement, Text: s.Text, ReadingID: s.ReadingID, Reading: s.ReadingText, Quantity: s.Quantity,
		Competent: s.Competent, Gang: s.Gang, State: string(s.State), Round: s.Round, RaisedBy: personOf(s.RaisedBy),
		RaisedAt: stamp(s.RaisedAt), OwnDue: s.OwnDue, PlannedOn: s.PlannedOn, DeferUntil: s.DeferUntil,
		ClosedAt: stamp(s.ClosedAt), Photos: each(s.Photos, itself), Version: s.Version,
		Offer: offerOf(s), Dispute: disputeOf(s),
	}
	if s.FirstSigned.ID != "" {
		first := personOf(s.FirstSigned)
		out.FirstSigned = &first
	}
	if c := s.Concession; c != nil {
		out.Concession = &Concession{
			AskedBy: personOf(c.AskedBy), Reason: c.Reason, Area: c.Area, Deviation: exactOf(c.Deviation),
			Unit: c.Unit, Conditions: c.Conditions, Expires: c.Expires, Document: c.Document, Technical: personOf(c.Technical),
			GrantedAt: stamp(c.GrantedAt), Value: personOf(c.Value), ValueAt: stamp(c.ValueAt), From: c.From, Granted: c.Granted(),
		}
	}
	return out
}

// Due is the date that matters for a snag, and why.
type Due struct {
	On     string `json:"on,omitempty"`
	Reason string `json:"reason,omitempty" doc:"instruction, cover-up, strike or completion"`
	Text   string `json:"text,omitempty"`

	Milestone string `json:"milestone,omitempty" doc:"id of the planned date it comes from"`
}

func dueOf(d defects.Due) Due {
	return Due{On: d.On, Reason: string(d.Reason), Text: d.Text, Milestone: d.MilestoneID}
}

func duesOf(list []defects.Due) []Due { return each(list, dueOf) }

// SnagLine is a snag in a list, with its dates.
type SnagLine struct {
	Snag
	Due         Due   `json:"due"`
	AlsoDue     []Due `json:"also_due" doc:"the other dates that apply"`
	OverdueDays int   `json:"overdue_days" doc:"days that the date is past, counted in the site's zone"`
}

func snagLineOf(item defects.SnagItem) SnagLine {
	return SnagLine{Snag: snagOf(item.Snag), Due: dueOf(item.Due), AlsoDue: duesOf(item.Also), OverdueDays: item.Overdue}
}

// SnagDetail is one snag with its history and what may be done now.
type SnagDetail struct {
	Snag
	Due         Due         `json:"due"`
	AlsoDue     []Due       `json:"also_due" doc:"the other dates that apply"`
	OverdueDays int         `json:"overdue_days" doc:"days that the date is past, counted in the site's zone"`
	History     []SnagEvent `json:"history"`
	Steps       []SnagStep  `json:"steps" doc:"which steps you may take now, and who may take the others"`
	Cautions    []Caution   `json:"cautions"`
	Compare     []Compare   `json:"compare" doc:"photos of the offer to compare with others before it is accepted; nothing is refused for them"`
}

// Compare is a photo of an offer that is possibly the same picture as another.
type Compare struct {
	PhotoID string `json:"photo_id"`
	OtherID string `json:"other_photo_id"`
	Bits    int    `json:"bits" doc:"of 64 in which their likenesses differ"`
	Text    string `json:"text"`
}

// SnagStep says whether the asker may take a step now.
type SnagStep struct {
	Step  string   `json:"step"`
	May   bool     `json:"may"`
	Parts []string `json:"parts,omitempty"`
	Why   string   `json:"why,omitempty"`
	Needs []string `json:"needs,omitempty"`
}

// Caution is a line shown where the work can hurt somebody.
type Caution struct {
	Topic string `json:"topic"`
	Text  string `json:"text"`
	Mark  string `json:"mark" doc:"how it is known"`
}

func snagDetailOf(v register.SnagView) SnagDetail {
	return SnagDetail{
		Snag: snagOf(v.Snag), Due: dueOf(v.Due), AlsoDue: duesOf(v.Also), OverdueDays: v.Overdue,
		History: each(v.History, eventOf),
		Compare: each(v.Alike, func(e defects.AlikeEvidence) Compare {
			return Compare{PhotoID: e.PhotoID, OtherID: e.OtherID, Bits: e.Bits, Text: e.Text()}
		}),
		Steps: each(v.Steps, func(s register.StepOffered) SnagStep {
			return SnagStep{Step: string(s.Step), May: s.May, Parts: s.Parts, Why: s.Why, Needs: s.Needs}
		}),
		Cautions: each(v.Cautions, func(c defects.Caution) Caution { return Caution{Topic: c.Topic, Text: c.Text, Mark: c.Mark} }),
	}
}
