package register

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"storeyrod/defects"
	"storeyrod/defects/reference"
)

const (
	maxWeatherRows = 20_000
	weatherReach   = 3 * time.Hour // looked at before and after a shift
	maxFrostHours  = 168
	maxShiftLines  = 5000
)

// WeatherInput is one line of a weather log as somebody typed it.
type WeatherInput struct {
	Row          int
	At           string // RFC 3339, or a local time of the site such as "2026-11-18 08:30"; "" = now
	ElevationID  string // "" = of the site
	Air          string // °C
	Surface      string
	Humidity     string // %
	InstrumentID string
	ByLogin      string
	Note         string
	Confirmed    bool // implausible, and right as typed
}

// WeatherResult is what became of one line of a batch.
type WeatherResult struct {
	Row   int
	Known bool // stored before, and nothing was written
	Line  defects.WeatherLine
	Err   *defects.Error
}

// WeatherPage is one page of a weather log.
type WeatherPage struct {
	Items []defects.WeatherLine
	Next  string
}

// AddWeather stores lines of the weather log in their order. Each stands alone: a
// refused one carries its error and the rest goes on; one that says the same as a
// stored one is known and not stored again, so a file that was cut off is sent
// again. The error is for what stops the batch; the results so far come with it.
func (r *Register) AddWeather(ctx context.Context, a Actor, siteID string, in []WeatherInput) ([]WeatherResult, error) {
	if len(in) > maxWeatherRows {
		return nil, defects.Refuse(defects.TooLarge, "too_many_rows", fmt.Sprintf("at most %d lines at once", maxWeatherRows))
	}
	var results []WeatherResult
	for chunk := range slices.Chunk(in, readingChunk) {
		var part []WeatherResult
		err := r.Store.Write(ctx, func(tx Tx) (err error) {
			part, err = r.addWeatherIn(ctx, tx, a, siteID, chunk, len(results))
			return err
		})
		if err != nil {
			return results, err
		}
		results = append(results, part...)
	}
	return results, nil
}

func (r *Register) addWeatherIn(ctx context.Context, tx Tx, a Actor, siteID string, chunk []WeatherInput, before int) ([]WeatherResult, error) {
	m, err := r.permit(ctx, tx, a, siteID, defects.AddReading)
	if err != nil {
		return nil, err
	}
	b, err := r.bench(ctx, tx, a, m, siteID, nil)
	if err != nil {
		return nil, err
	}
	results := make([]WeatherResult, 0, len(chunk))
	for i, row := range chunk {
		if row.Row == 0 {
			row.Row = before + i + 1
		}
		line, err := b.weatherLine(row)
		if err != nil {
			results = append(results, WeatherResult{Row: row.Row, Err: rowRefusal(err)})
			continue
		}
		stored, err := tx.Weather().ListWeather(ctx, WeatherFilter{SiteID: siteID, From: line.At, Until: line.At}, everything())
		if err != nil {
			return nil, err
		}
		if at := slices.IndexFunc(stored, func(w defects.WeatherLine) bool { return w.Withdrawn == "" && defects.SameWeather(w, line) }); at >= 0 {
			results = append(results, WeatherResult{Row: row.Row, Known: true, Line: stored[at]})
			continue
		}
		line.ID, line.Version = r.NewID(), 1
		if err := tx.Weather().InsertWeather(ctx, line); err != nil {
			return nil, err
		}
		if err := r.note(ctx, tx, a, m, siteID, weatherEvent(line)); err != nil {
			return nil, err
		}
		results = append(results, WeatherResult{Row: row.Row, Line: line})
	}
	return results, nil
}

// ListWeather lists a site's weather log, the newest first.
func (r *Register) ListWeather(ctx context.Context, a Actor, f WeatherFilter, page Page) (WeatherPage, error) {
	var out WeatherPage
	err := r.Store.Read(ctx, func(tx Tx) error {
		if _, err := r.permit(ctx, tx, a, f.SiteID, defects.ViewSite); err != nil {
			return err
		}
		var err error
		out.Items, out.Next, err = pageOf(page, func(p Page) ([]defects.WeatherLine, error) {
			return tx.Weather().ListWeather(ctx, f, p)
		}, CursorOfWeather)
		return err
	})
	return out, err
}

