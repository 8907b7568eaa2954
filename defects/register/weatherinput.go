package register

import (
	"io"
	"strings"
	"time"

	"storeyrod/defects"
)

// weatherColumns is the form of a table of weather lines.
func weatherColumns() []tableColumn[WeatherInput] {
	text := func(name string, at func(*WeatherInput) *string) tableColumn[WeatherInput] {
		return tableColumn[WeatherInput]{name, func(in *WeatherInput, s string) error { *at(in) = s; return nil }}
	}
	return []tableColumn[WeatherInput]{
		text("at", func(in *WeatherInput) *string { return &in.At }),
		text("air_c", func(in *WeatherInput) *string { return &in.Air }),
		text("surface_c", func(in *WeatherInput) *string { return &in.Surface }),
		text("relative_humidity", func(in *WeatherInput) *string { return &in.Humidity }),
		text("elevation", func(in *WeatherInput) *string { return &in.ElevationID }),
		text("instrument", func(in *WeatherInput) *string { return &in.InstrumentID }),
		text("by", func(in *WeatherInput) *string { return &in.ByLogin }),
		text("note", func(in *WeatherInput) *string { return &in.Note }),
		{"confirmed", func(in *WeatherInput, s string) (err error) {
			in.Confirmed, err = yesCell("confirmed", s)
			return err
		}},
	}
}

// WeatherColumns names the columns of a table of weather lines; at is needed.
func WeatherColumns() []string { return columnNames(weatherColumns()) }

// ParseWeatherCSV reads a table of weather lines as ParseReadingsCSV reads one of
// readings. Every line needs its time: "now" is no time for a log.
func ParseWeatherCSV(r io.Reader, max int64) ([]WeatherInput, []Refusal, error) {
	form := tableForm[WeatherInput]{
		what: "weather lines", columns: weatherColumns(), need: []string{"at"}, most: maxWeatherRows,
		line: func(in *WeatherInput, n int) { in.Row = n },
	}
	form.columns[0].set = func(in *WeatherInput, s string) error {
		if in.At = s; s == "" {
			return defects.RefuseField(defects.Invalid, "at", "time_missing", "a line of a log needs its time")
		}
		return nil
	}
	return form.parse(r, max)
}

// weatherLine understands one line.
func (b *bench) weatherLine(in WeatherInput) (defects.WeatherLine, error) {
	w := defects.WeatherLine{SiteID: b.site.ID, EnteredBy: b.actor.AccountID, EnteredName: b.actor.Name, EnteredAt: b.now}
	if err := b.takeFigures(&w, in); err != nil {
		return w, err
	}
	at, err := siteTime(in.At, b.zone)
	if err != nil {
		return w, err
	}
	rd := defects.Reading{}
	row := ReadingInput{ByLogin: in.ByLogin, MeasuredAt: at, InstrumentID: strings.TrimSpace(in.InstrumentID)}
	for _, step := range []func(*defects.Reading, ReadingInput) error{b.takePerson, b.takeTime, b.takeTool} {
		if err := step(&rd, row); err != nil {
			return w, atTime(err)
		}
	}
	w.At, w.ByID, w.ByName, w.InstrumentID, w.Instrument = rd.MeasuredAt, rd.ByID, rd.ByName, rd.InstrumentID, rd.Instrument
	if named := strings.TrimSpace(in.ElevationID); named != "" {
		wall, err := findElevation(b.elevations, named)
		if err != nil {
			return w, err
		}
		w.ElevationID = wall.ID
	}
	w.Note, err = cleanNote("note", in.Note)
	return w, err
}

// atTime names the time by the field that a weather line has it in.
func atTime(err error) error {
	if e, ok := asError(err); ok && e.Field == "measured_at" {
		named := *e
		named.Field = "at"
		return &named
	}
	return err
}

// takeFigures reads the figures of a line, exactly, and asks about one that can
// hardly be meant.
func (b *bench) takeFigures(w *defects.WeatherLine, in WeatherInput) error {
	some := false
	for _, f := range []struct {
		field, quantity, text string
		to                    **defects.Decimal
	}{
		{"air_c", "air_temperature", in.Air, &w.Air},
		{"surface_c", "surface_temperature", in.Surface, &w.Surface},
		{"relative_humidity", "relative_humidity", in.Humidity, &w.Humidity},
	} {
		if strings.TrimSpace(f.text) == "" {
			continue
		}
		d, err := defects.ParseDecimal(f.text)
		if err != nil {
			return inField(err, f.field)
		}
		q, _ := defects.QuantityByName(f.quantity)
		doubt := defects.Plausible(q, d)
		if f.quantity == "relative_humidity" && (d.Sign() <= 0 || defects.DecimalOf(100).Less(d)) {
			return defects.RefuseField(defects.Invalid, f.field, "bad_humidity", "relative humidity lies above 0 and up to 100 %")
		}
		if doubt != nil && !in.Confirmed {
			return doubt.AsError(f.field)
		}
		w.Confirmed = w.Confirmed || doubt != nil
		*f.to, some = &d, true
	}
	if !some {
		return defects.RefuseField(defects.Invalid, "air_c", "nothing_taken", "give the temperature of the air or the wall, or the humidity")
	}
	return nil
}

// siteTime turns a local time of the site into one with its offset. A time that
// the clocks pass twice, or not at all, is refused: nothing is guessed.
func siteTime(text string, zone *time.Location) (string, error) {
	text = strings.TrimSpace(text)
	for _, form := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		at, err := time.ParseInLocation(form, text, zone)
		if err != nil {
			continue
		}
		twice := at.Add(time.Hour).Format(form) == text || at.Add(-time.Hour).Format(form) == text
		if twice || at.Format(form) != text {
			return "", defects.RefuseField(defects.Invalid, "at", "unclear_time",
				"the clocks change at this time; write it with its offset as in 2026-10-25T01:30:00+01:00")
		}
		return at.Format(time.RFC3339), nil
	}
	return text, nil
}
