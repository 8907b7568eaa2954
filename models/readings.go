package models

import (
	"context"
	"strings"

	"storeyrod/defects"
	"storeyrod/defects/register"
)

type readingRow struct {
	ID             string `gorm:"primaryKey"`
	SiteID         string
	ClientID       string
	SetID          *string
	Quantity       string
	Value          string
	Observations   string
	Unit           string
	Expanded       *string
	BaseLength     *string
	Nominal        *string
	Courses        int
	FailurePlane   string
	Mode           string
	Area           *string
	Trend          string
	AirTemperature *string
	Humidity       *string
	Dolly          string
	InstrumentID   *string
	Instrument     string
	MeasuredAt     int64
	ByID           string
	ByName         string
	Gang           string
	Batch          string
	Stage          string
	Place          placeRow `gorm:"embedded"`
	Photos         string
	Note           string
	Confirmed      bool
	EnteredBy      string
	EnteredName    string
	EnteredAt      int64
	Withdrawn      string
	Outcome        string
	Verdict        string
	VerdictKind    int64
	SnagNumber     *int
	Unanswered     bool
	Version        int
}

func (readingRow) TableName() string { return "readings" }

func toReadingRow(rd defects.Reading, version int) (readingRow, error) {
	var c columns
	r := readingRow{
		ID: rd.ID, SiteID: rd.SiteID, ClientID: rd.ClientID, SetID: optText(rd.SetID), Quantity: rd.Quantity, Value: rd.Value.String(),
		Observations: strings.Join(defects.DecimalTexts(rd.Observations), " "), Unit: rd.Unit, Expanded: optDecimal(rd.Expanded), BaseLength: optDecimal(rd.BaseLength),
		Nominal: optDecimal(rd.Nominal), Courses: rd.Courses,
		FailurePlane: rd.FailurePlane, Mode: rd.Mode, Area: optDecimal(rd.Area),
		Trend: string(rd.Trend), AirTemperature: optDecimal(rd.AirTemperature), Humidity: optDecimal(rd.Humidity),
		Dolly: rd.Dolly, InstrumentID: optText(rd.InstrumentID),
		Instrument: rd.Instrument, MeasuredAt: micros(rd.MeasuredAt), ByID: rd.ByID, ByName: rd.ByName, Gang: rd.Gang,
		Batch: rd.Batch, Stage: rd.Stage, Place: toPlaceRow(rd.Place), Photos: c.json(rd.Photos, len(rd.Photos) == 0),
		Note: rd.Note, Confirmed: rd.Confirmed, EnteredBy: rd.EnteredBy, EnteredName: rd.EnteredName, EnteredAt: micros(rd.EnteredAt),
		Withdrawn: rd.Withdrawn, Outcome: string(rd.Verdict.Outcome), Verdict: c.toVerdict(rd.Verdict),
		Unanswered: unanswered(rd), Version: version,
	}
	if r.VerdictKind = verdictKind(r.Outcome, r.Verdict); r.Withdrawn != "" {
		r.VerdictKind = withdrawnKind
	}
	if rd.SnagNumber != 0 {
		r.SnagNumber = &rd.SnagNumber
	}
	return r, c.err
}

// unanswered is stored so that the list of them has an index; a CHECK holds it
// to the columns it follows from.
func unanswered(rd defects.Reading) bool {
	switch rd.Verdict.Outcome {
	case defects.Fail, defects.ConditionalFail, defects.ConditionalPass:
		return rd.Withdrawn == "" && rd.SnagNumber == 0
	}
	return false
}

