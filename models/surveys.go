package models

import (
	"context"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type surveyRow struct {
	ID           string `gorm:"primaryKey"`
	SiteID       string
	ElevationID  string
	Stage        string
	GridColumns  int
	GridRows     int
	DxMm         int64
	DzMm         int64
	XMm          int64
	ZMm          int64
	Offsets      string
	LongestMm    int64
	Expanded     *string
	InstrumentID *string
	Instrument   string
	MeasuredAt   int64
	ByID         string
	ByName       string
	Note         string
	EnteredBy    string
	EnteredName  string
	EnteredAt    int64
	Withdrawn    string
	Outcome      string
	Judged       string
	Version      int
}

func (surveyRow) TableName() string { return "surveys" }

// judgedJSON is what a survey came to without its outcome, which has a column.
type judgedJSON struct {
	Schedules []string  `json:"schedules,omitempty"`
	Rule      string    `json:"rule"`
	Guard     string    `json:"guard"`
	Expanded  *string   `json:"expanded,omitempty"`
	Expired   bool      `json:"expired,omitempty"`
	Flatness  worstJSON `json:"flatness"`
	Plumb     worstJSON `json:"plumb"`
}

type worstJSON struct {
	Value   *string `json:"value,omitempty"`
	Base    *string `json:"base,omitempty"`
	Column  int     `json:"column"`
	Row     int     `json:"row"`
	Outcome string  `json:"outcome"`
	Verdict string  `json:"verdict,omitempty"`
}

func (c *columns) toWorst(w defects.SurveyWorst) worstJSON {
	return worstJSON{
		Value: optDecimal(w.Value), Base: optDecimal(w.Base), Column: w.At.Column, Row: w.At.Row,
		Outcome: string(w.Verdict.Outcome), Verdict: c.toVerdict(w.Verdict),
	}
}

func (c *columns) worst(j worstJSON) defects.SurveyWorst {
	return defects.SurveyWorst{
		Value: c.decimal(j.Value), Base: c.decimal(j.Base), At: defects.GridPoint{Column: j.Column, Row: j.Row},
		Verdict: c.verdict(j.Outcome, j.Verdict),
	}
}

func toSurveyRow(s defects.Survey, version int) (surveyRow, error) {
	var c columns
	j := s.Judged
	judged := judgedJSON{
		Schedules: j.Schedules, Rule: string(j.Rule), Guard: j.Guard.String(), Expanded: optDecimal(j.Expanded),
		Expired: j.CalibrationExpired, Flatness: c.toWorst(j.Flatness), Plumb: c.toWorst(j.Plumb),
	}
	return surveyRow{
		ID: s.ID, SiteID: s.SiteID, ElevationID: s.ElevationID, Stage: s.Stage, GridColumns: s.Columns, GridRows: s.Rows,
		DxMm: int64(s.DX), DzMm: int64(s.DZ), XMm: int64(s.X), ZMm: int64(s.Z), Offsets: s.Offsets, LongestMm: int64(s.Longest),
		Expanded: optDecimal(s.Expanded), InstrumentID: optText(s.InstrumentID), Instrument: s.Instrument,
		MeasuredAt: micros(s.MeasuredAt), ByID: s.ByID, ByName: s.ByName, Note: s.Note, EnteredBy: s.EnteredBy,
		EnteredName: s.EnteredName, EnteredAt: micros(s.EnteredAt), Withdrawn: s.Withdrawn, Outcome: string(j.Outcome),
		Judged: c.json(judged, false), Version: version,
	}, c.err
}

func (r surveyRow) survey() (defects.Survey, error) {
	var c columns
	var j judgedJSON
	c.read(r.Judged, &j)
	return defects.Survey{
		ID: r.ID, SiteID: r.SiteID, ElevationID: r.ElevationID, Stage: r.Stage, Columns: r.GridColumns, Rows: r.GridRows,
		DX: defects.MM(r.DxMm), DZ: defects.MM(r.DzMm), X: defects.MM(r.XMm), Z: defects.MM(r.ZMm), Offsets: r.Offsets,
		Longest: defects.MM(r.LongestMm), Expanded: c.decimal(r.Expanded), InstrumentID: textOf(r.InstrumentID),
		Instrument: r.Instrument, MeasuredAt: instant(r.MeasuredAt), ByID: r.ByID, ByName: r.ByName, Note: r.Note,
		EnteredBy: r.EnteredBy, EnteredName: r.EnteredName, EnteredAt: instant(r.EnteredAt), Withdrawn: r.Withdrawn,
		Judged: defects.SurveyJudged{
			Schedules: j.Schedules, Rule: defects.Rule(j.Rule), Guard: c.number(j.Guard), Expanded: c.decimal(j.Expanded),
			CalibrationExpired: j.Expired, Outcome: defects.Outcome(r.Outcome), Flatness: c.worst(j.Flatness), Plumb: c.worst(j.Plumb),
		},
		Version: r.Version,
	}, c.err
}

// surveys implements register.Surveys.
type surveys struct{ *tx }

func (s surveys) InsertSurvey(ctx context.Context, v defects.Survey) (err error) {
	defer wrap("insert survey", &err)
	if err := s.enter(ctx, v.SiteID); err != nil {
		return err
	}
	r, err := toSurveyRow(v, firstVersion(v.Version))
	if err != nil {
		return err
	}
	return insert(ctx, s.tx, r)
}

// UpdateSurvey keeps what was measured: only the verdict and a withdrawal change.
func (s surveys) UpdateSurvey(ctx context.Context, v defects.Survey) (err error) {
	defer wrap("update survey", &err)
	if err := s.enter(ctx, v.SiteID); err != nil {
		return err
	}
	r, err := toSurveyRow(v, v.Version+1)
	if err != nil {
		return err
	}
	return change(ctx, s.tx, "survey", v.SiteID, v.ID, v.Version, r, "site_id", "elevation_id", "stage", "grid_columns", "grid_rows",
		"dx_mm", "dz_mm", "x_mm", "z_mm", "offsets", "longest_mm", "expanded", "instrument_id", "instrument", "measured_at",
		"by_id", "by_name", "note", "entered_by", "entered_name", "entered_at")
}

func (s surveys) Survey(ctx context.Context, siteID, id string) (_ defects.Survey, err error) {
	defer wrap("survey", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Survey{}, err
	}
	q := from[surveyRow](s.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[surveyRow](ctx, s.tx, "survey", q)
	if err != nil {
		return defects.Survey{}, err
	}
	return r.survey()
}

// ListSurveys gives the newest measured first, then by id.
func (s surveys) ListSurveys(ctx context.Context, f register.SurveyFilter, page register.Page) (_ []defects.Survey, err error) {
	defer wrap("list surveys", &err)
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := from[surveyRow](s.tx)
	if !f.Whole { // a list of them has no use for thousands of offsets each
		q = sqlText(strings.Replace(q.text(), " offsets,", " '' AS offsets,", 1))
	}
	q.add(" WHERE site_id = ?", f.SiteID)
	q.andEqual("elevation_id", f.ElevationID)
	q.andEqual("stage", f.Stage)
	if err := q.after("measured_at", page.After); err != nil {
		return nil, err
	}
	q.limit(page.Limit)
	rows, err := list[surveyRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, surveyRow.survey)
}
