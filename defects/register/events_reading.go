package register

import (
	"strconv"
	"time"

	"storeyrod/defects"
)

// placeData is a place on a wall as the log keeps it. X and Z are whole
// millimetres.
type placeData struct {
	Elevation string `json:"elevation,omitempty"`
	X         *int64 `json:"x_mm,omitempty"`
	Z         *int64 `json:"z_mm,omitempty"`
	Bay       int    `json:"bay,omitempty"`
	Lift      int    `json:"lift,omitempty"`
	Opening   string `json:"opening,omitempty"`
	Zone      string `json:"zone,omitempty"`
}

func placeOf(p defects.Place) placeData {
	return placeData{
		Elevation: p.ElevationID, X: (*int64)(p.X), Z: (*int64)(p.Z), Bay: p.Bay, Lift: p.Lift,
		Opening: p.Opening, Zone: string(p.Zone),
	}
}

// verdictData is a verdict as the log keeps it: all that repeats it. Decimals
// and the probability are text, so that no program reads them differently.
type verdictData struct {
	Outcome  string       `json:"outcome"`
	Reason   string       `json:"reason,omitempty"`
	Lower    string       `json:"lower,omitempty"`
	Upper    string       `json:"upper,omitempty"`
	Expanded string       `json:"expanded,omitempty"`
	Guard    string       `json:"guard,omitempty"`
	PConform string       `json:"p_conform,omitempty"`
	Rule     string       `json:"rule,omitempty"`
	Schedule string       `json:"schedule,omitempty"`
	Title    string       `json:"title,omitempty"`
	Edition  string       `json:"edition,omitempty"`
	Clause   string       `json:"clause,omitempty"`
	Line     string       `json:"line,omitempty"`
	Basis    string       `json:"basis,omitempty"`
	Warning  string       `json:"warning,omitempty"`
	Passed   []passedData `json:"passed_over,omitempty"`
}

// passedData is a limit that another one went before.
type passedData struct {
	Schedule string `json:"schedule"`
	Outcome  string `json:"outcome"`
}

func verdictOf(v defects.Verdict) verdictData {
	d := verdictData{
		Outcome: string(v.Outcome), Reason: v.Reason, Lower: decimalText(v.Lower), Upper: decimalText(v.Upper),
		Expanded: decimalText(v.Expanded), Guard: decimalText(v.Guard), Rule: string(v.Rule), Schedule: v.Schedule,
		Title: v.Title, Edition: v.Edition, Clause: v.Clause, Line: v.Line, Basis: string(v.Basis), Warning: v.Warning,
	}
	for _, p := range v.PassedOver {
		d.Passed = append(d.Passed, passedData{p.Schedule, string(p.Outcome)})
	}
	if v.PConform != nil {
		d.PConform = strconv.FormatFloat(*v.PConform, 'g', -1, 64)
	}
	return d
}

func decimalText(d *defects.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}

// readingData is a reading as the log keeps it.
type readingData struct {
	ClientID     string      `json:"client_id,omitempty"`
	Set          string      `json:"set,omitempty"`
	Quantity     string      `json:"quantity"`
	Value        string      `json:"value"`
	Observations []string    `json:"observations,omitempty"` // whose mean the value is
	Unit         string      `json:"unit"`
	Expanded     string      `json:"expanded_uncertainty,omitempty"`
	BaseLength   string      `json:"base_length_m,omitempty"`
	Courses      int         `json:"courses,omitempty"`
	FailurePlane string      `json:"failure_plane,omitempty"`
	Mode         string      `json:"mode,omitempty"`
	Nominal      string      `json:"nominal,omitempty"`
	Area         string      `json:"area_m2,omitempty"`
	Trend        string      `json:"trend,omitempty"`
	Air          string      `json:"air_temperature_c,omitempty"`
	Humidity     string      `json:"relative_humidity,omitempty"`
	Dolly        string      `json:"dolly,omitempty"`
	Instrument   string      `json:"instrument,omitempty"`
	MeasuredAt   string      `json:"measured_at"`
	By           string      `json:"by"`
	ByName       string      `json:"by_name"`
	EnteredName  string      `json:"entered_name,omitempty"` // when another typed it in; the entry's actor
	Gang         string      `json:"gang,omitempty"`
	Batch        string      `json:"batch,omitempty"`
	Stage        string      `json:"stage,omitempty"`
	Place        placeData   `json:"place"`
	Photos       []string    `json:"photos,omitempty"`
	Note         string      `json:"note,omitempty"`
	Confirmed    bool        `json:"confirmed,omitempty"`
	Verdict      verdictData `json:"verdict"`
}