func (r readingRow) reading() (defects.Reading, error) {
	var c columns
	rd := defects.Reading{
		ID: r.ID, SiteID: r.SiteID, ClientID: r.ClientID, SetID: textOf(r.SetID), Quantity: r.Quantity, Value: c.number(r.Value),
		Unit: r.Unit, Expanded: c.decimal(r.Expanded), BaseLength: c.decimal(r.BaseLength),
		Nominal: c.decimal(r.Nominal), Courses: r.Courses,
		FailurePlane: r.FailurePlane, Mode: r.Mode, Area: c.decimal(r.Area),
		Trend: defects.Trend(r.Trend), AirTemperature: c.decimal(r.AirTemperature), Humidity: c.decimal(r.Humidity),
		Dolly: r.Dolly, InstrumentID: textOf(r.InstrumentID),
		Instrument: r.Instrument, MeasuredAt: instant(r.MeasuredAt), ByID: r.ByID, ByName: r.ByName, Gang: r.Gang,
		Batch: r.Batch, Stage: r.Stage, Place: r.Place.place(), Note: r.Note, Confirmed: r.Confirmed,
		EnteredBy: r.EnteredBy, EnteredName: r.EnteredName, EnteredAt: instant(r.EnteredAt), Withdrawn: r.Withdrawn,
		Verdict: c.verdict(r.Outcome, r.Verdict), Version: r.Version,
	}
	if r.SnagNumber != nil {
		rd.SnagNumber = *r.SnagNumber
	}
	c.read(r.Photos, &rd.Photos)
	for _, text := range strings.Fields(r.Observations) {
		rd.Observations = append(rd.Observations, c.number(text))
	}
	return rd, c.err
}

// readings implements register.Readings.
type readings struct{ *tx }

func (s readings) InsertReading(ctx context.Context, rd defects.Reading) (err error) {
	defer wrap("insert reading", &err)
	if err := s.enter(ctx, rd.SiteID); err != nil {
		return err
	}
	r, err := toReadingRow(rd, firstVersion(rd.Version))
	if err != nil {
		return err
	}
	if err := insert(ctx, s.tx, r); err != nil {
		return err
	}
	return link[readingPhotoRow](ctx, s.tx, "reading_id", rd.SiteID, rd.ID, rd.Photos, nil)
}

func (s readings) UpdateReading(ctx context.Context, rd defects.Reading) (err error) {
	defer wrap("update reading", &err)
	if err := s.enter(ctx, rd.SiteID); err != nil {
		return err
	}
	r, err := toReadingRow(rd, rd.Version+1)
	if err != nil {
		return err
	}
	err = change(ctx, s.tx, "reading", rd.SiteID, rd.ID, rd.Version, r, "site_id", "client_id", "entered_by", "entered_name", "entered_at")
	if err != nil {
		return err
	}
	return relink[readingPhotoRow](ctx, s.tx, "reading_id", rd.SiteID, rd.ID, rd.Photos, nil)
}

func (s readings) Reading(ctx context.Context, siteID, id string) (_ defects.Reading, err error) {
	defer wrap("reading", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Reading{}, err
	}
	q := from[readingRow](s.tx)
	q.add(" WHERE site_id = ? AND id = ?", siteID, id)
	r, err := one[readingRow](ctx, s.tx, "reading", q)
	if err != nil {
		return defects.Reading{}, err
	}
	return r.reading()
}

// ReadingByClientID finds a reading by what its sender called it.
func (s readings) ReadingByClientID(ctx context.Context, siteID, clientID string) (_ defects.Reading, err error) {
	defer wrap("reading by client id", &err)
	if err := s.enter(ctx, siteID); err != nil {
		return defects.Reading{}, err
	}
	q := from[readingRow](s.tx)
	q.add(" WHERE site_id = ? AND client_id = ? AND client_id <> ''", siteID, clientID)
	r, err := one[readingRow](ctx, s.tx, "reading", q)
	if err != nil {
		return defects.Reading{}, err
	}
	return r.reading()
}

