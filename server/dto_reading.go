package server

import (
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

// NewReading is one value as it was measured. Decimals may be strings or
// numbers; they are taken by their text.
type NewReading struct {
	ID             string   `json:"id,omitempty" doc:"your own, repeated in the answer"`
	Quantity       string   `json:"quantity"`
	Value          Exact    `json:"value,omitempty"`
	Observations   []Exact  `json:"observations,omitempty" doc:"values taken one after the other, 2 to 50; their mean is the value, which is then left out"`
	Unit           string   `json:"unit" doc:"the quantity's own; nothing is converted"`
	Expanded       Exact    `json:"expanded_uncertainty,omitempty" doc:"U, k = 2"`
	BaseLength     Exact    `json:"base_length_m,omitempty"`
	Courses        int      `json:"courses,omitempty"`
	FailurePlane   string   `json:"failure_plane,omitempty"`
	Mode           string   `json:"mode,omitempty"`
	Nominal        Exact    `json:"nominal,omitempty"`
	Area           Exact    `json:"area_m2,omitempty"`
	Trend          string   `json:"trend,omitempty" doc:"of a temperature: rising, falling or steady"`
	AirTemperature Exact    `json:"air_temperature_c,omitempty" doc:"of the air beside a surface"`
	Humidity       Exact    `json:"relative_humidity,omitempty" doc:"of that air, %"`
	Dolly          string   `json:"dolly,omitempty"`
	Instrument     string   `json:"instrument,omitempty" doc:"id or name"`
	MeasuredAt     string   `json:"measured_at,omitempty" doc:"RFC 3339; now when absent"`
	By             string   `json:"by,omitempty" doc:"login of who measured; you when absent"`
	Gang           string   `json:"gang,omitempty"`
	Batch          string   `json:"batch,omitempty"`
	Stage          string   `json:"stage,omitempty"`
	Elevation      string   `json:"elevation,omitempty" doc:"id, \"Building / Name\", or a name used once"`
	X              Exact    `json:"x_m,omitempty"`
	Z              Exact    `json:"z_m,omitempty"`
	Bay            int      `json:"bay,omitempty"`
	Lift           int      `json:"lift,omitempty"`
	Opening        string   `json:"opening,omitempty"`
	Zone           string   `json:"zone,omitempty"`
	Photos         []string `json:"photos,omitempty"`
	Note           string   `json:"note,omitempty"`
	Set            string   `json:"set,omitempty" doc:"id or name of a set"`
	Confirmed      bool     `json:"confirmed,omitempty" doc:"yes, the implausible value is as typed"`
}

func (n NewReading) input(row int) register.ReadingInput {
	return register.ReadingInput{
		Row: row, ID: n.ID, Quantity: n.Quantity, Value: n.Value.text(), Observations: strings.Join(each(n.Observations, Exact.text), " "), Unit: n.Unit,
		Expanded: n.Expanded.text(), BaseLength: n.BaseLength.text(), Courses: n.Courses, FailurePlane: n.FailurePlane,
		Mode: n.Mode, Nominal: n.Nominal.text(), Area: n.Area.text(), Trend: n.Trend, AirTemperature: n.AirTemperature.text(), Humidity: n.Humidity.text(), Dolly: n.Dolly, InstrumentID: n.Instrument,
		MeasuredAt: n.MeasuredAt, ByLogin: n.By, Gang: n.Gang, Batch: n.Batch, Stage: n.Stage, ElevationID: n.Elevation,
		X: n.X.text(), Z: n.Z.text(), Bay: n.Bay, Lift: n.Lift, Opening: n.Opening, Zone: n.Zone, Photos: n.Photos,
		Note: n.Note, SetID: n.Set, Confirmed: n.Confirmed,
	}
}

// Reading is one value with its verdict.
type Reading struct {
	ID             string   `json:"id"`
	Quantity       string   `json:"quantity"`
	Value          Exact    `json:"value"`
	Observations   []Exact  `json:"observations,omitempty" doc:"that the value is the mean of"`
	Unit           string   `json:"unit"`
	Expanded       *Exact   `json:"expanded_uncertainty,omitempty"`
	BaseLength     *Exact   `json:"base_length_m,omitempty"`
	Courses        int      `json:"courses,omitempty"`
	FailurePlane   string   `json:"failure_plane,omitempty"`
	Mode           string   `json:"mode,omitempty"`
	Nominal        *Exact   `json:"nominal,omitempty"`
	Area           *Exact   `json:"area_m2,omitempty"`
	Trend          string   `json:"trend,omitempty"`
	AirTemperature *Exact   `json:"air_temperature_c,omitempty"`
	Humidity       *Exact   `json:"relative_humidity,omitempty"`
	Dolly          string   `json:"dolly,omitempty"`
	InstrumentID   string   `json:"instrument_id,omitempty"`
	Instrument     string   `json:"instrument,omitempty"`
	MeasuredAt     string   `json:"measured_at"`
	By             Person   `json:"by"`
	Gang           string   `json:"gang,omitempty"`
	Batch          string   `json:"batch,omitempty"`
	Stage          string   `json:"stage,omitempty"`
	Place          Place    `json:"place"`
	Photos         []string `json:"photos"`
	Note           string   `json:"note,omitempty"`
	SetID          string   `json:"set_id,omitempty"`
	Confirmed      bool     `json:"confirmed,omitempty"`
	EnteredBy      Person   `json:"entered_by" doc:"who typed it in"`
	EnteredAt      string   `json:"entered_at"`
	Withdrawn      string   `json:"withdrawn,omitempty" doc:"reason"`
	Verdict        Verdict  `json:"verdict"`
	Snag           int      `json:"snag,omitempty" doc:"number of the snag raised from it"`
	Version        int      `json:"version"`
}

func readingOf(r defects.Reading) Reading {
	return Reading{
		ID: r.ID, Quantity: r.Quantity, Value: Exact(r.Value.String()), Unit: r.Unit, Expanded: exactOf(r.Expanded),
		Observations: each(r.Observations, exactText), BaseLength: exactOf(r.BaseLength), Courses: r.Courses, FailurePlane: r.FailurePlane, Mode: r.Mode,
		Nominal: exactOf(r.Nominal), Area: exactOf(r.Area), Trend: string(r.Trend), AirTemperature: exactOf(r.AirTemperature), Humidity: exactOf(r.Humidity), Dolly: r.Dolly, InstrumentID: r.InstrumentID,
		Instrument: r.Instrument, MeasuredAt: stamp(r.MeasuredAt), By: Person{ID: r.ByID, Name: r.ByName}, Gang: r.Gang,
		Batch: r.Batch, Stage: r.Stage, Place: placeOf(r.Place), Photos: each(r.Photos, itself), Note: r.Note, SetID: r.SetID,
		Confirmed: r.Confirmed, EnteredBy: Person{ID: r.EnteredBy, Name: r.EnteredName}, EnteredAt: stamp(r.EnteredAt), Withdrawn: r.Withdrawn, Verdict: verdictOf(r.Verdict),
		Snag: r.SnagNumber, Version: r.Version,
	}
}

// FollowUp is what a reading, a set or a pattern asks for next.
type FollowUp struct {
	Kind     string `json:"kind,omitempty" doc:"raise, measure-again, search or opening-up"`
	Text     string `json:"text"`
	Reading  string `json:"reading_id,omitempty"`
	Set      string `json:"set_id,omitempty"`
	Quantity string `json:"quantity,omitempty"`
	Code     string `json:"code,omitempty" doc:"proposed defect code"`
	Title    string `json:"title,omitempty"`
	Severity string `json:"severity,omitempty"`
	Snag     int    `json:"snag,omitempty"`
	Want     int    `json:"want,omitempty" doc:"how many readings are still wanted"`
}

func followUpOf(f register.FollowUp) FollowUp {
	return FollowUp{
		Kind: f.Kind, Text: f.Text, Reading: f.ReadingID, Set: f.SetID, Quantity: f.Quantity, Code: f.Code,
		Title: f.Title, Severity: string(f.Severity), Snag: f.SnagNumber, Want: f.Want,
	}
}

// ReadingResult is what became of one reading of a batch.
type ReadingResult struct {
	Row      int       `json:"row,omitempty"`
	Known    bool      `json:"known,omitempty" doc:"the reading was stored before and nothing was written"`
	Reading  *Reading  `json:"reading,omitempty"`
	FollowUp *FollowUp `json:"follow_up,omitempty"`
	Problem  *Problem  `json:"problem,omitempty" doc:"why it was not taken"`
}

func resultOf(r register.ReadingResult) ReadingResult {
	out := ReadingResult{Row: r.Row, Known: r.Known}
	if r.Err != nil {
		out.Problem = problemOf(r.Err, "")
		return out
	}
	reading := readingOf(r.Reading)
	out.Reading = &reading
	if r.FollowUp != nil {
		f := followUpOf(*r.FollowUp)
		out.FollowUp = &f
	}
	return out
}