// WithdrawWeather takes a line out of the log with a reason, as WithdrawSurvey.
func (r *Register) WithdrawWeather(ctx context.Context, a Actor, siteID, id string, version int, reason string) (defects.WeatherLine, error) {
	reason, err := neededReason(reason)
	if err != nil {
		return defects.WeatherLine{}, err
	}
	var after defects.WeatherLine
	err = r.Store.Write(ctx, func(tx Tx) error {
		m, err := r.member(ctx, tx, a, siteID)
		if err != nil {
			return err
		}
		if after, err = tx.Weather().WeatherLine(ctx, siteID, id); err != nil {
			return err
		}
		if err := mayTakeBack(m, after.ByID, after.EnteredBy); err != nil {
			return err
		}
		if err := stillStanding("line", version, after.Version, after.Withdrawn); err != nil {
			return err
		}
		after.Withdrawn = reason
		if err := tx.Weather().UpdateWeather(ctx, after); err != nil {
			return err
		}
		after.Version++
		return r.note(ctx, tx, a, m, siteID, goneEvent("weather", id, reason))
	})
	return after, err
}

// ShiftQuery asks for the weather of one stretch of work.
type ShiftQuery struct {
	Day         string // "2006-01-02" in the site's zone
	Start, End  string // "15:04"; an end before the start is on the next day
	ElevationID string // its own lines and those of the site; "" = all
	Stage       string // of the work, for limits that go by it
	FrostHours  int    // after the end, without frost; 0 = not asked
}

// ShiftView is the verdict on a stretch of work, by the schedules in force.
type ShiftView struct {
	defects.WeatherVerdict
	Shift     defects.Shift
	Schedules []string           // name@version, the governing one first
	Lines     int                // of the log that were looked at
	Work      *defects.ShiftWork // done on the elevation meanwhile, nil when none was chosen
	Proposed  []ProposedDefect   // by a failure
}

// ProposedDefect is a defect of the catalogue with why it is proposed.
type ProposedDefect struct {
	defects.DefectKind
	Why string
}

// JudgeShift holds the weather log of a site against the schedules in force over a
// stretch of work. Nothing is stored. Gaps in the log come as looks without a
// verdict; lines that were withdrawn do not count.
func (r *Register) JudgeShift(ctx context.Context, a Actor, siteID string, q ShiftQuery) (ShiftView, error) {
	var v ShiftView
	if q.FrostHours < 0 || q.FrostHours > maxFrostHours {
		return v, defects.RefuseField(defects.Invalid, "frost_hours", "bad_number", fmt.Sprintf("must be 0 to %d", maxFrostHours))
	}
	if err := checkStage(q.Stage); err != nil {
		return v, err
	}
	err := r.Store.Read(ctx, func(tx Tx) error {
		m, err := r.permit(ctx, tx, a, siteID, defects.ViewSite)
		if err != nil {
			return err
		}
		b, err := r.bench(ctx, tx, a, m, siteID, nil)
		if err != nil {
			return err
		}
		if v.Shift, err = shiftOf(q, b.zone); err != nil {
			return err
		}
		log, err := b.weatherLog(ctx, tx, q, v.Shift)
		if err != nil {
			return err
		}
		v.Lines = len(log)
		for _, l := range b.rules {
			v.Schedules = append(v.Schedules, l.Ref())
		}
		v.WeatherVerdict, err = defects.JudgeShift(log, v.Shift, defects.WeatherRules{
			Schedules: b.rules, Rule: b.site.Rule, Guard: b.site.Guard, Stage: q.Stage, FrostHours: q.FrostHours,
		})
		if err != nil {
			return err
		}
		if v.Work, err = b.shiftWork(ctx, tx, q, v.Shift); err != nil {
			return err
		}
		for _, c := range defects.WeatherConsequences(v.WeatherVerdict, q.Stage, v.Work) {
			if kind, ok := reference.DefectKind(c.Code); ok {
				v.Proposed = append(v.Proposed, ProposedDefect{kind, c.Why})
			}
		}
		return nil
	})
	return v, err
}