// SameReading is the n-th of the stored readings, from 0 and the oldest first,
// that say the same as rd: what, how much, when, with what, by whom and where.
func (s readings) SameReading(ctx context.Context, rd defects.Reading, n int) (_ defects.Reading, err error) {
	defer wrap("same reading", &err)
	if err := s.enter(ctx, rd.SiteID); err != nil {
		return defects.Reading{}, err
	}
	p := rd.Place
	q := from[readingRow](s.tx)
	q.add(" WHERE site_id = ? AND measured_at = ? AND quantity = ? AND value = ?", rd.SiteID, micros(rd.MeasuredAt), rd.Quantity, rd.Value.String())
	q.and("unit = ? AND by_id = ? AND COALESCE(instrument_id, '') = ?", rd.Unit, rd.ByID, rd.InstrumentID)
	q.and("COALESCE(elevation_id, '') = ? AND bay = ? AND lift = ? AND opening = ? AND zone = ?", p.ElevationID, p.Bay, p.Lift, p.Opening, string(p.Zone))
	q.and("COALESCE(x_mm, -1) = ? AND COALESCE(z_mm, -1) = ?", orMinus(p.X), orMinus(p.Z))
	q.add(" ORDER BY id LIMIT 1 OFFSET ?", n)
	r, err := one[readingRow](ctx, s.tx, "reading", q)
	if err != nil {
		return defects.Reading{}, err
	}
	return r.reading()
}

// orMinus is a length that is never below zero, or -1 for none.
func orMinus(v *defects.MM) int64 {
	if v == nil {
		return -1
	}
	return int64(*v)
}

// ListReadings gives the newest measured first, then by id.
func (s readings) ListReadings(ctx context.Context, f register.ReadingFilter, page register.Page) (_ []defects.Reading, err error) {
	defer wrap("list readings", &err)
	if f.IDs != nil && len(f.IDs) == 0 {
		return nil, nil
	}
	if err := s.enter(ctx, f.SiteID); err != nil {
		return nil, err
	}
	q := s.filtered(f)
	if err := q.after("measured_at", page.After); err != nil {
		return nil, err
	}
	q.limit(page.Limit)
	rows, err := list[readingRow](ctx, s.tx, q)
	if err != nil {
		return nil, err
	}
	return convert(rows, readingRow.reading)
}

func (s readings) filtered(f register.ReadingFilter) *query {
	return narrowed(from[readingRow](s.tx), f)
}

// narrowed adds the conditions of a filter to a query over readings.
func narrowed(q *query, f register.ReadingFilter) *query {
	q.add(" WHERE site_id = ?", f.SiteID)
	q.andEqual("elevation_id", f.ElevationID)
	q.andEqual("quantity", f.Quantity)
	q.andEqual("stage", f.Stage)
	q.andEqual("set_id", f.SetID)
	q.andEqual("outcome", string(f.Outcome))
	q.andEqual("gang", f.Gang)
	if f.IDs != nil {
		q.and("id IN ?", f.IDs)
	}
	if !f.Since.IsZero() {
		q.and("measured_at >= ?", micros(f.Since))
	}
	if !f.Until.IsZero() {
		q.and("measured_at < ?", micros(f.Until))
	}
	if f.Unanswered {
		q.and("unanswered")
	}
	return q
}

// readingPhotoRow and snagPhotoRow tell which photos a reading or a snag uses.
type readingPhotoRow struct{ SiteID, ReadingID, PhotoID string }

func (readingPhotoRow) TableName() string { return "reading_photos" }

// relink makes the linked photos of an owner the union of two lists.
func relink[R row](ctx context.Context, t *tx, owner, siteID, ownerID string, a, b []string) error {
	var r R
	q := sqlText("DELETE FROM "+r.TableName()+" WHERE "+owner+" = ?", ownerID)
	if len(a)+len(b) > 0 {
		q.and("photo_id NOT IN ?", append(append([]string{}, a...), b...))
	}
	if _, err := exec(ctx, t, q); err != nil {
		return err
	}
	return link[R](ctx, t, owner, siteID, ownerID, a, b)
}

// link adds photos to an owner; those it has stay.
func link[R row](ctx context.Context, t *tx, owner, siteID, ownerID string, a, b []string) error {
	if len(a)+len(b) == 0 {
		return nil
	}
	var r R
	q := sqlText("INSERT INTO " + r.TableName() + " (site_id, " + owner + ", photo_id) VALUES ")
	for i, photo := range append(append([]string{}, a...), b...) {
		if i > 0 {
			q.add(", ")
		}
		q.add("(?, ?, ?)", siteID, ownerID, photo)
	}
	q.add(" ON CONFLICT (" + owner + ", photo_id) DO NOTHING")
	_, err := exec(ctx, t, q)
	return err
}
