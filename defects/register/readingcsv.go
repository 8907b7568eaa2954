package register

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"storeyrod/defects"
)

// Limits of a table of readings. Ours; they bound the work one request can ask.
const (
	maxReadingRows  = 50_000
	maxReadingField = 2_000 // bytes of one cell
)

// readingColumn is one column of a table of readings and where its text goes.
type readingColumn struct {
	name string
	set  func(in *ReadingInput, text string) error
}

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
	cols := readingColumns()
	names := make([]string, len(cols))
	for i, c := range cols {
		names[i] = c.name
	}
	return names
}

// ParseReadingsCSV reads a table of readings: UTF-8 with or without a byte
// order mark, comma separated (RFC 4180), with a header of names from
// ReadingColumns in any order. Row numbers are lines of the file, the header
// being line 1. A row that cannot be taken becomes a refusal and the rest is
// read on; the error is for a file that is no such table or is over max bytes.
func ParseReadingsCSV(r io.Reader, max int64) ([]ReadingInput, []Refusal, error) {
	raw, err := io.ReadAll(io.LimitReader(r, max+1))
	if err != nil {
		return nil, nil, fmt.Errorf("read table: %w", err)
	}
	if int64(len(raw)) > max {
		return nil, nil, defects.Refuse(defects.TooLarge, "table_too_large", fmt.Sprintf("a table of readings has at most %d bytes", max))
	}
	table := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))))
	table.FieldsPerRecord = -1
	table.ReuseRecord = true
	cols, err := readingHeader(table)
	if err != nil {
		return nil, nil, err
	}
	return readingRows(table, cols)
}

// readingHeader reads the first line and finds each column's place.
func readingHeader(table *csv.Reader) ([]readingColumn, error) {
	head, err := table.Read()
	if errors.Is(err, io.EOF) {
		return nil, badHeader("empty_table", "the table has no header line")
	}
	if err != nil {
		return nil, badHeader("bad_header", "the header line cannot be read as comma separated text")
	}
	all := readingColumns()
	cols := make([]readingColumn, 0, len(head))
	for _, name := range head {
		name = strings.TrimSpace(name)
		at := slices.IndexFunc(all, func(c readingColumn) bool { return c.name == name })
		if at < 0 {
			return nil, unknownColumn(name)
		}
		if slices.ContainsFunc(cols, func(c readingColumn) bool { return c.name == name }) {
			return nil, badHeader("column_twice", "column "+name+" stands twice")
		}
		cols = append(cols, all[at])
	}
	for _, need := range []string{"quantity", "value", "unit"} {
		if !slices.ContainsFunc(cols, func(c readingColumn) bool { return c.name == need }) {
			return nil, badHeader("column_missing", "column "+need+" is missing")
		}
	}
	return cols, nil
}

func unknownColumn(name string) error {
	text := "column " + strconv.Quote(shorten(name, 60)) + " is not known; known are " + strings.Join(ReadingColumns(), ", ")
	if strings.ContainsAny(name, ";\t") {
		text = "the columns are to be separated by commas: " + text
	}
	return badHeader("unknown_column", text)
}

func badHeader(code, text string) error {
	return defects.RefuseField(defects.Invalid, "header", code, text)
}

// readingRows reads the lines after the header.
func readingRows(table *csv.Reader, cols []readingColumn) (rows []ReadingInput, refused []Refusal, err error) {
	for n := 0; ; n++ {
		record, err := table.Read()
		if errors.Is(err, io.EOF) {
			countRepeats(rows)
			return rows, refused, nil
		}
		if n >= maxReadingRows {
			return nil, nil, defects.Refuse(defects.TooLarge, "too_many_rows", fmt.Sprintf("a table of readings has at most %d rows", maxReadingRows))
		}
		line, in := 0, ReadingInput{}
		if err != nil {
			line, err = brokenLine(err)
		} else {
			line, _ = table.FieldPos(0)
			err = readingRow(&in, record, cols)
		}
		if err != nil {
			refused = append(refused, Refusal{Item: "row " + strconv.Itoa(line), Err: rowRefusal(err)})
			continue
		}
		in.Row = line
		rows = append(rows, in)
	}
}

// brokenLine tells where a line is that is no CSV.
func brokenLine(err error) (line int, refusal error) {
	text := "the line cannot be read as comma separated text"
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		line = parse.StartLine
		text += ": " + parse.Err.Error()
	}
	return line, defects.RefuseField(defects.Invalid, "", "bad_row", text)
}

func readingRow(in *ReadingInput, record []string, cols []readingColumn) error {
	if len(record) != len(cols) {
		return defects.RefuseField(defects.Invalid, "", "bad_row",
			fmt.Sprintf("the row has %d cells and the header %d", len(record), len(cols)))
	}
	for i, c := range cols {
		if err := checkCell(c.name, record[i]); err != nil {
			return err
		}
		// The reader uses its record again; a copy keeps the cell alone alive.
		if err := c.set(in, strings.Clone(strings.TrimSpace(record[i]))); err != nil {
			return err
		}
	}
	return nil
}

func checkCell(name, text string) error {
	if len(text) > maxReadingField {
		return defects.RefuseField(defects.Invalid, name, "too_long", fmt.Sprintf("at most %d bytes", maxReadingField))
	}
	if !utf8.ValidString(text) {
		return defects.RefuseField(defects.Invalid, name, "not_utf8", "the text is not UTF-8; save the table as UTF-8")
	}
	return nil
}

func wholeCell(name, text string) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1_000_000 {
		return 0, defects.RefuseField(defects.Invalid, name, "bad_number", strconv.Quote(shorten(text, 40))+" is not a whole number from 0 up")
	}
	return n, nil
}

func yesCell(name, text string) (bool, error) {
	switch strings.ToLower(text) {
	case "", "no", "false", "0":
		return false, nil
	case "yes", "true", "1":
		return true, nil
	}
	return false, defects.RefuseField(defects.Invalid, name, "bad_yes_no", strconv.Quote(shorten(text, 40))+" is neither yes nor no")
}