// shiftWork looks up what was done on the elevation of a question during its
// shift.
func (b *bench) shiftWork(ctx context.Context, tx Tx, q ShiftQuery, shift defects.Shift) (*defects.ShiftWork, error) {
	if q.ElevationID == "" {
		return nil, nil
	}
	wall, err := findElevation(b.elevations, q.ElevationID)
	if err != nil {
		return nil, err
	}
	readings, err := tx.Readings().ListReadings(ctx, ReadingFilter{
		SiteID: b.site.ID, ElevationID: wall.ID, Since: shift.Start, Until: shift.End.Add(time.Microsecond),
	}, everything())
	if err != nil {
		return nil, err
	}
	photos, err := tx.Photos().ListPhotos(ctx, PhotoFilter{SiteID: b.site.ID, ElevationID: wall.ID}, everything())
	if err != nil {
		return nil, err
	}
	work := defects.WorkOf(wall.ID, q.Stage, shift, readings, photos, b.zone)
	return &work, nil
}

// weatherLog loads the lines that a shift is judged by, in the site's zone.
func (b *bench) weatherLog(ctx context.Context, tx Tx, q ShiftQuery, shift defects.Shift) ([]defects.WeatherEntry, error) {
	f := WeatherFilter{SiteID: b.site.ID, From: shift.Start.Add(-weatherReach), Until: shift.End.Add(weatherReach)}
	if frost := shift.End.Add(time.Duration(q.FrostHours) * time.Hour); frost.After(f.Until) {
		f.Until = frost
	}
	if q.ElevationID != "" {
		wall, err := findElevation(b.elevations, q.ElevationID)
		if err != nil {
			return nil, err
		}
		f.ElevationID = wall.ID
	}
	lines, err := tx.Weather().ListWeather(ctx, f, Page{Limit: maxShiftLines + 1})
	if err != nil {
		return nil, err
	}
	if len(lines) > maxShiftLines {
		return nil, defects.Refuse(defects.TooLarge, "too_many_rows", fmt.Sprintf("more than %d lines lie around this shift; ask for one elevation or a shorter time", maxShiftLines))
	}
	var log []defects.WeatherEntry
	for _, w := range lines {
		if w.Withdrawn != "" {
			continue
		}
		e := defects.WeatherEntry{ID: w.ID, At: w.At.In(b.zone), Air: w.Air, Surface: w.Surface, Humidity: w.Humidity}
		e.Expanded, e.CalibrationExpired = b.uncertainty(defects.Reading{InstrumentID: w.InstrumentID, Unit: "degC", MeasuredAt: w.At})
		log = append(log, e)
	}
	return log, nil
}

// shiftOf reads the times of a shift in the site's zone.
func shiftOf(q ShiftQuery, zone *time.Location) (defects.Shift, error) {
	var s defects.Shift
	for _, t := range []struct {
		field, clock string
		to           *time.Time
	}{{"start", q.Start, &s.Start}, {"end", q.End, &s.End}} {
		at, err := time.ParseInLocation(dateFmt+" 15:04", strings.TrimSpace(q.Day)+" "+strings.TrimSpace(t.clock), zone)
		if err != nil {
			return s, defects.RefuseField(defects.Invalid, t.field, "bad_time", "write the day as in 2026-11-18 and the time as in 08:30")
		}
		*t.to = at
	}
	if s.End.Before(s.Start) {
		s.End = s.End.AddDate(0, 0, 1)
	}
	y, m, d := s.Start.Date()
	if noon := time.Date(y, m, d, 12, 0, 0, 0, zone); noon.After(s.Start) && noon.Before(s.End) {
		s.Noon = noon
	}
	return s, nil
}
