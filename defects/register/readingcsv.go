package register

import (
	"io"
)

// maxReadingRows bounds the work one request can ask; ours.
const maxReadingRows = 50_000

// readingColumn is one column of a table of readings and where its text goes.
type readingColumn = tableColumn[ReadingInput]

// readingColumns is the whole table format, in the order it is written.
func readingColumns() []readingColumn {
	text := func(name string, at func(*ReadingInput) *string) readingColumn {
		return readingColumn{name, func(in *ReadingInput, s string) error { *at(in) = s; return nil }}
	}
	whole := func(name string, at func(*ReadingInput) *int) readingColumn {
		return readingColumn{name, func(in *ReadingInput, s string) (err error) {
			*at(in), err = wholeCell(name, s)
			return err
		}}
	}
	return []readingColumn{
		text("id", func(in *ReadingInput) *string { return &in.ID }),
		text("quantity", func(in *ReadingInput) *string { return &in.Quantity }),
		text("value", func(in *ReadingInput) *string { return &in.Value }),
		text("observations", func(in *ReadingInput) *string { return &in.Observations }),
		text("unit", func(in *ReadingInput) *string { return &in.Unit }),
		text("expanded_uncertainty", func(in *ReadingInput) *string { return &in.Expanded }),
		text("base_length_m", func(in *ReadingInput) *string { return &in.BaseLength }),
		text("zone", func(in *ReadingInput) *string { return &in.Zone }),
		text("stage", func(in *ReadingInput) *string { return &in.Stage }),
		text("elevation", func(in *ReadingInput) *string { return &in.ElevationID }),
		whole("bay", func(in *ReadingInput) *int { return &in.Bay }),
		whole("lift", func(in *ReadingInput) *int { return &in.Lift }),
		text("x_m", func(in *ReadingInput) *string { return &in.X }),
		text("z_m", func(in *ReadingInput) *string { return &in.Z }),
		text("opening", func(in *ReadingInput) *string { return &in.Opening }),
		text("instrument", func(in *ReadingInput) *string { return &in.InstrumentID }),
		text("measured_at", func(in *ReadingInput) *string { return &in.MeasuredAt }),
		text("by", func(in *ReadingInput) *string { return &in.ByLogin }),
		text("gang", func(in *ReadingInput) *string { return &in.Gang }),
		text("batch", func(in *ReadingInput) *string { return &in.Batch }),
		whole("courses", func(in *ReadingInput) *int { return &in.Courses }),
		text("failure_plane", func(in *ReadingInput) *string { return &in.FailurePlane }),
		text("mode", func(in *ReadingInput) *string { return &in.Mode }),
		text("trend", func(in *ReadingInput) *string { return &in.Trend }),
		text("air_temperature_c", func(in *ReadingInput) *string { return &in.AirTemperature }),
		text("relative_humidity", func(in *ReadingInput) *string { return &in.Humidity }),
		text("nominal", func(in *ReadingInput) *string { return &in.Nominal }),
		text("area_m2", func(in *ReadingInput) *string { return &in.Area }),
		text("dolly", func(in *ReadingInput) *string { return &in.Dolly }),
		text("set", func(in *ReadingInput) *string { return &in.SetID }),
		text("note", func(in *ReadingInput) *string { return &in.Note }),
		whole("repeat", func(in *ReadingInput) *int { return &in.Repeat }),
		{"confirmed", func(in *ReadingInput, s string) (err error) {
			in.Confirmed, err = yesCell("confirmed", s)
			return err
		}},
	}
}

// ReadingColumns names the columns of a table of readings. The first three
// after id are needed: quantity, value, unit.
func ReadingColumns() []string {
	return columnNames(readingColumns())
}

// ParseReadingsCSV reads a table of readings with a header of names from
// ReadingColumns in any order; see tableForm.parse. Row numbers are lines of the
// file, the header being line 1. A row that cannot be taken becomes a refusal and
// the rest is read on; the error is for a file that is no such table or is over
// max bytes.
func ParseReadingsCSV(r io.Reader, max int64) ([]ReadingInput, []Refusal, error) {
	rows, refused, err := tableForm[ReadingInput]{
		what: "readings", columns: readingColumns(), need: []string{"quantity", "value", "unit"}, most: maxReadingRows,
		line: func(in *ReadingInput, n int) { in.Row = n },
	}.parse(r, max)
	countRepeats(rows)
	return rows, refused, err
}
