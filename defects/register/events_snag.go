package register

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/evidence"
)

// errNotAStep marks an entry about a snag that is no step of its life.
var errNotAStep = errors.New("not a step of a snag")

const stepKind = "snag."

// snagEvent is one step as the log keeps it: all that it was decided on, and
// the state before and after.
func snagEvent(before, after defects.Snag, in defects.StepInput) change {
	data := stepOf(in)
	data.Before = stateData{State: string(before.State), Round: before.Round, Version: before.Version}
	data.After = stateData{State: string(after.State), Round: after.Round, Version: after.Version}
	data.ForManager = defects.SnagEvent{Input: in, Round: after.Round}.ForManager()
	return change{kind: stepKind + string(in.Step), typ: "snag", id: after.ID, number: after.Number, data: data}
}

// readSnagEvent reads a step back from the log. Who, when and where from are
// the entry's own.
func readSnagEvent(e evidence.Entry) (defects.SnagEvent, error) {
	name, ok := strings.CutPrefix(e.Kind, stepKind)
	if !ok {
		return defects.SnagEvent{}, errNotAStep
	}
	var d stepData
	if err := json.Unmarshal(e.Data, &d); err != nil {
		return defects.SnagEvent{}, fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	in, err := d.input()
	if err != nil {
		return defects.SnagEvent{}, fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	in.Step, in.At = defects.Step(name), e.At
	in.By = defects.Person{ID: e.Actor.ID, Name: e.Actor.Name, Role: defects.Role(e.Actor.Role)}
	return defects.SnagEvent{
		Seq: e.Seq, Input: in, Device: e.Actor.Device, Round: d.After.Round,
		Before: defects.State(d.Before.State), After: defects.State(d.After.State),
	}, nil
}

// The structs below are the written form. Times are RFC 3339 text, decimals are
// text, lengths whole millimetres.
type stepData struct {
	Before     stateData        `json:"before"`
	After      stateData        `json:"after"`
	Text       string           `json:"text,omitempty"`
	Due        string           `json:"due,omitempty"`
	Gang       string           `json:"gang,omitempty"`
	PlannedOn  string           `json:"planned_on,omitempty"`
	Ground     string           `json:"ground,omitempty"`
	Stands     bool             `json:"stands,omitempty"`
	Inspection string           `json:"inspection,omitempty"`
	Event      string           `json:"event,omitempty"`
	Access     string           `json:"access,omitempty"`
	Confirmed  bool             `json:"confirmed,omitempty"`
	Severity   string           `json:"severity,omitempty"`
	ForManager bool             `json:"for_manager,omitempty"`
	MadeGood   *madeGoodData    `json:"made_good,omitempty"`
	Photos     []stepPhotoData  `json:"photos,omitempty"`
	Reading    *stepReadingData `json:"reading,omitempty"`
	Concession *concedeData     `json:"concession,omitempty"`
	Raise      *raiseData       `json:"raise,omitempty"`
	Facts      stepFactsData    `json:"facts"`
}

type stateData struct {
	State   string `json:"state,omitempty"`
	Round   int    `json:"round"`
	Version int    `json:"version"`
}

type madeGoodData struct {
	Kind    string `json:"kind"`
	Text    string `json:"text"`
	Product string `json:"product,omitempty"`
	Batch   string `json:"batch,omitempty"`
	By      string `json:"by,omitempty"`
	ByName  string `json:"by_name,omitempty"`
	Started string `json:"started,omitempty"`
}

type stepPhotoData struct {
	ID         string `json:"id"`
	TakenAt    string `json:"taken_at,omitempty"`
	TakenSure  bool   `json:"taken_sure,omitempty"`
	ReceivedAt string `json:"received_at,omitempty"`
	Elevation  string `json:"elevation,omitempty"`
	Grade      string `json:"grade,omitempty"`
	UsedBy     []int  `json:"used_by,omitempty"`
}

type stepReadingData struct {
	ID         string    `json:"id"`
	Quantity   string    `json:"quantity"`
	MeasuredAt string    `json:"measured_at,omitempty"`
	Place      placeData `json:"place"`
	Outcome    string    `json:"outcome"`
	Value      string    `json:"value"`
	By         string    `json:"by,omitempty"`
	Text       string    `json:"text,omitempty"`
	Withdrawn  bool      `json:"withdrawn,omitempty"`
}

type concedeData struct {
	Part       string     `json:"part"`
	Area       string     `json:"area,omitempty"`
	Deviation  string     `json:"deviation,omitempty"`
	Conditions string     `json:"conditions,omitempty"`
	Expires    string     `json:"expires,omitempty"`
	Document   string     `json:"document,omitempty"`
	From       int        `json:"from,omitempty"`
	FromPlace  *placeData `json:"from_place,omitempty"`
	FromCode   string     `json:"from_code,omitempty"`
	FromTerms  *termsData `json:"from_terms,omitempty"`
}

// termsData is a concession that another one repeats.
type termsData struct {
	AskedBy    personData `json:"asked_by"`
	AskedAt    string     `json:"asked_at,omitempty"`
	Reason     string     `json:"reason,omitempty"`
	Area       string     `json:"area,omitempty"`
	Deviation  string     `json:"deviation,omitempty"`
	Unit       string     `json:"unit,omitempty"`
	Conditions string     `json:"conditions,omitempty"`
	Expires    string     `json:"expires,omitempty"`
	Document   string     `json:"document,omitempty"`
	Technical  personData `json:"technical"`
	GrantedAt  string     `json:"granted_at,omitempty"`
	Value      personData `json:"value"`
	ValueAt    string     `json:"value_at,omitempty"`
	From       int        `json:"from,omitempty"`
}

type personData struct {
	ID   string `json:"id,omitempty"`
	Name string `json:"name,omitempty"`
	Role string `json:"role,omitempty"`
}

type raiseData struct {
	ID              string    `json:"id"`
	Site            string    `json:"site"`
	Number          int       `json:"number"`
	Code            string    `json:"code"`
	Title           string    `json:"title"`
	Stage           string    `json:"stage,omitempty"`
	Severity        string    `json:"severity"`
	Quantities      []string  `json:"quantities,omitempty"`
	Competent       string    `json:"competent,omitempty"`
	Place           placeData `json:"place"`
	PlaceWords      string    `json:"place_words,omitempty"`
	WalkRank        string    `json:"walk_rank,omitempty"` // beyond 2^53
	Extent          string    `json:"extent,omitempty"`
	Covered         bool      `json:"covered,omitempty"`
	Requirement     string    `json:"requirement,omitempty"`
	Gang            string    `json:"gang,omitempty"`
	NoReadingReason string    `json:"no_reading_reason,omitempty"`
}

type stepFactsData struct {
	Day        string `json:"day,omitempty"`
	PeriodEnds string `json:"period_ends,omitempty"`
	CoveredOn  string `json:"covered_on,omitempty"`
	CoveredBy  string `json:"covered_by,omitempty"`
	StrikeOn   string `json:"strike_on,omitempty"`
	Measured   string `json:"measured,omitempty"`
	Short      bool   `json:"short,omitempty"`
	Unit       string `json:"unit,omitempty"`
}

// releaseEvent is an answer to a hold point as the log keeps it, with what
// stood in the way when it was refused or lapsed.
func releaseEvent(r defects.Release, reasons []defects.Detail) change {
	type reasonData struct {
		About string `json:"about"`
		Code  string `json:"code"`
	}
	var list []reasonData
	for _, d := range reasons {
		list = append(list, reasonData{d.Field, d.Code})
	}
	const most = 500 // an entry has a bound in bytes
	return change{kind: "hold." + outcomeKind(r.Outcome), typ: "release", id: r.ID, data: struct {
		HoldPoint string       `json:"hold_point"`
		Elevation string       `json:"elevation"`
		BayFrom   int          `json:"bay_from,omitempty"`
		BayTo     int          `json:"bay_to,omitempty"`
		LiftFrom  int          `json:"lift_from,omitempty"`
		LiftTo    int          `json:"lift_to,omitempty"`
		Outcome   string       `json:"outcome"`
		Text      string       `json:"text,omitempty"`
		Open      int          `json:"open"`
		Reasons   []reasonData `json:"reasons,omitempty"`
	}{
		r.HoldPoint, r.ElevationID, r.BayFrom, r.BayTo, r.LiftFrom, r.LiftTo, string(r.Outcome), r.Text,
		len(reasons), list[:min(len(list), most)],
	}}
}

func outcomeKind(o defects.ReleaseOutcome) string {
	switch o {
	case defects.ReleaseRefused:
		return "refuse"
	case defects.LapsedAfterNotice:
		return "lapse"
	}
	return "release"
}

// parseStamp reads what stamp wrote.
func parseStamp(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		return t, fmt.Errorf("time in the log: %w", err)
	}
	return t.UTC(), nil
}