func addedEvent(rd defects.Reading) change {
	return change{kind: "reading.add", typ: "reading", id: rd.ID, data: readingData{
		ClientID: rd.ClientID, Set: rd.SetID, Quantity: rd.Quantity, Value: rd.Value.String(), Unit: rd.Unit,
		Observations: defects.DecimalTexts(rd.Observations), Expanded: decimalText(rd.Expanded), BaseLength: decimalText(rd.BaseLength), Courses: rd.Courses,
		FailurePlane: rd.FailurePlane, Mode: rd.Mode, Nominal: decimalText(rd.Nominal), Area: decimalText(rd.Area),
		Trend: string(rd.Trend), Air: decimalText(rd.AirTemperature), Humidity: decimalText(rd.Humidity),
		Dolly: rd.Dolly, Instrument: rd.InstrumentID, MeasuredAt: stamp(rd.MeasuredAt), By: rd.ByID, ByName: rd.ByName,
		EnteredName: enteredName(rd), Gang: rd.Gang, Batch: rd.Batch, Stage: rd.Stage, Place: placeOf(rd.Place), Photos: rd.Photos, Note: rd.Note,
		Confirmed: rd.Confirmed, Verdict: verdictOf(rd.Verdict),
	}}
}

// enteredName is who typed a reading in, when that is not who measured.
func enteredName(rd defects.Reading) string {
	if rd.EnteredBy == rd.ByID {
		return ""
	}
	return rd.EnteredName
}

func withdrawnEvent(rd defects.Reading) change {
	return change{kind: "reading.withdraw", typ: "reading", id: rd.ID, data: struct {
		Reason string `json:"reason"`
		Value  string `json:"value"`
		Unit   string `json:"unit"`
		Set    string `json:"set,omitempty"`
	}{rd.Withdrawn, rd.Value.String(), rd.Unit, rd.SetID}}
}

// rejudgedEvent keeps both verdicts; by is the decision it belongs to, "" when
// it was taken for this reading alone.
func rejudgedEvent(before, after defects.Reading, reason, by string) change {
	return change{kind: "reading.rejudge", typ: "reading", id: after.ID, data: struct {
		Reason string      `json:"reason"`
		By     string      `json:"rejudgement,omitempty"`
		Before verdictData `json:"before"`
		After  verdictData `json:"after"`
	}{reason, by, verdictOf(before.Verdict), verdictOf(after.Verdict)}}
}

func rejudgementEvent(kind string, j defects.Rejudgement) change {
	type line struct {
		Before string `json:"before"`
		After  string `json:"after"`
		N      int    `json:"n"`
	}
	lines := func(of []defects.TallyLine) (out []line) {
		for _, l := range of {
			out = append(out, line{string(l.Before), string(l.After), l.N})
		}
		return out
	}
	return change{kind: kind, typ: "rejudgement", id: j.ID, data: struct {
		Reason    string   `json:"reason"`
		Elevation string   `json:"elevation,omitempty"`
		Stage     string   `json:"stage,omitempty"`
		Quantity  string   `json:"quantity,omitempty"`
		Schedules []string `json:"schedules"`
		Rule      string   `json:"rule"`
		Guard     string   `json:"guard"`
		Tally     []line   `json:"tally,omitempty"`
		Sets      []line   `json:"sets,omitempty"`
		Surveys   []line   `json:"surveys,omitempty"`
		Snags     []int    `json:"snags,omitempty"`
	}{
		j.Reason, j.ElevationID, j.Stage, j.Quantity, j.Schedules, string(j.Rule), j.Guard.String(),
		lines(j.Tally.Lines), lines(j.Tally.Sets), lines(j.Tally.Surveys), j.Tally.Snags,
	}}
}

// setData is a set as the log keeps it.
type setData struct {
	Quantity  string    `json:"quantity"`
	Name      string    `json:"name"`
	Substrate string    `json:"substrate,omitempty"`
	Stage     string    `json:"stage,omitempty"`
	Place     placeData `json:"place"`

	Stated *statementData `json:"stated,omitempty"` // by the designer
}

func setEvent(kind string, s defects.Set) change {
	return change{kind: kind, typ: "set", id: s.ID, data: setData{
		Quantity: s.Quantity, Name: s.Name, Substrate: s.Substrate, Stage: s.Stage, Place: placeOf(s.Place),
		Stated: statementOf(s.Stated),
	}}
}

// setVerdictData is what a set's readings came to.
type setVerdictData struct {
	Readings int         `json:"readings"`
	Result   string      `json:"result,omitempty"`
	Text     string      `json:"text,omitempty"`
	Verdict  verdictData `json:"verdict"`
}

func setVerdictOf(s defects.Set) setVerdictData {
	text := s.Verdict.ReasonText
	if text == "" {
		text = s.ResultText
	}
	return setVerdictData{Readings: s.Readings, Result: decimalText(s.Result), Text: text, Verdict: verdictOf(s.Verdict)}
}

func setJudgedEvent(before, after defects.Set) change {
	return change{kind: "set.judge", typ: "set", id: after.ID, data: struct {
		Before setVerdictData `json:"before"`
		After  setVerdictData `json:"after"`
	}{setVerdictOf(before), setVerdictOf(after)}}
}

// stamp writes an instant for the log.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}
