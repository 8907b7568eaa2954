package register

import (
	"storeyrod/defects"
	"storeyrod/evidence"
)

// surveyData is a survey as the log keeps it. Of the offsets it has the SHA-256,
// as it has of a photo: the row holds them, and nothing changes it.
type surveyData struct {
	Elevation   string     `json:"elevation"`
	Stage       string     `json:"stage,omitempty"`
	Columns     int        `json:"columns"`
	Rows        int        `json:"rows"`
	DX          int64      `json:"dx_mm"`
	DZ          int64      `json:"dz_mm"`
	X           int64      `json:"x_mm"`
	Z           int64      `json:"z_mm"`
	Offsets     string     `json:"offsets_sha256"`
	Longest     int64      `json:"straightedge_mm"`
	Expanded    string     `json:"expanded_uncertainty,omitempty"`
	Instrument  string     `json:"instrument,omitempty"`
	MeasuredAt  string     `json:"measured_at"`
	By          string     `json:"by"`
	ByName      string     `json:"by_name"`
	EnteredName string     `json:"entered_name,omitempty"` // when another typed it in
	Note        string     `json:"note,omitempty"`
	Judged      judgedData `json:"judged"`
}

// judgedData is what a survey came to, as the log keeps it.
type judgedData struct {
	Outcome   string    `json:"outcome"`
	Schedules []string  `json:"schedules,omitempty"`
	Rule      string    `json:"rule,omitempty"`
	Guard     string    `json:"guard,omitempty"`
	Expanded  string    `json:"expanded,omitempty"`
	Expired   bool      `json:"calibration_expired,omitempty"`
	Flatness  worstData `json:"flatness"`
	Plumb     worstData `json:"plumb"`
}

type worstData struct {
	Value   string      `json:"value_mm,omitempty"`
	Base    string      `json:"base_length_m,omitempty"`
	Column  int         `json:"column"`
	Row     int         `json:"row"`
	Verdict verdictData `json:"verdict"`
}

func worstOf(w defects.SurveyWorst) worstData {
	return worstData{
		Value: decimalText(w.Value), Base: decimalText(w.Base), Column: w.At.Column, Row: w.At.Row, Verdict: verdictOf(w.Verdict),
	}
}

func judgedOf(j defects.SurveyJudged) judgedData {
	return judgedData{
		Outcome: string(j.Outcome), Schedules: j.Schedules, Rule: string(j.Rule), Guard: j.Guard.String(),
		Expanded: decimalText(j.Expanded), Expired: j.CalibrationExpired, Flatness: worstOf(j.Flatness), Plumb: worstOf(j.Plumb),
	}
}

func (d judgedData) then() JudgedSurveyThen {
	return JudgedSurveyThen{
		Outcome: defects.Outcome(d.Outcome), Schedules: d.Schedules, Flatness: d.Flatness.Verdict.then(), Plumb: d.Plumb.Verdict.then(),
	}
}

func surveyOfRow(s defects.Survey) surveyData {
	d := surveyData{
		Elevation: s.ElevationID, Stage: s.Stage, Columns: s.Columns, Rows: s.Rows, DX: int64(s.DX), DZ: int64(s.DZ), X: int64(s.X),
		Z: int64(s.Z), Offsets: string(evidence.RefOf([]byte(s.Offsets))), Longest: int64(s.Longest), Expanded: decimalText(s.Expanded),
		Instrument: s.InstrumentID, MeasuredAt: stamp(s.MeasuredAt), By: s.ByID, ByName: s.ByName, Note: s.Note, Judged: judgedOf(s.Judged),
	}
	if s.EnteredBy != s.ByID {
		d.EnteredName = s.EnteredName
	}
	return d
}

func surveyEvent(s defects.Survey) change {
	return change{kind: "survey.add", typ: "survey", id: s.ID, data: surveyOfRow(s)}
}

const surveyRejudged = "survey.rejudge"

// surveyRejudgedEvent keeps both verdicts; by is the decision it belongs to, ""
// when it was taken for this survey alone.
func surveyRejudgedEvent(before, after defects.Survey, reason, by string) change {
	return change{kind: surveyRejudged, typ: "survey", id: after.ID, data: struct {
		Reason string     `json:"reason"`
		By     string     `json:"rejudgement,omitempty"`
		Before judgedData `json:"before"`
		After  judgedData `json:"after"`
	}{reason, by, judgedOf(before.Judged), judgedOf(after.Judged)}}
}

// goneEvent tells that a survey or a line of the weather log is withdrawn.
func goneEvent(typ, id, reason string) change {
	return change{kind: typ + ".withdraw", typ: typ, id: id, data: struct {
		Reason string `json:"reason"`
	}{reason}}
}

// weatherData is a line of the weather log as the log keeps it.
type weatherData struct {
	At          string `json:"at"`
	Elevation   string `json:"elevation,omitempty"`
	Air         string `json:"air_c,omitempty"`
	Surface     string `json:"surface_c,omitempty"`
	Humidity    string `json:"relative_humidity,omitempty"`
	Note        string `json:"note,omitempty"`
	Confirmed   bool   `json:"confirmed,omitempty"`
	Instrument  string `json:"instrument,omitempty"`
	By          string `json:"by"`
	ByName      string `json:"by_name"`
	EnteredName string `json:"entered_name,omitempty"`
}

func weatherOf(w defects.WeatherLine) weatherData {
	d := weatherData{
		At: stamp(w.At), Elevation: w.ElevationID, Air: decimalText(w.Air), Surface: decimalText(w.Surface), Humidity: decimalText(w.Humidity),
		Note: w.Note, Confirmed: w.Confirmed, Instrument: w.InstrumentID, By: w.ByID, ByName: w.ByName,
	}
	if w.EnteredBy != w.ByID {
		d.EnteredName = w.EnteredName
	}
	return d
}

func weatherEvent(w defects.WeatherLine) change {
	return change{kind: "weather.add", typ: "weather", id: w.ID, data: weatherOf(w)}
}
